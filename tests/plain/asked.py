"""Small questions to every batch of kernels; run as a program, it answers them uncompiled.

Each returns arrays by name.  They are drawn once for all with a seed, with rows among them that
sit on edges, corners and nothing: what is rare in random questions must be asked on purpose.
"""

from __future__ import annotations

import sys
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests/worker")]

QUESTIONS = {}


def question(ask):
    QUESTIONS[ask.__name__] = ask
    return ask


def told(answer):
    """Plain arrays of a record, a named tuple or an array, by name."""
    if is_dataclass(answer):
        parts = {one.name: getattr(answer, one.name) for one in fields(answer)}
    elif hasattr(answer, "_asdict"):
        parts = answer._asdict()
    else:
        parts = {"": answer}
    found = {}
    for name, value in parts.items():
        if is_dataclass(value):
            found |= {f"{name}.{inner}": one for inner, one in told(value).items()}
        else:
            found[name] = np.asarray(value)
    return found


@cache
def tubes():
    """Two closed tubes that cross: 120 triangles, with a lone one far off."""
    from benchmarks.trusses import tube
    from reach.geometry import build

    parts = [tube([-1, 0, 0], [1, 0, 0], 0.3, 8, 3), tube([0, -1, 0.1], [0, 1, 0.1], 0.25, 7, 2)]
    return build(np.concatenate([*parts, [[[3.0, 0, 0], [4.0, 0, 0], [3.0, 1.0, 0]]]]))


@cache
def heap():
    """The same triangle 30 times over, and points without extent: no plane parts them."""
    from reach.geometry import build

    one = [[0.0, 0, 0], [1.0, 0, 0], [0, 1.0, 0]]
    return build(
        np.array([one] * 30 + [[[2.0, 0, 0]] * 3, [[2.0, 0, 0], [3.0, 0, 0], [2.5, 0, 0]]])
    )


def drawn(n=24, seed=1):
    """Points in and round the tubes, and others beside them; some on corners, edges, each other."""
    rng = np.random.default_rng(seed)
    p = rng.uniform(-1.6, 1.6, (n, 3)) * [1, 1, 0.5]
    q = p + 0.6 * rng.normal(size=(n, 3))
    corners = tubes().tri.reshape(-1, 3)
    p[0], q[0] = corners[0], corners[1]  # along an edge
    q[1] = p[1]  # a point
    p[2], q[2] = [0, 0, -3.0], [0, 0, 3.0]  # right through, along an axis
    p[3], q[3] = [0, 0, 0], [0, 0, 0.01]  # inside both
    p[4], q[4] = [-2, 0, 0], [2, 0, 0]  # along the axis of one
    p[5], q[5] = [3.2, 0.2, 0.5], [3.2, 0.2, -0.5]  # through the lone one
    p[6], q[6] = [3.0, 0.0, 0.3], [4.0, 0.0, 0.3]  # beside its edge
    p[7], q[7] = [3.1, 0.1, 0.0], [3.3, 0.3, 0.0]  # within it
    p[8], q[8] = [5.0, 5, 5], [6.0, 6, 6]
    return p, q


@question
def distances():
    from reach.geometry import capsule_clearance, point_distance, segment_distance

    p, q = drawn()
    found = {}
    for name, answer in {
        "point": point_distance(tubes(), p),
        "point within": point_distance(tubes(), p, 0.2),
        "segment": segment_distance(tubes(), p, q),
        "segment within": segment_distance(tubes(), p, q, 0.1),
        "heap": segment_distance(heap(), p, q),
        "heap point": point_distance(heap(), p),
        "capsule": capsule_clearance(tubes(), p, q, 0.1),
        "capsule within": capsule_clearance(tubes(), p, q, 0.1, 0.3),
    }.items():
        found |= {f"{name} {key}": value for key, value in told(answer).items()}
    return found


@question
def rays():
    from reach.geometry import any_hit, first_hit

    p, q = drawn(seed=2)
    d = q - p
    d[1] = [0, 0, 1]
    found = {"any": any_hit(tubes(), p, d), "any near": any_hit(tubes(), p, d, 0.2)}
    for name, answer in {
        "first": first_hit(tubes(), p, d), "near": first_hit(tubes(), p, d, 0.5),
        "heap": first_hit(heap(), p, d),
    }.items():  # fmt: skip
        found |= {f"{name} {key}": value for key, value in told(answer).items()}
    # Along axes and in the plane of a triangle.
    for k, axis in enumerate(np.vstack((np.eye(3), -np.eye(3)))):
        found[f"axis {k}"] = any_hit(tubes(), p, np.tile(axis, (len(p), 1)))
        found |= {
            f"axis {k} {x}": y
            for x, y in told(first_hit(heap(), p, np.tile(axis, (len(p), 1)))).items()
        }
    return found


