"""Paths, cranes, guides and cameras of a scene, and the actions that move things, checked."""

from __future__ import annotations

from collections.abc import Iterable

from reach.files.lines import Place
from reach.files.named import Named
from reach.files.problem import Problem, unknown
from reach.files.records import Report
from reach.legs import placed_pose, turn_of_leg
from reach.model.carrying import Crane, Guide, Leg, Path
from reach.model.procedure import Align, HandOver, Hold, Move, MoveCrane, Step
from reach.model.scene import Anchor, Payload, Scene, Station
from reach.model.shapes import Placed


def carrying_problems(scene: Named) -> list[Problem]:
    """Return every name in paths, cranes and guides that leads nowhere, and doubtful turns."""
    problems: list[Problem] = []
    for name, record in scene.records["payloads"].items():
        if not isinstance(record, Payload):
            continue
        problems += _fixed_by(scene, name, record)
        if isinstance(record.paths, dict) and isinstance(record.poses, dict):
            problems += _on_another(scene, name, record)
            for path_name, path in record.paths.items():
                if isinstance(path, Path):
                    problems += _path(scene, name, record, path_name, path)
    for table in ("stations", "anchors"):
        for name, one in scene.records[table].items():
            assert isinstance(one, Station | Anchor)
            if isinstance(one.on, str) and one.on not in scene.names["cranes"]:
                message = unknown("crane", one.on, scene.names["cranes"])
                problems.append(scene.problem(table, name, ("on",), message))
    for name, record in scene.records["guides"].items():
        assert isinstance(record, Guide)
        problems += _guide(scene, name, record)
    for name, record in scene.records["cranes"].items():
        assert isinstance(record, Crane)
        plate = record.plate
        if isinstance(plate, Placed) and plate.frame != "world":
            message = "is placed in the tip of the crane; leave 'in' out"
            problems.append(scene.problem("cranes", name, ("plate", "in"), message))
    return problems


def _on_another(scene: Named, name: str, record: Payload) -> list[Problem]:
    """Return the poses of a payload that ride on another: what rides so is not moved along."""
    above = {
        thing: getattr(one, "frame", None)
        for table in ("frames", "solids")
        for thing, one in scene.records[table].items()
    }
    problems = []
    for pose, placed in record.poses.items():
        frame, seen = getattr(placed, "frame", None), set()
        while frame in above and frame not in seen:
            seen.add(frame)
            frame = above[frame]
        if frame in scene.names["payloads"]:
            message = f"is on payload {frame!r}: none can ride on another; say it in 'world'"
            problems.append(scene.problem("payloads", name, ("poses", pose, "in"), message))
    return problems


def _fixed_by(scene: Named, name: str, record: Payload) -> list[Problem]:
    """Return what is said to hold a payload and is no fastener, nor a guide that takes it in."""
    problems = []
    known = [*scene.names["fasteners"], *scene.names["guides"]]
    for i, holder in enumerate(record.fixed_by if isinstance(record.fixed_by, tuple) else ()):
        guide = scene.records["guides"].get(holder)
        message = ""
        if holder not in known:
            message = unknown("fastener or guide", holder, known)
        elif isinstance(guide, Guide) and guide.payload not in (name, None):
            message = f"guide {holder!r} takes in {guide.payload!r}, not {name!r}"
        if message:
            problems.append(scene.problem("payloads", name, ("fixed_by", i), message))
    return problems


def _path(scene: Named, payload: str, record: Payload, name: str, path: Path) -> list[Problem]:
    problems: list[Problem] = []
    above: Place = ("paths", name)

    def add(place: Place, message: str) -> None:
        problems.append(scene.problem("payloads", payload, (*above, *place), message))

    for i, pose in enumerate(path.through):
        if pose not in record.poses:
            add(("through", i), unknown("pose", pose, record.poses))
    things = [*scene.names["solids"], *scene.names["hazards"]]
    for pose, leg in path.legs.items():
        if pose not in path.through[1:]:
            add(("legs", pose), unknown("pose come to on this path", pose, path.through[1:]))
        for thing in leg.stand_off:
            if thing not in things:
                add(("legs", pose, "stand_off", thing), unknown("solid or hazard", thing, things))
    for before, after in zip(path.through, path.through[1:], strict=False):
        if before in record.poses and after in record.poses:
            leg = path.legs.get(after, Leg())
            message = _turn_problem(record, before, after, leg)
            if message:
                place: Place = ("through",) if leg.axis is None else ("legs", after, "axis")
                add(place, f"from {before} to {after}: {message}")
    return problems


def _turn_problem(record: Payload, before: str, after: str, leg: Leg) -> str:
    first, last = record.poses[before], record.poses[after]
    if not isinstance(first, Placed) or not isinstance(last, Placed) or first.frame != last.frame:
        return ""
    try:
        turn_of_leg(placed_pose(first), placed_pose(last), leg)
    except ValueError as error:
        return str(error)
    return ""


def _guide(scene: Named, name: str, guide: Guide) -> list[Problem]:
    if not isinstance(guide.payload, str) or not isinstance(guide.pose, str):
        return []  # told already
    if guide.payload not in scene.names["payloads"]:
        message = unknown("payload", guide.payload, scene.names["payloads"])
        return [scene.problem("guides", name, ("payload",), message)]
    payload = scene.records["payloads"].get(guide.payload)
    if isinstance(payload, Payload) and guide.pose not in payload.poses:
        message = unknown("pose", guide.pose, payload.poses)
        return [scene.problem("guides", name, ("pose",), message)]
    return []


