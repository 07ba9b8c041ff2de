"""Draws a crane at a station: its links, where it comes from, who rides, from two sides."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.arm import piece_poses
from reach.finding import RANK, Finding, worst_of
from reach.geometry import inverse
from reach.pictures.links import capsule_rows, crane_surface
from reach.pictures.moving import (
    LEAST_THIN,
    THIN,
    MoveStudio,
    faint_structure,
    hazard_veils,
    hazards_by,
    is_near,
    rail_rods,
)
from reach.pictures.notes import Line, Notes, Tag, merged, of_mark, sharp_edges
from reach.pictures.palette import CRANE, CRANE_START, FAIL, HANDRAIL, HAZARD, INK
from reach.pictures.panels import View, laid, sides_of
from reach.pictures.sheet import Drawing, Frame, body_words, framed, key_of, patch, streak
from reach.pictures.shown import Shown, shown_of
from reach.pictures.studio import OUTLINE
from reach.pictures.worker import body_of, boots_of
from reach.rails.records import Rail
from reach.site import Surroundings
from reach.travel.ground import rails_in
from reach.units import text_of

if TYPE_CHECKING:
    from reach.crane import Branch
    from reach.cranes import CraneAnswer, CraneThere
    from reach.site import Site

Array = NDArray[np.float64]

_START = 0.35
_HAZARD = 0.16

NEAR_TIP = 1.2
"""Links within this of the tip are held in the nearer view, m."""


class CraneStudio(MoveStudio):
    """Draws the answer to a question for a crane; to be closed, or used in a ``with`` statement."""

    def crane(self, answer: CraneAnswer) -> Image.Image:
        """Return the picture of a crane at a station: two views on one sheet."""
        there = answer.worst
        around = there.carriage.surroundings
        shown = None if there.situation is None else shown_of(self.site, there.situation)
        sheet = framed(crane_frame(answer, there))
        points = _subject(there, shown)
        ways = sides_of(_line(there), np.array([[0.0, 1.0, 0.0]]), around)
        context = self.context(around, points)
        # The whole from where it spreads most; beside it, nearer, who rides.
        whole, other = sorted(ways, key=lambda way: -_spread(points, way))
        views = [View(whole, points, context), View(other, points, context)]
        if shown is not None:
            near = _near_tip(there, shown)
            views[1] = View(other, near, near, ", nearer")
        notes = _notes(answer, there, points)
        rows = [np.empty((0, 7))] if there.at.best is None else [
            capsule_rows(there.at.rig, there.at.best.posture.q)
        ]  # fmt: skip
        if shown is not None:
            rows.append(shown.capsules)
        for seen, panel in laid(self.site.scene, views):
            self._build_crane(there, shown, points, seen.pixels)
            self._lay(sheet, panel, seen, notes, np.concatenate(rows))
        return sheet

    def _build_crane(
        self, there: CraneThere, shown: Shown | None, points: Array, pixels: float
    ) -> None:
        self.plotter.clear_actors()
        around = there.carriage.surroundings
        self._add(faint_structure(self._structure(around), points), shine=0.04)
        self._add(rail_rods(_rails(self.site, around, points), max(THIN, LEAST_THIN / pixels),
                            HANDRAIL))  # fmt: skip
        self._add(hazard_veils(around, points), opacity=_HAZARD)
        if there.at.best is not None:
            self._add(crane_surface(there.at.rig, there.at.best.posture.q), outline=0.02)
        start = _start(there)
        if start is not None:
            self._add(crane_surface(there.at.rig, start, CRANE_START), opacity=_START)
        if shown is not None and there.situation is not None:
            self._add(boots_of(there.situation))
            self._add(body_of(shown), outline=OUTLINE)


def _rails(site: Site, around: Surroundings, points: Array) -> list[Rail]:
    return [
        rail for rail in rails_in(site, around) if is_near(rail, points) and rail.status != "gone"
    ]


def _start(there: CraneThere) -> Array | None:
    """Return the posture that the crane comes from; None where it is not known."""
    way = there.way
    return None if way is None or len(way.q) < 2 else way.q[0]


def _tip(there: CraneThere) -> Array:
    rig = there.at.rig
    return np.asarray((there.at.world_from_boots @ inverse(rig.tip_from_boots))[:3, 3])


def _line(there: CraneThere) -> Array:
    """Return the points that say which way the picture is long."""
    base, tip = there.at.rig.world_from_base[:3, 3], _tip(there)
    if there.at.best is None:
        return np.array([base, tip, 0.5 * (base + tip) + [0.0, 0.0, 0.1]])
    rows = capsule_rows(there.at.rig, there.at.best.posture.q)
    return np.concatenate([rows[:, :3], rows[:, 3:6]])


def _subject(there: CraneThere, shown: Shown | None) -> Array:
    rig = there.at.rig
    points = [np.array([rig.world_from_base[:3, 3], _tip(there)])]
    postures = [] if there.at.best is None else [there.at.best.posture.q]
    start = _start(there)
    for q in [*postures, *([] if start is None else [start])]:
        rows = capsule_rows(rig, q)
        points += [
            rows[:, i : i + 3] + rows[:, 6:7] * way
            for i in (0, 3)
            for way in np.concatenate([np.eye(3), -np.eye(3)])
        ]
    if shown is not None:
        points += [shown.capsules[:, :3], shown.capsules[:, 3:6]]
    return np.concatenate(points)


def _spread(points: Array, way: Array) -> float:
    """Return how wide points lie across their longest direction as seen from a way, m."""
    seen = points - points.mean(axis=0)
    seen = seen - (seen @ way)[:, None] * way
    return float(np.linalg.svd(seen, compute_uv=False)[1])


def _near_tip(there: CraneThere, shown: Shown) -> Array:
    """Return points of the body and of the links near it, shape (n, 3), m, world."""
    body = np.concatenate([shown.capsules[:, :3], shown.capsules[:, 3:6]])
    if there.at.best is None:
        return body
    rows = capsule_rows(there.at.rig, there.at.best.posture.q)
    ends = np.concatenate([rows[:, :3], rows[:, 3:6]])
    return np.concatenate([body, ends[np.linalg.norm(ends - _tip(there), axis=1) < NEAR_TIP]])


def _notes(answer: CraneAnswer, there: CraneThere, points: Array) -> Notes:
    at = there.at
    base, tip = at.rig.world_from_base[:3, 3], _tip(there)
    lines, tags = _hazards(answer, there, points)
    lines.append(Line(np.array([base, tip]), INK, 1.6, "dot"))
    used = f"{text_of(at.distance, 'm')}, {100.0 * at.reach_used:.0f} % of its reach"
    tags.append(Tag((used,), 0.5 * (base + tip), "measure", ""))
    tags.append(Tag((answer.crane,), base, "name"))
    tags.append(Tag((answer.asked.station,), tip, "asked", "ring"))
    if at.best is not None:
        tags += _joints(at.best, there)
        for near in at.best.nearest[:2]:
            spot = np.array([near.on_link, near.on_thing])
            if np.isfinite(spot).all():
                lines.append(Line(spot, INK, 2.5))
                words = f"{near.link} to {near.thing}: {text_of(near.gap, 'm')}"
                tags.append(Tag((words,), spot.mean(axis=0), "measure"))
    for finding in _findings(answer, there):
        said: dict[tuple[str, ...], Tag] = {}
        for mark in finding.marks:
            more, its_tags = of_mark(finding, mark)
            lines += more
            said |= {tag.lines: tag for tag in its_tags}
        tags += said.values()
    return Notes(tuple(lines), merged(tags))


def _joints(best: Branch, there: CraneThere) -> list[Tag]:
    """Return a tag at the joint that is nearest to its limit."""
    rig, k = there.at.rig, best.tightest
    place = (rig.world_from_base @ piece_poses(rig.chain, best.posture.q)[0, k + 1])[:3, 3]
    left = text_of(float(best.posture.from_limits[k]), "m" if rig.chain.slides[k] else "rad")
    return [Tag((f"{rig.joints[k]}: {left} from its limit",), place, "measure")]


def _hazards(answer: CraneAnswer, there: CraneThere, points: Array) -> tuple[list[Line], list[Tag]]:
    lines, tags = [], []
    for name, kind, triangles in hazards_by(there.carriage.surroundings, points):
        edges = sharp_edges(triangles)
        lines += [Line(edge, HAZARD, 2.0, "dash") for edge in edges[:: 1 + len(edges) // 20]]
        corners = triangles.reshape(-1, 3)
        at = corners[int(np.argmax(corners[:, 2]))]
        tags.append(Tag((f"{name}: {kind}",), at, "name"))
    return lines, tags


def _findings(answer: CraneAnswer, there: CraneThere) -> tuple[Finding, ...]:
    mine = [f for f in answer.outcome.findings if f.case in ("", there.case)]
    return tuple(sorted(mine, key=lambda finding: RANK[finding.verdict]))


def crane_frame(answer: CraneAnswer, there: CraneThere) -> Frame:
    """Return what stands round the picture of a crane at a station."""
    findings = _findings(answer, there)
    start = answer.asked.start
    title = f"{answer.crane} at {answer.asked.station}" + (f" from {start}" if start else "")
    words = ["nobody on its plate"]
    if there.situation is not None:
        cases = tuple(one.case for one in answer.there)
        words = [body_words(there.situation, cases), there.situation.suit.title]
    return Frame(
        worst_of(findings) if findings else None, title, "   |   ".join(w for w in words if w),
        _drawn(there), findings, _key(answer, there),
    )  # fmt: skip


def _drawn(there: CraneThere) -> str:
    at = there.at
    if at.best is None:
        proved = " It is proved out of reach." if at.shortage > 0.0 else ""
        return f"No posture of the crane was found.{proved} The line leads from base to tip."
    n = len(at.branches)
    words = [f"The best of {n} branches found." if n > 1 else "The one posture found."]
    words.append("Links are drawn as the capsules that cover them.")
    if _start(there) is not None:
        words.append("Faint: as it comes.")
    return " ".join(words)


def _key(answer: CraneAnswer, there: CraneThere) -> Image.Image:
    rows: Sequence[tuple[bool, Drawing, str]] = [
        (there.at.best is not None, patch(CRANE), "links of the crane"),
        (_start(there) is not None, patch(CRANE_START), "as it comes from elsewhere"),
        (True, streak(INK, 1.6, "dot"), "from its base to its tip"),
        (there.at.best is not None, streak(INK, 2.5), "least room, with the distance"),
        (True, streak(HANDRAIL, 3.5), "rail"),
        (True, streak(HAZARD, 2.5, "dash"), "hazard"),
        (
            any(f.high < 0.0 for f in _findings(answer, there)),
            streak(FAIL, 3.5, "dash"),
            "what fails",
        ),
    ]
    return key_of([(draw, words) for is_drawn, draw, words in rows if is_drawn])
