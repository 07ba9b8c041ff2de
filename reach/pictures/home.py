"""Draws the minutes home: every grip coloured by its time, crosses where it is beyond the rule."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.pictures.moving import MoveStudio, faint_structure
from reach.pictures.notes import Notes, Tag
from reach.pictures.palette import INK, NO_WAY, PAPER, graded
from reach.pictures.panels import View, laid, sides_of
from reach.pictures.pen import SMOOTH, Pen
from reach.pictures.sheet import PANEL_WIDTH, Frame, framed
from reach.pictures.surface import Surface, capsule, joined
from reach.travel.ground import spot_in

if TYPE_CHECKING:
    from reach.returns import Returns

Array = NDArray[np.float64]

BEAD = 0.11
"""Radius of a grip as drawn, m."""

_BAR = 230.0


class HomeStudio(MoveStudio):
    """Draws the minutes home of one scene."""

    def minutes(self, returns: Returns) -> Image.Image:
        """Return grips coloured by minutes, from two sides."""
        graph, found = returns.map.graph, returns.map
        points = graph.points[: graph.n_grips]
        low, high = scale_of(returns)
        sheet = framed(_frame(returns, low, high))
        around = returns.situation.surroundings
        self.plotter.clear_actors()
        self._add(faint_structure(self._structure(around), points), shine=0.04)
        self._add(_beads(returns, low, high))
        hatches = _hatches(returns)
        held = np.concatenate([points, hatches]) if len(hatches) else points
        outs = np.array([rail.out for rail in graph.rails], float)
        beyond = points[np.isfinite(found.brought) & (found.brought > returns.limit.value)]
        notes = _notes(returns, beyond)
        more = self.context(around, held)
        beads = np.hstack([points, points, np.full((len(points), 1), BEAD)])
        views = [View(way, held, more) for way in sides_of(held, outs, around)]
        for seen, panel in laid(self.site.scene, views):
            self._lay(sheet, panel, seen, notes, beads)
        return sheet


def scale_of(returns: Returns) -> tuple[float, float]:
    """Return the least and the most minutes of the scale, whole ones."""
    known = returns.map.brought[np.isfinite(returns.map.brought)] / 60.0
    if not len(known):
        return 0.0, 1.0
    low, high = math.floor(float(known.min())), math.ceil(float(known.max()))
    return float(low), float(max(high, low + 1))


def _beads(returns: Returns, low: float, high: float) -> Surface | None:
    """Return a ball at every grip in the colour of its minutes, small and grey without a way."""
    found, graph = returns.map, returns.map.graph
    parts = []
    for node in range(graph.n_grips):
        minutes = found.brought[node] / 60.0
        known = math.isfinite(minutes)
        colour = graded((minutes - low) / (high - low)) if known else NO_WAY
        at = graph.points[node]
        parts.append(capsule(at, at, BEAD if known else 0.6 * BEAD, colour))
    return joined(parts) if parts else None


def _hatches(returns: Returns) -> Array:
    names = returns.site.scene.hatches
    spots = [spot_in(returns.site, returns.situation, name).point for name in names]
    return np.array(spots, float).reshape(-1, 3)


def _notes(returns: Returns, beyond: Array) -> Notes:
    """Return tags: the hatches, and the worst grip of each rail with its minutes; crosses."""
    graph, found = returns.map.graph, returns.map
    tags = [
        Tag((name,), at, "asked", "ring")
        for name, at in zip(returns.site.scene.hatches, _hatches(returns), strict=True)
    ]
    rail = graph.rail[: graph.n_grips]
    for k in np.unique(rail).tolist():
        nodes = np.flatnonzero(rail == k)
        node = int(nodes[np.argmax(found.brought[nodes])])
        seconds = float(found.brought[node])
        name = graph.rails[k].name
        if not math.isfinite(seconds):
            tags.append(Tag((f"{name}: no way",), graph.points[node], "measure", ""))
        elif seconds > returns.limit.value:
            words = f"BEYOND {name}: {seconds / 60.0:.1f} min"
            tags.append(Tag((words,), graph.points[node], "fail", ""))
        else:
            words = f"{name} {seconds / 60.0:.1f}"
            tags.append(Tag((words,), graph.points[node], "name", ""))
    order = {"fail": 0, "asked": 1, "measure": 2, "name": 3}
    return Notes((), tuple(sorted(tags, key=lambda tag: order[tag.style])), tuple(beyond))


def _frame(returns: Returns, low: float, high: float) -> Frame:
    found = returns.map
    place = found.partner_place
    start = f"from {place}" if place else "who starts beside them"
    n_beyond = int((found.brought[np.isfinite(found.brought)] > returns.limit.value).sum())
    n_none = int((~np.isfinite(found.brought)).sum())
    words = (
        f"Every grip by the minutes until someone who cannot move is in the lock, brought by a "
        f"partner {start}; {found.swaps} swaps of safety lines. Tags name the worst grip of each "
        f"rail. {n_beyond} of {len(found.brought)} grips are beyond the rule of "
        f"{returns.limit.value / 60.0:.0f} min."
    )
    if n_none:
        words += f" From {n_none} no rails lead home."
    one = returns.situation
    head = f"gaps up to {found.graph.gap:.2f} m, as {one.worker} ({one.case}) spans them"
    title = f"{returns.outcome.title}: minutes home"
    return Frame(None, title, head, words, (), _key(low, high, returns.limit.value / 60.0), "")


def _key(low: float, high: float, limit: float) -> Image.Image:
    """Return the scale of minutes, and what a cross says."""
    size = (PANEL_WIDTH - 2, 330)
    image = Image.new("RGB", (SMOOTH * size[0], SMOOTH * size[1]), PAPER)
    pen = Pen(image, SMOOTH)
    x, top = 22.0, 44.0
    pen.text((x, 20.0), "MINUTES UNTIL IN THE LOCK", 13.0, INK, True)
    n = 60
    for k in range(n):
        y = top + _BAR * k / n
        pen.box((x, y, x + 34.0, y + _BAR / n + 1.0), graded(k / (n - 1)), round_=0)
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        y = top + _BAR * share
        pen.rule((x + 34.0, y), (x + 42.0, y), INK, 1.5)
        pen.text((x + 48.0, y), f"{low + share * (high - low):.1f}", 14.0, INK)
    if low < limit < high:
        y = top + _BAR * (limit - low) / (high - low)
        pen.rule((x - 4.0, y), (x + 110.0, y), INK, 2.5)
        pen.text((x + 116.0, y), f"the rule: {limit:.0f} min", 14.0, INK, True)
    pen.cross((x + 17.0, top + _BAR + 28.0), 8.0)
    pen.text((x + 48.0, top + _BAR + 28.0), "beyond the rule", 14.0, INK)
    return image.reduce(SMOOTH)
