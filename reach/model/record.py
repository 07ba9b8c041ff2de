"""The base of every record read from a file: frozen, no unknown keys, quantities with units."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any

import numpy as np
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, WithJsonSchema

from reach.units import LARGEST, quantity

_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)(?::([0-5]\d))?")


class Record(BaseModel):
    """A frozen record; unknown keys are refused, several problems are reported together."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


_WHOLE_TURN = 2.0 * math.pi + 1e-6
"""A bare number beyond it was meant in degrees, rad."""


def _of(kind: str) -> BeforeValidator:
    def read(value: Any) -> float:
        found = quantity(value, kind)
        if kind == "angle" and not isinstance(value, str) and abs(found) > _WHOLE_TURN:
            message = f"{value!r} is in rad, more than a whole turn; write '{value:g} deg' or "
            raise ValueError(f"{message}'{value:g} rad'")
        return found

    return BeforeValidator(read)


def _schema(kind: str, example: str) -> WithJsonSchema:
    text = f"{kind}: SI number or text such as {example!r}"
    return WithJsonSchema({"type": ["number", "string"], "description": text})


Length = Annotated[float, _of("length"), _schema("length", "24 in")]
Angle = Annotated[float, _of("angle"), _schema("angle", "15 deg")]
Force = Annotated[float, _of("force"), _schema("force", "125 lbf")]
Torque = Annotated[float, _of("torque"), _schema("torque", "25 ft lbf")]
Mass = Annotated[float, _of("mass"), _schema("mass", "210 kg")]
Speed = Annotated[float, _of("speed"), _schema("speed", "0.05 m/s")]


def _elapsed(value: Any) -> float:
    """Return "hh:mm" or "hh:mm:ss" since the start, or a duration, in s."""
    match = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None and isinstance(value, str) and ":" in value:
        raise ValueError(f"needs hours and minutes such as '01:14', found {value!r}")
    if match is None:
        return quantity(value, "time")
    hours, minutes, seconds = (int(part or 0) for part in match.groups())
    return 3600.0 * hours + 60.0 * minutes + seconds


Duration = Annotated[float, _of("time"), _schema("time", "6 min")]
Elapsed = Annotated[float, BeforeValidator(_elapsed), _schema("elapsed time", "01:14")]
Temperature = Annotated[float, _of("temperature"), _schema("temperature", "-120 degF")]


def _setting(value: Any) -> int | float:
    """Return a detent number as it is, anything else as an angle in rad."""
    angle = quantity(value, "angle")  # refuses numbers beyond all measure, whole ones too
    return value if isinstance(value, int) else angle


Setting = Annotated[
    int | float,
    BeforeValidator(_setting),
    WithJsonSchema(
        {
            "type": ["number", "string"],
            "description": "detent number of a numbered joint, or an angle such as '30 deg'",
        }
    ),
]


def _coldest_first(value: tuple[float, float]) -> tuple[float, float]:
    if value[1] < value[0]:
        raise ValueError("a range of temperatures is [coldest, hottest]")
    return value


Temperatures = Annotated[tuple[Temperature, Temperature], AfterValidator(_coldest_first)]
"""The coldest and the hottest that a surface gets, K."""


_SHORTEST_DIRECTION = 1e-9
"""A direction shorter than this is a slip of the pen, not a direction."""


def _direction(value: Any) -> tuple[float, float, float]:
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ValueError(f"needs three numbers [x, y, z], found {value!r}")
    if any(isinstance(v, bool) or not isinstance(v, int | float) for v in value):
        raise ValueError(f"a direction is three plain numbers, found {value!r}")
    if not all(abs(v) <= LARGEST for v in value):  # neither is nan
        raise ValueError(f"needs finite numbers, found {list(value)}")
    norm = float(np.linalg.norm(np.asarray(value, float)))
    if norm < _SHORTEST_DIRECTION:
        raise ValueError(f"has zero length: {list(value)}")
    x, y, z = (float(v) / norm for v in value)
    return x, y, z


_DIRECTION_SCHEMA = WithJsonSchema(
    {"type": "array", "minItems": 3, "maxItems": 3, "items": {"type": "number"}}
)

Point = tuple[Length, Length, Length]
Direction = Annotated[tuple[float, float, float], BeforeValidator(_direction), _DIRECTION_SCHEMA]