@question
def cylinders():
    from reach.geometry import cylinder_overlap

    p, q = drawn(seed=3)
    q[1] = p[1] + [0, 0, 0.1]
    found = {str(r): cylinder_overlap(tubes(), p, q, r) for r in (0.0, 0.05, 0.4, 1.5)}
    found["heap"] = cylinder_overlap(heap(), p, q, 0.3)
    return found


@question
def insides():
    from reach.geometry import inside, tube_clearance, winding_number

    p, _ = drawn(seed=4)
    found = {"winding": winding_number(tubes(), p), "near": winding_number(tubes(), p, 1.1)}
    found |= {"inside": inside(tubes(), p), "heap": inside(heap(), p)}
    found |= {"shells": tubes().shells, "boxes": tubes().shell_boxes, "heap shells": heap().shells}
    return found | told(tube_clearance(tubes(), p, 0.1))


@question
def pairs():
    from reach.geometry import segment_pair_distance

    p, q = drawn(seed=5)
    a, b = drawn(seed=6)
    beside = np.array([0, 0, 0.2])
    a[9:12], b[9:12] = p[9:12] + beside, q[9:12] + beside  # parallel
    a[12], b[12] = p[12], p[12]
    p[12], q[12] = a[12], a[12]  # two points that are one
    q[13] = p[13]
    b[14] = a[14]
    return {"": segment_pair_distance(p, q, a, b)}


def turned(axis, angle, at):
    from reach.geometry import pose_of, rotation_about

    return pose_of(rotation_about(axis, angle), at)


@question
def sweeps():
    from reach.geometry import swept_clearance

    rng = np.random.default_rng(7)
    starts = np.array(
        [turned(rng.normal(size=3), a, 1.5 * rng.normal(size=3)) for a in rng.uniform(0, 3, 8)]
    )
    stops = np.array(
        [turned(rng.normal(size=3), a, 1.5 * rng.normal(size=3)) for a in rng.uniform(0, 3, 8)]
    )
    stops[0] = starts[0]
    stops[1, :3, :3] = starts[1, :3, :3]
    starts[2, :3, 3] = stops[2, :3, 3] = [0, 0, 2.0]
    starts[3, :3, 3] = 0.0
    found = {}
    for name, options in {"": {}, "beyond ": {"beyond": 0.3}, "point ": {}}.items():
        q = [0.1, 0, 0] if name == "point " else [0.4, 0.1, 0.0]
        answer = swept_clearance(tubes(), starts, stops, [0.1, 0, 0], q, 0.05, **options)
        found |= {f"{name}{key}": value for key, value in told(answer).items()}
    return found


@cache
def block():
    from benchmarks.trusses import tube
    from reach.geometry import build

    return build(tube([-0.3, 0, 0], [0.3, 0, 0], 0.1, 5, 1))


PATHS = {
    "past": [((0, 0, 1), 0.0, (-2, 0, 1.0)), ((0, 0, 1), 0.0, (2, 0, 1.0))],
    "turning past": [
        ((0, 1, 0), 0.0, (-2, 0, 1)), ((0, 1, 1), 1.5, (1, 0.5, 0.9)), ((1, 0, 0), 2.0, (2, 1, 1)),
    ],
    "spinning": [((0, 0, 1), 0.0, (0, 0, 0.8)), ((0, 0, 1), 3.0, (0, 0, 0.8))],
    "into": [((0, 0, 1), 0.0, (-2, 0, 1.0)), ((0, 0, 1), 0.4, (0, 0, 0.2))],
    "inside": [((0, 0, 1), 0.0, (0, 0, 0.0)), ((0, 0, 1), 0.4, (2, 0, 2.0))],
    "far": [((0, 0, 1), 0.0, (20, 0, 0.0)), ((0, 0, 1), 0.4, (22, 0, 2.0))],
    "still": [((0, 0, 1), 0.3, (0, 0, 1.0)), ((0, 0, 1), 0.3, (0, 0, 1.0))],
}  # fmt: skip


