"""Question. Is the hand that the step uses one that the fastener allows?

Margin. 0 when it is, -1 when it is not. Exact.

Limit. ``hand`` of the fastener in the scene.

Blind spots. Whether the other hand would be easier or quicker is not judged; whether it reaches
is the check on reach.
"""

from __future__ import annotations

from reach.checks.wording import drives, finding_on, who
from reach.finding import Finding
from reach.site import Site, Situation
from reach.work import hands_of

NAME = "hand"
IDS = ("U2",)

_HANDS = {"either": "either hand", "right": "the right hand", "left": "the left hand"}


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(situation) for situation in drives(situations)]


def _finding(situation: Situation) -> Finding:
    head = situation.head
    assert head is not None
    allowed = head.record.hand
    used = hands_of(situation)
    good = allowed == "either" or allowed in used
    words = " or ".join(used)
    because = (
        f"{head.name} has access for {_HANDS[allowed]}; {who(situation)} uses the {words} hand."
    )
    return finding_on(
        NAME,
        situation,
        because,
        0.0 if good else -1.0,
        0.0 if good else -1.0,
        "",
        fix="" if good else f"Use the {allowed} hand, or give {head.name} to a worker who does.",
        numbers={"allowed": allowed, "used": list(used)},
    )
