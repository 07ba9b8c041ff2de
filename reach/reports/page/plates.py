"""A picture of a report, with the words that stand beside it instead of in it."""

from __future__ import annotations

import base64
from dataclasses import dataclass

from reach.finding import Verdict


@dataclass(frozen=True, slots=True)
class Plate:
    """One picture, packed, and what it shows in words.

    Attributes
    ----------
    stem : str
        As its file would be named, without view and ending.
    kind : str
        ``"outside"``, ``"eyes"``, ``"side"`` (where nothing is looked at), ``"move"``,
        ``"sweep"``, ``"curve"``, ``"home"`` or ``"crane"``.
    view : str
        From where it is taken; empty for a curve.
    steps : tuple of str
        Those that it shows; empty where it belongs to none.
    title, words, drawn : str
        What is done, who does it in which place and setting, what is drawn.
    verdict : Verdict or None
    image, paper : bytes
        The same as WebP for the page and as JPEG for paper.
    width, height : int, px
    stands_for : tuple of str
        Stems of further pictures that would look the same.
    """

    stem: str
    kind: str
    view: str
    steps: tuple[str, ...]
    title: str
    words: str
    drawn: str
    verdict: Verdict | None
    image: bytes
    paper: bytes
    width: int
    height: int
    stands_for: tuple[str, ...] = ()

    @property
    def step(self) -> str:
        """The steps that it shows, in words: "step 12 CB1"; empty where it belongs to none."""
        word = "step" if len(self.steps) == 1 else "steps"
        return f"{word} {', '.join(self.steps)}" if self.steps else ""

    @property
    def is_small(self) -> bool:
        """Whether two of its kind stand side by side."""
        return self.kind in ("outside", "eyes", "side")

    @property
    def alt(self) -> str:
        """What the picture shows, for whoever does not see it."""
        view = f", {self.view}" if self.view else ""
        verdict = f" Worst verdict: {self.verdict}." if self.verdict else ""
        return f"{self.title}{view}. {self.words}. {self.drawn}{verdict}"

    def source(self, on_paper: bool = False) -> str:
        """Return the picture as an address that holds it."""
        kind, data = ("jpeg", self.paper) if on_paper else ("webp", self.image)
        return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"


@dataclass(frozen=True, slots=True)
class KeyPlate:
    """What lines and colours of one kind of picture mean.

    Attributes
    ----------
    kind : str
    words : tuple of str
    image : bytes
        PNG.
    width, height : int, px
    """

    kind: str
    words: tuple[str, ...]
    image: bytes
    width: int
    height: int

    @property
    def alt(self) -> str:
        """The lines of the key."""
        return f"Key: {'; '.join(self.words)}."

    def source(self, on_paper: bool = False) -> str:
        """Return the picture as an address that holds it."""
        return f"data:image/png;base64,{base64.b64encode(self.image).decode('ascii')}"