@question
def carried():
    from reach.geometry import gap_curve, path_gap, pose_gap, swept_gap

    found = {}
    for name, way in PATHS.items():
        poses = np.array([turned(*one) for one in way])
        asked = {
            "path": path_gap(tubes(), block(), poses, within=0.01),
            "enough": path_gap(tubes(), block(), poses, enough=0.3),
            "near": swept_gap(tubes(), block(), poses[0], poses[1], within=0.02, beyond=0.5),
            "about": swept_gap(tubes(), block(), *poses[:2], within=0.02, about=[0.3, 0, 0]),
            "curve": gap_curve(tubes(), block(), poses, 3, within=0.02),
            "pose": pose_gap(tubes(), block(), poses[0], within=0.01),
        }  # fmt: skip
        for kind, answer in asked.items():
            found |= {f"{name} {kind} {key}": value for key, value in told(answer).items()}
    return found


# ---- worker ----------------------------------------------------------------------------

TIPS = [
    [0.7, -0.2, 1.3], [0.55, -0.3, 1.6], [0.75, 0.3, 1.2], [0.3, -0.5, 0.8], [2.5, 0.0, 1.0],
    [0.1, -0.1, 1.3], [0.9, -0.4, 1.4],
]  # fmt: skip
WAYS = [
    [1, 0, 0], [1, 0, 0.3], [0.6, 0.8, 0], [0, 0, -1.0], [1, 0, 0], [-1.0, 0, 0], [0.9, -0.3, 0.2],
]  # fmt: skip


def figures():
    from figures import figure

    return [figure("M", "halden", "drive"), figure("S", "unsuited", "angled")]


def targets():
    d = np.array(WAYS)
    return np.array(TIPS), d / np.linalg.norm(d, axis=1)[:, None]


@question
def bounds():
    from reach.worker.bound import plate_shortage, shortage, too_near

    tips, ways = targets()
    rng = np.random.default_rng(8)
    tips = np.vstack((tips, rng.uniform([-0.6, -1.3, 0.2], [1.5, 0.9, 2.3], (5, 3))))
    ways = np.vstack((ways, rng.normal(size=(5, 3))))
    found = {}
    for k, one in enumerate(figures()):
        found[f"{k} sharp"] = shortage(one, tips, ways)
        found[f"{k} quick"] = shortage(one, tips, ways, sharp=False)
        found[f"{k} plate"] = plate_shortage(one, np.linspace(0, 3, 7))
        found[f"{k} near"] = too_near(one, tips, ways)
    return found


@question
def postures():
    from reach.worker.margin import reach_margin
    from reach.worker.search import find_postures
    from reach.worker.ways import walk_ways

    tips, ways = targets()
    found = {}
    for k, one in enumerate(figures()):
        answer = find_postures(one, tips, ways)
        found |= {f"{k} {key}": value for key, value in told(answer).items()}
        drawn_tips = tips[0] + 0.02 * np.arange(4)[:, None, None] * np.eye(3)[None, :2]
        where = walk_ways(one, drawn_tips, np.tile(ways[0], (4, 2, 1)), np.full(4, 2), answer.x[0])
        found |= {f"{k} walked {key}": value for key, value in told(where).items()}
    margin = reach_margin(
        figures()[0], tips[2], ways[2], find_postures(figures()[0], tips[2], ways[2]).x[0]
    )
    return found | {f"margin {key}": value for key, value in told(margin).items()}


@question
def balls():
    from reach.worker.cover import prove_ball
    from reach.worker.search import find_postures

    tips, ways = targets()
    found = {}
    for k, one in enumerate(figures()):
        for i in (0, 4, 6):
            x = find_postures(one, tips[i], ways[i]).x[0]
            proved = prove_ball(one, tips[i], ways[i], x, 0.04)
            found |= {f"{k} {i} {key}": value for key, value in told(proved).items()}
    return found


@question
def both_hands():
    from reach.worker.two_hands import find_two_handed

    tips, ways = targets()
    found = {}
    for k, one in enumerate(figures()):
        # Near enough at once, only after a search, at the limit, and out of reach of the other.
        seconds = ([0, 0.25, 0.05], [0, 0.9, 0.0], [-0.5, 0.7, -0.6], [1.8, 1.0, 0.0])
        for i, off in zip((0, 2, 3, 1), seconds, strict=True):
            pair = find_two_handed(one, one.grip, tips[i], ways[i], tips[i] + off)
            found |= {f"{k} {i} {key}": value for key, value in told(pair).items()}
        both = [find_two_handed(one, one.grip, tips[0], ways[0], tips[0] + off, ways[0])
                for off in ([0, 0.25, 0.05], [2.0, 0, 0])]  # fmt: skip
        found |= {
            f"{k} given {i} {key}": value for i in (0, 1) for key, value in told(both[i]).items()
        }
    return found


