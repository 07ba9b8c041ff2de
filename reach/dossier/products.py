"""What a planner owes, product by product, and which tables, cards and pictures hold it."""

from __future__ import annotations

from typing import NamedTuple


class Product(NamedTuple):
    """One product that is handed over.

    Attributes
    ----------
    number : int
    title, goes_to : str
    tables : tuple of str
        Names of the tables that hold it.
    on_cards : bool
        Whether the worksite cards hold it, or a part of it.
    pictures : tuple of str
        Which pictures belong to it.
    """

    number: int
    title: str
    goes_to: str
    tables: tuple[str, ...]
    on_cards: bool = False
    pictures: tuple[str, ...] = ()


PRODUCTS = (
    Product(
        1, "Task description, success criteria, priority, cut order",
        "flight control, programme", ("task-description", "cut-order"),
    ),
    Product(
        2, "Worksite sheet per worksite", "workers, safety", ("worksites",), True,
        ("worksite from outside", "worksite from the worker's eyes"),
    ),
    Product(3, "Restraint settings table", "workers", ("restraint-settings",), True),
    Product(
        4, "Translation plan", "workers, safety", ("translation-plan",), True, ("move", "3D view")
    ),
    Product(5, "Tether plan", "workers, flight control", ("tether-plan", "tether-swaps"), True),
    Product(
        6, "Tool and hardware list, bag packing, stowage at every step",
        "workers, inside lead, stowage",
        ("tools-and-hardware", "bag-packing", "stowage"), True,
    ),
    Product(7, "Bolt table", "workers, engineering", ("bolts",), True),
    Product(
        8, "Payload release preconditions and clearance assessment", "robotics, safety",
        ("payload-release", "payload-clearance"), False, ("clearance curve",),
    ),
    Product(9, "Crane support request", "robotics", ("crane-support", "crane-poses")),
    Product(10, "Cable routing, mate and demate plan", "power, thermal", ("cables",), True),
    Product(11, "Timeline", "everyone", ("timeline",), False, ("timeline",)),
    Product(
        12, "Contingency: stop and go home from every phase and step", "flight control, workers",
        ("contingency-phases", "contingency-steps"), True, ("return map",),
    ),
    Product(13, "Hazard list", "safety", ("hazards",), True),
    Product(14, "Optional tasks with entry conditions", "flight control", ("optional-tasks",)),
    Product(15, "End state and the next outing's configuration", "next planner", ("end-state",)),
    Product(
        16, "Differences for small and large, left- and right-handed workers", "workers",
        ("differences",),
    ),
    Product(
        17, "Review package with change summary", "boards",
        ("summary", "causes", "changes", "findings", "to-verify", "assumptions", "not-asked"),
    ),
)  # fmt: skip
"""The seventeen products, in the order in which a planner counts them."""