def holding_problems(
    scene: Scene, action: Hold | HandOver, i: int, lane: str, lanes: Iterable[str], report: Report
) -> list[Problem]:
    """Return everything in one hold or handover that does not fit the scene or the lanes."""
    problems: list[Problem] = []

    def add(place: Place, message: str) -> None:
        problems.append(report(("actions", i, *place), message))

    known = [*scene.handrails, *scene.handholds]
    payloads = {}
    for k, grip in enumerate(action.grips):
        if grip not in known:
            add(("grips", k), unknown("handrail or handhold", grip, known))
        else:
            payloads[scene.payload_of(grip)] = grip
    if len(set(action.grips)) < len(action.grips):
        add(("grips",), f"{action.grips[0]!r} is named twice: one grip is held by one hand")
    if len(payloads) > 1:
        names = " and ".join(f"{g} on {p or 'structure'}" for p, g in payloads.items())
        add(("grips",), f"are not on one thing: {names}")
    if isinstance(action, HandOver):
        workers = [name for name in lanes if name in scene.workers]
        if action.to == lane:
            add(("to",), f"{lane!r} cannot hand over to themself")
        elif action.to not in workers:
            add(("to",), unknown("worker with a lane", action.to, workers))
        if payloads and "" in payloads:
            add(("grips",), f"{payloads['']} is on no payload: nothing is handed over by it")
    return problems


def moving_problems(
    scene: Scene,
    step: Step,
    action: Move | MoveCrane | Align,
    i: int,
    lane_kind: str,
    placed: dict[str, str],
    report: Report,
) -> list[Problem]:
    """Return everything in one motion that does not fit the scene; note where it ends.

    Parameters
    ----------
    placed : dict of payload -> pose
        Where payloads are known to be before it; the motion's end is put in.
    """
    check = _Moving(scene, step, action, i, report)
    check.run(lane_kind, placed)
    return check.problems


class _Moving:
    """The problems of one motion."""

    def __init__(
        self, scene: Scene, step: Step, action: Move | MoveCrane | Align, i: int, report: Report
    ) -> None:
        self.scene, self.step, self.action, self.i = scene, step, action, i
        self.report = report
        self.problems: list[Problem] = []

    def add(self, place: Place, message: str) -> None:
        self.problems.append(self.report(("actions", self.i, *place), message))

    def run(self, lane_kind: str, placed: dict[str, str]) -> None:
        action, scene = self.action, self.scene
        self.watchers()
        if isinstance(action, Align):
            if action.guide not in scene.guides:
                self.add(("guide",), unknown("guide", action.guide, scene.guides))
                return
            guide = scene.guides[action.guide]
            self.payload(guide.payload, guide.pose, placed)
            return
        if isinstance(action, MoveCrane):
            self.crane(action, lane_kind)
        if action.payload is not None:
            if action.payload not in scene.payloads:
                self.add(("payload",), unknown("payload", action.payload, scene.payloads))
                return
            self.payload(action.payload, action.to, placed)
        elif isinstance(action, MoveCrane):
            self.stations(action)
            if self.step.path is not None:
                message = "is the way of a payload; the action names none"
                self.problems.append(self.report(("path",), message))

    def watchers(self) -> None:
        scene, action = self.scene, self.action
        if action.clear_caller is not None and action.clear_caller not in scene.workers:
            self.add(("clear_caller",), unknown("worker", action.clear_caller, scene.workers))
        for k, camera in enumerate(action.cameras):
            if camera not in scene.cameras:
                self.add(("cameras", k), unknown("camera", camera, scene.cameras))

    def crane(self, action: MoveCrane, lane_kind: str) -> None:
        cranes = self.scene.cranes
        if lane_kind != "crane":
            self.add(("do",), f"a crane does this, not a lane of {lane_kind!r}")
        if action.crane is not None and action.crane not in cranes:
            self.add(("crane",), unknown("crane", action.crane, cranes))
        elif action.crane is None and len(cranes) != 1:
            known = ", ".join(cranes) or "none in the scene"
            self.add(("crane",), f"is missing: which one moves; there are {known}")

    def stations(self, action: MoveCrane) -> None:
        known = {n: s for n, s in self.scene.stations.items() if s.on is not None}
        if action.to is None:
            self.add(("to",), "is missing: the station that the tip goes to, or a payload")
        for key, name in (("to", action.to), ("from", action.start)):
            if name is None:
                continue
            if name not in self.scene.stations:
                self.add((key,), unknown("station", name, known))
            elif name not in known:
                self.add((key,), f'{name} is on no crane; say so there with on = "<crane>"')
            elif action.crane is not None and known[name].on != action.crane:
                self.add((key,), f"{name} is on {known[name].on}, not on {action.crane}")

    def payload(self, name: str, to: str | None, placed: dict[str, str]) -> None:
        record = self.scene.payloads[name]
        now = placed.get(name) or next(iter(record.poses))
        path = self.step.path
        if path is None:
            if to is None:
                self.add(("to",), "is missing: the pose it ends in, or a path for the step")
                return
            if to not in record.poses:
                self.add(("to",), unknown("pose", to, record.poses))
                return
            if to == now:
                self.add(("to",), f"{name} is at {to!r} already")
            elif isinstance(self.action, Align):
                message = _turn_problem(record, now, to, Leg())
                if message:
                    self.add((), f"from {now} to {to}: {message}; give the step a path")
            placed[name] = to
            return
        if path not in record.paths:
            message = unknown(f"path of {name}", path, record.paths)
            self.problems.append(self.report(("path",), message))
            return
        through = record.paths[path].through
        if through[0] != now:
            message = f"begins at {through[0]!r}, but {name} is at {now!r} by then"
            self.problems.append(self.report(("path",), message))
        if to is not None and to != through[-1]:
            self.add(("to",), f"path {path!r} ends at {through[-1]!r}, not at {to!r}")
        placed[name] = through[-1]
