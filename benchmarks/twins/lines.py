"""Lines at a junction: whose cross whose, what is seen of a hook, where the way home breaks off."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import coal
import numpy as np

from benchmarks.twins import space
from benchmarks.twins.lines_cases import SHARE, SPAN, case_of
from benchmarks.twins.opinion import Opinion, opinion, worst
from benchmarks.twins.space import moved, world_from

CHECKS = ("crossing", "hook", "line-home")
NEAR = 1e-6
HOOK = 0.020
"""A hook is a ball round its anchor (m)."""

COARSE = 0.2
"""Share of a ball that twelve points on it may be off by."""

N_SPOTS, N_EYES = 300, 400


def draw(rng: random.Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a random case."""
    return case_of(rng)


class Lines:
    """Where everyone, and both ends of every line, are, action by action as written."""

    def __init__(self, scene: Mapping[str, Any], procedure: Mapping[str, Any]) -> None:
        self.scene = scene
        begin = procedure["begin"]
        self.at: dict[str, str] = dict(begin["workers"])
        self.hook = {one: ends.get("hook") for one, ends in begin["lines"].items()}
        self.reel = {one: ends.get("reel") for one, ends in begin["lines"].items()}
        for line in scene["tethers"]:
            self.hook.setdefault(line, None)
            self.reel.setdefault(line, None)
        self.worn: dict[str, str | None] = {w: None for w in self.at}
        for line, reel in self.reel.items():
            if reel in self.worn and self.worn[reel] is None:
                self.worn[reel] = line
        self.left: dict[str, dict[str, str]] = {w: {} for w in self.at}

    def do(self, w: str, action: Mapping[str, Any]) -> None:
        """Do one action; a move leaves them where it ends."""
        do, what = action["do"], action.get("what")
        if do == "attach" and action["to"] in self.worn:
            self._put_on(action["to"], str(what))
        elif do == "attach":
            self.hook[str(what)] = action["to"]
        elif do == "release" and what is not None:
            start, line = action["from"], str(what)
            if start in self.scene["anchors"] and self.reel[line] != start:
                self.hook[line] = action["to"]
            else:
                owner = start if start in self.worn else None
                self.reel[line] = action["to"]
                if owner is not None and self.worn[owner] == line:
                    rest = [one for one in self.scene["tethers"] if self.reel[one] == owner]
                    self.worn[owner] = next(iter(rest), None)
                    self.left[owner][line] = self.at[owner]
        elif do == "translate":
            if "tether" in action:
                self._put_on(w, action["tether"])
                self.hook[action["tether"]] = action["anchor"]
            self.at[w] = action["to"]

    def _put_on(self, w: str, line: str) -> None:
        for other, one in self.worn.items():
            if one == line and other != w:
                rest = [k for k in self.scene["tethers"] if self.reel[k] == other and k != line]
                self.worn[other] = next(iter(rest), None)
        old = self.worn[w]
        self.reel[line], self.worn[w] = w, line
        if old is not None and old != line:
            self.left[w][old] = self.at[w]
        self.left[w].pop(line, None)

    def line(self, w: str) -> str | None:
        """Return the line that somebody wears by now, if it is hooked to an anchor."""
        one = self.worn[w]
        return one if one is not None and self.hook[one] in self.scene["anchors"] else None

    def lines(self, w: str) -> list[str]:
        """Return every line that somebody wears and that is hooked to an anchor."""
        anchors = self.scene["anchors"]
        return [one for one, reel in self.reel.items() if reel == w and self.hook[one] in anchors]

    def lies(self, w: str, line: str) -> bool:
        """Return whether a line that somebody took off still lies where they left it."""
        reel = self.reel[line]
        return reel not in self.worn or reel == w


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of a case."""
    state = Lines(scene, procedure)
    moved_first: set[str] = set()
    home: dict[str, Any] = {}
    for step in procedure["steps"]:
        w = step["lane"]
        for action in step["actions"]:
            told = [f for f in outcome.findings if f.step == step["name"] and w in _of(f)]
            if action["do"] != "translate":
                state.do(w, action)
                continue
            before = dict(state.at)
            state.do(w, action)
            key = f"{step['name']} {w}"
            yield from _crossing(state, before[w], w, action, key, told)
            if w not in moved_first or "tether" in action:
                # At first every line, later the one that is taken.
                lines = state.lines(w) if w not in moved_first else [state.line(w)]
                yield from _hook(state, before[w], w, [one for one in lines if one], key, told)
            moved_first.add(w)
            mine = [f for f in told if f.check == "line-home"]
            home[w] = mine or home.get(w, [])
            yield from _home(state, w, key, home[w])


def _of(one: Any) -> Sequence[str]:
    """Return whose finding it is."""
    return (*one.about[:1], one.because.split()[0]) if one.about else (one.because.split()[0],)


# ---- whose line crosses whose -----------------------------------------------------------


def _crossing(
    state: Lines, start: str, w: str, action: Mapping[str, Any], key: str, told: Sequence[Any]
) -> Iterator[Opinion]:
    if not state.lines(w):
        return
    on, come = state.scene["_arms"], []
    others = [(other, one) for other in state.at if other != w for one in state.lines(other)]
    for line, (other, theirs) in itertools.product(state.lines(w), others):
        ends = (on[state.hook[theirs]], _arm(state.at[other]))
        anchor = on[state.hook[line]]
        was = in_turn((anchor, _arm(start)), ends)
        if in_turn((anchor, _arm(action["to"])), ends) and not was:
            come.append(theirs)
    bad = [one for one in come if one not in action.get("crosses", ())]
    mine = [f for f in told if f.check == "crossing"]
    if others:
        yield opinion("crossing", key, mine, not bad, f"{come} by {state.lines(w)}")


def _arm(place: str) -> int:
    return int(place[1])


def in_turn(one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Return whether the ends of two lines lie on four arms, one's and the other's in turn."""
    (a, b), (c, d) = sorted(one), other
    if len({a, b, c, d}) < 4:
        return False
    return (a < c < b) != (a < d < b)


