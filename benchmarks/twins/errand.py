"""Ledger and clock of small random outings against a walk through every order, and arithmetic."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping
from typing import Any

from benchmarks.twins.clock_twin import SAME, Clock, in_written_order
from benchmarks.twins.errand_cases import case_of
from benchmarks.twins.errand_twin import Errand
from benchmarks.twins.opinion import Opinion, opinion

LEDGER = (
    "hooked", "custody", "burden", "slots", "sequence", "guard", "dial", "locked", "inventory",
    "left-as", "plugged", "sockets", "present", "held", "receiver", "lead", "strain",
)  # fmt: skip
CLOCK = (
    "outing", "glove-check", "window", "unpowered", "lanes", "hand-time", "clean-up", "safe-stop",
    "energy",
)  # fmt: skip
WRITTEN = ("loose", "turn-window", "left-record", "resetting", "parking")
CHECKS = (*LEDGER, *CLOCK, *WRITTEN)


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
        if key in errand.ties or (good and (key in errand.unsaid or not errand.is_whole)):
            told = None
        note = errand.notes.get(key, "")
        yield opinion(*key, by_key.get(key, []), told, note, _known(key[0], told, note))
    for key, good in read_off(scene, procedure):
        yield opinion(*key, by_key.get(key, []), good)
    for key, margin in Clock(scene, procedure).margins.items():
        yield opinion(*key, by_key.get(key, []), margin >= -SAME, f"margin {margin:g}")


def read_off(
    scene: Mapping[str, Any], procedure: Mapping[str, Any]
) -> Iterator[tuple[tuple[str, str], bool | None]]:
    """Yield what can be read off the files: what is caught, turns, records, settings, parking."""
    fasteners, begin, end = scene["fasteners"], procedure["begin"], procedure["end"]
    says = any({"turns_between", "if_stuck"} & set(one) for one in fasteners.values())
    kept: dict[str, list[str]] = {}
    for item, told in begin["items"].items():
        kept.setdefault(item, []).append(told["in"] if isinstance(told, dict) else told)
    for step in in_written_order(procedure["steps"]):
        for k, action in enumerate(step["actions"]):
            if action["do"] in ("pick up", "stow", "pass"):
                for item in action["items"]:
                    kept.setdefault(item, []).append(action.get("to", step["lane"]))
            if action["do"] == "install":
                kept.setdefault(action["item"], []).append(action["to"])
            if action["do"] != "drive":
                continue
            bolt = action["fastener"]
            record, key = fasteners[bolt], f"{step['name']} {bolt}"
            if says:
                low, high = record.get("turns_between", (math.inf, 0.0))
                good = low <= record["turns"] <= high and bool(record.get("if_stuck"))
                yield ("turn-window", key), good
            if action.get("loosen") and "captive" in record:
                own = [
                    a for a in step["actions"][k:]
                    if bolt in a.get("items", ()) or (a["do"] == "attach" and a["what"] == bolt)
                ]  # fmt: skip
                ties = [
                    a["do"] for a in step["actions"][:k]
                    if a["do"] in ("attach", "release") and a.get("what") == bolt
                ]  # fmt: skip
                goes_into = procedure["guards"].get(bolt, {}).get("items")
                caught = own or goes_into or ties[-1:] == ["attach"]
                yield ("loose", key), bool(record["captive"] or caught)
    for item, places in kept.items():
        for place in places:
            if place in scene["sockets"]:
                is_restraint = scene["items"][item].get("is") == "plate"
                if not is_restraint:
                    yield ("parking", f"{item} {place}"), False
            elif place in scene["handrails"]:
                yield ("parking", f"{item} {place}"), True
    if end["left"]:
        for item, goal in end["items"].items():
            told = begin["items"].get(item)
            first = told["in"] if isinstance(told, dict) else told
            if first == "lock" and goal != "lock":
                yield ("left-record", item), item in end["left"]
    # A restraint that is set for the first time, or anew, in a step.
    known: dict[str, int] = {}
    for step in in_written_order(procedure["steps"]):
        if "setting" in step:
            one, value = step["restraint"], step["setting"]["clock"]
            if known.get(one) != value:
                shortest = step.get("between", [step["duration"]])[0]
                longest = step.get("between", [0.0, step["duration"]])[-1]
                good = None if shortest < 60.0 <= longest else shortest >= 60.0
                yield ("resetting", step["name"]), good
            known[one] = value


AS_WRITTEN = "from where a deed takes something is read from the written order"


def _known(check: str, good: bool | None, note: str) -> str:
    """Return why a difference is understood, where it is."""
    # A thing that another order leaves elsewhere is still taken from where it is as written: it
    # then counts in two places, never in none.
    if good and check in ("burden", "slots", "sockets"):
        return AS_WRITTEN
    return ""


PAYLOADS = ("crate", "chest")


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
    elif check == "sequence" or check == "guard":
        yield f"{about[1]} {about[2]}"
    elif check == "lead":
        yield f"{' '.join(about)} {one.answer}"
    elif check in ("loose", "turn-window"):
        yield f"{one.step} {about[1]}"
    elif check == "left-record":
        yield about[1]
    elif check == "resetting":
        yield one.step
    elif check == "parking":
        yield " ".join(about) if one.answer == "place" else "gap"
    elif check in ("dial", "locked", "strain"):
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
        yield (
            " ".join(about[:2])
            if len(about) == 3 and about[0] in "WV" and about[1] in "WV"
            else " ".join(about)
        )
    elif check == "present":
        yield f"{about[0]} {about[1]}"
    elif check == "receiver":
        yield " ".join(about)
    elif check == "held":
        yield from (one for one in about if one in PAYLOADS)
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