@question
def bars():
    from reach.worker.bars import excess_of, pull_back
    from reach.worker.search import SEED

    tips, _ = targets()
    found = {}
    for k, one in enumerate(figures()):
        for n, off in ((1, 0.05), (2, 0.1), (2, 1.5)):
            ends = np.repeat(np.asarray(tips[:n], float)[:, None], 2, axis=1)
            ends += [[off, 0.0, 0.0], [off, 0.2, 0.0]]
            shares, postures = np.full(n, 0.5), np.zeros((n, 9))
            which = np.ones(n), np.array([1.0, -1.0])[:n]
            state = np.array([SEED], np.uint64)
            left = pull_back(one.p, ends, shares, *which, postures, 60, state)
            again = excess_of(one.p, ends, shares, *which, postures)
            found |= {f"{k} {n} {off} {key}": value for key, value in (
                ("left", np.array([left, again])), ("shares", shares), ("postures", postures),
            )}  # fmt: skip
    return found


@question
def lists():
    """More rows than are left in the order in which they came, nan among them."""
    from reach.geometry import first_hit, point_distance
    from reach.geometry.queries import FEW

    rng = np.random.default_rng(10)
    p = rng.uniform(-2.0, 2.0, (FEW + 3, 3))
    found = {f"near {key}": value for key, value in told(point_distance(tubes(), p)).items()}
    d = np.tile([0.0, 0.0, 1.0], (len(p), 1))
    return found | {f"hit {key}": value for key, value in told(first_hit(tubes(), p, d)).items()}


@question
def refuted():
    """Cells that are refuted by room, by sight, by the arm, and that are not."""
    from planting import box

    from reach.geometry import build
    from reach.worker.cells import ARM, ROOM, SIGHT, refute_cells
    from reach.worker.posing import Target
    from reach.worker.shadow import shadows_of
    from reach.worker.volume import bulk_of

    rng = np.random.default_rng(11)
    one = figures()[0]
    bulk = bulk_of(one, one.suit, np.empty((0, 7)))
    need = np.full(len(bulk.names), 0.02)
    trunk = build(box(rng, [0.0, 0.0, 1.1], [1.5, 1.5, 0.4]))  # right where the trunk is
    found = {}
    for name, tip, way in (
        ("ahead", [0.7, -0.2, 1.3], [1.0, 0, 0]), ("seen from behind", [0.7, 0, 1.3], [-1.0, 0, 0]),
        ("over", [0.3, 0.0, 2.6], [0, 0, 1.0]), ("low", [0.4, 0.0, 0.3], [0, 0, -1.0]),
    ):  # fmt: skip
        tip, way = np.array(tip), np.array(way)
        spots = tip - 0.01 * way + 0.01 * np.eye(3)
        asked = Target(tip, way, spots, need, 0.5, 1.0)
        wide = box(rng, tip - 0.15 * way, [0.3, 2.0, 2.0])
        for wanted in (ARM, ROOM, SIGHT, ROOM | SIGHT):
            dark = shadows_of([wide] * 2, spots)
            cells = refute_cells(one, bulk, trunk, np.eye(4), asked, need, dark, wanted, 150)
            found |= {f"{name} {wanted} {key}": value for key, value in told(cells).items()}
    return found


@question
def walks():
    """Ways that go on, that need a new start, and that leave what an arm reaches."""
    from reach.worker.search import find_postures
    from reach.worker.ways import walk_ways

    one = figures()[0]
    tip, way = np.array(TIPS[0]), np.array(WAYS[0], float)
    x = find_postures(one, tip, way).x[0]
    ends = np.array([[0.05, 0, 0], [-0.4, 0.5, 0.2], [0.9, 0, 0], [-0.5, -0.6, -0.5]])
    tips = tip + ends[:, None] * np.array([0.5, 1.0])[None, :, None]
    ways = np.tile(way, (4, 2, 1))
    return told(walk_ways(one, tips, ways, np.full(4, 2), x))


@question
def elbows():
    """How far an elbow may bend between two lengths: the middle one may ask for more."""
    from reach.worker.carry import swing

    rows = [
        (0.3, 0.3, 0.4, 0.1, 0.2), (0.3, 0.3, 0.4, 0.3, 0.5), (0.35, 0.25, 0.3, 0.05, 0.6),
        (0.25, 0.35, 0.3, 0.05, 0.6), (0.3, 0.25, 0.1, 0.1, 0.5), (0.25, 0.3, 0.1, 0.1, 0.5),
    ]  # fmt: skip
    return {"": np.array([swing(*row) for row in rows])}


