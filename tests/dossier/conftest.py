"""The demo and the mast as dossiers, each made once."""

from __future__ import annotations

import pytest

from reach.checks import CHECKS
from reach.dossier.dossier import Dossier, dossier_of
from reach.files.kept import KeptOnDisk
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene

FACTS = (
    "outing", "glove-check", "window", "unpowered", "lanes", "present", "hooked", "left-as",
    "inventory", "slots", "sequence", "guard", "held", "dial", "turn-window", "clean-up",
    "rescue", "tether",
)  # fmt: skip
"""Checks that need no posture: the tables of what is declared stand beside them in seconds."""


LONG = (
    "error", "helmets", "clearance", "ingress", "effort", "glove", "inner", "access", "joints",
    "links", "stop", "pinch", "grips", "share", "socket", "approach", "watch", "boarding", "light",
    "momentum", "sweep", "bystander", "crane-reach",
)  # fmt: skip
"""Checks that search postures in plenty, or ways of the crane: the laws hold without them too."""


def _made(scene: str, procedure: str | None, only: tuple[str, ...] | None = None) -> Dossier:
    loaded = load_scene(scene)
    kept = KeptOnDisk()
    asked = load_procedure(procedure, loaded)
    made = dossier_of(loaded, asked, only=only, kept=kept)
    kept.write()
    return made


@pytest.fixture(scope="session")
def demo() -> Dossier:
    """Version A of the demo, with all checks but the long ones: 51 fails, and two are open."""
    only = tuple(one.NAME for one in CHECKS if one.NAME not in LONG)
    return _made("brackenfall", None, only)


@pytest.fixture(scope="session")
def mended() -> Dossier:
    """Version B of the demo, with the checks that need no posture."""
    return _made("brackenfall", "mended.toml", FACTS)


@pytest.fixture(scope="session")
def mast() -> Dossier:
    """A scene without rails, hatch, crane or declared begin, with all checks."""
    return _made("tallowmere", None)
