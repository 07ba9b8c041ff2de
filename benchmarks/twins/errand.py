"""Ledger and clock of small random outings against a walk through every order, and arithmetic."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from typing import Any

from benchmarks.twins.clock_twin import SAME, Clock
from benchmarks.twins.errand_cases import case_of
from benchmarks.twins.errand_twin import Errand
from benchmarks.twins.opinion import Opinion, opinion

LEDGER = (
    "hooked", "custody", "burden", "slots", "sequence", "guard", "dial", "locked", "inventory",
    "left-as", "plugged", "sockets", "present", "held", "receiver",
)  # fmt: skip
CLOCK = (
    "outing", "glove-check", "window", "unpowered", "lanes", "hand-time", "clean-up", "safe-stop",
    "energy",
)  # fmt: skip
CHECKS = (*LEDGER, *CLOCK)


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a random case."""
    return case_of(rng)


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of a case."""
    by_key: dict[tuple[str, str], list[Any]] = {}
    for one in outcome.findings:
        for about in _about(one):
            by_key.setdefault((one.check, about), []).append(one)
    errand = Errand(scene, procedure)
    for key, good in errand.verdicts.items():
        told: bool | None = good
        if key in errand.ties or (good and not errand.is_whole):
            told = None
        note = errand.notes.get(key, "")
        yield opinion(*key, by_key.get(key, []), told, note, _known(key[0], told, note))
    for key, margin in Clock(scene, procedure).margins.items():
        yield opinion(*key, by_key.get(key, []), margin >= -SAME, f"margin {margin:g}")


AS_WRITTEN = "from where a deed takes something is read from the written order"


def _known(check: str, good: bool | None, note: str) -> str:
    """Return why a difference is understood, where it is."""
    # A thing that another order leaves elsewhere is still taken from where it is as written: it
    # then counts in two places, never in none.
    if good and check in ("burden", "slots", "sockets"):
        return AS_WRITTEN
    return AS_WRITTEN if check == "locked" and note == "taken on a move" else ""


def _about(one: Any) -> Iterator[str]:
    """Yield under which names the twin speaks of the same thing."""
    about, check = one.about, one.check
    if check == "hooked":
        yield about[0]
    elif check == "custody":
        yield " ".join(about)
    elif check == "burden":
        yield f"{about[0]} {about[1]}"
    elif check == "slots":
        yield f"{about[0]} {one.answer}".strip()
    elif check == "sequence":
        yield f"{about[1]} {about[2]}"
    elif check == "guard":
        yield f"{about[1]} {about[2]}"
    elif check in ("dial", "locked"):
        yield " ".join(about)
    elif check == "inventory":
        # One finding speaks of a bag with all that is in it: it fails if one of them does.
        bad = {*one.numbers.get("uncalled", ()), *one.numbers.get("astray", ())}
        for item in (about[1], *one.numbers.get("inside", ())):
            if not bad or item in bad:
                yield item
    elif check == "left-as":
        words = [w for w in ("hook", "reel") if one.because.startswith(f"The {w} of")]
        yield " ".join((*about, *words))
    elif check == "plugged":
        if " takes " in one.because or " takes it out" in one.because:
            yield f"{about[0]} takes {about[1]}"
        else:
            yield f"{about[0]} {about[-1]}"
    elif check == "sockets":
        yield " ".join(about[:2]) if len(about) == 3 and about[0] in "WV" and about[1] in "WV" else " ".join(about)
    elif check == "present":
        yield f"{about[0]} {about[1]}"
    elif check in ("receiver",):
        yield " ".join(about)
    elif check == "outing":
        yield f"{about[0]} suit" if one.answer == "time" else ""
    elif check == "glove-check":
        yield about[0]
    elif check == "window":
        yield f"{one.step} {about[1]}"
    elif check == "unpowered":
        yield from _clock_names(one)
    elif check == "lanes":
        if one.because.startswith("step "):
            yield f"{one.step} after {about[1]}"
        yield about[0]
    elif check == "safe-stop":
        yield about[1]
    elif check == "clean-up":
        if one.unit == "":
            yield ""
    elif check == "energy":
        yield about[1] if len(about) > 1 else about[0]
    else:
        yield about[0]


def _clock_names(one: Any) -> Iterator[str]:
    for name in ("clock0", "clock1"):
        if name in one.because or name.capitalize() in one.because:
            yield name
