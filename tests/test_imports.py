"""Imports point one way, few modules may use the heavy libraries, and no file grows too long."""

import ast
import sys
from functools import cache
from pathlib import Path

import pytest

import reach

ROOT = Path(reach.__file__).parent
FILES = sorted(path for path in ROOT.rglob("*.py") if "shipped" not in path.parts)
NAMES = {".".join(path.relative_to(ROOT.parent).with_suffix("").parts): path for path in FILES}
NAMES = {name.removesuffix(".__init__"): path for name, path in NAMES.items()}

MAY_SEE = {
    "geometry": set(),
    "units": set(),
    "model": {"units"},
    "solids": {"model"},
    "finding": {"model"},
    "lines": {"geometry"},
    "paths": {"geometry"},
    "clock": {"proportion"},
    "orders": set(),
    "arm": {"geometry", "model"},
    "worker": {"geometry", "model"},
    "table": {"geometry", "model", "worker"},
    "rails": {"geometry", "model", "worker"},
    "passage": {"model"},
    "grasp": {"model"},
    "legs": {"geometry", "model"},
    "kept": {"finding", "orphan"},
    "site": {"finding", "geometry", "grasp", "kept", "model", "passage", "worker"},
    "placing": {"geometry", "legs", "model", "site", "solids"},
    "motions": {"geometry", "grasp", "lateness", "legs", "model", "placing", "site"},
    "progress": {"grasp", "model", "motions", "passage", "placing", "site"},
    "lateness": {"model", "units"},
    "situations": {
        "finding", "lateness", "ledger", "model", "motions", "orders", "passage", "placing",
        "progress", "site", "worker",
    },
    "ledger": {
        "clock", "geometry", "model", "motions", "orders", "placing", "site", "solids", "units",
    },
    "spots": {"geometry", "site"},
    "work": {"geometry", "model", "site", "spots", "worker"},
    "resting": {"geometry", "site", "work", "worker"},
    "loading": {"model", "site"},
    "bearing": {"loading", "site"},
    "straining": {"loading"},
    "easing": {"work", "worker"},
    "straying": {"geometry", "model", "site", "work"},
    "turning": {"geometry", "resting", "site"},
    "holding": {"geometry", "site", "travel", "work", "worker"},
    "looking": {"geometry", "site", "spots", "work", "resting", "worker"},
    "travel": {
        "finding", "geometry", "kept", "lines", "model", "passage", "rails", "resting", "site",
        "units", "worker",
    },
    "lasting": {"ledger", "model", "site", "travel"},
    "timing": {"clock", "ledger", "model"},
    "crowd_work": {"geometry", "site", "work", "worker"},
    "grasping": {"geometry", "grasp", "legs", "model", "resting", "site", "work", "worker"},
    "crane": {"arm", "geometry", "legs", "lines", "resting", "site", "work"},
    "payload": {
        "arm", "crane", "finding", "geometry", "grasping", "kept", "legs", "model", "passage",
        "paths", "placing", "resting", "site", "solids", "travel", "units", "work", "worker",
    },
    "plan": {
        "geometry", "kept", "model", "placing", "site", "table", "units", "work", "worker",
    },
    "checks": {
        "arm", "bearing", "clock", "crane", "crowd_work", "easing", "finding", "geometry",
        "grasp", "grasping", "holding", "kept", "ledger", "legs", "lines", "loading", "looking",
        "model", "motions", "orders", "passage", "paths", "payload", "placing", "plan",
        "proportion", "rails", "resting", "site", "spots", "straining", "straying", "timing",
        "travel", "turning",
        "units", "work", "worker",
    },
    "files": {"kept", "legs", "model", "solids", "table", "units", "worker"},
    "run": {
        "cautions", "checks", "files", "finding", "geometry", "kept", "lasting", "ledger",
        "model", "payload", "site", "situations",
    },
    "varying": {"files", "model", "units"},
    "batch": {"files", "finding", "model", "orphan", "reports", "run", "varying"},
    "settings": {
        "checks", "files", "finding", "model", "placing", "plan", "run", "site", "situations",
        "table", "units", "worker",
    },
    "routes": {
        "checks", "files", "finding", "model", "rails", "run", "site", "situations", "travel",
    },
    "cranes": {
        "arm", "checks", "crane", "files", "finding", "payload", "placing", "run", "site",
        "situations",
    },
    "sweeps": {
        "checks", "files", "finding", "geometry", "model", "paths", "payload", "run", "site",
        "situations",
    },
    "timetables": {
        "clock", "files", "finding", "ledger", "model", "run", "site", "timing", "travel",
    },
    "ledgers": {"files", "lasting", "ledger", "run", "situations"},
    "comparing": {"files", "finding", "kept", "model", "run", "units"},
    "returns": {"files", "finding", "rails", "run", "site", "situations", "travel"},
    "dossier": {
        "cautions", "checks", "clock", "comparing", "files", "finding", "kept", "ledger",
        "ledgers", "model", "orders", "payload", "pictures", "reports", "returns", "run", "site",
        "timetables", "travel", "units", "varying",
    },
    "inquiries": {"batch", "checks", "files", "model", "returns", "routes", "sweeps", "units"},
    "cautions": set(),
    "proportion": set(),
    "orphan": set(),
}  # fmt: skip
"""Part of the package -> the parts it may import, itself apart; parts on top are not listed."""

