"""Rows of the demo against its files: what is declared comes out as it is written."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path

import pytest

from reach.dossier.dossier import Dossier
from reach.dossier.records import Cell, Row
from reach.finding import Verdict
from reach.reports.clock import clock_csv
from reach.timetables import timed

SCENES = Path(__file__).parents[2] / "scenes" / "brackenfall"


def rows(dossier: Dossier, name: str) -> list[dict[str, Cell]]:
    table = dossier.table(name)
    titles = [column.title for column in table.columns]
    return [dict(zip(titles, row.cells, strict=True)) for row in table.rows]


def row(dossier: Dossier, name: str, **wanted: Cell) -> dict[str, Cell]:
    found = [
        one
        for one in rows(dossier, name)
        if all(one[title.replace("_", " ")] == value for title, value in wanted.items())
    ]
    assert len(found) == 1, found
    return found[0]


def fasteners() -> dict[str, dict[str, str]]:
    text = [
        line
        for line in (SCENES / "fasteners.csv").read_text().splitlines()
        if not line.startswith("#")
    ]
    return {one["name"]: one for one in csv.DictReader(text)}


def newton_metres(text: str) -> float | None:
    return float(text.removesuffix(" N m")) if text else None


@pytest.mark.parametrize("version", ["demo", "mended"])
def test_bolts_have_the_turns_and_torques_of_the_file(version, request):
    told = rows(request.getfixturevalue(version), "bolts")
    written = fasteners()
    assert len(told) == 12
    for one in told:
        record = written[str(one["fastener"])]
        assert one["turns"] == float(record["turns"])
        assert [one["turns at least"], one["turns at most"]] == [
            float(part) for part in record["turns_between"].split(";")
        ]
        assert one["torque"] == newton_metres(record["torque"])
        assert one["breakaway"] == newton_metres(record["breakaway"])
        assert one["head"] == record["head"]
        assert one["if it does not go as written"] == record["if_stuck"]


def test_bolts_stand_in_the_order_in_which_they_are_turned(mended):
    order = [one["fastener"] for one in rows(mended, "bolts")]
    assert order == [
        "CB1", "CB4", "CB2", "CB3", "IB1", "IB4", "IB2", "IB3", "IP1", "IP2", "BB1", "BB2"
    ]  # fmt: skip


def test_the_bolt_out_of_order_fails_in_version_a(demo):
    assert row(demo, "bolts", fastener="CB2")["verdict"] is Verdict.FAIL
    assert row(demo, "bolts", fastener="CB1")["verdict"] is Verdict.PASS


def test_a_bolt_whose_drive_is_not_there_fails(demo):
    # X09: PT-1 was left in BG-2 at the carrier.
    assert row(demo, "bolts", fastener="IB1")["verdict"] is Verdict.FAIL


def test_restraints_are_set_as_the_steps_write_it(mended):
    first = row(mended, "restraint-settings", steps="7 SK1, 12 CB1")
    told = [first[joint] for joint in ("clocking", "pitch", "roll", "yaw")]
    assert told == ["1", "-75 deg", "+0 deg", "7"]
    assert (first["restraint"], first["place"], first["worker"]) == ("FR-1", "SK1", "W1")
    brace = row(mended, "restraint-settings", steps="34 BB1")
    told = [brace[joint] for joint in ("clocking", "pitch", "roll", "yaw")]
    assert told == ["0", "-60 deg", "-30 deg", "2"]


def test_the_timeline_ends_as_the_clock_does(mended, demo):
    for dossier, end in ((mended, "05:48"), (demo, "06:50")):
        assert dossier.timed is not None
        told = rows(dossier, "timeline")
        clock = list(csv.DictReader(clock_csv(dossier.timed).splitlines()))
        assert [one["step"] for one in told] == [one["step"] for one in clock]
        for one, other in zip(told, clock, strict=True):
            for mine, theirs in (("start", "begin"), ("end", "end"), ("slack", "slack")):
                value = one[mine]
                assert isinstance(value, float)
                assert value / 60.0 == pytest.approx(float(other[theirs]), abs=1e-3)
        hours, minutes = divmod(max(float(str(one["end"])) for one in told) / 60.0, 60.0)
        assert f"{hours:02.0f}:{minutes:02.0f}" == end


def test_the_clock_of_a_whole_run_says_what_a_run_of_its_own_says(mended):
    from reach.files.procedure import load_procedure
    from reach.files.scene import load_scene

    loaded = load_scene("brackenfall")
    alone = timed(loaded, load_procedure("mended.toml", loaded))
    assert alone is not None and mended.timed is not None
    shared = {one.check for one in mended.timed.findings}
    told = [one.because for one in alone.findings if one.check in shared]
    assert [one.because for one in mended.timed.findings] == told
    assert mended.timed.table.times == alone.table.times


def test_what_is_packed_stands_in_its_bag(mended, demo):
    packed = row(mended, "bag-packing", bag="BG-1")
    assert packed["what is in it"] == "PT-1, RW-1, S-16A, S-11A, S-8A, wire-ties"
    assert (packed["slots"], packed["slots taken"]) == (6, 6)
    assert packed["mass of what is in it"] is None  # no piece gives a mass
    full = row(demo, "bag-packing", bag="BG-1")
    assert (full["slots taken"], full["verdict"]) == (7, Verdict.FAIL)


def test_where_a_piece_is_follows_the_ledger(demo):
    told = [one for one in rows(demo, "stowage") if one["item"] == "PT-1"]
    assert [one["where it is"] for one in told] == [
        "in BG-1, at hatch", "in BG-1, on W1", "in BG-2, at RL30@2.5"
    ]  # fmt: skip
    assert all(a["until"] == b["from"] for a, b in pairwise(told))


def test_the_connector_waits_for_its_feed_and_the_night(mended, demo):
    mate = row(mended, "cables", step="38 CN1")
    assert mate["inhibits asked"] == "feed-1"
    assert mate["confirmed at"] == "feed-1 at 03:44 in step '37 feed 1'"
    assert str(mate["window"]).startswith("night: 00:52 to 01:27, 02:24 to 02:59")
    assert mate["light"] == "dark throughout, by lamp"
    late = row(demo, "cables", step="40 CN2")
    assert late["confirmed at"] == "feed-2 at 04:41 in step '41 feed 2'"
    assert late["verdict"] is Verdict.FAIL


def test_the_swap_without_a_line_in_between_is_seen(demo):
    told = [one for one in rows(demo, "tether-swaps") if one["step"] == "33 to RL09"]
    assert told[0]["what is done"] == "release"
    assert told[0]["lines that then hold the worker"] == "W2: none"
    assert all(one["verdict"] is Verdict.FAIL for one in told)


def test_the_end_state_is_what_the_next_outing_expects_or_says_no(mended, demo):
    assert row(mended, "end-state", thing="FR-1", what="place")["as expected"] == "yes"
    left = row(demo, "end-state", thing="FR-1", what="place")
    assert (left["expected"], left["found in the end"]) == ("SK3", "at SK4")
    assert (left["as expected"], left["verdict"]) == ("no", Verdict.FAIL)
    bolt = row(demo, "end-state", thing="CB1", what="state, turns")
    assert bolt["as expected"] == "nothing is declared"


def test_phases_are_told_as_they_are_declared(mended):
    release = row(mended, "contingency-phases", phase="release")
    assert release["that takes"] == 480.0
    assert release["left as"] == "boom on its carrier, held by at least two bolts, unpowered"
    assert release["done first"] == (
        "boots out, bolts that are out turned home again by two turns each"
    )


def test_who_cannot_be_brought_home_in_time_fails_and_where_no_rails_lead_is_blank(demo):
    late = row(demo, "contingency-steps", step="46 to Juniper")
    assert late["verdict"] is Verdict.FAIL
    assert float(str(late["brought in"])) == pytest.approx(1811, abs=1)
    riding = row(demo, "contingency-steps", step="14 CB4")
    assert riding["home alone"] is None and riding["brought in"] is None
    assert riding["verdict"] is not Verdict.PASS


def test_the_optional_task_has_its_entry_conditions_and_is_the_first_cut(demo):
    names = {one["step"] for one in rows(demo, "optional-tasks")}
    assert names == {"46 Crane to Juniper", "46 to Juniper", "49 to Hazel"}
    cut = rows(demo, "cut-order")[0]
    assert set(str(cut["steps that are cut"]).split(", ")) == names


def test_the_payload_is_let_go_with_nobody_holding_it(demo):
    last = row(demo, "payload-release", step="15 CB3")
    assert (last["then fixed by"], last["then held by"]) == ("nothing", "nobody")
    assert last["verdict"] is Verdict.FAIL


def test_the_crane_request_says_what_is_to_be_filled_in(demo):
    carry = row(demo, "crane-support", step="19 carry")
    assert carry["to be filled in or confirmed"] == "most speed allowed, who gives the clear calls"
    assert carry["mass carried"] == 210.0
    other = row(demo, "crane-support", step="14 Crane to Wb")
    assert other["to be filled in or confirmed"] == "most speed allowed"


def test_bodies_that_were_not_run_are_said_not_to_be_asked(demo):
    told = rows(demo, "differences")
    others = [one for one in told if one["run for"] == "other sizes and hands"]
    assert len(others) * 2 == len(told)
    assert all(one["verdict"] is Verdict.NOT_ASKED for one in others)
    assert all(one["size"] == "not asked" for one in others)


def test_without_an_older_version_changes_are_not_asked(demo):
    table = demo.table("changes")
    assert not table.rows
    assert table.nothing.startswith("Not asked")


def test_limits_and_assumptions_name_what_rests_on_them(demo):
    gap = row(demo, "limits", limit="rail_gap")
    assert (gap["value"], gap["mark"]) == ("0.920 m", "from memory")
    named = next(one for one in demo.table("limits").rows if one.cells[0] == "rail_gap")
    assert isinstance(named, Row) and named.answers
    assert all(
        any(limit.name == "rail_gap" for limit in demo.outcome.findings[k].limits)
        for k in named.answers
    )
    marks = {one["mark"] for one in rows(demo, "assumptions")}
    assert marks and "published" not in marks


def test_a_card_tells_the_stay_of_a_worker_at_a_socket(mended):
    card = next(one for one in mended.cards if one.place == "SK1")
    assert card.worker == "W1"
    assert [row.cells[1] for row in card.bolts.rows] == ["CB1", "CB2"]
    assert ("restraint", "FR-1") in card.stands
    assert (
        "set for 7 SK1, 12 CB1", "clocking 1, pitch -75 deg, roll +0 deg, yaw 7"
    ) in card.stands  # fmt: skip
    assert card.stems
    said = " ".join(card.if_stuck)
    assert "CB1, CB2: stop, back off two turns, ratchet RW-1" in said
    assert "Home from SK1 to hatch by RL03, RL02, RL01: 11.3 min by oneself" in said
    lines = [row.cells[:3] for row in card.tether.rows]
    assert lines == [("ST-1", "AN-01", 24.0)]


def test_a_card_says_so_where_nothing_is_declared(mended):
    card = next(one for one in mended.cards if one.place == "RL30-body-tether")
    assert "The scene declares nothing for CN0 if turning or mating does not go." in card.if_stuck


@pytest.mark.parametrize(
    ("title", "line"), [("W1 at SK3", "ST-1"), ("W1 at SK4", "ST-1"), ("W2 at Wd", "ST-2")]
)
def test_a_card_does_not_pass_a_line_that_is_too_short_for_its_place(demo, title, line):
    card = next(one for one in demo.cards if one.title.startswith(f"{title}:"))
    row = next(row for row in card.tether.rows if row.cells[0] == line)
    assert row.cells[-1] is Verdict.FAIL
    assert set(row.answers) & set(card.answers)


@pytest.mark.parametrize("title", ["W2 at SK6", "W1 at SK1"])
def test_a_line_that_reaches_the_place_does_not_fail_for_the_way_farther_on(demo, title):
    card = next(one for one in demo.cards if one.title.startswith(f"{title}:"))
    assert card.tether.rows[0].cells[-1] is Verdict.PASS


def test_a_card_tells_of_what_is_open_in_the_step_of_somebody_else(demo):
    card = next(one for one in demo.cards if one.title.startswith("W2 at Wa:"))
    told = [demo.outcome.findings[k] for k in card.answers]
    assert [one.step for one in told if one.check == "meeting" and one.verdict is Verdict.OPEN]
