"""What lies on the desk: scene and procedure, what is picked, what is tried and what came of it.

Nothing here knows of a page: each change says what is to be worked out, and takes in what was.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any

import numpy as np

from reach.files.kit import fitting_bits, hardware
from reach.files.people import load_population
from reach.files.problem import InputError, Problem
from reach.model.procedure import Procedure
from reach.payload.planned import with_ways
from reach.pictures.things import Thing, things_of
from reach.placing import frames_of, surroundings_of
from reach.site import Site, Situation, Surroundings
from reach.situations import resolve
from reach.viewer.answers import Answer, Best, Inputs, Target
from reach.viewer.quick import Quick, quick_answer
from reach.viewer.steps import Steps
from reach.viewer.trial import (
    Trial,
    first_trial,
    foot_restraints,
    held_by,
    pieces,
    standing,
    stops_of,
    tools_for,
    trial_of,
    turning,
)

WITHIN = 4.0
"""Targets within this of the place are asked about unbidden, m."""

PARTS = ("worker", "size", "where", "restraint", "fastener", "tool", "bit", "extension", "hand")


class Desk:
    """Scene, procedure and trial of one page.

    Attributes
    ----------
    inputs : Inputs
    site, situations : Site, tuple of Situation
        Of the whole procedure; of an empty one where there is none.
    around : Surroundings
        With payloads as the trial has them.
    trial : Trial or None
    quick : Quick or None
        The first answer to the trial.
    answer : Answer or None
        What every check says of it; None until it is known.
    targets : dict of name -> Target
    picked : Thing or None
    """

    def __init__(self, inputs: Inputs) -> None:
        self.inputs = inputs
        loaded = inputs.loaded
        plan = inputs.asked.procedure if inputs.asked is not None else _empty()
        self.site: Site
        self.situations: tuple[Situation, ...]
        self.site, self.situations = resolve(
            loaded.scene, loaded.meshes, plan, load_population, arms=loaded.arms
        )
        self.around: Surroundings = surroundings_of(
            loaded.scene, frames_of(loaded.scene, {}), dict(loaded.meshes)
        )
        self.picked: Thing | None = None
        self.answer: Answer | None = None
        self.targets: dict[str, Target] = {}
        self.quick: Quick | None = None
        self.trial = first_trial(loaded, self.situations)
        if self.trial is not None:
            usual = self._usual(self.trial.fastener)
            placed = usual["placed"] if usual else {}
            self.try_(replace(self.trial, placed=placed))

    def reread(self) -> None:
        """Read scene and procedures again; the trial stays as it is where it still fits.

        Raises
        ------
        InputError
            With everything that does not fit in the files; all stays as it was then.
        """
        fresh, trial, picked = Desk(self.inputs.anew()), self.trial, self.picked
        if trial is not None and fresh.trial is not None:
            with suppress(InputError):
                fresh.try_(replace(trial))
        if picked is not None:
            fresh.pick(picked.kind, picked.name)
        vars(self).update(vars(fresh))

    def is_of_these_files(self, answer: Answer) -> bool:
        """Return whether an answer was worked out from the files that this desk has read."""
        of, asked = dict(answer.inputs), self.inputs.asked
        known = dict(self.inputs.loaded.files)
        if asked is not None and asked.file in of:
            known |= asked.files or {asked.file: asked.sha256}
        return all(of.get(file) == sha256 for file, sha256 in known.items())

    # ---- changes --------------------------------------------------------------------------

    def try_(self, trial: Trial) -> None:
        """Take another trial; the old one stays where the new one does not fit.

        Raises
        ------
        InputError
            With everything that does not fit the scene.
        """
        quick = quick_answer(self.inputs.loaded, trial)
        moved = self.trial is None or _place_of(trial) != _place_of(self.trial)
        self.trial, self.quick, self.answer = trial, quick, None
        self.around = quick.situation.surroundings
        if moved:
            self.targets = {}
        else:
            self.targets.pop(trial.fastener, None)

    def change(self, part: str, value: str) -> None:
        """Change one part of the trial, and with it what hangs on it.

        Raises
        ------
        InputError
            Where it does not fit; the trial then stays as it was.
        """
        trial, scene = self._trial(), self.inputs.loaded.scene
        if part not in PARTS:
            raise InputError([Problem("page", part, None, "is no part of a trial")])
        if part == "where":
            self.try_(standing(scene, trial, value))
        elif part == "restraint":
            self.try_(held_by(scene, trial, value))
        elif part == "fastener":
            self.try_(turning(scene, trial, value, self._usual(value)))
        elif part == "tool":
            self.try_(replace(trial, tool=value, bit="", extension=""))
        else:
            self.try_(replace(trial, **{part: value}))  # type: ignore[arg-type]

    def turn_joint(self, joint: str, value: str) -> None:
        """Set one joint of the restraint: the number of a detent, or an angle as text.

        Raises
        ------
        InputError
            Where the joint does not go there.
        """
        trial = self._trial()
        kind = hardware(self.inputs.loaded.scene, "restraints", trial.restraint)
        numbered = {one.name: one.numbered for one in kind.joints} if kind is not None else {}
        if joint not in numbered:
            raise InputError([Problem("page", joint, None, "is no joint of this restraint")])
        try:
            said: int | str = int(value) if numbered[joint] else value
        except ValueError:
            raise InputError(
                [Problem("page", joint, None, f"takes a number, not {value!r}")]
            ) from None
        self.try_(replace(trial, setting={**trial.setting, joint: said}))

    def take_setting(self, found: Best) -> None:
        """Take a setting that was found over into the trial."""
        trial = self._trial()
        restraint = found.restraint or trial.restraint
        self.try_(replace(trial, where=found.socket, restraint=restraint, setting=found.setting))

    def pick(self, kind: str, name: str) -> None:
        """Pick a thing by name; an unknown one picks nothing."""
        self.picked = self.thing(kind, name)

    def take(self, answer: Answer) -> None:
        """Take in what every check says of the trial."""
        trial = self._trial()
        self.answer = answer
        if trial.fastener:
            self.targets[trial.fastener] = Target(trial.fastener, trial, answer)

    def take_target(self, target: Target) -> None:
        """Take in what every check says of one target from the trial's place."""
        self.targets[target.name] = target

    def try_step(self, situation: Situation) -> None:
        """Take what is done in a step as the trial.

        Raises
        ------
        InputError
            Where it cannot be asked by itself, for example on what a crane has carried off.
        """
        trial = trial_of(situation)
        usual = self._usual(trial.fastener, trial.worker)
        self.try_(replace(trial, placed=usual["placed"] if usual else {}))

    # ---- what there is to choose from -----------------------------------------------------

    def things(self) -> tuple[Thing, ...]:
        """Return everything that can be picked."""
        return things_of(self.site, self.around)

    def thing(self, kind: str, name: str) -> Thing | None:
        """Return a thing by name."""
        return next((one for one in self.things() if (one.kind, one.name) == (kind, name)), None)

    def choices(self) -> dict[str, list[str]]:
        """Return what each part of the trial can be; an empty text stands for none or its own."""
        scene, trial = self.inputs.loaded.scene, self._trial()
        fitting = fitting_bits(scene, trial.fastener) if trial.fastener else []
        tool = hardware(scene, "tools", trial.tool) if trial.tool else None
        takes = tool is not None and tool.takes_bits
        is_socket = trial.where in scene.sockets
        return {
            "worker": list(scene.workers),
            "size": ["", *scene.sizes],
            "where": [*scene.sockets, *scene.stations],
            "restraint": foot_restraints(scene) if is_socket else [""],
            "fastener": ["", *scene.fasteners],
            "tool": tools_for(scene, trial.fastener) if trial.fastener else [""],
            "bit": ["", *pieces(scene, "bits", fitting)] if takes else [""],
            "extension": ["", *pieces(scene, "extensions", list(scene.extensions))]
            if takes
            else [""],
            "hand": ["own", "right", "left", "either"],
        }

    def joints(self) -> list[dict[str, Any]]:
        """Return the joints of the restraint with where they can be set."""
        trial = self._trial()
        kind = hardware(self.inputs.loaded.scene, "restraints", trial.restraint)
        if kind is None or not trial.setting:
            return []
        rows = []
        for joint in kind.joints:
            stops = [{"value": str(value), "words": words} for value, words in stops_of(joint)]
            value = str(trial.setting[joint.name])
            row = {"name": joint.name, "value": value, "stops": stops, "low": 0.0, "high": 0.0}
            if not stops:
                row |= {"low": float(np.degrees(joint.low)), "high": float(np.degrees(joint.high))}
                row["value"] = f"{float(value.split()[0]):g}"
            rows.append(row)
        return rows

    def near_targets(self) -> list[tuple[str, float]]:
        """Return fasteners with how far they are from the place, m, nearest first."""
        trial = self._trial()
        here = self.thing("socket", trial.where) or self.thing("station", trial.where)
        heads = [one for one in self.things() if one.kind == "fastener"]
        if here is None:
            return [(one.name, 0.0) for one in heads]
        far = [(one.name, float(np.linalg.norm(one.middle - here.middle))) for one in heads]
        return sorted(far, key=lambda pair: pair[1])

    def wanted_targets(self) -> list[str]:
        """Return the targets near the place of which nothing is known yet."""
        trial = self._trial()
        return [
            name
            for name, away in self.near_targets()
            if away < WITHIN and name not in self.targets and name != trial.fastener
        ]

    def places(self) -> list[str]:
        """Return the places between which ways are asked for, hatches first."""
        scene = self.inputs.loaded.scene
        return [*scene.hatches, *scene.sockets, *scene.stations, *scene.anchors]

    def steps(self, is_other: bool = False) -> Steps | None:
        """Return the procedure, or the other version, to go through; None where there is none."""
        loaded = self.inputs.loaded
        asked = self.inputs.other if is_other else self.inputs.asked
        if asked is None or not asked.procedure.steps:
            return None
        site, situations = self.site, self.situations
        if is_other:
            site, situations = resolve(
                loaded.scene, loaded.meshes, asked.procedure, load_population, arms=loaded.arms
            )
        return Steps(with_ways(site), situations, asked.procedure.steps, self.around)

    def _usual(self, fastener: str, worker: str = "") -> Mapping[str, Any] | None:
        name = worker or self._trial().worker
        return self.inputs.usual(name, [fastener]).get(fastener) if fastener else None

    def _trial(self) -> Trial:
        if self.trial is None:
            message = "the scene has nobody or nowhere to stand, so there is nothing to try"
            raise InputError([Problem("page", "", None, message)])
        return self.trial


def _place_of(trial: Trial) -> tuple[Any, ...]:
    """Return what all targets of a trial share."""
    return (
        trial.worker, trial.size, trial.where, trial.restraint, tuple(trial.setting.items()),
        tuple(trial.placed.items()),
    )  # fmt: skip


def _empty() -> Procedure:
    return Procedure(format=1, title="", lanes={}, steps=())
