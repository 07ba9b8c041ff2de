"""Tables of a whole outing: what is read from TOML and from spreadsheets, and what is refused."""

import math

import pytest

from reach.files.holders import bag_circles
from reach.files.overlaps import overlap_of
from reach.files.people import load_population
from reach.files.problem import InputError
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.model.handling import Attach, Confirm, GloveCheck, Lay, Stow
from reach.model.outing import Ends, Kept
from reach.model.procedure import Step
from reach.situations import resolve

HEAD = """\
format = 1
lanes = { W1 = "worker", IN = "inside lead" }
[tables]
items = "stowage.csv"
"""
STOWAGE = """\
item,in,tied
# the bag hangs on the anchor
BG-A,AN-A,yes
PD-A,BG-A,
B16-A,PD-A,No
"""


@pytest.fixture
def written(starter):
    """Return a function that writes a procedure and its tables, and loads it."""

    def load(text, **tables):
        for name, rows in tables.items():
            (starter / f"{name}.csv").write_text(rows, encoding="utf-8")
        (starter / "outing.toml").write_text(text, encoding="utf-8")
        return load_procedure("outing.toml", load_scene(starter))

    return load


def problems(written, text, **tables):
    with pytest.raises(InputError) as caught:
        written(text, **tables)
    return [str(problem) for problem in caught.value.problems]


def test_what_holds_which_item_can_be_a_table(written):
    loaded = written(HEAD, stowage=STOWAGE)
    assert loaded.procedure.begin.items == {
        "BG-A": Kept.model_validate({"in": "AN-A", "tied": True}),
        "PD-A": Kept.model_validate({"in": "BG-A"}),
        "B16-A": Kept.model_validate({"in": "PD-A", "tied": False}),
    }
    assert list(loaded.files) == ["site/outing.toml", "site/stowage.csv"]


def test_a_table_adds_to_what_the_file_says_of_the_begin(written):
    begin = '[begin.items]\nFR-A = "SA"\n[begin.workers]\nW1 = "SA"\n'
    begin += '[begin.lines]\nLN-A = { hook = "AN-A" }\n'
    text = HEAD.replace('"stowage.csv"\n', '"stowage.csv"\nlines = "lines.csv"\n') + begin
    loaded = written(text, stowage=STOWAGE, lines="line,hook,reel\nLN-B,AN-B,W1\n").procedure
    assert list(loaded.begin.items) == ["FR-A", "BG-A", "PD-A", "B16-A"]
    assert loaded.begin.workers == {"W1": "SA"}
    assert loaded.begin.lines == {
        "LN-A": Ends(hook="AN-A"),
        "LN-B": Ends(hook="AN-B", reel="W1"),
    }


@pytest.mark.parametrize("first", ["\ufeffitem,in,tied", '"item","in","tied"'])
def test_a_table_may_come_from_a_spreadsheet(written, first):
    rows = STOWAGE.replace("item,in,tied", first).replace("\n", "\r\n") + ",,\r\n"
    assert len(written(HEAD, stowage=rows).procedure.begin.items) == 3


def test_a_short_form_and_a_long_one_say_the_same(written):
    short = '[begin.items]\nFR-A = "SA"\n'
    long = '[begin.items]\nFR-A = { in = "SA", tied = true }\n'
    head = HEAD.replace('items = "stowage.csv"\n', "")
    assert written(head + short).procedure == written(head + long).procedure


def test_the_place_of_a_problem_is_where_it_is_written(written):
    text = HEAD + '[begin.items]\nFR-A = "SB"\nBG-A = { in = "AN-B" }\n'
    assert problems(written, text, stowage=STOWAGE.replace("PD-A,BG-A", "PD-A,BG-B")) == [
        "site/stowage.csv:3: item: duplicate name 'BG-A': already given in site/outing.toml:7",
        "site/stowage.csv:4: in: unknown holder 'BG-B'; did you mean 'BG-A'?",
        "site/outing.toml:6: begin.items.FR-A: unknown holder 'SB'; did you mean 'SA'?",
    ]


def test_a_circle_of_bags_is_found_across_files(written):
    text = HEAD + '[begin.items]\nFR-A = "BG-A"\n'
    found = problems(written, text, stowage="item,in\nBG-A,FR-A\n")
    assert found[-1].endswith("bags go round in a circle: FR-A in BG-A in FR-A")


def test_a_circle_is_told_once_and_what_leads_into_it_is_none():
    held = {"a": "b", "b": "c", "c": "b", "d": "W1"}
    assert [item for item, _ in bag_circles(held)] == ["b"]


