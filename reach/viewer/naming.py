"""What the lists beside the picture hold, and what a thing that is picked is called."""

from __future__ import annotations

from typing import Any

import numpy as np

from reach.model.scene import Scene
from reach.pictures.things import Thing
from reach.units import text_of
from reach.viewer.desk import Desk

Row = dict[str, Any]


def lists(desk: Desk) -> list[Row]:
    """Return the lists beside the picture."""
    scene = desk.inputs.loaded.scene
    kinds = {"fastener": "Fasteners", "socket": "Sockets", "station": "Stations", "rail": "Rails"}
    things = desk.things()
    told = []
    for kind, words in kinds.items():
        mine = [
            {"name": one.name, "more": _more(scene, kind, one.name)}
            for one in things
            if one.kind == kind
        ]
        if mine:
            told.append({"kind": kind, "words": words, "rows": mine})
    return told


def _more(scene: Scene, kind: str, name: str) -> str:
    if kind == "fastener":
        record = scene.fasteners[name]
        return record.head or record.kind
    if kind == "socket":
        status = scene.sockets[name].status
        return "" if status == "free" else status
    if kind == "rail" and name in scene.handrails:
        rail = scene.handrails[name]
        return ", ".join(([] if rail.rated else ["not rated"]) + (
            [] if rail.condition == "free" else [rail.condition]))  # fmt: skip
    return ""


def thing_words(desk: Desk, thing: Thing) -> tuple[str, str]:
    """Return what a thing is in words, and what taking it into the trial is called."""
    scene = desk.inputs.loaded.scene
    at = "x {:.2f}, y {:.2f}, z {:.2f} m".format(*thing.middle)
    if thing.kind == "fastener":
        record = scene.fasteners[thing.name]
        parts = [record.title, record.kind, record.head]
        parts += [text_of(record.torque, "N m")] if record.torque else []
        parts += [f"{record.turns:g} turns"] if record.turns else []
        return ", ".join([*(one for one in parts if one), at]), "Turn this"
    if thing.kind == "socket":
        socket = scene.sockets[thing.name]
        return ", ".join(
            [one for one in (socket.title, "socket", socket.status, at) if one]
        ), "Work from here"
    if thing.kind == "station":
        station = scene.stations[thing.name]
        words = [station.title, "station", station.restraint, at]
        return ", ".join(one for one in words if one), "Work from here"
    rail = scene.handrails.get(thing.name)
    length = float(np.linalg.norm(thing.ends[1] - thing.ends[0]))
    words = [rail.title if rail is not None else "", "handrail" if rail is not None else "handhold"]
    words += [text_of(length, "m"), "" if rail is None or rail.rated else "not rated", at]
    return ", ".join(one for one in words if one), ""
