"""Routes over a large lattice of rails: times, growth, and two libraries in the same run.

``python -m benchmarks.routes`` prints the tables, ``--plot FILE`` draws the growth as well.  The
lattice has a rail from knot to knot, 3 m apart, along all three axes; a fifth of the rails is
missing and every one is a little off its place, so routes differ and few are equally long.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from itertools import product

import networkx
import numpy as np
from scipy.sparse.csgraph import dijkstra, yen

from reach.files.people import load_population
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.rails.alternatives import alternatives
from reach.rails.graph import RailGraph, rail_graph
from reach.rails.ranked import shortest_paths
from reach.rails.records import Rail, Spot
from reach.rails.route import all_lengths, best_route
from reach.situations import resolve
from reach.travel.home import Map, home_map

SIZES = (1_000, 3_000, 10_000, 30_000, 100_000)
GAP, KNOTS, N_WAYS, MISSING = 0.92, 3.0, 20, 0.2
GRIPS_A_RAIL = 10
GOALS = {"build": 5.0, "best route": 0.05, "20 alternatives": 1.0}
"""Seconds at 100,000 grips."""


def lattice(n_grips: int, seed: int = 0) -> tuple[list[Rail], list[Spot]]:
    """Return about so many grips' worth of rails, and two places at opposite corners."""
    n = max(2, round((n_grips / GRIPS_A_RAIL / 3.0 / (1.0 - MISSING)) ** (1.0 / 3.0)))
    rng = np.random.default_rng(seed)
    rails = []
    for knot in product(range(n), repeat=3):
        for axis in range(3):
            if rng.uniform() < MISSING:
                continue
            start = KNOTS * np.array(knot) + rng.uniform(-0.02, 0.02, 3)
            stop = start.copy()
            start[axis] += 0.15
            stop[axis] += KNOTS - 0.15
            name = f"R{len(rails)}"
            rails.append(Rail(name, tuple(start.tolist()), tuple(stop.tolist())))
    far = KNOTS * (n - 1)
    return rails, [Spot("start", (0.0, 0.0, 0.0)), Spot("stop", (far, far, far))]


def timed(work: Callable[[], object], most: int = 5) -> tuple[float, object]:
    """Return the least time of up to ``most`` runs (s), within about two seconds, and the result.

    The first run is thrown away where there is time for another.
    """
    times: list[float] = []
    while len(times) < most and sum(times) < 2.0:
        start = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - start)
    return min(times), result


def growth(plot: str | None = None) -> RailGraph:
    """Print times from 1,000 to 100,000 grips and how they grow; return the largest graph."""
    works: dict[str, Callable[[RailGraph], object]] = {
        "best route": lambda graph: best_route(graph, "start", "stop"),
        "20 alternatives": lambda graph: alternatives(graph, "start", "stop", N_WAYS),
        "20 shortest": lambda graph: shortest_paths(graph, "start", "stop", N_WAYS),
        "from everywhere": lambda graph: all_lengths(graph, "stop"),
    }
    names = ["build", *works]
    print("  grips    edges" + "".join(f"{name:>17s}" for name in names))
    sizes, rows = [], []
    for n_grips in SIZES:
        rails, spots = lattice(n_grips)
        row, graph = timed(lambda r=rails, s=spots: rail_graph(r, s, GAP))
        found = [timed(lambda w=work, g=graph: w(g)) for work in works.values()]
        rows.append([row, *(seconds for seconds, _ in found)])
        sizes.append(graph.n_grips)
        cells = "".join(f"{1e3 * seconds:14.1f} ms" for seconds in rows[-1])
        print(f"{graph.n_grips:7,d} {graph.csr.nnz // 2:8,d}{cells}", flush=True)
    n = np.array(sizes, np.float64)
    for what, x in (("n", np.log(n)), ("n log n", np.log(n * np.log(n)))):
        powers = [np.polyfit(x, np.log(times), 1)[0] for times in np.array(rows).T]
        cells = "".join(f"{power:17.2f}" for power in powers)
        print(f"  power of {what:7s}{cells}")
    if plot is not None:
        draw(plot, n, np.array(rows), names)
    for name, goal in GOALS.items():
        took = rows[-1][names.index(name)]
        print(f"  {name:16s} {took:7.3f} s  <= {goal:g} s  {'ok' if took <= goal else 'MISSED'}")
    return graph


