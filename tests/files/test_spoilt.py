"""What the fuzzing found is read again, as it was found, for ever after."""

from pathlib import Path

import pytest

from benchmarks.fuzz.corpus import corpus, seed_of
from benchmarks.fuzz.judge import judged

KEPT = sorted((Path(__file__).parents[1] / "broken" / "spoilt").iterdir())


@pytest.fixture(scope="module")
def seeds(tmp_path_factory):
    return corpus(tmp_path_factory.mktemp("sound"))


@pytest.mark.parametrize("kept", KEPT, ids=lambda kept: kept.name)
def test_a_spoilt_file_is_refused_with_its_place(kept, seeds):
    seed = seed_of(kept.name, seeds)
    path = seed.folder / seed.file
    sound = path.read_bytes()
    try:
        path.write_bytes(kept.read_bytes())
        told = judged(seed.folder, seed.procedure, with_checks=seed.is_quick)
    finally:
        path.write_bytes(sound)
    assert not told.is_bad, told.text
    assert told.how == "refused"