def test_settings_of_the_begin_are_read_like_those_of_a_step(written):
    setting = '{ clocking = 3, pitch = "15 deg", roll = 0, yaw = 0 }'
    text = HEAD.replace('items = "stowage.csv"\n', "") + f"[begin.settings]\nFR-A = {setting}\n"
    found = written(text).procedure.begin.settings["FR-A"]
    assert found == {"clocking": 3, "pitch": pytest.approx(math.pi / 12), "roll": 0, "yaw": 0}


STEPS = """\
name,lane,start,duration,between,with,optional,do,what,item,items,to,checked,of,through,inhibit,tied
a,W1,00:10,5 min,4 min;6 min,IN,2.5,attach,LN-B,,,W1,yes,,,,
,,,,,,,lay,,BG-A,,PB1,,,AN-A;RA,,
,,,,,,,stow,,,BG-A;PD-A,AN-B,,,,,false
b,IN,00:15,60,,,,glove check,,,,,,W1,,,
,,,,,,,confirm,,,,,,,,feed,
"""


def test_every_action_of_an_outing_can_stand_in_a_row(written):
    head = HEAD.replace("items = ", "steps = ").replace("stowage", "steps")
    loaded = written(head + "[inhibits]\nfeed = {}\n", steps=STEPS).procedure
    first, second = loaded.steps
    assert (first.between, first.others, first.optional) == ((240.0, 360.0), ("IN",), 2.5)
    assert first.actions == (
        Attach(do="attach", what="LN-B", to="W1", checked=True),
        Lay(do="lay", item="BG-A", to="PB1", through=("AN-A", "RA")),
        Stow(do="stow", items=("BG-A", "PD-A"), to="AN-B", tied=False),
    )
    assert second.actions == (
        GloveCheck(do="glove check", of=("W1",)),
        Confirm(do="confirm", inhibit="feed"),
    )


@pytest.mark.parametrize(
    ("first", "second", "seconds"),
    [
        (("00:10", "6 min"), ("00:16", "6 min"), 0.0),
        (("00:10", "6 min"), ("00:09", "30 min"), 360.0),
        (("00:10", "6 min"), ("00:15:59", "6 min"), 1.0),
        (("00:10", "6 min"), ("00:12", "0 s"), 0.0),
        ((None, "6 min"), ("00:10", "6 min"), 0.0),
        (("00:10", None), ("00:10", "6 min"), 0.0),
    ],
)
def test_how_long_two_steps_are_at_once(first, second, seconds):
    steps = [
        Step(name=name, lane="W1", start=start, duration=duration)
        for name, (start, duration) in (("a", first), ("b", second))
    ]
    assert overlap_of(*steps) == overlap_of(*reversed(steps)) == pytest.approx(seconds)


def test_a_step_is_in_the_lanes_it_is_done_with(written):
    text = (
        HEAD.replace('items = "stowage.csv"\n', "")
        + """
[[steps]]
name = "a"
lane = "W1"
start = 0
duration = 100
[[steps]]
name = "b"
lane = "IN"
with = ["W1"]
start = 99.9999999
duration = 60
[[steps]]
name = "c"
lane = "IN"
with = ["W1"]
start = 90
duration = 60
"""
    )
    assert problems(written, text) == [
        "site/outing.toml:20: steps[3].start: overlaps 'a' by 10.0 s in lane W1",
        "site/outing.toml:20: steps[3].start: overlaps 'b' by 50.0 s in lanes IN, W1",
    ]


MOVES = """
format = 1
lanes = { W1 = "worker" }
[begin]
workers = { W1 = "SA" }
[[steps]]
name = "up"
lane = "W1"
actions = [{ do = "translate", to = "RA" }]
[[steps]]
name = "out again"
lane = "W1"
actions = [{ do = "egress", from = "H" }, { do = "translate", to = "SA" }]
"""


def test_where_workers_begin_and_the_hatch_they_come_out_of_need_not_be_said_again(starter):
    with (starter / "scene.toml").open("a") as file:
        file.write("\n[hatches.H]\nat = [-1, 0, 1]\n")
    (starter / "moves.toml").write_text(MOVES)
    loaded = load_scene(starter)
    procedure = load_procedure("moves.toml", loaded).procedure
    _, situations = resolve(loaded.scene, loaded.meshes, procedure, load_population)
    ways = [(one.passage.start, one.passage.stop) for one in situations if one.passage]
    assert ways == [("SA", "RA"), ("H", "SA")]
    (starter / "moves.toml").write_text(MOVES.replace('W1 = "SA"', ""))
    with pytest.raises(InputError, match="it is not known where the worker is"):
        load_procedure("moves.toml", loaded)