# ---- what is seen of the hook -----------------------------------------------------------


def _hook(
    state: Lines, start: str, w: str, lines: Sequence[str], key: str, told: Sequence[Any]
) -> Iterator[Opinion]:
    """Judge the hooks at hand of several lines: all are to be seen, and one that is not fails."""
    scene = state.scene
    span = scene["limits"].get("place_span", SPAN)
    limit = scene["limits"].get("visible_share", SHARE)
    site = world_from(scene, "site")
    hooks = {one: moved(site, scene["anchors"][state.hook[one]]["at"]) for one in lines}
    begin = _point(scene, start)
    hooks = {
        one: at for one, at in hooks.items() if float(np.linalg.norm(at - begin)) <= span + NEAR
    }
    if not hooks:
        return
    mine = [f for f in told if f.check == "hook"]
    solids = list(space.placed_shapes(scene, "solids").values())
    verdict = worst(mine)
    if verdict == "pass":
        name = mine[0].numbers.get("line", next(iter(hooks)))
        good, note = _seen_from(state, mine[0], solids, hooks[name], limit, span)
        # Of the others it is not told from where: what nobody can see is not seen from a rail.
        unseen = [one for one in hooks if one != name
                  and _most_seen(solids, hooks[one], 40) < limit - COARSE]  # fmt: skip
        yield opinion("hook", key, mine, good and not unseen, f"{note}, unseen {unseen}")
        return
    # From anywhere about: what nobody can see from any side is not seen from a rail.
    every = 4 if verdict == "fail" else 40
    most = min(_most_seen(solids, at, every) for at in hooks.values())
    good = most >= limit + COARSE if verdict == "fail" else None
    good = False if verdict == "fail" and most < limit - COARSE else (good or None)
    yield opinion("hook", key, mine, good, f"{most:.2f} from anywhere")


def _seen_from(
    state: Lines, told: Any, solids: Sequence[Any], hook: Any, limit: float, span: float
) -> tuple[bool, str]:
    """Return whether a hook is seen from the eye that is told, held at a rail near it; a note."""
    site = world_from(state.scene, "site")
    rails = [
        [moved(site, one[end]) for end in ("from", "to")]
        for one in state.scene["handrails"].values()
    ]
    eye = np.array(told.marks[0].points[0])
    seen = share_seen(solids, eye, hook)
    near = min(_far(a, b, eye) for a, b in rails)
    held = min(_far(a, b, hook) for a, b in rails)
    inside = min((space.apart(*one, eye, eye, 0.0) for one in solids), default=1.0)
    good = seen >= limit - COARSE and near < 1.3 and held <= span + NEAR and inside > 0.05
    note = f"{seen:.2f} seen, rail {near:g} from the eye and {held:g} from the hook, {inside:g}"
    return good, note


