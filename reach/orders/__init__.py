"""All orders that parallel lanes allow: rules proved or broken, and the links that mend them.

Lanes hold events in order; links let events wait for events of other lanes.  Nothing
else orders them: printed times do not.  :func:`examine` says of each rule whether it
holds in every order, :func:`fixes` which links or swaps would make it hold,
:func:`may_overlap` what can go on at the same time, :func:`n_orders` how many orders
there are.  Data in, data out; nothing here knows what the variables stand for.
"""

from reach.orders.conditions import (
    All,
    Always,
    Among,
    At,
    AtEnd,
    AtLeast,
    AtMost,
    Condition,
    Has,
    Is,
    Not,
    Rule,
    Same,
    Some,
    When,
    While,
)
from reach.orders.counting import may_overlap, n_orders, overlaps
from reach.orders.events import Add, Effect, Event, Join, Lanes, Leave, Link, Put, Value
from reach.orders.examine import (
    MOST_STATES,
    Answer,
    Examiner,
    Ruling,
    examine,
    rules_of_needs,
)
from reach.orders.fixes import Fixes, Swap, fixes

__all__ = [
    "MOST_STATES",
    "Add",
    "All",
    "Always",
    "Among",
    "Answer",
    "At",
    "AtEnd",
    "AtLeast",
    "AtMost",
    "Condition",
    "Effect",
    "Event",
    "Examiner",
    "Fixes",
    "Has",
    "Is",
    "Join",
    "Lanes",
    "Leave",
    "Link",
    "Not",
    "Put",
    "Rule",
    "Ruling",
    "Same",
    "Some",
    "Swap",
    "Value",
    "When",
    "While",
    "examine",
    "fixes",
    "may_overlap",
    "n_orders",
    "overlaps",
    "rules_of_needs",
]
