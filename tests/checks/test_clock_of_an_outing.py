"""The clock's checks on an invented outing of 55 steps as written, with the faults planted in it.

Times and lanes are those of version A of the demo's outing; what is not of the clock is left out.
"""

import pytest
from clocking import CHECK, IN, MINUTE, OUT, WORK, asked, place

from reach.checks import check_named
from reach.finding import Verdict

# step, written start, minutes, lanes
WRITTEN = """
1 00:00 8 A;  2 00:08 6 B;  3 00:14 6 A;  4 00:14 6 B;  5 00:20 8 A;  6 00:20 8 B
7 00:28 6 A;  8 00:28 6 B;  9 00:34 6 B;  10 00:34 10 CO; 11 00:44 6 B; 12 00:50 10 A
13 01:00 6 A; 14 01:06 8 B; 15 01:14 8 B; 16 01:22 3 B; 17 01:25 6 A; 18 01:31 6 A
19 01:37 22 CO B; 20 01:37 14 A; 21 01:51 8 A; 22 01:59 5 CO; 23 02:04 8 B; 24 02:12 3 A
25 02:15 9 A B; 26 02:24 6 A; 27 02:30 6 A; 28 02:36 6 A; 29 02:42 6 A; 30 02:48 6 A
31 02:54 6 B; 32 03:00 4 A B; 33 03:04 8 B; 34 03:12 10 B; 35 03:22 8 A; 36 03:30 10 A
37 03:40 10 B; 38 04:01 10 A; 39 04:11 10 B; 40 04:22 12 B; 41 04:36 5 IN; 42 04:41 4 A B
43 04:45 12 A; 44 04:57 10 B; 45 05:07 15 CO; 46 05:07 20 CO B; 47 05:27 8 A; 48 05:35 10 A
49 05:45 12 B; 50 05:57 14 A; 51 06:05 14 B; 52 06:23 6 A B; 53 06:29 8 A; 54 06:37 8 B
55 06:45 5 IN
"""
CHECKED = {
    **{str(n): ["A", "B"] for n in (8, 17, 21, 25, 29, 32, 35, 37, 39, 42, 44, 47)},
    **{"48": ["A"], "49": ["B"], "50": ["A"], "51": ["B"]},
}
ACTIONS = {
    "1": [OUT], "2": [OUT], "53": [IN], "54": [IN],
    "9": [{"do": "demate", "fastener": "C0"}],
    "38": [{"do": "mate", "fastener": "C1"}],
    "40": [{"do": "mate", "fastener": "C2"}],
    "10": [{"do": "move crane", "to": "tip"}],
}  # fmt: skip
NIGHTS = [["00:52", "01:27"], ["02:24", "02:59"], ["03:56", "04:31"], ["05:28", "06:03"]]
TABLES = {
    "windows": {"night": {"spans": NIGHTS, "margin": "5 min", "dark": True}},
    "guards": {"C1": {"window": "night"}, "C2": {"window": "night"}},
    "clocks": {"boom": {"from": "C0", "to": "C1", "limit": "205 min", "title": "Boom unpowered"}},
}


def steps():
    for part in WRITTEN.replace("\n", ";").split(";"):
        if part.strip():
            name, start, minutes, lane, *others = part.split()
            actions = list(ACTIONS.get(name, [WORK]))
            if name in CHECKED:
                actions.append({**CHECK, "of": CHECKED[name]})
            more = {"optional": 1} if name in ("46", "49") else {}
            if name in ("9", "38", "40"):
                more["where"] = "S"
            yield {
                "name": name, "lane": lane, "start": start, "duration": f"{minutes} min",
                "with": others, "actions": actions, **more,
            }  # fmt: skip


@pytest.fixture(scope="module")
def outing():
    more = {"C2": {"at": [3.0, 0.1, 0.7], "axis": [0, 1, 0], "kind": "connector"}}
    return asked(place(fasteners=more), *steps(), **TABLES)


def fails(outing, check):
    found = check_named(check).find(*outing)
    assert found
    return [one for one in found if one.verdict is Verdict.FAIL]


def test_the_end_is_20_minutes_late_and_the_ride_with_its_way_back_is_cut(outing):
    (late,) = fails(outing, "outing")
    assert (late.step, late.low) == ("55", -20 * MINUTE)
    assert late.numbers["cut"] == ["46", "49"]
    assert late.fix.startswith("Cut '46' and '49': closed up in the written order it ends at 06:")


def test_gloves_go_57_minutes_unchecked_by_step_17(outing):
    found = fails(outing, "glove-check")
    assert [(one.about, one.step, one.low) for one in found] == [
        (("A",), "17", -22 * MINUTE),
        (("B",), "17", -22 * MINUTE),
    ]
    # 01:09 is the latest; step 13 of A ends at 01:06, step 11 of B at 00:50.
    assert found[0].fix == "Glove check of A at 01:06 (end of '13'), 01:09 at the latest."


def test_one_mate_leaves_its_night_and_the_other_just_fits(outing):
    (late,) = fails(outing, "window")
    assert (late.step, late.low) == ("40", -8 * MINUTE)
    assert late.fix == ("Begin by 04:14 at the latest, or at 05:33 in 05:28 to 06:03, for 12 min.")
    fits = next(one for one in check_named("window").find(*outing) if one.step == "38")
    assert fits.low == 0.0


def test_unpowered_for_211_minutes(outing):
    (long,) = fails(outing, "unpowered")
    assert (long.step, long.low) == ("38", -6 * MINUTE)
    assert "Begin step '9' at 00:40 at the earliest" in long.fix


def test_the_crane_is_in_two_places(outing):
    (found,) = fails(outing, "device")
    assert (found.step, found.about) == ("46", ("CO", "Arm", "45"))


def test_nothing_else_of_the_clock_is_wrong(outing):
    assert fails(outing, "lanes") == []
    waits = [one.because for one in check_named("lanes").find(*outing)]
    assert all("all workers wait" in words for words in waits)