@cache
def surroundings():
    from planting import box

    from reach.geometry import build

    rng = np.random.default_rng(9)
    places = [[0.9, -0.2, 1.3], [0.5, 0.4, 1.1], [0.3, 0.0, 1.75]]
    sizes = [[0.1, 0.5, 0.4], [0.1, 0.2, 0.2], [0.2, 0.2, 0.1]]
    parts = [box(rng, place, size) for place, size in zip(places, sizes, strict=True)]
    return build(np.concatenate(parts)), parts


@question
def held():
    from reach.worker.cells import ARM, ROOM, SIGHT, refute_cells
    from reach.worker.posing import CLEAR, SEEN, Target, capsules_of, eye_of, find_held
    from reach.worker.shadow import shadows_of
    from reach.worker.trunks import trunks_of
    from reach.worker.volume import bulk_of

    tips, ways = targets()
    tree, parts = surroundings()
    tool = np.array([[0.05, 0.0, 0.05, 0.15, 0.0, 0.05, 0.03]])
    found = {}
    for k, one in enumerate(figures()):
        bulk = bulk_of(one, one.suit, tool)
        need = np.full(len(bulk.names), 0.02)
        for i in ((0, 5), (5,))[k]:
            spots = tips[i] - 0.01 * ways[i] + 0.01 * np.eye(3)
            asked = Target(tips[i], ways[i], spots, need, 0.5, 1.4)
            for wanted in (CLEAR | SEEN,):
                answer = find_held(one, bulk, tree, np.eye(4), asked, trunks_of(one, 128), wanted)
                found |= {f"{k} {i} {wanted} {key}": value for key, value in told(answer).items()}
            found[f"{k} {i} capsules"] = capsules_of(one, bulk, asked, answer.posture)
            found[f"{k} {i} eye"] = eye_of(one, bulk, answer.posture)
            dark = shadows_of([parts[2]], spots)
            for wanted in (ARM, ROOM, SIGHT, ARM | ROOM | SIGHT):
                cells = refute_cells(one, bulk, tree, np.eye(4), asked, need, dark, wanted, 60)
                found |= {f"{k} {i} cells {wanted} {key}": v for key, v in told(cells).items()}
    return found


@question
def crowds():
    from figures import figure

    from reach.worker import many
    from reach.worker.cells import ARM, SIGHT
    from reach.worker.posing import Target
    from reach.worker.shadow import shadows_of
    from reach.worker.trunks import trunks_of
    from reach.worker.volume import bulk_of

    people = [figure(size, "halden", "drive") for size in "SML"]
    tool = np.array([[0.05, 0.0, 0.05, 0.15, 0.0, 0.05, 0.03]])
    crowd = many.stack(people, [bulk_of(one, one.suit, tool) for one in people])
    tips, ways = targets()
    tree, parts = surroundings()
    who = np.arange(3)
    found = {}
    for i in (0, 4):
        spots = tips[i] - 0.01 * ways[i] + 0.01 * np.eye(3)
        need = np.full(len(crowd.bulk.names), 0.01)
        asked = Target(tips[i], ways[i], spots, need, 0.4, 1.5)
        scope = many.Scope(asked, tree, np.eye(4))
        found[f"{i} short"] = many.shortages(crowd, asked, who)
        found[f"{i} sharp"] = many.shortages(crowd, asked, who, sharp=True)
        fault, x = many.searched(crowd, scope, who, trunks_of(people[1], 128), "quick")
        found |= {f"{i} fault": fault, f"{i} x": x}
        fault, x = many.followed(crowd, scope, who, np.roll(x, 1, axis=0)[:, None], 10)
        found |= {f"{i} followed": fault, f"{i} y": x}
        found[f"{i} capsules"] = many.capsules(crowd, asked, who, x)
        dark = shadows_of(parts[2:], spots)
        found[f"{i} refuted"] = many.refuted(crowd, scope, who, need, dark, ARM | SIGHT, 30)
    return found


def main():
    """Answer some questions uncompiled, or all, into a file."""
    from benchmarks.plain import compile_nothing

    compile_nothing()
    import time

    found = {}
    for name in sys.argv[2:] or QUESTIONS:
        begin = time.process_time()
        found |= {f"{name}/{key}": value for key, value in QUESTIONS[name]().items()}
        print(name, round(time.process_time() - begin, 1), file=sys.stderr)
    np.savez(sys.argv[1], **found)


if __name__ == "__main__":
    main()
