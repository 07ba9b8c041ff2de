"""The smallest changes by which a setting would be found where none is: hand, tool, bar, socket.

Each is tried, not guessed: what is returned has a witness posture for everything asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.kept.noting import Memo
from reach.model.hardware import Restraint
from reach.model.procedure import Drive
from reach.placing import held_of, socket_pose
from reach.plan.grid import Grid, grid_of, shortage_of
from reach.plan.ranking import Served, rank
from reach.site import Held, Site, Situation
from reach.units import text_of
from reach.worker.figure import Figure

Array = NDArray[np.float64]

MOST = 48
"""Settings looked at for each change that is tried."""

LENGTHS = (0.05, 0.10, 0.15, 0.20, 0.30, 0.40, 0.50, 0.60)
"""Bars tried besides those there are, m."""

DISTANCES = (0.05, 0.10, 0.15, 0.20, 0.30, 0.40, 0.60, 0.80, 1.00)
"""How far a socket is moved along its face, m."""

MOST_ROWS = 400
"""Settings searched for each change, those deepest inside the outer bound."""

N_WAYS = 8

N_NEAR = 120
"""Settings tried where a socket is moved: those that fall short least where it is."""


@dataclass(frozen=True, eq=False, slots=True)
class Remedy:
    """A change in words, and the setting that serves everything once it is made."""

    words: str
    served: Served


def remedies(
    site: Site, asks: Sequence[Situation], restraint: Restraint, grid: Grid
) -> list[Remedy]:
    """Return the changes found, at most one of each kind.

    Parameters
    ----------
    grid : Grid
        Of the same asks, without a setting that serves them.
    """
    kinds = (
        _other_hand(site, asks, restraint, grid),
        _other_tool(site, asks, restraint, grid),
        _extension(site, asks, restraint, grid),
        _moved(site, asks, restraint, grid),
    )
    return [found for kind in kinds if (found := next(kind, None)) is not None]


def _no_table(figure: Figure, n: int) -> None:
    """A table is not worth making for one look at each change."""


def _served(
    site: Site, asks: Sequence[Situation], restraint: Restraint, grid: Grid
) -> Served | None:
    new = grid_of(site, asks, restraint, _no_table, grid.sockets, most=MOST_ROWS)
    return next(iter(rank(site, new, asks, 1, MOST, hard=False).served), None)


def _other_hand(
    site: Site, asks: Sequence[Situation], restraint: Restraint, grid: Grid
) -> Iterator[Remedy]:
    if any(isinstance(ask.action, Drive) and ask.action.hand == "both" for ask in asks):
        return
    changed = [_with(ask, hand="either") for ask in asks]
    if all(new.action == old.action for new, old in zip(changed, asks, strict=True)):
        return
    served = _served(site, changed, restraint, grid)
    if served:
        by = sorted({_head(ask) for ask, hand in zip(asks, served.hands, strict=True)
                     if hand != ask.own_hand})  # fmt: skip
        if by:
            yield Remedy(f"Leave the hand open: the other one does {', '.join(by)}", served)


def _with(ask: Situation, **changes: object) -> Situation:
    assert isinstance(ask.action, Drive)
    return replace(ask, action=ask.action.model_copy(update=changes))


def _head(ask: Situation) -> str:
    assert ask.head is not None
    return ask.head.name


def _other_tool(
    site: Site, asks: Sequence[Situation], restraint: Restraint, grid: Grid
) -> Iterator[Remedy]:
    """Try another tool that the fastener allows, for one fastener at a time."""
    scene = site.scene
    for name in dict.fromkeys(_head(ask) for ask in asks):
        mine = [ask for ask in asks if _head(ask) == name]
        used = mine[0].action
        assert isinstance(used, Drive)
        kind = scene.items[used.tool].kind if used.tool in scene.items else used.tool
        for tool in scene.fasteners[name].tools:
            if tool == kind or tool not in scene.tools:
                continue
            bits = [b for b, bit in scene.bits.items() if bit.head == scene.fasteners[name].head]
            if scene.tools[tool].takes_bits and not bits:
                continue
            bit = bits[0] if scene.tools[tool].takes_bits else None
            changed = [_with(a, tool=tool, bit=bit, extension=None) if a in mine else a
                       for a in asks]  # fmt: skip
            changed = [_refitted(site, ask) for ask in changed]
            served = _served(site, changed, restraint, grid)
            if served:
                yield Remedy(f"Turn {name} with {tool}", served)


def _refitted(site: Site, ask: Situation) -> Situation:
    assert isinstance(ask.action, Drive)
    return replace(ask, held=held_of(site.scene, ask.action))


def _extension(
    site: Site, asks: Sequence[Situation], restraint: Restraint, grid: Grid
) -> Iterator[Remedy]:
    """Try bars of rising length between tool and bit, then name the one there is."""
    if not any(ask.held is not None and ask.held.record.takes_bits for ask in asks):
        return
    bars = {bar.length: name for name, bar in site.scene.extensions.items()}
    for length in sorted({*bars, *LENGTHS}):
        longer = [_lengthened(ask, length) for ask in asks]
        served = _served(site, longer, restraint, grid)
        if served:
            name = f" ({bars[length]})" if length in bars else ""
            yield Remedy(f"Fit an extension of {text_of(length, 'm')}{name}", served)


def _lengthened(ask: Situation, by: float) -> Situation:
    held = ask.held
    assert held is not None
    if not held.record.takes_bits:
        return ask
    longer: Held = replace(
        held,
        tip=held.tip + by * held.axis,
        shaft_length=held.shaft_length + by,
        title=f"{held.title} + bar of {by:.3f} m",
    )
    return replace(ask, held=longer)


def _moved(
    site: Site, asks: Sequence[Situation], restraint: Restraint, grid: Grid
) -> Iterator[Remedy]:
    """Move the socket that comes nearest along its face, a step farther each time.

    Only the settings that come nearest where the socket is now are tried elsewhere: a shorter
    move may exist.
    """
    if not grid.sockets:
        return
    name = grid.nearest
    socket = site.scene.sockets[name]
    frame = socket_pose(socket, site.world_from)[:3, :3]
    to_parent = site.world_from[socket.frame][:3, :3].T
    near = _nearest_settings(site, asks, grid, name)
    least = float(grid.alone[name].max())
    for distance in DISTANCES:
        if distance < least:
            continue
        for turn in 2.0 * np.pi * np.arange(N_WAYS) / N_WAYS:
            shift = distance * (np.cos(turn) * frame[:, 0] + np.sin(turn) * frame[:, 1])
            at = tuple((np.asarray(socket.at) + to_parent @ shift).tolist())
            sockets = {**site.scene.sockets, name: socket.model_copy(update={"at": at})}
            scene = site.scene.model_copy(update={"sockets": sockets})
            moved = replace(site, scene=scene, memo=Memo())
            scored = grid_of(moved, asks, restraint, _no_table, [name], only=near)
            served = next(iter(rank(moved, scored, asks, 1, MOST, hard=False).served), None)
            if served:
                by = ", ".join(f"{x + 0.0:+.2f}" for x in np.round(shift, 2))
                words = f"Move {name} by {text_of(distance, 'm')} along its face, ({by}) m"
                yield Remedy(words, served)


def _nearest_settings(
    site: Site, asks: Sequence[Situation], grid: Grid, name: str
) -> NDArray[np.int64]:
    """Return the settings of a socket that fall short least, by the outer bound of all asks."""
    n = len(grid.angles)
    rows = np.stack([np.full(n, grid.sockets.index(name)), np.arange(n)], axis=1)
    every = replace(grid, rows=rows)
    found = [shortage_of(site, every, ask, np.arange(n), sharp=False) for ask in asks]
    worst = np.max(found, axis=0)
    return np.sort(np.argsort(worst, kind="stable")[:N_NEAR])
