"""What is being tried: who works from where, how the restraint is set, what is turned with what."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from reach.files.filling import written_joint, written_setting
from reach.files.kit import fitting_bits, hardware
from reach.files.procedure import LoadedProcedure
from reach.files.question import question
from reach.files.scene import LoadedScene
from reach.model.hardware import Joint, Restraint
from reach.model.procedure import Drive, Hands
from reach.model.scene import Scene
from reach.site import Situation

Setting = Mapping[str, int | str]


@dataclass(frozen=True, slots=True)
class Trial:
    """One question, as `reach.files.question.question` takes it.

    Attributes
    ----------
    worker : str
    size : str
        A size class instead of the worker's own body; empty for their own.
    where : str
        Socket or station.
    restraint : str
        Empty for that of a station.
    setting : mapping of joint -> detent number or angle as text
        Empty where the restraint has no joints.
    fastener, tool, bit, extension : str
        Empty for none, or for the only one that fits.
    hand : str
    placed : mapping of payload -> pose
    """

    worker: str
    where: str
    size: str = ""
    restraint: str = ""
    setting: Setting = field(default_factory=dict)
    fastener: str = ""
    tool: str = ""
    bit: str = ""
    extension: str = ""
    hand: Hands = "own"
    placed: Mapping[str, str] = field(default_factory=dict)

    @property
    def sizes(self) -> list[str] | None:
        """Size classes to run, as a check takes them."""
        return [self.size] if self.size else None

    @property
    def words(self) -> str:
        """The trial in one line, as `reach ask` would be told it."""
        parts = [self.worker, self.size, f"at {self.where}", self.restraint]
        parts.append(", ".join(f"{name} {value}" for name, value in self.setting.items()))
        if self.fastener:
            tool = " + ".join(part for part in (self.tool, self.extension, self.bit) if part)
            parts.append(f"turns {self.fastener}" + (f" with {tool}" if tool else ""))
        return "  ·  ".join(part for part in parts if part)


def asked_of(loaded: LoadedScene, trial: Trial) -> LoadedProcedure:
    """Return a trial as a procedure of one step, the one that `reach ask` checks.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    return question(
        loaded,
        where=trial.where,
        worker=trial.worker,
        restraint=trial.restraint or None,
        setting=dict(trial.setting) if trial.setting else None,
        fastener=trial.fastener or None,
        tool=trial.tool or None,
        bit=trial.bit or None,
        extension=trial.extension or None,
        hand=trial.hand,
        placed=dict(trial.placed),
    )


def first_trial(loaded: LoadedScene, situations: Sequence[Situation]) -> Trial | None:
    """Return what a procedure turns first, in a socket if in any, else some question that fits.

    None for a scene without a worker, or without a place to stand.
    """
    turned = [one for one in situations if isinstance(one.action, Drive) and one.place is not None]
    turned.sort(key=lambda one: one.place is None or not one.place.setting)
    if turned:
        return trial_of(turned[0])
    scene = loaded.scene
    places = (*scene.free_sockets, *scene.stations)
    if not scene.workers or not places:
        return None
    trial = Trial(next(iter(scene.workers)), places[0])
    trial = standing(scene, trial, places[0])
    return turning(scene, trial, next(iter(scene.fasteners), ""))


def trial_of(situation: Situation) -> Trial:
    """Return one action of a procedure as a trial."""
    place, action = situation.place, situation.action
    assert place is not None
    trial = Trial(
        worker=situation.worker,
        where=place.name,
        restraint=place.restraint_name if place.world_from_socket is not None else "",
        setting=written_setting(place.restraint, place.setting) if place.setting else {},
    )
    if not isinstance(action, Drive):
        return trial
    return replace(
        trial,
        fastener=action.fastener,
        tool=action.tool,
        bit=action.bit or "",
        extension=action.extension or "",
        hand=action.hand,
    )


def standing(scene: Scene, trial: Trial, where: str) -> Trial:
    """Return a trial moved to another place; a restraint that fits there is kept as it is set."""
    if where in scene.stations:
        return replace(trial, where=where, restraint="", setting={})
    kind = hardware(scene, "restraints", trial.restraint) if trial.restraint else None
    if kind is not None and kind.joints:
        return replace(trial, where=where)
    return held_by(scene, replace(trial, where=where), next(iter(foot_restraints(scene)), ""))


def held_by(scene: Scene, trial: Trial, restraint: str) -> Trial:
    """Return a trial with another restraint, all joints in the middle of where they go."""
    kind = hardware(scene, "restraints", restraint) if restraint else None
    return replace(trial, restraint=restraint, setting=plain_setting(kind))


def plain_setting(kind: Restraint | None) -> Setting:
    """Return a setting with every joint as near to 0 as it goes."""
    if kind is None:
        return {}
    return {joint.name: written_joint(joint, joint.nearest_stop(0.0)) for joint in kind.joints}


def turning(
    scene: Scene, trial: Trial, fastener: str, usual: Mapping[str, Any] | None = None
) -> Trial:
    """Return a trial with another fastener: the usual way, else the tool in hand if that fits."""
    if not fastener:
        return replace(trial, fastener="", tool="", bit="", extension="")
    if usual is not None:
        said: dict[str, Any] = {key: usual[key] or "" for key in ("tool", "bit", "extension")}
        said |= {"hand": usual["hand"], "placed": usual["placed"]}
        return replace(trial, fastener=fastener, **said)
    allowed = tools_for(scene, fastener)
    tool = trial.tool if trial.tool in allowed else next(iter(allowed), "")
    fitting = fitting_bits(scene, fastener)
    bit = trial.bit if trial.bit in pieces(scene, "bits", fitting) else ""
    extension = trial.extension if tool == trial.tool else ""
    return replace(trial, fastener=fastener, tool=tool, bit=bit, extension=extension)


def tools_for(scene: Scene, fastener: str) -> list[str]:
    """Return the pieces, else kinds, of tools that a fastener takes."""
    record = scene.fasteners.get(fastener)
    kinds = list(record.tools) if record is not None and record.tools else list(scene.tools)
    return pieces(scene, "tools", kinds)


def foot_restraints(scene: Scene) -> list[str]:
    """Return the pieces, else kinds, of restraints that can be set in a socket."""
    kinds = [name for name, one in scene.restraints.items() if one.chain]
    return pieces(scene, "restraints", kinds)


def pieces(scene: Scene, table: str, kinds: Sequence[str]) -> list[str]:
    """Return the items of some kinds, and the kinds of which there is no item."""
    items = [name for name, item in scene.items.items() if item.kind in kinds]
    known = {scene.items[name].kind for name in items}
    named = [name for name in kinds if name in scene.items]
    rest = [kind for kind in kinds if kind not in known and kind in getattr(scene, table)]
    return list(dict.fromkeys([*named, *items, *rest]))


def stops_of(joint: Joint) -> list[tuple[int | str, str]]:
    """Return the detents of a joint as (value as files hold it, words); none where it has none."""
    if joint.numbered:
        return [(i, f"{i} ({math.degrees(angle):.4g} deg)") for i, angle in enumerate(joint.stops)]
    values = [written_joint(joint, angle) for angle in joint.stops]
    return [(value, str(value)) for value in values]
