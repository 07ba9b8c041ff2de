"""The shipped table of crushing gaps."""

from __future__ import annotations

from reach.files.places import shipped_model
from reach.files.toml import read_toml
from reach.model.gaps import CrushingGaps


def load_gaps() -> CrushingGaps:
    """Return the shipped table of crushing gaps.

    Examples
    --------
    >>> load_gaps().hurt_by(0.2)
    ['head', 'body']
    """
    return CrushingGaps.model_validate(read_toml(shipped_model("gaps"), "models/gaps.toml").data)
