"""Draws the minutes home: every grip coloured by its time, crosses where it is beyond the rule."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.spatial import cKDTree

from reach.pictures.moving import MoveStudio, faint_structure
from reach.pictures.notes import Notes, Tag
from reach.pictures.palette import INK, NO_WAY, PAPER, graded, rgb
from reach.pictures.panels import View, laid, sides_of
from reach.pictures.pen import SMOOTH, Pen
from reach.pictures.sheet import PANEL_WIDTH, Drawing, Frame, framed, patch, streak
from reach.pictures.surface import Surface, capsule, joined
from reach.travel.ground import spot_in

if TYPE_CHECKING:
    from reach.returns import Returns

Array = NDArray[np.float64]

BEAD = 0.11
"""Radius of a grip as drawn, m."""

TINT, FADES = 0.75, 4.0
"""How strongly the structure takes the colour of the nearest grip, and where that ends (m)."""

OFF_SCALE = 2.0
"""A rule this many times the most minutes is said under the scale, not on it."""

_BAR = 230.0


class HomeStudio(MoveStudio):
    """Draws the minutes home of one scene."""

    def minutes(self, returns: Returns) -> Image.Image:
        """Return grips coloured by minutes, from two sides."""
        graph, found = returns.map.graph, returns.map
        points = graph.points[: graph.n_grips]
        low, high = scale_of(returns)
        sheet = framed(home_frame(returns, low, high))
        around = returns.situation.surroundings
        self.plotter.clear_actors()
        pale = faint_structure(self._structure(around), points)
        self._add(_tinted(pale, returns, low, high), shine=0.04)
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
    """Return the least and the most minutes of the scale, whole ones; the rule is on it.

    A rule more than twice as far off as any grip is not, lest all grips have one colour.
    """
    limit = returns.limit.value / 60.0
    known = returns.map.brought[np.isfinite(returns.map.brought)] / 60.0
    if not len(known):
        return 0.0, float(max(math.ceil(limit), 1))
    low, high = math.floor(float(known.min())), math.ceil(float(known.max()))
    low = min(low, math.floor(limit))
    if limit <= OFF_SCALE * high:
        high = max(high, math.ceil(limit))
    return float(low), float(max(high, low + 1))


def _tinted(pale: Surface | None, returns: Returns, low: float, high: float) -> Surface | None:
    """Return the structure in the colour of the nearest grip's minutes, paler farther away."""
    found, graph = returns.map, returns.map.graph
    known = np.flatnonzero(np.isfinite(found.brought))
    if pale is None or not len(known):
        return pale
    far, nearest = cKDTree(graph.points[known]).query(pale.points)
    share = np.clip((found.brought[known] / 60.0 - low) / (high - low), 0.0, 1.0)
    colours = np.array([rgb(graded(one)) for one in share.tolist()], float)[nearest]
    part = (TINT * np.clip(1.0 - far / FADES, 0.0, 1.0))[:, None]
    mixed = np.rint((1.0 - part) * pale.colours + part * colours).astype(np.uint8)
    return Surface(pale.points, pale.normals, pale.faces, mixed)


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


def home_frame(returns: Returns, low: float, high: float) -> Frame:
    """Return what stands round the picture of the minutes home."""
    found = returns.map
    place = found.partner_place
    start = f"from {place}" if place else "who starts beside them"
    n_beyond = int((found.brought[np.isfinite(found.brought)] > returns.limit.value).sum())
    n_none = int((~np.isfinite(found.brought)).sum())
    words = (
        f"Every grip, and the structure near it, by the minutes until someone who cannot move is "
        f"in the lock, brought by a partner {start}; {found.swaps} swaps of safety lines. Tags "
        f"name the worst grip of each rail. {n_beyond} of {len(found.brought)} grips are beyond "
        f"the rule of {returns.limit.value / 60.0:.3g} min."
    )
    if n_none:
        words += f" From {n_none} no rails lead home."
    one = returns.situation
    head = f"gaps up to {found.graph.gap:.2f} m, as {one.worker} ({one.case}) spans them"
    title = f"{returns.outcome.title}: minutes home"
    return Frame(None, title, head, words, (), key_of_minutes(returns, low, high), "")


def key_of_minutes(returns: Returns, low: float, high: float) -> Image.Image:
    """Return the scale of minutes with the rule, and what crosses and grey balls say."""
    found, limit = returns.map.brought, returns.limit.value / 60.0
    known = np.isfinite(found)
    rows: list[tuple[Drawing, str]] = []
    if limit > high:
        rows.append((streak(INK, 2.5), f"the rule: {limit:.3g} min, off the scale"))
    if (found[known] > returns.limit.value).any():
        rows.append((lambda p, x, y: p.cross((x + 17.0, y), 8.0), "beyond the rule"))
    if not known.all():
        grey = patch(NO_WAY)
        rows.append((grey, "no rails lead home, or none lead the partner there"))
    size = (PANEL_WIDTH - 2, round(58.0 + _BAR + 30.0 * len(rows)))
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
        minutes = low + share * (high - low)
        if abs(minutes - limit) > 0.05 * (high - low):  # the rule has its own words
            pen.text((x + 48.0, y), f"{minutes:.1f}", 14.0, INK)
    if limit <= high:
        y = top + _BAR * (limit - low) / (high - low)
        pen.rule((x - 4.0, y), (x + 110.0, y), INK, 2.5)
        pen.text((x + 116.0, y), f"the rule: {limit:.3g} min", 14.0, INK, True)
    for k, (draw, words) in enumerate(rows):
        y = top + _BAR + 28.0 + 30.0 * k
        draw(pen, x, y)
        pen.text((x + 48.0, y), words, 14.0, INK)
    small = image.reduce(SMOOTH)
    known_words = (f"{low:.3g} to {high:.3g} minutes from pale yellow to dark violet",)
    small.info["words"] = (*known_words, f"the rule: {limit:.3g} min", *(said for _, said in rows))
    return small
