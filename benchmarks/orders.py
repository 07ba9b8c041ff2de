"""All orders of four lanes of 15 steps: what they hold, how long rules take, how many there are.

In the worst cases every step writes what every rule reads and next to nothing waits; an
outing's steps write a few of many variables, in three events each.
"""

from __future__ import annotations

import random
import time
from collections import Counter
from dataclasses import replace

from reach.orders import (
    Add,
    At,
    AtLeast,
    Event,
    Is,
    Join,
    Leave,
    Link,
    Not,
    Rule,
    Some,
    examine,
    fixes,
    n_orders,
)

N_LANES, N_STEPS, N_RULES = 4, 15, 40
LINKS = (Link("0.3", "1.7"), Link("1.9", "2.3"), Link("2.4", "3.12"))


def lanes_of(writes, n_events: int = 1) -> dict[str, list[Event]]:
    """Return lanes whose events write what ``writes(lane, step, event)`` says."""
    return {
        f"lane {lane}": [
            Event(
                f"{lane}.{step}",
                f"lane {lane}",
                writes(lane, step, n),
                name=f"{lane}.{step}" + (f" {n}" if n_events > 1 else ""),
            )
            for step in range(N_STEPS)
            for n in range(n_events)
        ]
        for lane in range(N_LANES)
    }


def without_races():
    """Every step changes every variable; no order tells."""

    def writes(lane, step, _):
        kind = (Join if step % 2 else Leave)(f"hook {lane}")
        return {f"set {n}": kind for n in range(N_RULES)} | {
            f"sum {n}": Add(n) for n in range(N_RULES)
        }

    start = {f"set {n}": frozenset() for n in range(N_RULES)}
    start |= {f"sum {n}": 0 for n in range(N_RULES)}
    rules = [
        Rule(str(n), Some((AtLeast(f"set {n}", 5), AtLeast(f"sum {n}", 0)))) for n in range(N_RULES)
    ]
    return lanes_of(writes), start, rules


def with_races():
    """Every step puts every item somewhere: at most cuts it may be in any of seven places."""
    rng = random.Random(3)

    def writes(*_):
        return {f"item {n}": rng.choice("abcdef") for n in range(N_RULES)}

    start = {f"item {n}": "lock" for n in range(N_RULES)}
    rules = [
        Rule(str(n), Some(tuple(Is(f"item {n}", x) for x in [*"abcdef", "lock"])))
        for n in range(N_RULES)
    ]
    return lanes_of(writes), start, rules


def outing():
    """Three events a step, each of which writes one or two of 30 variables."""
    rng = random.Random(5)
    start = {f"set {n}": frozenset("a") for n in range(15)} | {
        f"item {n}": "lock" for n in range(15)
    }

    def writes(*_):
        chosen = rng.sample(sorted(start), rng.choice([0, 1, 2]))
        return {
            name: rng.choice("uvw")
            if name[0] == "i"
            else rng.choice([Join, Leave])(rng.choice("abc"))
            for name in chosen
        }

    rules = [
        Rule(
            str(n),
            Some((AtLeast(f"set {n % 15}", 1 + n % 2), Not(Is(f"item {(7 * n) % 15}", "u")))),
        )
        for n in range(N_RULES)
    ]
    return lanes_of(writes, 3), start, rules


def changed(lanes, lane: str, n: int, writes) -> None:
    """Let the n-th event of a lane write more."""
    event = lanes[lane][n]
    lanes[lane][n] = replace(event, writes={**event.writes, **writes})


def mend() -> None:
    """Time the fixes where steps of two lanes want the same restraint, and a third a hold."""
    lanes, start, _ = outing()
    for lane, step in ((0, 4), (1, 7)):
        changed(lanes, f"lane {lane}", 3 * step, {"FR-1": f"socket {lane}"})
    changed(lanes, "lane 0", 14, {"holders": Leave("W1")})
    changed(lanes, "lane 2", 20, {"holders": Join("W2")})
    changed(lanes, "lane 2", 32, {"holders": Leave("W2")})
    changed(lanes, "lane 3", 30, {"holders": Join("W3")})
    start |= {"FR-1": "rest", "holders": frozenset({"W1"})}
    wanted = Rule("FR-1", Is("FR-1", "socket 0"), At("0.4 2"))
    held = Rule("held", AtLeast("holders", 1))
    for rule in (wanted, held):
        begin, cpu = time.perf_counter(), time.process_time()
        found = fixes(lanes, LINKS, start, rule)
        took, cpu = time.perf_counter() - begin, time.process_time() - cpu
        print(
            f"  fixes of {rule.name!r}: {took:.2f} s ({cpu:.2f} s CPU), {found.n_tried} tried, "
            f"{' or '.join(' and '.join(map(str, one)) for one in found.links) or 'none'}"
        )


def main() -> None:
    """Print the table."""
    print(f"\n{N_RULES} rules over all orders of {N_LANES} lanes of {N_STEPS} steps (goal 2 s)")
    for name, made, links in (
        ("every step writes all, no races", without_races, ()),
        ("every step writes all, all race", with_races, ()),
        ("the same with three links", with_races, LINKS),
        ("three events a step, few variables", outing, LINKS),
    ):
        lanes, start, rules = made()
        begin, cpu = time.perf_counter(), time.process_time()
        rulings = examine(lanes, links, start, rules)
        took, cpu = time.perf_counter() - begin, time.process_time() - cpu
        n_states = max(one.n_states for one in rulings)
        answers = ", ".join(f"{n} {a}" for a, n in Counter(one.answer for one in rulings).items())
        print(f"  {name:36s} {took:6.2f} s ({cpu:.2f} s CPU)  {n_states:8,} states  {answers}")
    mend()
    lanes, _, _ = with_races()
    for links in ((), LINKS):
        begin = time.perf_counter()
        count = n_orders(lanes, links)
        print(f"  {count:.3e} orders, {len(links)} links: {time.perf_counter() - begin:.2f} s")


if __name__ == "__main__":
    main()
