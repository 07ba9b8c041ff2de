"""Routes that are written down: the shortest way along given rails in a given order."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from reach.rails.closest import Floats, Ints
from reach.rails.graph import KINDS, RailGraph, assembled, check_inputs, lines_of, places_of
from reach.rails.joins import Holds, Lines, holds_of, joins_of
from reach.rails.records import Rail, Spot, index_of
from reach.rails.route import Route, route_of

ALONG, GAP, SPOT = (KINDS.index(kind) for kind in ("along", "gap", "spot"))


def along_rails(graph: RailGraph, start: str, stop: str, rails: Sequence[str]) -> Route | None:
    """Return the shortest route that uses exactly these rails in this order, or None.

    A rail that is written twice running counts once; one that comes again later is used again.

    Raises
    ------
    ValueError
        If a name is unknown, the message has the nearest right one; or if no rail is given.
    """
    at, to = graph.node_of(start), graph.node_of(stop)
    known = [rail.name for rail in graph.rails]
    order = [index_of("rail", name, known) for name in rails]
    order = [rail for k, rail in enumerate(order) if k == 0 or rail != order[k - 1]]
    if not order:
        raise ValueError("a written route needs at least one rail")
    nodes, entries = _layers(graph, order, at, to)
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    lengths, before = dijkstra(
        csr_array(entries, shape=(len(nodes), len(nodes))), indices=0, return_predecessors=True
    )
    if not np.isfinite(lengths[-1]):
        return None
    way = [len(nodes) - 1]
    while way[-1] != 0:
        way.append(int(before[way[-1]]))
    return route_of(graph, nodes[way[::-1]].tolist())


def _layers(
    graph: RailGraph, order: list[int], at: int, to: int
) -> tuple[Ints, tuple[Floats, tuple[Ints, Ints]]]:
    """Return nodes of start, each rail and stop as layers, and what joins each to the next."""
    layers = [np.array([at]), *(np.flatnonzero(graph.rail == rail) for rail in order)]
    layers.append(np.array([to]))
    first = np.cumsum([0, *(len(layer) for layer in layers)])
    rows, columns, lengths = [], [], []
    last = len(layers) - 1
    steps = [(k, k, ALONG) for k in range(1, last)]
    steps += [(k, k + 1, SPOT if k in (0, last - 1) else GAP) for k in range(last)]
    for k, onto, kind in steps:
        i, j, length = _edges(graph, layers[k], layers[onto], kind)
        rows.append(first[k] + i)
        columns.append(first[onto] + j)
        lengths.append(length)
    where = np.concatenate(rows), np.concatenate(columns)
    return np.concatenate(layers), (np.concatenate(lengths), where)


def _edges(graph: RailGraph, layer: Ints, onto: Ints, kind: int) -> tuple[Ints, Ints, Floats]:
    """Return the edges of a kind from one layer to another: rows in both, and lengths."""
    starts, stops = graph.csr.indptr[layer], graph.csr.indptr[layer + 1]
    i = np.repeat(np.arange(len(layer)), stops - starts)
    entry = np.concatenate([np.arange(a, b) for a, b in zip(starts, stops, strict=True)])
    to = graph.csr.indices[entry]
    j = np.minimum(np.searchsorted(onto, to), len(onto) - 1)
    keep = (onto[j] == to) & (graph.kinds[entry] == kind)
    return i[keep], j[keep], graph.csr.data[entry][keep]


def written_route(
    rails: Sequence[Rail],
    spots: Sequence[Spot],
    names: Sequence[str],
    start: str,
    stop: str,
    spot_span: float = 1.2,
    pitch: float = 0.3,
) -> Route:
    """Return the shortest route along rails as written, however wide the gaps between them.

    Whether a rail may be used and a gap be spanned is for others to judge: every rail named
    is taken as free, and two that follow each other are joined where they come closest.  A
    place with no such rail in its span is joined to the nearest point of the rail.

    Parameters
    ----------
    rails, spots : sequences of Rail and Spot
    names : sequence of str
        The rails in order.
    start, stop : str
        Names of places.
    spot_span, pitch : float, m

    Returns
    -------
    route : Route
        Its ``nodes`` count in a graph of the written rails alone.

    Raises
    ------
    ValueError
        If a name is unknown, the message has the nearest right one; or if no rail is named.
    """
    check_inputs(rails, spots, {"spot_span": spot_span, "pitch": pitch})
    known = [rail.name for rail in rails]
    order = [index_of("rail", name, known) for name in names]
    if not order:
        raise ValueError("a written route needs at least one rail")
    places = [spots[index_of("place", name, [s.name for s in spots])] for name in (start, stop)]
    used = sorted(set(order))
    own, order = tuple(rails[k] for k in used), [used.index(k) for k in order]
    ends = tuple(dict.fromkeys(places))
    lines = lines_of(own, pitch)
    pairs = sorted({(min(two), max(two)) for two in pairwise(order) if two[0] != two[1]})
    joins = joins_of(lines, np.array(pairs, np.int64).reshape(-1, 2), np.inf)
    holds = _held(lines, ends, [(0, order[0]), (len(ends) - 1, order[-1])], spot_span)
    graph = assembled(
        own, ends, lines, np.arange(len(own)), joins, holds, (np.inf, spot_span, pitch)
    )
    route = along_rails(graph, start, stop, names)
    assert route is not None, "all written rails are joined"
    return route


def _held(
    lines: Lines, ends: tuple[Spot, ...], wanted: list[tuple[int, int]], spot_span: float
) -> Holds:
    """Return holds of each wanted (place, rail), at the nearest point where none is in span."""
    points, spans = places_of(ends, spot_span)
    parts = []
    for spot, rail in wanted:
        only, one = np.array([rail]), points[spot : spot + 1]
        found = holds_of(lines, only, one, spans[spot : spot + 1])
        if not len(found.rail):
            found = holds_of(lines, only, one, _distance(lines, rail, one))
        parts.append(Holds(found.spot + spot, found.rail, found.s))
    return Holds(
        np.concatenate([part.spot for part in parts]),
        np.concatenate([part.rail for part in parts]),
        np.concatenate([part.s for part in parts]),
    )


def _distance(lines: Lines, rail: int, point: Floats) -> Floats:
    start, along = lines.start[rail], lines.along[rail]
    length = float(along @ along)
    at = float(np.clip((point[0] - start) @ along / length, 0.0, 1.0)) if length else 0.0
    return np.array([np.linalg.norm(point[0] - start - at * along)])
