"""Question. Can both hands hold the grips, each at its own, from where the boots stand?

Asked of a hold; of a hand over for the one who gives and the one who takes, at the same pose of
the payload; and of an alignment for everyone who holds, before it and at the guide's pose. At a
hand over it is also asked whether the taker's hands are free; a grip that the taker has already
is held beside the new ones, as is a grip of another payload that a hand is left for.

Margin. Metres that both grips may move together, in any of 14 directions (the axes and diagonals
of the boot frame), and still be held; a posture was found at each step outward, up to 0.30 m. The
low end is what was shown. When a hand is proved out of reach of a whole grip, the metres missing.

Limit. ``reach_margin``; hands hold a rail anywhere along it, either way round, askew by at most
``grip_tolerance``; either hand either grip. The posture shown keeps ``body_clearance`` and
``arm_clearance``; hands and forearms may be near what is held. Where none is found that does,
nothing is passed.

Blind spots. The margin itself is by joint limits: farther off, postures are not looked at for
clearance. Between the two ends of an alignment nothing is asked. What the hands bear is not
looked at, nor whether anyone sees the grips. Alignments in the lane of nobody who could hold are
left out.
"""

from __future__ import annotations

from reach.checks.partners import (
    Holding,
    grip_marks,
    grips_words,
    hand_marks,
    holdings,
    why_not,
)
from reach.checks.wording import SURE, UNKNOWN, at_least, enough, finding_on, standing, who
from reach.finding import Finding
from reach.grasping import MOST, Grasped, grasped_of
from reach.model.procedure import HandOver
from reach.site import Site, Situation
from reach.units import text_of

NAME = "grips"
IDS = ("N2",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each hold and moment, and one for the hands of who takes."""
    found = []
    for situation in situations:
        for one in holdings(site, situation):
            found.append(_finding(site, situation, one))
        if isinstance(situation.action, HandOver):
            found.append(_hands_free(situation, situation.action))
    return found


def _finding(site: Site, situation: Situation, holding: Holding | str) -> Finding:
    limit = site.limit("reach_margin")
    if isinstance(holding, str):
        return finding_on(NAME, situation, holding, -UNKNOWN, UNKNOWN, "m", (limit,))
    missing = why_not(site, holding)
    answer = _answer(holding)
    if missing:
        return finding_on(
            NAME, situation, missing, -UNKNOWN, UNKNOWN, "m", (limit,), numbers={"answer": answer}
        )
    grasped = grasped_of(site, holding.situation, holding.grasp)
    subject = f"{who(holding.situation)} {standing(holding.situation)}"
    if grasped.short > 0.0:
        low, high = -UNKNOWN, -grasped.short - limit.value
        because = (
            f"{subject} cannot hold {' and '.join(grasped.grips)}{_when(holding)}: whatever the "
            f"posture, a hand stays at least {at_least(grasped.short)} short (outer bound)."
        )
        fix = f"Bring boots and grips {enough(grasped.short)} nearer to each other, at least."
    elif not grasped.found:
        low, high, fix = -UNKNOWN, UNKNOWN, ""
        because = (
            f"No posture of {subject} was found that holds "
            f"{' and '.join(grasped.grips)}{_when(holding)}, and none is excluded."
        )
    else:
        low, high, because, fix = _held(site, holding, grasped, subject, limit.value)
    if holding.doubt and high < 0.0:
        high, fix, because = UNKNOWN, "", f"{because[:-1]}; {holding.doubt}."
    marks = grip_marks(grasped, high < 0.0)
    if grasped.found:
        marks += hand_marks(holding.situation, grasped)
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (limit, site.limit("grip_tolerance")),
        fix,
        marks,
        _numbers(grasped, answer),
    )


def _held(
    site: Site, holding: Holding, grasped: Grasped, subject: str, limit: float
) -> tuple[float, float, str, str]:
    margin = grasped.margin
    low, high = margin.radius - limit - SURE, margin.ceiling - limit
    more = "at least " if margin.is_capped else ""
    because = (
        f"{subject} holds {grips_words(grasped)}{_when(holding)}; by joint limits the grips could "
        f"lie {more}{text_of(margin.radius, 'm')} off any way (14 directions) and still be held."
    )
    crowded = _crowded(site, grasped)
    if crowded:
        low = -UNKNOWN
        because = f"{because[:-1]}, but no posture was found that keeps clear: {crowded}."
    fix = ""
    if not crowded and low < 0.0:
        fix = f"Bring boots and grips {enough(-low)} nearer to each other."
    return low, high, because, fix


def _crowded(site: Site, grasped: Grasped) -> str:
    """Return what comes too near in the clearest posture found, or nothing."""
    room = grasped.room
    assert room is not None
    body, arm = site.limit("body_clearance").value, site.limit("arm_clearance").value
    words = []
    if room.body < body:
        words.append(f"the body comes to {text_of(room.body, 'm')} of {text_of(body, 'm')}")
    if room.arms < arm:
        words.append(f"an arm comes to {text_of(room.arms, 'm')} of {text_of(arm, 'm')}")
    if room.own < 0.0:
        words.append("a hand meets the own body")
    return ", ".join(words)


def _when(holding: Holding) -> str:
    return f" {holding.when}" if holding.when else ""


def _answer(holding: Holding) -> str:
    return f"{holding.situation.worker} {holding.when}".strip()


def _numbers(grasped: Grasped, answer: str) -> dict[str, object]:
    numbers: dict[str, object] = {"answer": answer, "grips": list(grasped.grips)}
    if grasped.found and grasped.room is not None:
        numbers |= {
            "hands": list(grasped.hands),
            "margin": grasped.margin.radius,
            "looked for up to": MOST,
            "body room": grasped.room.body,
            "arm room": grasped.room.arms,
        }
    else:
        numbers["short"] = grasped.short
    return numbers


def _hands_free(situation: Situation, action: HandOver) -> Finding:
    """Return whether who takes has a hand free for each grip."""
    held = situation.holds.get(action.to)
    used = 0 if held is None else len(set(held.grips) - set(action.grips))
    margin = high = float(2 - used - len(action.grips))
    hands = "both hands" if used == 0 else f"{2 - used} hand{'' if used == 1 else 's'}"
    because = f"{action.to} has {hands} free for {' and '.join(action.grips)}."
    if held is not None:
        because = f"{because[:-1]}, and holds {' and '.join(held.grips)}."
    if held is not None and margin < 0.0 and held.parted:
        # Hands may have let go of what was moved away from them.
        sure = held.keeping([one for one in held.on if one not in held.parted])
        kept = 0 if sure is None else len(set(sure.grips) - set(action.grips))
        high = float(2 - kept - len(action.grips))
        because += f" Whether they still hold {' and '.join(held.parted)} is not said."
    return finding_on(
        NAME,
        situation,
        because,
        margin,
        high,
        "",
        fix="" if margin >= 0.0 else f"Let {action.to} put down what they hold first.",
        numbers={"answer": f"hands of {action.to}"},
    )
