"""The clock of a procedure: times, slack, windows, gaps, stores, cuts and chances.

Plain frozen records, seconds inside, counted from the start of the outing.  It
knows nothing of scenes: steps become `Task`, `Window`, `Moment` and so on before
they come here.
"""

from reach.clock.counters import Count, Endurance, Use, count, drawn, endurance
from reach.clock.cuts import Cut, CutOrder, Option, cut_order, without
from reach.clock.devices import Booking, Conflict, conflicts
from reach.clock.draws import Chance, Draws, chance, draw, share_of
from reach.clock.edits import Edit, Moved, edit
from reach.clock.gaps import Gap, Moment, gaps, largest_gap
from reach.clock.home import Bingo, Return, bingo
from reach.clock.lanes import Clash, Wait, as_written, clashes, idle, waits
from reach.clock.network import downstream
from reach.clock.tasks import Event, Span, Spread, Task, moment, unwritten
from reach.clock.timetable import Late, Times, Timetable, end_of, timetable
from reach.clock.windows import (
    Fit,
    Lighting,
    Opening,
    Stretch,
    Window,
    days,
    fit,
    lighting,
    nights,
)

__all__ = [
    "Bingo",
    "Booking",
    "Chance",
    "Clash",
    "Conflict",
    "Count",
    "Cut",
    "CutOrder",
    "Draws",
    "Edit",
    "Endurance",
    "Event",
    "Fit",
    "Gap",
    "Late",
    "Lighting",
    "Moment",
    "Moved",
    "Opening",
    "Option",
    "Return",
    "Span",
    "Spread",
    "Stretch",
    "Task",
    "Times",
    "Timetable",
    "Use",
    "Wait",
    "Window",
    "as_written",
    "bingo",
    "chance",
    "clashes",
    "conflicts",
    "count",
    "cut_order",
    "days",
    "downstream",
    "draw",
    "drawn",
    "edit",
    "end_of",
    "endurance",
    "fit",
    "gaps",
    "idle",
    "largest_gap",
    "lighting",
    "moment",
    "nights",
    "share_of",
    "timetable",
    "unwritten",
    "waits",
    "without",
]
