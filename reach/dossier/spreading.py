"""The checks that hang on the body, run for other sizes and for the other hand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from reach.dossier.basis import Spread
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.kept.keeping import Kept
from reach.run import Say, check
from reach.varying import Handed, UnfitError, varied_copies, words_of

BODILY = (
    "reach", "two-handed", "effort", "access", "glove", "inner", "error", "ingress", "clearance",
    "sight", "hand", "grips", "route", "gap", "corridor", "passing",
)  # fmt: skip
"""Checks whose answer hangs on who does it: posture, sight and what the arms span."""


def spread_of(
    loaded: LoadedScene,
    asked: LoadedProcedure,
    sizes: Sequence[str] = (),
    kept: Kept | None = None,
    processes: int = 2,
    say: Say | None = None,
) -> tuple[Spread, ...]:
    """Return what those checks say of all sizes, and of each worker with the other hand.

    Parameters
    ----------
    loaded : LoadedScene
    asked : LoadedProcedure
    sizes : sequence of str
        Size classes; all of the scene where left empty.
    kept : Kept, optional
    processes : int
    say : callable, optional
        Told (done, total, words).

    Raises
    ------
    ValueError
        If a size is unknown.
    """
    wanted = list(sizes) or list(loaded.scene.sizes)
    found = []
    if wanted:
        words = ", ".join(wanted)
        told = _prefixed(say, words)
        run = check(
            loaded, asked, sizes=wanted, only=BODILY, kept=kept, processes=processes, say=told
        )
        found.append(Spread(words, "sizes", "", run))
    for one in _other_hands(loaded, asked):
        words = words_of(one)
        try:
            copies = varied_copies(loaded, asked, [one])
        except UnfitError as error:
            found.append(Spread(words, "hands", one.worker, None, str(error)))
            continue
        told = _prefixed(say, words)
        run = check(*copies, only=BODILY, kept=kept, processes=processes, say=told)
        found.append(Spread(words, "hands", one.worker, run))
    return tuple(found)


def _other_hands(loaded: LoadedScene, asked: LoadedProcedure) -> Iterable[Handed]:
    for lane, kind in asked.procedure.lanes.items():
        if kind == "worker" and lane in loaded.scene.workers:
            hand = loaded.scene.workers[lane].hand
            yield Handed(lane, "left" if hand == "right" else "right")


def _prefixed(say: Say | None, before: str) -> Callable[[int, int, str], None] | None:
    if say is None:
        return None

    def told(done: int, total: int, words: str) -> None:
        say(done, total, f"{before}: {words}")

    return told
