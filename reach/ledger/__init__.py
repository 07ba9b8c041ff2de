"""The ledger: where everything and everyone is after each step, and what may come before what.

Steps become deeds, deeds change variables (`reach.ledger.names`); rules about them are judged in
the order as written and in every order that links allow (`judge`).
"""

from reach.ledger import names
from reach.ledger.deed import Deed
from reach.ledger.judging import Judged, judge
from reach.ledger.nearness import at_hand, ends_of, is_on_tip
from reach.ledger.outing import Outing, outing_of
from reach.ledger.presence import Need, chain_of, holders_of, is_here, needs_of, place_at

__all__ = [
    "Deed",
    "Judged",
    "Need",
    "Outing",
    "at_hand",
    "chain_of",
    "ends_of",
    "holders_of",
    "is_here",
    "is_on_tip",
    "judge",
    "names",
    "needs_of",
    "outing_of",
    "place_at",
]
