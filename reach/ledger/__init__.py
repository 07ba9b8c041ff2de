"""The ledger: where everything and everyone is after each step, and what may come before what.

Steps become deeds, deeds change variables (`reach.ledger.names`); rules about them are judged in
the order as written and in every order that links allow (`judge`).
"""

from reach.ledger import names
from reach.ledger.deed import Deed
from reach.ledger.goals import Goal, goals_of
from reach.ledger.judging import Judged, judge
from reach.ledger.line_ends import (
    Shift,
    ends_left_to_others,
    is_at_anchor,
    is_end_here,
    lines_for,
    lines_of,
    shifts_of,
    worn,
)
from reach.ledger.nearness import at_hand, ends_of
from reach.ledger.outing import Outing, outing_of
from reach.ledger.presence import Need, chain_of, holders_of, is_here, needs_of, place_at

__all__ = [
    "Deed",
    "Goal",
    "Judged",
    "Need",
    "Outing",
    "Shift",
    "at_hand",
    "chain_of",
    "ends_left_to_others",
    "ends_of",
    "goals_of",
    "holders_of",
    "is_at_anchor",
    "is_end_here",
    "is_here",
    "judge",
    "lines_for",
    "lines_of",
    "names",
    "needs_of",
    "outing_of",
    "place_at",
    "shifts_of",
    "worn",
]
