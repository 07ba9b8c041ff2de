"""Small random procedures and the plain way to judge them: every order, one by one."""

import random
from itertools import pairwise

from reach.orders import (
    Add,
    All,
    Always,
    Among,
    At,
    AtEnd,
    AtLeast,
    AtMost,
    Event,
    Has,
    Is,
    Join,
    Leave,
    Link,
    Not,
    Put,
    Rule,
    Same,
    Some,
    While,
)

START = {"hooks": frozenset({"a"}), "held": frozenset(), "n": 0, "at": "lock", "by": "W1", "m": 1}
SETS, WORDS = ("hooks", "held"), ("at", "by")


def precedence(lanes, links):
    """Return event name -> names of events done before, by lanes and links alone."""
    events = [event for several in lanes.values() for event in several]
    before = {event.name: set() for event in events}
    for several in lanes.values():
        for one, other in pairwise(several):
            before[other.name].add(one.name)
    steps = {}
    for event in events:
        steps.setdefault(event.step, []).append(event.name)
    for link in links:
        first = link.first if link.first in before else steps[link.first][-1]
        then = link.then if link.then in before else steps[link.then][0]
        before[then].add(first)
    return {event: before[event.name] for event in events}


def true(condition, values):
    match condition:
        case Not(inner):
            return not true(inner, values)
        case All(several):
            return all(true(one, values) for one in several)
        case Some(several):
            return any(true(one, values) for one in several)
        case Is(name, value):
            return values[name] == value
        case Among(name, wanted):
            return values[name] in wanted
        case Has(name, element):
            return element in values[name]
        case AtLeast(name, n):
            return amount(values[name]) >= n
        case AtMost(name, n):
            return amount(values[name]) <= n
        case Same(name, other):
            return values[name] == values[other]


def amount(value):
    return len(value) if isinstance(value, frozenset) else value


def changed(values, event):
    values = dict(values)
    for name, effect in event.writes.items():
        match effect:
            case Put(value):
                values[name] = value
            case Add(number):
                values[name] += number
            case Join(elements):
                values[name] = values[name] | elements
            case Leave(elements):
                values[name] = values[name] - elements
    return values


def first_break(order, rule, start):
    """Return how many events of an order break a rule, ``None`` if none do."""
    values, done = start, 0
    total = {}
    for event in order:
        total[event.step] = total.get(event.step, 0) + 1
    so_far = dict.fromkeys(total, 0)
    while True:
        following = order[done] if done < len(order) else None
        match rule.when:
            case Always():
                asked, extra = True, 0
            case AtEnd():
                asked, extra = following is None, 0
            case While(step):
                asked, extra = 0 < so_far[step] < total[step], 0
            case At(name):
                asked = following is not None and following.name == name
                extra = 1
        if asked and not true(rule.condition, values):
            return done + extra
        if following is None:
            return None
        values, done = changed(values, following), done + 1
        so_far[following.step] += 1


def written_out(before, rules, start):
    """Return the number of all orders, and for each rule the length of the shortest that breaks it.

    Every order is walked event by event; orders share the walk as far as they are the same.
    """
    total = {}
    for event in before:
        total[event.step] = total.get(event.step, 0) + 1
    shortest, n_whole = [len(before) + 1] * len(rules), 0

    def note(done, values, free):
        so_far = dict.fromkeys(total, 0)
        for event in done:
            so_far[event.step] += 1
        for i, rule in enumerate(rules):
            n = len(done)
            if n >= shortest[i]:
                continue
            match rule.when:
                case Always():
                    asked = True
                case AtEnd():
                    asked = n == len(before)
                case While(step):
                    asked = 0 < so_far[step] < total[step]
                case At(name):
                    asked, n = any(event.name == name for event in free), n + 1
            if asked and n < shortest[i] and not true(rule.condition, values):
                shortest[i] = n

    def walk(done, names, values):
        nonlocal n_whole
        n_whole += len(done) == len(before)
        free = [e for e, waits in before.items() if e.name not in names and waits <= names]
        note(done, values, free)
        for event in free:
            walk([*done, event], names | {event.name}, changed(values, event))

    walk([], frozenset(), start)
    return n_whole, [n if n <= len(before) else None for n in shortest]


def random_procedure(seed, most_events=9):
    """Return lanes, links, start values and rules of a small random procedure."""
    rng = random.Random(seed)
    n_lanes = rng.randint(2, 4)
    n_events = rng.randint(n_lanes, most_events if n_lanes < 4 else min(most_events, 8))
    of_lane = sorted(rng.choices(range(n_lanes), k=n_events))
    lanes = {f"L{lane}": [] for lane in range(n_lanes)}
    step = 0
    for n, lane in enumerate(of_lane):
        several = lanes[f"L{lane}"]
        step += not several or rng.random() < 0.6
        several.append((f"s{step}", f"e{n}"))
    made = {
        lane: [
            Event(step, lane, random_writes(rng), name=name, needs=random_needs(rng))
            for step, name in several
        ]
        for lane, several in lanes.items()
    }
    links = random_links(rng, made)
    rules = [random_rule(rng, made, n) for n in range(6)]
    return made, links, START, rules


