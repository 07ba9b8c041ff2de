"""Question. Do the crane's links keep clear of structure, hazards, what it carries and themselves?

Asked of every place on a crane where a worker stands or where a motion ends, in the best of the
postures found there with the body at rest on the plate, and of every way of a crane.

Margin. Metres beyond the clearance asked, the least over all links and all they may come near: at
rest a lower bound on covers, on a way a certified bracket. Links are held by capsules that cover
them, so a gap is at least what is said, and covers that meet prove no contact.

Limit. ``link_clearance`` for structure, the rider and what is carried; a hazard's own stand-off;
links of the crane must not touch each other.

Blind spots. Another posture may be clearer than the best one found, so a shortfall is *open*,
never a fail. Neighbouring links are not compared with each other, nor the base with what it is
bolted to. The rider rests with arms folded; boots, what hangs on the suit and lines are left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reach.checks.carrying import (
    finding_of_carriage,
    gap_mark,
    leg_words,
    not_asked_of_carriage,
)
from reach.checks.craning import (
    Stand,
    The,
    no_way,
    stands,
    the,
    travels,
    unknown_arm,
    unknown_hold,
)
from reach.checks.wording import NAN, SURE, at_least, enough, point
from reach.crane import Nearest, rig_of
from reach.finding import Finding, Limit, Mark
from reach.payload.crane_way import CraneWay, LinkGap, crane_way_of
from reach.site import Carriage, Site, Situation
from reach.units import text_of

NAME = "links"
IDS = ("M2L",)
TAKES = "both"


def find(
    site: Site, situations: Sequence[Situation], carriages: Sequence[Carriage] = ()
) -> list[Finding]:
    """Return one finding for each place on a crane and body, and one for each way of a crane."""
    found = [_place(site, stand) for stand in stands(site, situations, carriages)]
    return found + [_way(site, carriage) for carriage in travels(carriages)]


def _place(site: Site, stand: Stand) -> Finding:
    there = stand.answer(site)
    if there is None:
        return stand.finding(NAME, unknown_arm(stand.crane), NAN, NAN, "m")
    if there.best is None:
        if there.shortage > 0.0:
            because = f"{stand.place} is proved out of reach of {the(stand.crane)}."
            return stand.finding(NAME, because, NAN, NAN, "m")
        because = (
            f"No posture was found in which {the(stand.crane)} holds its tip at {stand.place}, so "
            "its links are nowhere."
        )
        return stand.finding(NAME, because, -math.inf, math.inf, "m")
    if not there.best.nearest:
        because = f"Nothing is near {the(stand.crane)}, and it carries nobody."
        return stand.finding(NAME, because, NAN, NAN, "m")
    near, margin = there.best.nearest[0], there.best.link_margin
    n = len(there.branches)
    which = "the one posture found" if n == 1 else f"the best of {n} branches found"
    because = (
        f"{The(stand.crane)} at {stand.place}, in {which}: {_near_words(near)}"
        f"{_others(there.best.nearest[1:])}."
    )
    good = margin >= 0.0
    numbers = {f"gap, {one.kind}": one.gap for one in there.best.nearest}
    return stand.finding(
        NAME, because, margin - SURE, math.inf, "m", (_limit(site),),
        "" if good else f"Turn or move {stand.place}, or look for a clearer posture.",
        _near_mark(near, not good), numbers=numbers | {"link": near.link, "thing": near.thing},
    )  # fmt: skip


def _limit(site: Site) -> Limit:
    return site.limit("link_clearance")


def _near_words(near: Nearest) -> str:
    asked = f" ({text_of(near.asked, 'm')} asked)" if near.asked > 0.0 else ""
    return f"{_off(near.link, near.gap, _thing(near))}{asked}"


def _off(link: str, least: float, thing: str) -> str:
    """Return in words how near a link may be: covers can meet where the links do not."""
    if least >= 0.0:
        return f"the {link} is {at_least(least)} from {thing} at least"
    return f"the cover of the {link} reaches {enough(-least)} into {thing} at most"


def _thing(near: Nearest) -> str:
    if near.kind == "rider":
        return f"the {near.thing} of who rides"
    return f"its own {near.thing}" if near.kind == "self" else near.thing


def _others(rest: Sequence[Nearest]) -> str:
    said = [f"{text_of(one.gap, 'm')} to {_thing(one)}" for one in rest[:3]]
    return f"; else {', '.join(said)}" if said else ""


def _near_mark(near: Nearest, bad: bool) -> tuple[Mark, ...]:
    if any(math.isnan(v) for v in (*near.on_link, *near.on_thing)):
        return ()
    label = f"{near.link} to {near.thing}"
    return (Mark("segment", (point(near.on_link), point(near.on_thing)), label, bad=bad),)


def _way(site: Site, carriage: Carriage) -> Finding:
    if rig_of(site, carriage.crane, carriage.surroundings) is None:
        return not_asked_of_carriage(NAME, carriage, unknown_arm(carriage.crane))
    way = crane_way_of(site, carriage)
    crane = the(carriage.crane)
    if way is None:
        return unknown_hold(NAME, carriage, "m")
    if way.shortage > 0.0:
        return not_asked_of_carriage(NAME, carriage, f"The way is proved out of reach of {crane}.")
    if not len(way.q) or not math.isnan(way.stuck_at):
        because = no_way(way, carriage.crane)
        return finding_of_carriage(
            NAME, carriage, because, -math.inf, math.inf, "m", numbers={"answer": "way"}
        )
    if not way.gaps:
        return not_asked_of_carriage(NAME, carriage, f"Nothing is near {crane} on its way.")
    return _nearest_on(site, carriage, way)


def _nearest_on(site: Site, carriage: Carriage, way: CraneWay) -> Finding:
    asked = {gap: _asked(site, gap) for gap in way.gaps}
    worst = min(way.gaps, key=lambda gap: gap.low - asked[gap])
    low, high = worst.low - asked[worst], worst.high - asked[worst]
    at = "" if math.isnan(worst.at) else f" {leg_words(carriage, _moment(way, worst.at))}"
    wanted = f" ({text_of(asked[worst], 'm')} asked)" if asked[worst] > 0.0 else ""
    because = (
        f"{The(carriage.crane)}{at}: {_off(worst.link, worst.low, _gap_thing(worst, carriage))}"
        f"{wanted}, the least on the way found."
    )
    numbers = {"answer": "way", "link": worst.link, "thing": worst.thing}
    for kind in ("solid", "hazard", "carried", "self"):
        lows = [gap.low for gap in way.gaps if gap.kind == kind]
        if lows:
            numbers[f"gap, {kind}"] = min(lows)  # type: ignore[assignment]
    label = f"{worst.link} to {worst.thing}"
    return finding_of_carriage(
        NAME, carriage, because, low - SURE, high + SURE if low >= 0.0 else math.inf, "m",
        (_limit(site),), "" if low >= 0.0 else "Lead another way, or begin in another posture.",
        gap_mark(worst.on_link, worst.on_thing, label, low < 0.0), numbers,
    )  # fmt: skip


def _asked(site: Site, gap: LinkGap) -> float:
    if gap.kind == "hazard":
        return gap.stand_off
    return 0.0 if gap.kind == "self" else _limit(site).value


def _gap_thing(gap: LinkGap, carriage: Carriage) -> str:
    if gap.kind == "carried":
        return f"the {gap.thing} of what it carries"
    return f"its own {gap.thing}" if gap.kind == "self" else gap.thing


def _moment(way: CraneWay, at: float) -> float:
    """Return where on the way of the carriage a posture number plus time is."""
    k = min(int(at), max(len(way.at) - 2, 0))
    if len(way.at) < 2:
        return float(way.at[0])
    return float(way.at[k] + (at - k) * (way.at[k + 1] - way.at[k]))
