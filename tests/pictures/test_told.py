"""What stands beside a picture: fails first and whole, passes last, in short when room ends."""

from __future__ import annotations

from PIL import Image

from reach.finding import Finding
from reach.pictures.pen import Pen
from reach.pictures.told import MANNERS, tell

WIDTH = 368.0


class Written(Pen):
    """A pen that keeps what it writes and how far down."""

    def __init__(self) -> None:
        super().__init__(Image.new("RGB", (WIDTH_PX, 1000)))
        self.words: list[str] = []
        self.lowest = 0.0

    def text(self, at, text, size, colour="#000000", is_bold=False):  # type: ignore[no-untyped-def]
        self.words.append(text)
        self.lowest = max(self.lowest, at[1] + 0.5 * size)
        super().text(at, text, size, colour, is_bold)

    @property
    def all(self) -> str:
        return " ".join(self.words)


WIDTH_PX = 400


def found(check: str, margin: float) -> Finding:
    because = f"The {check} comes out with {margin:.2f} m at the far end of the longest rail there."
    fix = f"Move the {check} by a little over {abs(margin):.2f} m to the side that is free."
    return Finding(check, "one", ("W1",), "medium", because, margin, margin, "m", fix=fix)


def told(n_fail: int, n_pass: int, room: float):  # type: ignore[no-untyped-def]
    pen = Written()
    passes = [found(f"right-{k}", 1.0 + k) for k in range(n_pass)]
    fails = [found(f"wrong-{k}", -1.0 - k) for k in range(n_fail)]
    manner, listed = tell(pen, (*passes, *fails), (0.0, 0.0), WIDTH, room)
    return pen, manner, listed


def test_with_room_everything_is_said_in_full_fails_first() -> None:
    pen, manner, listed = told(2, 3, 800.0)
    assert (manner, listed) == (MANNERS[0], True)
    at = [pen.words.index(name) for name in ("wrong-0", "wrong-1", "right-0", "right-2")]
    assert at == sorted(at)
    assert pen.all.count("Smallest fix: Move the wrong-") == 2
    assert pen.all.count("to the side that is free.") == 2  # not cut


def test_passes_are_said_in_short_before_a_fail_loses_a_word() -> None:
    pen, manner, listed = told(3, 14, 480.0)
    assert (manner, listed) == (MANNERS[0], False)
    assert "14: right-0," in pen.all
    assert pen.all.count("to the side that is free.") == 3
    assert pen.lowest <= 480.0


def test_no_fail_is_ever_hidden() -> None:
    for room in (900.0, 600.0, 480.0):
        pen, _, _ = told(12, 9, room)
        for k in range(12):
            assert f"wrong-{k}" in pen.words, (room, k)
        assert "9: right-0" in pen.all or "right-8" in pen.words
        assert pen.lowest <= room


def test_what_is_open_loses_its_sentence_before_a_fail_does() -> None:
    is_open = Finding("sight", "one", ("W1",), "medium", "It is not settled at all.", -1, 1, "m")
    fails = [found(f"wrong-{k}", -1.0) for k in range(3)]
    seen = set()
    for room in range(260, 560, 10):
        pen = Written()
        tell(pen, (is_open, *fails), (0.0, 0.0), WIDTH, float(room))
        whole = pen.all.count("at the far end of the longest rail")
        said = "It is not settled at all." in pen.all
        assert whole == 3 or not said
        assert pen.words.index("wrong-2") < pen.words.index("sight")
        seen.add((whole, said))
    assert seen == {(0, False), (3, False), (3, True)}