def _most_seen(solids: Sequence[Any], hook: Any, every: int) -> float:
    """Return the largest share of a hook that is seen from eyes on all sides of it."""
    ways = np.random.default_rng(1).normal(size=(N_EYES, 3))
    eyes = hook + 0.9 * ways / np.linalg.norm(ways, axis=1)[:, None]
    return max(share_seen(solids, eye, hook, 40) for eye in eyes[::every])


def share_seen(solids: Sequence[Any], eye: Any, hook: Any, n: int = N_SPOTS) -> float:
    """Return the share of a ball round a hook, by points spread evenly on it, that an eye sees."""
    k = np.arange(n) + 0.5
    z, around = 1.0 - 2.0 * k / n, math.pi * (1.0 + 5.0**0.5) * k
    flat = np.sqrt(1.0 - z * z)
    spots = hook + HOOK * np.stack([flat * np.cos(around), flat * np.sin(around), z], axis=1)
    return float(np.mean([not _hidden(solids, eye, one) for one in spots]))


def _hidden(solids: Sequence[Any], eye: Any, spot: Any) -> bool:
    """Return whether a thin rod from eye to spot meets a solid, or its end lies in one."""
    length, at = space.capsule_pose(eye, spot)
    rod = coal.Capsule(1e-7, length)
    return any(space.overlap(shape, world, rod, at) for shape, world in solids)


def _far(a: Any, b: Any, p: Any) -> float:
    t = min(1.0, max(0.0, float((p - a) @ (b - a) / ((b - a) @ (b - a)))))
    return float(np.linalg.norm(a + t * (b - a) - p))


# ---- the way home -----------------------------------------------------------------------


def _home(state: Lines, w: str, key: str, told: Sequence[Any]) -> Iterator[Opinion]:
    """Try every chain of lines that were left, in any order."""
    if not state.lines(w):
        return
    scene = state.scene
    span = scene["limits"].get("place_span", SPAN)
    hatches = [_point(scene, one) for one in scene["hatches"]]
    left = {
        line: (_point(scene, at), _point(scene, state.hook[line]))
        for line, at in state.left[w].items()
        if state.lies(w, line) and state.hook[line] in scene["anchors"]
    }
    ends = [
        _point(scene, state.hook[one])
        for one in scene["tethers"]
        if state.reel[one] == w and state.hook[one] in scene["anchors"]
    ]
    breaks: list[float] = []
    seen: set[str] = set()
    while ends:
        end = ends.pop()
        breaks += [float(np.linalg.norm(end - one)) for one in hatches]
        for line, (at, hook) in left.items():
            gap = float(np.linalg.norm(end - at))
            if line not in seen and gap <= span:
                seen.add(line)
                ends.append(hook)
    least = min(breaks, default=math.inf)
    good = least <= span
    # Where it says that it does not know, lines of others, or strung before, may lead on.
    is_said = bool(told) and worst(told) == "not asked"
    sure = None if abs(least - span) < NEAR or (is_said and not good) else good
    # A line that somebody hooked farther off than it is long leads nobody home in truth.
    if good and any(
        _far_apart(left[line]) > float(scene["tethers"][line]["length"]) for line in seen
    ):
        sure = None
    yield opinion("line-home", key, told, sure, f"{least:g} by {sorted(seen)}")


def _far_apart(ends: tuple[Any, Any]) -> float:
    return float(np.linalg.norm(ends[0] - ends[1]))


def _point(scene: Mapping[str, Any], place: str) -> Any:
    """Return a place in the world."""
    site = world_from(scene, "site")
    for table in ("hatches", "anchors"):
        if place in scene[table]:
            return moved(site, scene[table][place]["at"])
    rail, along = place.split("@")
    a, b = (moved(site, scene["handrails"][rail][end]) for end in ("from", "to"))
    return a + min(1.0, float(along) / float(np.linalg.norm(b - a))) * (b - a)
