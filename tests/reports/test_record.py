"""The JSON and the CSV: complete, the same bytes every time, nothing of this computer in them."""

from __future__ import annotations

import csv
import io
import json
import math
from typing import Any

import numpy as np
from jsonschema import Draft202012Validator

from reach.reports.record import COLUMNS, SCHEMA, to_csv, to_json
from reach.reports.record_schema import findings_schema
from reports.outcomes import MIXED, finding, outcome


def read() -> dict[str, Any]:
    data: dict[str, Any] = json.loads(to_json(outcome()))
    return data


def test_the_schema_is_a_schema_and_the_json_fits_it() -> None:
    schema = findings_schema()
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(read())


def test_the_schema_refuses_what_is_not_ours() -> None:
    data = read()
    data["findings"][0]["verdict"] = "fine"
    del data["cautions"]
    errors = [e.validator for e in Draft202012Validator(findings_schema()).iter_errors(data)]
    assert sorted(errors) == ["enum", "required"]


def test_every_finding_is_there_in_order_with_verdict_and_margin() -> None:
    data = read()
    assert data["schema"] == SCHEMA
    assert [f["verdict"] for f in data["findings"]] == [str(f.verdict) for f in MIXED]
    assert data["findings"][0]["margin"] == {"low": 0.11, "high": 0.16, "unit": "m"}
    assert data["counts"] == {"fail": 5, "open": 2, "review": 1, "pass": 5, "not asked": 1}
    assert data["exit_code"] == 1


def test_an_end_that_is_not_known_is_null() -> None:
    margins = [f["margin"] for f in read()["findings"]]
    assert {"low": None, "high": None, "unit": "m"} in margins
    assert {"low": 0.12, "high": None, "unit": "m"} in margins


def test_values_come_with_source_and_mark() -> None:
    first = read()["assumptions"][0]
    assert first == {
        "path": "limits.body_clearance",
        "value": "0.100 m",
        "source": "Hollin yard handbook",
        "place": "page 3",
        "mark": "invented for the demo",
        "note": "Replace it.",
    }


def test_the_limit_that_decides_is_told() -> None:
    clearance = next(f for f in read()["findings"] if f["check"] == "clearance")
    assert clearance["limits"][0]["name"] == "body_clearance"
    assert clearance["limits"][0]["value"] == 0.1


def test_the_bytes_are_the_same_every_time_whatever_the_clock_says() -> None:
    assert to_json(outcome()) == to_json(outcome(seconds=99.0))
    assert to_csv(outcome()) == to_csv(outcome(seconds=99.0))


def test_no_folder_of_this_computer_is_told() -> None:
    assert [i["file"] for i in read()["inputs"]] == ["hollin/scene.toml", "two-bolts.toml"]
    assert "/home" not in to_json(outcome())


def test_evidence_of_any_kind_is_written_as_plain_numbers() -> None:
    evidence = {
        "z": np.float64(1.5),
        "a": np.array([[1.0, np.nan]]),
        "deep": {"tuple": (1, True, None), 2: "two"},
        "far": math.inf,
    }
    odd = finding("reach", 0.1, 0.2, numbers=evidence)
    numbers = json.loads(to_json(outcome((odd,))))["findings"][0]["numbers"]
    assert numbers == {
        "a": [[1.0, None]],
        "deep": {"2": "two", "tuple": [1, True, None]},
        "far": None,
        "z": 1.5,
    }
    assert list(numbers) == sorted(numbers)


def test_the_order_in_which_evidence_was_gathered_does_not_show() -> None:
    one = finding("reach", 0.1, 0.2, numbers={"a": 1, "b": 2})
    two = finding("reach", 0.1, 0.2, numbers={"b": 2, "a": 1})
    assert to_json(outcome((one,))) == to_json(outcome((two,)))


def test_the_csv_has_one_row_a_finding() -> None:
    rows = list(csv.DictReader(io.StringIO(to_csv(outcome()))))
    assert tuple(rows[0]) == COLUMNS
    assert [row["verdict"] for row in rows] == [str(f.verdict) for f in MIXED]
    assert rows[0]["about"] == "W1; IB2; PT-1; SK3"
    clearance = next(row for row in rows if row["check"] == "clearance")
    assert (clearance["limit"], clearance["limit_value"]) == ("body_clearance", "0.1")
    assert rows[1]["high"] == ""


def test_a_cause_is_told_in_both() -> None:
    left = finding("present", -1.0, -1.0, numbers={"cause": "BG-2 is at RL30."})
    told = outcome((left, *MIXED))
    assert [f["cause"] for f in json.loads(to_json(told))["findings"]][:2] == [
        "BG-2 is at RL30.",
        "",
    ]
    rows = list(csv.DictReader(io.StringIO(to_csv(told))))
    assert [row["cause"] for row in rows][:2] == ["BG-2 is at RL30.", ""]
    Draft202012Validator(findings_schema()).validate(json.loads(to_json(told)))


def test_an_empty_run_still_has_its_columns_and_its_cautions() -> None:
    assert to_csv(outcome(())) == ",".join(COLUMNS) + "\n"
    assert len(json.loads(to_json(outcome(())))["cautions"]) == 10