def random_writes(rng):
    writes = {}
    for _ in range(rng.choice([0, 1, 1, 2])):
        name = rng.choice(list(START))
        if name in SETS:
            element = rng.choice("abc")
            writes[name] = rng.choice(
                [Join(element), Leave(element), Join(element), Put(frozenset(element))]
            )
        elif name in WORDS:
            writes[name] = rng.choice(["lock", "W1", "W2", None])
        else:
            writes[name] = rng.choice([Add(1), Add(-1), Add(2), Put(0)])
    return writes


def random_needs(rng):
    return (random_condition(rng, 0),) if rng.random() < 0.1 else ()


def random_links(rng, lanes):
    """Return links that make no circle: each goes forward in one hidden order."""
    hidden, left = [], {lane: list(several) for lane, several in lanes.items() if several}
    while left:
        lane = rng.choice(list(left))
        hidden.append(left[lane].pop(0))
        left = {lane: several for lane, several in left.items() if several}
    links = []
    for _ in range(rng.choice([0, 0, 1, 2, 3])):
        first, then = sorted(rng.sample(range(len(hidden)), 2)) if len(hidden) > 1 else (0, 0)
        if hidden[first].lane != hidden[then].lane:
            links.append(Link(hidden[first].name, hidden[then].name))
    return links


def random_condition(rng, depth=1):
    if depth and rng.random() < 0.5:
        inner = tuple(random_condition(rng, depth - 1) for _ in range(2))
        return rng.choice([All(inner), Some(inner), Not(Some(inner)), Not(inner[0])])
    name = rng.choice(list(START))
    if name in SETS:
        return rng.choice(
            [
                Has(name, rng.choice("abcd")),
                AtLeast(name, 1),
                AtMost(name, 1),
                Not(Is(name, frozenset("ab"))),
                Among(name, frozenset({frozenset(), frozenset("a")})),
            ]
        )
    if name in WORDS:
        return rng.choice(
            [
                Is(name, "lock"),
                Not(Is(name, "W2")),
                Among(name, frozenset({"W1", None})),
                Same("at", "by"),
            ]
        )
    return rng.choice([AtLeast(name, 0), AtMost(name, 2), Not(Is(name, 3)), Same("n", "m")])


def random_rule(rng, lanes, n):
    events = [event for several in lanes.values() for event in several]
    steps = [event.step for event in events]
    long = [step for step in steps if steps.count(step) > 1]
    whens = [Always(), Always(), At(rng.choice(events).name), AtEnd()]
    if long:
        whens += [While(rng.choice(long))] * 2
    return Rule(f"r{n}", random_condition(rng, 2), rng.choice(whens))


def random_handovers(seed):
    """Return lanes that take and let go in turn, links, start, and a rule on how many hold."""
    rng = random.Random(seed)
    n_lanes = rng.choice([2, 3])
    lanes, held = {}, set()
    for lane in [f"L{n}" for n in range(n_lanes)]:
        holds = rng.random() < 0.5
        held |= {lane} if holds else set()
        lanes[lane] = []
        for n in range(rng.choice([1, 2, 2, 3]) if n_lanes == 2 else rng.choice([1, 1, 2])):
            writes = {"held": Leave(lane) if holds else Join(lane)} if rng.random() < 0.8 else {}
            holds = not holds if writes else holds
            step = f"{lane}{n - (n > 0 and rng.random() < 0.3)}"
            lanes[lane].append(Event(step, lane, writes, name=f"{lane}.{n}"))
    many = tuple(rng.sample([AtLeast("held", 1), AtMost("held", 1), AtMost("held", 2)], 2))
    return lanes, [], {"held": frozenset(held)}, [Rule("held", rng.choice([All(many), many[0]]))]


def random_hooks(seed):
    """Return lanes that put hooks on and take them off, links, start, and that one must be on."""
    rng = random.Random(seed)
    lanes = {
        lane: [
            Event(f"{lane}{n}", lane, {"hooks": rng.choice([Join, Leave])(rng.choice("ab"))})
            for n in range(n_steps)
        ]
        for lane, n_steps in (("W1", rng.choice([2, 3])), ("W2", rng.choice([0, 1])))
    }
    links = [Link("W10", "W20")] if lanes["W2"] and rng.random() < 0.5 else []
    return lanes, links, {"hooks": frozenset("a")}, [Rule("hooked", AtLeast("hooks", 1))]
