"""Which motions of payloads are drawn, and what is known of each: gaps, curve, what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from reach.arm import link_capsules
from reach.finding import RANK, Finding, Verdict, worst_of
from reach.payload.clock import moments
from reach.payload.crane_way import CraneWay, crane_way_of
from reach.payload.curve import curve_of
from reach.payload.gaps import gaps_of
from reach.payload.parts import farthest_of, parts_of, solids_on
from reach.payload.planned import settled
from reach.payload.records import Curve, Part, PartGap
from reach.payload.track import Track, track_of
from reach.pictures.worksite import elsewhere, groups_of, stem_of
from reach.run import Outcome
from reach.site import Carriage, Site, Surroundings

Array = NDArray[np.float64]

SPANS = 40
"""Spans of a drawn curve to a leg."""


@dataclass(frozen=True)
class Carry:
    """One motion of a payload, in the body of the rider for which it comes out worst.

    Attributes
    ----------
    number : int
        From 1, after worksites and moves.
    site : Site
    carriage : Carriage
        Its way found, where it was blank.
    findings : tuple of Finding
        What was found about it, worst verdict first.
    cases : tuple of str
        All bodies that it was run for.
    elsewhere : tuple of Finding
        What does not pass of the same step and is about something that is not drawn.
    """

    number: int
    site: Site
    carriage: Carriage
    findings: tuple[Finding, ...]
    cases: tuple[str, ...]
    elsewhere: tuple[Finding, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst verdict; not asked when nothing was judged."""
        return worst_of(self.findings)

    @property
    def stem(self) -> str:
        """Its file name without ending."""
        return stem_of(self.number, self.carriage.step, "sweep", self.carriage.payload)

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """What moves."""
        return parts_of(self.site, self.carriage)

    @cached_property
    def track(self) -> Track:
        """How it moves: straight from pose to pose where a payload does."""
        track = track_of(self.site, self.carriage)
        assert track is not None
        return track

    @cached_property
    def gaps(self) -> tuple[PartGap, ...]:
        """The gaps that something is asked of, least margin first."""
        judged = [gap for gap in gaps_of(self.site, self.carriage) if not gap.is_contact_meant]
        return tuple(sorted(judged, key=lambda gap: gap.margin[1]))

    @cached_property
    def curves(self) -> tuple[Curve, ...]:
        """How near each part comes along the way."""
        return curve_of(self.site, self.carriage, SPANS)

    @cached_property
    def ends(self) -> Array:
        """Share of the time at the end of each leg."""
        return moments(self.carriage, farthest_of(self.site, self.carriage))

    @cached_property
    def crane_way(self) -> CraneWay | None:
        """How the crane's joints move; None where no crane does."""
        return crane_way_of(self.site, self.carriage)

    def links_at(self, place: float) -> Array:
        """Return the crane's links as capsules (n, 7), m, world, at a place of the way.

        No row where the joints are not known to get there.
        """
        way = self.crane_way
        if way is None or not len(way.q) or not way.at[0] <= place <= way.at[-1]:
            return np.empty((0, 7))
        q = np.array([[np.interp(place, way.at, joint) for joint in way.q.T]])
        links = link_capsules(way.chain, q, world_from_base=way.world_from_base)
        return np.hstack([links.p[0], links.q[0], links.radius[:, None]])

    @property
    def worst(self) -> PartGap | None:
        """The gap with the least margin, with a witness."""
        return next((gap for gap in self.gaps if np.isfinite(gap.at)), None)

    @property
    def worst_of_payload(self) -> PartGap | None:
        """That of the payload itself."""
        mine = (gap for gap in self.gaps if gap.part == self.carriage.payload)
        return next((gap for gap in mine if np.isfinite(gap.at)), None)

    @cached_property
    def around(self) -> Surroundings:
        """Everything but the payload itself."""
        around = self.carriage.surroundings
        mine = [around.names.index(name) for name in solids_on(self.site, self.carriage.payload)]
        kept = ~np.isin(around.solid_of, mine)
        if not kept.any():
            return around
        return replace(
            around,
            triangles=around.triangles[kept],
            solid_of=around.solid_of[kept],
            part_of=around.part_of[kept],
        )


def carries_of(outcome: Outcome) -> tuple[Carry, ...]:
    """Return the motions of payloads of a run that have a way, in order."""
    first = len(groups_of(outcome)) + 1
    return carries_among(outcome, outcome.site.carriages, first)


def carries_among(
    outcome: Outcome, carriages: Sequence[Carriage], first: int = 1
) -> tuple[Carry, ...]:
    """Return those of some motions of a run that move a payload and have a way, numbered."""
    moved = [one for one in carriages if one.payload]
    found: list[Carry] = []
    for _, group in groupby(moved, key=lambda one: (one.step, id(one.action))):
        ways = [settled(outcome.site, one)[0] for one in group]
        cases = tuple(one.case for one in ways)
        carries = [
            Carry(
                first + len(found),
                outcome.site,
                one,
                mine,
                cases,
                elsewhere(outcome.findings, one.step, mine),
            )
            for one in ways
            if not one.is_blank
            for mine in [_about(one, outcome.findings)]
        ]
        if carries:
            found.append(min(carries, key=_badness))
    return tuple(found)


def _badness(carry: Carry) -> tuple[int, float]:
    least = min((f.high for f in carry.findings if f.verdict is carry.verdict), default=0.0)
    return RANK[carry.verdict], least


def _about(carriage: Carriage, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return what was found about a motion in its body, or for all bodies at once."""
    mine = [
        finding
        for finding in findings
        if finding.step == carriage.step
        and finding.about[:1] == (carriage.what,)
        and finding.case in (carriage.case, "")
    ]
    return tuple(sorted(mine, key=lambda finding: RANK[finding.verdict]))
