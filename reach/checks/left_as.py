"""Question. Is everything left as the next outing expects it: what stays outside, and lines?

Margin. 0 where it ends as expected, -1 where it does not, as written or in any order.

Limit. ``items`` and ``lines`` of the procedure's ``end``. A rail without ``@`` means anywhere along
it; an end of a line that is not named lies in the lock.

Blind spots. How restraints are left set is not asked. Items that are to be at ``rest`` are a
check of their own.
"""

from __future__ import annotations

from reach.checks.ruling import finding_in
from reach.finding import Finding
from reach.ledger import Judged, Outing, chain_of, judge, names
from reach.ledger.keeping import ends_up, same_place
from reach.model.procedure import Translate
from reach.orders import All, AtEnd, Condition, Is, Not, Rule, Some
from reach.site import Site

NAME = "left-as"
IDS = ("R2",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each item and each end of a line that the next outing expects."""
    end = outing.procedure.end
    if not outing.is_declared or end is None or not outing.deeds:
        return []
    items = dict(end.items)
    rules = [
        Rule(f"{item} at {goal}", ends_up(outing, item, goal), AtEnd())
        for item, goal in items.items()
    ]
    found = [
        _item(outing, item, items[item], judged)
        for item, judged in zip(items, judge(outing, rules), strict=True)
    ]
    ends = [
        (line, word, getattr(expected, word))
        for line, expected in end.lines.items()
        for word in ("hook", "reel")
    ]
    rules = [
        Rule(f"{word} of {line}", _end(outing, line, word, goal), AtEnd())
        for line, word, goal in ends
    ]
    for (line, word, goal), judged in zip(ends, judge(outing, rules), strict=True):
        found.append(_line(outing, line, word, goal, judged))
    return found


def _item(outing: Outing, item: str, goal: str, judged: Judged) -> Finding:
    chain = chain_of(outing.finally_, item)
    at = chain[0] if chain else "nowhere"
    return _finding(
        outing,
        last_there(outing, names.holder(item), at),
        (item, goal),
        judged,
        f"{item} is left at {at}"
        + ("" if same_place(at, goal) else f", the next outing expects it at {goal}"),
        fix=_move(outing, item, at, goal),
    )


def _line(outing: Outing, line: str, word: str, goal: str | None, judged: Judged) -> Finding:
    name = names.hook(line) if word == "hook" else names.reel(line)
    at = outing.finally_.get(name)
    here, wanted = str(at or "the lock"), goal or "the lock"
    right = "" if here == wanted else f", the next outing expects it at {wanted}"
    return _finding(
        outing,
        last_there(outing, name, here),
        (line, wanted),
        judged,
        f"The {word} of {line} is left at {here}{right}",
        fix=f"Take the {word} of {line} from {here} to {wanted}.",
    )


def _finding(
    outing: Outing, step: str, about: tuple[str, ...], judged: Judged, said: str, fix: str
) -> Finding:
    other = f"; in another order it is not: {judged.said}" if judged.said else ""
    return finding_in(
        NAME, step, about, f"{said}{other}.", judged.margin, fix=judged.fix or fix,
        orders="another order" if judged.elsewhere else "as written",
    )  # fmt: skip


def _end(outing: Outing, line: str, word: str, goal: str | None) -> Condition:
    """Return the condition that an end of a line ends where it is expected."""
    name = names.hook(line) if word == "hook" else names.reel(line)
    if goal is not None or word == "hook":
        return Is(name, goal)
    worn = (
        All((Is(name, worker), Not(Is(names.outside(worker), True)))) for worker in outing.workers
    )
    return Some((Is(name, None), *worn))


def last_there(outing: Outing, variable: str, at: str) -> str:
    """Return the last step that is done where a thing is left, else that which left it there.

    Beginning a step there and moving away are not done there.

    Parameters
    ----------
    outing : Outing
    variable : str
        What says where it is.
    at : str
        Where it is left.
    """
    since = [k for k, deed in enumerate(outing.deeds) if deed.event.effect(variable) is not None]
    for k in range(len(outing.deeds) - 1, (since[-1] if since else 0), -1):
        deed = outing.deeds[k]
        if deed.action is None or isinstance(deed.action, Translate):
            continue
        if outing.states[k].get(names.place(deed.lane)) == at:
            return deed.step.name
    return outing.deeds[since[-1] if since else -1].step.name


def _move(outing: Outing, item: str, at: str, goal: str) -> str:
    """Return the move that is missing, in words."""
    if at in outing.scene.sockets and goal in outing.scene.sockets:
        return f"Remove {item} from {at} and install it in {goal}."
    return f"Take {item} from {at} to {goal}."
