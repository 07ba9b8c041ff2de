"""Equal content has equal digests, other content others."""

from dataclasses import dataclass

import numpy as np
import pytest
from shop import scene

from reach.kept.digest import Digester, NoDigestError


@dataclass(frozen=True)
class Point:
    x: float


VALUES = [
    None, True, False, 0, 1, 0.0, -0.0, 1.0, "", "1", b"1", (), (1,), ((1,),), [1], {}, {"a": 1},
    {"a": 2}, {"b": 1}, ("a", 1), frozenset({1}), Point(1.0), Point(2.0), np.zeros(2),
    np.zeros((2, 1)), np.zeros(2, np.float32), np.float64(1.0), float("nan"), "a\x00", ("ab", "c"),
    ("a", "bc"),
]  # fmt: skip


def test_no_two_of_these_have_the_same_digest():
    digests = [Digester().of(value) for value in VALUES]
    assert len(set(digests)) == len(VALUES)


def test_a_scene_made_twice_has_one_digest_and_each_change_another():
    one, two = scene().scene, scene().scene
    assert Digester().of(one) == Digester().of(two)
    worker = two.workers["R"].model_copy(update={"hand": "left"})
    other = two.model_copy(update={"workers": {**two.workers, "R": worker}})
    assert Digester().of(one) != Digester().of(other)


def test_what_cannot_be_told_has_no_digest():
    for value in (object(), lambda: 0, np.array([object()])):
        with pytest.raises(NoDigestError):
            Digester().of((1, value))


def test_records_with_a_name_count_by_it():
    names = {1.0: "one", 2.0: "one"}
    refer = Digester(lambda value: names.get(value.x) if isinstance(value, Point) else None)
    assert refer.of((Point(1.0),)) == refer.of((Point(2.0),))
    assert refer.of((Point(1.0),)) != refer.of((Point(3.0),))
