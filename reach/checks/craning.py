"""What the checks on a crane share: which places and motions they take, and their words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.arm import link_capsules
from reach.checks.carrying import finding_of_carriage
from reach.checks.once import firsts
from reach.checks.wording import finding_on, point
from reach.crane import CraneAt, Rig, crane_at, crane_of_place
from reach.finding import Finding, Mark
from reach.kept.noting import altered, asked_whole
from reach.payload.crane_way import CraneWay
from reach.site import Carriage, Site, Situation

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Stand:
    """A crane asked to hold its boot plate somewhere: for a worker there, or where it ends.

    Attributes
    ----------
    crane : str
    place : str
        In words that follow "at".
    world_from_boots : ndarray, shape (4, 4)
    situation : Situation or None
        Whose work asks for it.
    carriage : Carriage or None
        Else the motion that ends there, with nobody's work asking.
    rider : Situation or None
        Who stands on the plate.
    """

    crane: str
    place: str
    world_from_boots: Array
    situation: Situation | None
    carriage: Carriage | None
    rider: Situation | None

    def finding(self, name: str, *answer: Any, **more: Any) -> Finding:
        """Return a finding about it; the rest is what `Finding` takes from ``because`` on."""
        if self.situation is not None:
            return finding_on(name, self.situation, *answer, **more)
        assert self.carriage is not None
        more["about"] = (self.place, *more.get("about", ()))
        return finding_of_carriage(name, self.carriage, *answer, **more)

    def answer(self, site: Site) -> CraneAt | None:
        """Return how the crane holds it there; None where its arm is not known."""
        asked = self.situation or self.carriage
        assert asked is not None
        return crane_at(site, self.crane, self.world_from_boots, asked.surroundings, self.rider)


def stands(
    site: Site,
    situations: Sequence[Situation],
    carriages: Sequence[Carriage],
    of_body: bool = True,
) -> Iterator[Stand]:
    """Yield the places where a crane is to hold its plate, each once.

    Parameters
    ----------
    situations, carriages
        Those of one step.
    of_body : bool
        Whether the body on the plate and what is placed where matter; else each pose is asked
        once for all.
    """
    for situation in firsts(site, tuple(situations), _question, of_body):
        place = situation.place
        assert place is not None
        assert place.world_from_boots is not None
        crane = crane_of_place(site, place)
        yield Stand(crane, place.name, place.world_from_boots, situation, None, situation)
    seen = set()
    for carriage in carriages:
        end = end_of(carriage)
        if not carriage.crane or end is None:
            continue
        case = (carriage.case,) if of_body else ()
        key = (carriage.crane, _rounded(end), case)
        if key not in seen and not _is_stood_at(site, carriage):
            seen.add(key)
            name = carriage.names[-1]
            yield Stand(carriage.crane, name, end, None, carriage, _there(carriage.rider, end))


def _question(site: Site, situation: Situation, of_body: bool) -> tuple[object, ...] | None:
    crane = crane_of_place(site, situation.place)
    place = situation.place
    if not crane or place is None or place.world_from_boots is None:
        return None
    body = (situation.worker, situation.case, id(situation.surroundings)) if of_body else ()
    return (crane, _rounded(place.world_from_boots), body)


@asked_whole
def _is_stood_at(site: Site, carriage: Carriage) -> bool:
    """Return whether somebody stands, in some step, where a motion leaves the boot plate."""
    end = end_of(carriage)
    assert end is not None
    mine = (carriage.crane, _rounded(end))
    questions = (_question(site, one, False) for one in site.asked)
    return any(one is not None and one[:2] == mine for one in questions)


def end_of(carriage: Carriage) -> Array | None:
    """Return where a motion of a crane leaves its boot plate, None where that is not known."""
    if carriage.payload_from_boots is None:
        return None
    return np.asarray(carriage.poses[-1] @ carriage.payload_from_boots)


def _there(rider: Situation | None, end: Array) -> Situation | None:
    if rider is None or rider.place is None:
        return None
    return altered(rider, place=replace(rider.place, world_from_boots=end))


def _rounded(pose: Array) -> tuple[float, ...]:
    return tuple((np.round(pose[:3], 9) + 0.0).ravel().tolist())


def travels(carriages: Sequence[Carriage]) -> Iterator[Carriage]:
    """Yield the motions on which a crane takes its tip from one place to another."""
    for carriage in carriages:
        if carriage.crane and len(carriage.poses) > 1:
            yield carriage


def the(crane: str) -> str:
    """Return a crane in words, in the middle of a sentence."""
    return crane if crane.lower().startswith("the ") else f"the {crane}"


def The(crane: str) -> str:  # noqa: N802 - as `the`, at the start of a sentence
    """Return a crane in words, at the start of a sentence."""
    words = the(crane)
    return words[0].upper() + words[1:]


def unknown_arm(crane: str) -> str:
    """Return why nothing is asked of a crane without an arm."""
    return f"How the arm of {the(crane)} is made is not known."


def no_way(way: CraneWay, crane: str) -> str:
    """Return as a sentence why no postures take a crane all the way."""
    words = way.why.rstrip(".") or f"no postures were found that take {the(crane)} all the way"
    return f"{words[0].upper()}{words[1:]}; that is no proof that there are none."


def arm_marks(rig: Rig, q: Array, bad: bool = False) -> tuple[Mark, ...]:
    """Return the capsules that cover the links of a crane in one posture, as marks."""
    there = link_capsules(rig.chain, q, rig.covers, rig.world_from_base)
    names = [link.name for link in rig.chain.arm.links]
    return tuple(
        Mark(
            "capsule", (point(there.p[0, i]), point(there.q[0, i])),
            f"{names[int(link)]} of {the(rig.name)}", float(there.radius[i]), bad,
        )
        for i, link in enumerate(there.link)
    )  # fmt: skip


def reach_mark(rig: Rig, tip: Array, bad: bool) -> Mark:
    """Return the line from the base of a crane to its tip, m, world."""
    base = rig.world_from_base[:3, 3]
    words = f"from the base of {the(rig.name)} to its tip"
    return Mark("segment", (point(base), point(tip)), words, bad=bad)


def unknown_hold(name: str, carriage: Carriage, unit: str, answer: str = "way") -> Finding:
    """Return the finding of a check where it is not known by what a crane holds a payload."""
    because = f"Where {the(carriage.crane)} holds {carriage.what} is not known."
    fix = (
        f"Let somebody stand on the tip who holds {carriage.what}, or say in the scene where its "
        "grapple is."
    )
    return finding_of_carriage(
        name, carriage, because, -math.inf, math.inf, unit, fix=fix, numbers={"answer": answer}
    )
