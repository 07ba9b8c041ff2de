"""Question. Does a payload come to its seat slowly, with room, and near enough to be taken in?

Asked where a payload is aligned with a soft-capture guide, or its way ends at the pose of one:
three answers, *speed*, *room* and *capture*.

Margin. *Speed*: m/s between the fastest part on the last leg and what is allowed; the low end is
that of the shortest time that the step may last.  *Room*: metres left of the stand-offs on the last
leg; contact with the seat itself is good from the ``offset`` of the guide on, and a fail before;
just there it is review.
*Capture*: metres between what the guide takes in and how far off hands keep it at worst:
``hand_offset``, and ``hand_angle`` times the lever from the middle of the grips to the guide; or
the angle, in rad, where that alone is too much.

Limit. ``approach_speed``; stand-offs as `sweep` has them; ``offset`` and ``angle`` of the guide
against ``hand_offset`` and ``hand_angle``.  The seat is every solid that comes within the offset of
the guide where the payload is seated. Of a way that was found a fail of speed or room is proved
only at its end: another may keep it.

Blind spots. Pace is even over the whole motion; speeding up, slowing down, and the push at contact
are left out.  What the seat does to a payload that is askew, latches and springs are not known.
"""

from __future__ import annotations

import math

from reach.checks.carrying import (
    NO_WAY,
    finding_of_carriage,
    gap_mark,
    has_no_way,
    interval_words,
    is_way_known,
    leg_words,
    not_asked_of_carriage,
)
from reach.checks.sweep import judged
from reach.checks.wording import ANOTHER_WAY, SURE, UNKNOWN, enough, point
from reach.finding import Finding, Mark
from reach.model.carrying import Guide
from reach.payload.asked import guide_of, seat_of
from reach.payload.seating import (
    Capture,
    begins_in_seat,
    capture_of,
    early_contact,
    last_gaps,
    last_speed,
)
from reach.payload.track import track_of
from reach.site import Carriage, Site
from reach.units import text_of

NAME = "approach"
IDS = ("L3",)
TAKES = "carriages"

TIE = 1e-6
"""Contact nearer than this (m) to where a guide begins to take a payload in is just there."""


def find(site: Site, carriages: tuple[Carriage, ...]) -> list[Finding]:
    """Return three findings for each motion that ends in a guide."""
    found = []
    for carriage in carriages:
        guide = guide_of(site.scene, carriage)
        if not guide or track_of(site, carriage) is None:
            found.append(not_asked_of_carriage(NAME, carriage, "It does not end in a guide."))
            continue
        found += [
            _speed(site, carriage, guide),
            _room(site, carriage, guide),
            _capture(site, carriage, guide),
        ]
    return found


def _speed(site: Site, carriage: Carriage, guide: str) -> Finding:
    limit, speed = site.limit("approach_speed"), last_speed(site, carriage)
    low, high, fix = -UNKNOWN, UNKNOWN, "Give the step a duration, or the path a speed."
    because = f"How fast {carriage.payload} comes to {guide} is not known."
    if speed is not None:
        low, high, fix = limit.value - speed.high - SURE, limit.value - speed.low + SURE, ""
        because = (
            f"{carriage.payload} comes to {guide} at {speed.high:.3f} m/s at most; "
            f"{limit.value:.3g} m/s is allowed."
        )
        if high < 0.0 and not is_way_known(carriage):
            high, because = UNKNOWN, because + ANOTHER_WAY
        if math.isinf(speed.high):
            because = (
                f"How fast {carriage.payload} comes to {guide} at most is not known: the step "
            )
            because += "may take no time."
            fix = "Say how long the step takes at least."
        elif low < 0.0 and carriage.duration:
            longer = math.ceil(carriage.duration * speed.high / limit.value)
            fix = f"Take {longer} s for the motion instead of {carriage.duration:.0f} s."
        elif has_no_way(site, carriage):
            low, because = -UNKNOWN, because + NO_WAY
        elif low < 0.0:
            fix = f"Allow {limit.value:.3g} m/s on the path, or give the step a duration."
    return finding_of_carriage(
        NAME, carriage, because, low, high, "m/s", (limit,), fix,
        numbers={"answer": "speed", "speed": None if speed is None else [speed.low, speed.high]},
        about=(guide,),
    )  # fmt: skip


