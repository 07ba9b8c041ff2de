"""Chapters of a report: which tables and pictures stand together, in the order of reading."""

from __future__ import annotations

from typing import NamedTuple


class Chapter(NamedTuple):
    """One chapter.

    Attributes
    ----------
    title : str
    says : str
    tables : tuple of str
        Names; those that a dossier does not have are passed over.
    pictures : tuple of str
        Kinds of pictures, after the tables.
    """

    title: str
    says: str
    tables: tuple[str, ...]
    pictures: tuple[str, ...] = ()


CHAPTERS = (
    Chapter(
        "The task",
        "What is to be done, what counts as done, and what goes first when time runs short.",
        ("task-description", "procedure", "optional-tasks", "cut-order"),
    ),
    Chapter(
        "Worksites",
        "Each place that a body works from: restraint and settings, what is turned there, and "
        "what differs for other bodies and hands. The cards for the workers are in cards.pdf.",
        ("worksites", "restraint-settings", "bolts", "differences"),
        ("outside", "eyes", "side"),
    ),
    Chapter(
        "Ways and tethers",
        "Who goes where along which rails, and what ties them to the structure meanwhile.",
        ("translation-plan", "tether-plan", "tether-swaps"),
        ("move",),
    ),
    Chapter(
        "Payload and crane",
        "What is moved, past what, how near at the nearest, and what is asked of the crane.",
        ("payload-release", "payload-clearance", "crane-support", "crane-poses", "cables"),
        ("sweep", "curve", "crane"),
    ),
    Chapter(
        "On the clock",
        "Two lanes of workers, with crane and inside lead, windows, phases and checks of gloves.",
        ("timeline", "windows"),
    ),
    Chapter(
        "Items, tools and stowage",
        "Where everything is at every moment, what it is tied to, and how it is left.",
        ("tools-and-hardware", "bag-packing", "stowage", "ledger", "end-state"),
    ),
    Chapter(
        "Stopping and going home",
        "What is cleaned up from each phase, and how long home takes, alone and brought in.",
        ("contingency-phases", "contingency-steps"),
        ("home",),
    ),
    Chapter(
        "Hazards and trials",
        "What can hurt or be hurt, what controls it, and what is to be tried in a suit first: the "
        "smallest margins and the biggest unknowns.",
        ("hazards", "to-verify"),
    ),
    Chapter("What has changed", "Against the version that was given.", ("changes",)),
)

OWN = (
    "summary",
    "causes",
    "findings",
    "assumptions",
    "not-asked",
    "limits",
    "inputs",
    "blind-spots",
)
"""Tables that the page does not print as such: its own parts say the same, with links."""

BLIND_SPOTS = "blind-spots"
TIME = "On the clock"
SITES = "Worksites"
MORE = "Further tables"