def draw(file: str, n: np.ndarray, rows: np.ndarray, names: list[str]) -> None:
    """Draw times over the number of grips, each beside the line on which n log n would put it."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.5, 4.5), layout="constrained")
    axes = figure.subplots()
    shapes, colours = "osD^v", ("#0b7a75", "#c8841a", "#5b2a86", "#444444", "#1f5fa8")
    for name, times, shape, colour in zip(names, rows.T, shapes, colours, strict=True):
        axes.loglog(n, 1e3 * times, shape + "-", color=colour, label=name)
        by = n * np.log(n)
        axes.loglog(n, 1e3 * times[-1] * by / by[-1], ":", color=colour, linewidth=1)
    axes.set_xlabel("grips")
    axes.set_ylabel("ms")
    axes.set_title("Routes over a lattice of rails (dotted: n log n through the last point)")
    axes.legend()
    axes.grid(True, which="both", alpha=0.2)
    figure.savefig(file, dpi=110)


def home() -> None:
    """Print how long the minutes home of the demo take, from every grip."""
    loaded = load_scene("brackenfall")
    asked = load_procedure(None, loaded)
    site, situations = resolve(loaded.scene, loaded.meshes, asked.procedure, load_population)
    situation = next(one for one in situations if one.passage is not None)

    def work() -> Map:
        site.memo.clear()
        return home_map(site, situation, 2)

    took, found = timed(work)
    assert isinstance(found, Map)
    print(f"  minutes home from the demo's {len(found.length)} grips: {took:.3f} s  <= 1 s")


def against(graph: RailGraph) -> None:
    """Print ratios to networkx and scipy on the same graph, and whether the answers agree."""
    at, to = graph.node_of("start"), graph.node_of("stop")
    ours, route = timed(lambda: best_route(graph, "start", "stop"))
    theirs = graph.networkx()
    made, _ = timed(graph.networkx, most=1)
    built, _ = timed(lambda: rail_graph(graph.rails, graph.spots, GAP))
    plain, length = timed(
        lambda: networkx.dijkstra_path_length(theirs, at, to, weight="length"), most=2
    )
    both, _ = timed(
        lambda: networkx.bidirectional_dijkstra(theirs, at, to, weight="length"), most=2
    )
    raw, reached = timed(lambda: dijkstra(graph.csr, indices=at, return_predecessors=True))
    rows = [
        ("build: ours, and filling a networkx graph", built, made, ""),
        ("best route: networkx, from one side", ours, plain, apart(route.length, length)),
        ("best route: networkx, from both sides", ours, both, ""),
        ("best route: scipy, bare search", ours, raw, apart(route.length, reached[0][to])),
    ]
    print(f"  {graph.n_grips:,d} grips{'':34s}ours     theirs   ratio  agreement")
    for name, mine, other, agreement in rows:
        print(
            f"  {name:42s}{1e3 * mine:8.1f} {1e3 * other:8.1f} ms{other / mine:7.1f}  {agreement}"
        )


def ranked() -> None:
    """Print the k shortest ways against both libraries, on graphs that these can manage."""
    for n_grips, name in ((1_000, "networkx"), (10_000, "scipy")):
        graph = rail_graph(*lattice(n_grips), GAP)
        at, to = graph.node_of("start"), graph.node_of("stop")
        ours, routes = timed(lambda g=graph: shortest_paths(g, "start", "stop", N_WAYS))
        if name == "scipy":
            theirs, lengths = timed(
                lambda g=graph, s=at, t=to: yen(g.csr, s, t, N_WAYS, directed=True), most=1
            )
        else:
            begun, whole = time.perf_counter(), graph.networkx()
            paths = networkx.shortest_simple_paths(whole, at, to, weight="length")
            ways = [next(paths) for _ in range(N_WAYS)]
            lengths = [networkx.path_weight(whole, way, "length") for way in ways]
            theirs = time.perf_counter() - begun
        gap = float(np.abs(np.array([r.length for r in routes]) - np.array(lengths)).max())
        print(
            f"  20 shortest, {graph.n_grips:6,d} grips: {name:20s}{1e3 * ours:10.1f} "
            f"{1e3 * theirs:8.1f} ms{theirs / ours:7.1f}  apart at most {gap:.0e} m"
        )


def apart(one: float, other: float) -> str:
    """Return by how much two lengths differ, as text."""
    return f"apart {abs(one - other):.0e} m"


def main() -> None:
    """Print what was measured."""
    print("\nRoutes over a lattice of rails (one thread, best of up to five runs)", flush=True)
    arguments = sys.argv[1:]
    graph = growth(arguments[arguments.index("--plot") + 1] if "--plot" in arguments else None)
    against(graph)
    ranked()
    home()


if __name__ == "__main__":
    main()
