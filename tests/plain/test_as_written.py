"""What the machine code of the kernels answers is what their Python source answers."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from asked import QUESTIONS, ROOT


@pytest.fixture(scope="module")
def as_written(tmp_path_factory):
    """Every answer of a process in which nothing is compiled."""
    file = tmp_path_factory.mktemp("plain") / "answers.npz"
    program = ROOT / "tests/plain/asked.py"
    subprocess.run([sys.executable, str(program), str(file)], check=True, capture_output=True)
    return dict(np.load(file))


@pytest.mark.parametrize("question", QUESTIONS)
def test_compiled_kernels_answer_what_is_written(question, as_written):
    answers = QUESTIONS[question]()
    names = {f"{question}/{name}" for name in answers}
    assert names == {name for name in as_written if name.startswith(f"{question}/")}
    for name, answer in answers.items():
        np.testing.assert_allclose(
            np.asarray(answer), as_written[f"{question}/{name}"], rtol=1e-9, atol=1e-9, err_msg=name
        )