ON_TOP = {"answer", "cli", "folder", "pictures", "reports", "viewer", "warmup"}
"""Parts that print, draw and parse; they may import any other."""

HEAVY = {
    "trimesh": {"solids", "files"},
    "pyvista": {"pictures"},
    "vtk": {"pictures"},
    "numba": {"geometry"},
    "distributed": {"batch"},
    "pyarrow": {"batch"},
    "ompl": {"paths"},
    "trame": {"viewer"},
    "wslink": set(),
    "aiohttp": {"viewer"},
    "typer": {"cli", "answer"},
    "rich": {"cli", "answer", "reports"},
    "jinja2": {"reports"},
    "weasyprint": {"reports"},
    "xlsxwriter": {"reports"},
    "trame_pyvista": {"pictures", "viewer"},
}
"""Library -> the parts that may import it."""

FOR_TESTS_ONLY = {
    "coal",
    "fcl",
    "igl",
    "pinocchio",
    "embreex",
    "hypothesis",
    "pytest",
    "benchmarks",
}


@cache
def imported(name):
    """Full names that a module imports, anywhere in it; (name, whether at the top)."""
    path, found = NAMES[name], set()
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = package.rsplit(".", node.level - 1)[0]
                base = f"{above}.{base}".rstrip(".")
            inner = [f"{base}.{alias.name}" for alias in node.names]
            names = [one if one in NAMES else base for one in inner]
        else:
            continue
        found |= {(one, node in tree.body) for one in names}
    return frozenset(found)


def part(name):
    return [*name.split("."), ""][1]


def test_there_is_something_to_test():
    assert len(NAMES) > 60
    assert ("reach.units", True) in imported("reach.checks.torque")


@pytest.mark.parametrize("name", NAMES)
def test_imports_point_one_way(name):
    mine = part(name)
    if mine not in MAY_SEE:
        return
    for other, _ in imported(name):
        if other.split(".")[0] == "reach":
            assert part(other) == mine or part(other) in MAY_SEE[mine], f"{name} imports {other}"


def test_every_part_has_a_place_in_the_order():
    assert {part(name) for name in NAMES} - set(MAY_SEE) <= {"", "__main__", *ON_TOP}


@pytest.mark.parametrize("name", NAMES)
def test_nothing_below_sees_what_prints_or_draws(name):
    if part(name) in MAY_SEE:
        seen = {part(other) for other, _ in imported(name) if other.startswith("reach.")}
        assert not seen & (ON_TOP - MAY_SEE[part(name)])


def test_renderers_know_no_check_by_name():
    checks = {name for name in NAMES if part(name) == "checks" and name.count(".") > 1}
    drawn = {"reach.checks.wording", "reach.checks.reach", "reach.checks.clearance"}
    for name in NAMES:
        seen = {other for other, _ in imported(name)} & checks
        if part(name) == "reports":
            assert not seen, name
        if part(name) == "pictures":  # what they draw again, they take from where it is measured
            assert seen <= drawn, name


def test_the_kernel_imports_nothing_but_numpy_and_numba():
    for name in NAMES:
        if part(name) == "geometry":
            outside = {other.split(".")[0] for other, _ in imported(name)} - {"reach"}
            assert outside - set(sys.stdlib_module_names) <= {"numpy", "numba"}, name


def test_what_the_page_shows_is_known_without_a_page():
    pages = {"page", "scenery", "serve", "trying", "playing", "wayfinding", "versions"}
    for name in NAMES:
        if part(name) == "viewer" and name.rpartition(".")[2] not in pages:
            seen = {other.split(".")[0] for other, _ in imported(name)}
            assert not seen & {"trame", "trame_pyvista"}, name


@pytest.mark.parametrize("library", HEAVY)
def test_heavy_libraries_stay_where_they_belong(library):
    users = {
        part(name)
        for name in NAMES
        for other, _ in imported(name)
        if other.split(".")[0] == library
    }
    assert users <= HEAVY[library]


def test_libraries_for_tests_are_not_imported():
    for name in NAMES:
        assert not {other.split(".")[0] for other, _ in imported(name)} & FOR_TESTS_ONLY, name


def test_there_are_no_cycles():
    done, trail = set(), []

    def visit(name):
        if name in trail:
            raise AssertionError(" -> ".join([*trail[trail.index(name) :], name]))
        if name in done:
            return
        trail.append(name)
        for other, at_top in sorted(imported(name)):
            if at_top and other in NAMES and other != name:
                visit(other)
        trail.pop()
        done.add(name)

    for name in NAMES:
        visit(name)
    assert len(done) == len(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_no_file_is_longer_than_400_lines(name):
    assert len(NAMES[name].read_text(encoding="utf-8").splitlines()) <= 400
