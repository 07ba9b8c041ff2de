from __future__ import annotations

import json
from pathlib import Path

import nbclient
import nbformat
import pytest

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))


def outputs(notebook):
    return [out for cell in notebook["cells"] for out in cell.get("outputs", [])]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_are_kept_without_outputs(path):
    kept = json.loads(path.read_text(encoding="utf-8"))
    assert not outputs(kept)
    assert all(cell["execution_count"] is None for cell in kept["cells"] if "outputs" in cell)


@pytest.mark.picture
@pytest.mark.filterwarnings("ignore")
def test_the_notebook_answers_with_pictures():
    (path,) = (path for path in NOTEBOOKS if path.stem == "fastener-from-a-restraint")
    notebook = nbformat.read(path, as_version=4)
    nbclient.NotebookClient(notebook, timeout=120, kernel_name="python3").execute()
    found = outputs(notebook)
    assert sum("image/png" in out.get("data", {}) for out in found) == 3
    text = "".join(out.get("text", "") for out in found)
    for case in ("small", "medium", "large"):
        assert f"FAIL   reach      {case}" in text
    assert "smallest change: Put FR-1 in SK" in text
    assert "PASS   reach      medium" in text
    assert "Planning aid only" in text