def _room(site: Site, carriage: Carriage, guide: str) -> Finding:
    limit = site.limit("payload_clearance")
    numbers = {"answer": "room", "seat": sorted(seat_of(site, carriage))}
    early = early_contact(site, carriage, TIE)
    offset = site.scene.guides[guide].offset
    if early is not None:
        because = (
            f"{early.piece} of {carriage.payload} meets {early.thing} {early.before:.3f} m before "
            f"it is seated, more than the {text_of(offset, 'm')} that {guide} takes in."
        )
        high = -max(early.before - offset, SURE)
        if not is_way_known(carriage):
            high, because = UNKNOWN, because + ANOTHER_WAY
        return finding_of_carriage(
            NAME, carriage, because, -UNKNOWN, high, "m", (limit,),
            f"Move the pose {carriage.names[-1]} back along its way by "
            f"{enough(early.before - offset)} at least.",
            (Mark("point", (point(early.point),), early.thing, bad=True),),
            {**numbers, "before the seat": early.before}, (guide, early.thing),
        )  # fmt: skip
    just = early_contact(site, carriage, -TIE)
    if just is not None:
        because = (
            f"{just.piece} of {carriage.payload} meets {just.thing} just where {guide} begins to "
            f"take it in, {text_of(offset, 'm')} before it is seated."
        )
        return finding_of_carriage(
            NAME, carriage, because, -TIE, TIE, "m", (limit,), numbers=numbers,
            about=(guide, just.thing),
        )  # fmt: skip
    touched = begins_in_seat(site, carriage)
    if touched:
        because = (
            f"{carriage.payload} touches {touched}, its seat, where it begins to come to {guide}: "
            "how deep it is in it is not known."
        )
        return finding_of_carriage(
            NAME, carriage, because, -UNKNOWN, UNKNOWN, "m", (limit,),
            f"Begin the way to {guide} clear of {touched}.", numbers=numbers,
            about=(guide, touched),
        )  # fmt: skip
    gaps = last_gaps(site, carriage)
    if not gaps:
        why = f"Nothing is near on the way to {guide} but the seat."
        return not_asked_of_carriage(NAME, carriage, why, about=(guide,), numbers=numbers)
    margins, another = [judged(gap) for gap in gaps], ""
    low, high = (min(one[i] for one in margins) for i in (0, 1))
    if high < 0.0 and not is_way_known(carriage):
        # Of several ways one was looked at; what is so at the pose itself is so on all of them.
        last = float(len(carriage.legs))
        at_end = [one[1] for one, gap in zip(margins, gaps, strict=True) if gap.at == last]
        high = min(at_end, default=UNKNOWN)
        if high >= 0.0:
            high, another = UNKNOWN, ANOTHER_WAY
    if low >= 0.0 and has_no_way(site, carriage):
        low, high, another = -UNKNOWN, UNKNOWN, NO_WAY
    k = min(range(len(gaps)), key=lambda i: (margins[i][0], margins[i][1]))
    worst = gaps[k]
    where = "" if math.isnan(worst.at) else f" {leg_words(carriage, worst.at)}"
    how = "comes within" if low < 0.0 else "keeps"
    link = "of" if low < 0.0 else "from"
    because = (
        f"On its way to {guide} {worst.part} {how} {interval_words(worst.low, worst.high)} {link} "
        f"{worst.thing}{where}; {text_of(worst.stand_off, 'm')} is asked.{another}"
    )
    return finding_of_carriage(
        NAME, carriage, because, low, high, "m", (limit,),
        f"Come to {carriage.names[-1]} from farther off {worst.thing}." if low < 0.0 else "",
        gap_mark(worst.on_part, worst.on_thing, f"{worst.part} to {worst.thing}", low < 0.0),
        numbers, (guide, worst.thing),
    )  # fmt: skip


def _capture(site: Site, carriage: Carriage, guide: str) -> Finding:
    limits = (site.limit("hand_offset"), site.limit("hand_angle"))
    found, record = capture_of(site, carriage), site.scene.guides[guide]
    if found is None:
        because = f"Nobody holds {carriage.payload}: how far off it comes to {guide} is not known."
        return finding_of_carriage(
            NAME, carriage, because, -UNKNOWN, UNKNOWN, "m", limits,
            "Say with a hold action who holds it, and where.",
            numbers={"answer": "capture"}, about=(guide,),
        )  # fmt: skip
    sure = capture_of(site, carriage, surely=True)
    if sure is None:
        because = (
            f"{carriage.payload} is moved away from {' and '.join(found.holders)}: whether they "
            f"still hold it as it comes to {guide} is not said."
        )
        return finding_of_carriage(
            NAME, carriage, because, -UNKNOWN, UNKNOWN, "m", limits,
            "Let who moves it take hold of it before.",
            numbers={"answer": "capture"}, about=(guide,),
        )  # fmt: skip
    # Who may have let go holds it or not: the worse of the two is told.
    most = max(_taken_in(record, one) for one in (found, sure))
    found = min((found, sure), key=lambda one: _taken_in(record, one))
    bad_angle, margin = found.angle > record.angle, _taken_in(record, found)
    width = 0.0 if bad_angle else SURE
    grips = " and ".join(found.grips)
    because = (
        f"Held by {grips}, {text_of(found.lever, 'm')} from it, {carriage.payload} may come to "
        f"{guide} {enough(found.offset)} off and {math.degrees(found.angle):.1f} deg askew; it "
        f"takes in {text_of(record.offset, 'm')} and {math.degrees(record.angle):.1f} deg."
    )
    fix = ""
    if bad_angle:
        fix = f"Use a guide that takes in {math.degrees(found.angle):.1f} deg."
    elif margin < 0.0:
        fix = f"Hold it nearer to {guide}, or use a guide that takes in {enough(found.offset)}."
    ends = (point(found.on_grips), point(found.on_guide))
    return finding_of_carriage(
        NAME, carriage, because, margin - width, most + width, "rad" if bad_angle else "m", limits,
        fix,
        (Mark("segment", ends, f"from the grips to {guide}", bad=margin < 0.0),),
        {"answer": "capture", "lever": found.lever, "offset": found.offset, "angle": found.angle},
        (guide,),
    )  # fmt: skip


def _taken_in(record: Guide, found: Capture) -> float:
    """Return by how much a guide takes in more than it must, m; rad where it is too askew."""
    if found.angle > record.angle:
        return record.angle - found.angle
    return record.offset - found.offset
