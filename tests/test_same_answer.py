"""The same question gets the same answer: anywhere, at any time, by any number of threads."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest

from reach.files.starter import write_starter

REFERENCE = Path(__file__).parent / "reference" / "starter.json"
WITHIN = 1e-6
"""By so much (SI) margins may differ between platforms; on one they are the same to the bit."""

SETTINGS = {
    "seed 0, UTC": {"PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C", "NUMBA_NUM_THREADS": "1"},
    "seed 7, far east": {
        "PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland", "LC_ALL": "de_DE.UTF-8", "LANG": "tr_TR",
        "NUMBA_NUM_THREADS": "2",
    },
}  # fmt: skip


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """What is written by two processes that have nothing in common but the question."""
    written = {}
    for name, setting in SETTINGS.items():
        folder = tmp_path_factory.mktemp("anywhere") / "starter"
        write_starter(folder)
        out = folder.parent / "found.json"
        command = [sys.executable, "-m", "reach", "check", str(folder), "--anew", "--json"]
        elsewhere = folder if written else folder.parent
        package = str(Path(__file__).parents[1])
        environment = os.environ | setting | {"PYTHONPATH": package}
        told = subprocess.run(
            [*command, str(out)], env=environment, cwd=elsewhere, capture_output=True, text=True
        )
        assert told.returncode == 0, told.stderr
        written[name] = (out.read_bytes(), told.stdout)
    return written


def test_seed_time_zone_language_folder_and_threads_do_not_show(answers):
    first, second = (content for content, _ in answers.values())
    assert first == second


def test_the_table_differs_by_the_seconds_it_took_alone(answers):
    first, second = (
        [line for line in text.splitlines() if "found in" not in line]
        for _, text in answers.values()
    )
    assert first == second


def _told(one: dict) -> tuple:
    return one["check"], one["step"], tuple(one["about"]), one["case"], one["verdict"]


def _ends(one: dict) -> list[float]:
    margin = one["margin"] or {}
    ends = (margin.get("low"), margin.get("high"))
    return [math.nan if end is None else float(end) for end in ends]


def test_the_answer_is_that_of_the_reference(answers):
    """Written by ``python tests/test_same_answer.py`` on x86-64 Linux; verdicts may not differ."""
    content, _ = next(iter(answers.values()))
    mine, theirs = (json.loads(text)["findings"] for text in (content, REFERENCE.read_text()))
    assert [_told(one) for one in mine] == [_told(one) for one in theirs]
    for one, other in zip(mine, theirs, strict=True):
        assert _ends(one) == pytest.approx(_ends(other), abs=WITHIN, nan_ok=True), _told(one)


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        write_starter(Path(folder) / "starter")
        REFERENCE.parent.mkdir(exist_ok=True)
        out = Path(folder) / "found.json"
        command = [sys.executable, "-m", "reach", "check", f"{folder}/starter", "--anew", "--json"]
        subprocess.run([*command, str(out)], check=True, stdout=subprocess.DEVNULL)
        found = json.loads(out.read_text())
        kept = ("check", "step", "about", "case", "verdict", "margin")
        slim = [{k: v for k, v in one.items() if k in kept} for one in found["findings"]]
        REFERENCE.write_text(json.dumps({"findings": slim}, indent=1) + "\n")
