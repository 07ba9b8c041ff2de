"""Every notebook runs, gives the answer that its text speaks of, and ends with pictures."""

from __future__ import annotations

import base64
import io
import json
import re
from pathlib import Path

import nbclient
import nbformat
import numpy as np
import pytest
from PIL import Image

ROOT = Path(__file__).parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))

SAID = {
    "fastener-from-a-restraint": (
        "FAIL   reach      small",
        "FAIL   reach      medium",
        "FAIL   reach      large",
        "smallest change: Put FR-1 in SK",
        "PASS   reach      medium",
    ),
    "routes-and-tethers": (
        "SK1 > RL04 > RL05 > RL06 > RL07 > RL22 > RL23 > RL24 > RL08 > SK3",
        "PASS       gap ",
        "FAIL       tether     short by 1.585 .. 1.993 m",
        "smallest change: Change to ST-3 at AN-04",
        "PASS       tether     inside by 11.2",
        "proved: there is none",
        "RL07 to RL08: 1.150 m wide, 0.920 m can be spanned",
        "the rule: 30 min (published)",
    ),
    "batch-and-population": (
        "8 cases run, exit code 1",
        "first version: torque fails in step '6 PB1' in 4 of 4 cases",
        "first version: reach fails in step '7 TB1' in 4 of 4 cases",
        "0 run, 8 kept from before",
        "OPEN: Of 300 people of both sexes, seed 1",
        "can 264, cannot 11, not known 25",
        "of a stature between theirs, cannot: 9",
    ),
    "payload-sweep": (
        "sun-wing-hinge  -0.161 .. -0.160 m left, between low-elm and low-gorse",
        "smallest change: Move low-elm by 0.3 m along +y",
        "at the waypoints it is 0.794 m at least, nearest at low-elm",
        "least left: +0.319 m, relay-boom to long-beam",
        "PASS  0.4 m",
        "FAIL  0.6 m",
    ),
}
"""Notebook -> what must stand in what it prints."""

PICTURES = {
    "fastener-from-a-restraint": 3,
    "routes-and-tethers": 3,
    "batch-and-population": 2,
    "payload-sweep": 2,
}
"""Notebook -> how many pictures it shows."""


def outputs(notebook):
    return [out for cell in notebook["cells"] for out in cell.get("outputs", [])]


def source(path, kind):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == kind)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_are_kept_without_outputs(path):
    kept = json.loads(path.read_text(encoding="utf-8"))
    assert not outputs(kept)
    assert all(cell["execution_count"] is None for cell in kept["cells"] if "outputs" in cell)


def test_every_notebook_is_run_here():
    assert {path.stem for path in NOTEBOOKS} == set(SAID) == set(PICTURES)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_use_public_names_alone(path):
    code = source(path, "code")
    assert re.search(r"^import reach$", code, re.MULTILINE)
    assert not re.search(r"^\s*(from reach|import reach\.)", code, re.MULTILINE)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_say_in_words_what_they_are_not_good_for(path):
    words = source(path, "markdown")
    assert "Planning aid only. Not certified" in words
    assert "What this does not say" in words


def is_blank(png):
    """A picture without detail: hardly any colours, or one of them nearly everywhere."""
    pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGB").resize((320, 200)))
    colours, counts = np.unique(pixels.reshape(-1, 3), axis=0, return_counts=True)
    return len(colours) < 50 or counts.max() > 0.98 * counts.sum()


def test_a_blank_picture_is_told_from_one_with_something_on_it():
    kept = io.BytesIO()
    Image.new("RGB", (640, 400), "#fbfaf6").save(kept, "PNG")
    assert is_blank(kept.getvalue())
    assert not is_blank((ROOT / "docs" / "ib2-from-sk3.png").read_bytes())


@pytest.mark.picture
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_answers_with_pictures(path):
    notebook = nbformat.read(path, as_version=4)
    nbclient.NotebookClient(notebook, timeout=180, kernel_name="python3").execute()
    found = outputs(notebook)
    text = "".join(out.get("text", "") for out in found)
    for words in (*SAID[path.stem], "1. Planning aid only", "10. Any edit invalidates"):
        assert words in text, words
    pictures = [out["data"]["image/png"] for out in found if "image/png" in out.get("data", {})]
    assert len(pictures) == PICTURES[path.stem]
    assert not any(is_blank(base64.b64decode(png)) for png in pictures)
