"""Question. Are enough hands free to move hand over hand with what is carried?

Margin. Free hands beyond those that are needed.

Limit. ``hands_free``: one hand holds while the other moves. Exact.

Blind spots. What hangs on the suit counts for nothing here, whatever its bulk; what a hand must
do on the way, such as guiding a line, is left out.
"""

from __future__ import annotations

from reach.checks.moving import moves
from reach.checks.wording import finding_on, who
from reach.finding import Finding
from reach.site import Site, Situation

NAME = "hands"
IDS = ("E5",)

HANDS = 2


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    assert situation.passage is not None
    held, limit = list(situation.passage.in_hand), site.limit("hands_free")
    free = HANDS - len(held)
    margin = free - limit.value
    holds = f"holds {' and '.join(held)}" if held else "holds nothing"
    because = (
        f"{who(situation)} {holds} on the way: {max(0, free)} of {HANDS} hands free, "
        f"{limit.value:g} needed."
    )
    fix = f"Hang {' and '.join(held)} on the suit, or hand it on." if margin < 0.0 else ""
    return finding_on(
        NAME, situation, because, margin, margin, "", (limit,), fix, numbers={"free": float(free)}
    )
