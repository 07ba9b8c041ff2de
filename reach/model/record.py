"""The base of every record read from a file: frozen, strict about unknown keys, quantities with units."""

from __future__ import annotations

from typing import Annotated, Any

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict, WithJsonSchema

from reach.units import quantity


class Record(BaseModel):
    """A frozen record; unknown keys are refused, several problems are reported together."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def _of(kind: str) -> BeforeValidator:
    def read(value: Any) -> float:
        return quantity(value, kind)

    return BeforeValidator(read)


def _schema(kind: str, example: str) -> WithJsonSchema:
    return WithJsonSchema(
        {"type": ["number", "string"], "description": f"{kind}: SI number or text such as {example!r}"}
    )


Length = Annotated[float, _of("length"), _schema("length", "24 in")]
Angle = Annotated[float, _of("angle"), _schema("angle", "15 deg")]
Force = Annotated[float, _of("force"), _schema("force", "125 lbf")]
Torque = Annotated[float, _of("torque"), _schema("torque", "25 ft lbf")]
Mass = Annotated[float, _of("mass"), _schema("mass", "210 kg")]
Duration = Annotated[float, _of("time"), _schema("time", "6 min")]
Temperature = Annotated[float, _of("temperature"), _schema("temperature", "-120 degF")]


def _vector(value: Any) -> tuple[float, float, float]:
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ValueError(f"needs three numbers [x, y, z], found {value!r}")
    return tuple(quantity(v, "length") for v in value)  # type: ignore[return-value]


def _direction(value: Any) -> tuple[float, float, float]:
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ValueError(f"needs three numbers [x, y, z], found {value!r}")
    if any(isinstance(v, bool) or not isinstance(v, int | float) for v in value):
        raise ValueError(f"a direction is three plain numbers, found {value!r}")
    norm = float(np.linalg.norm(np.asarray(value, float)))
    if not np.isfinite(norm) or norm < 1e-9:
        raise ValueError(f"has zero length: {value!r}")
    return tuple(float(v) / norm for v in value)  # type: ignore[return-value]


_VECTOR_SCHEMA = WithJsonSchema(
    {"type": "array", "minItems": 3, "maxItems": 3, "items": {"type": ["number", "string"]}}
)
_DIRECTION_SCHEMA = WithJsonSchema(
    {"type": "array", "minItems": 3, "maxItems": 3, "items": {"type": "number"}}
)

Point = Annotated[tuple[float, float, float], BeforeValidator(_vector), _VECTOR_SCHEMA]
Direction = Annotated[tuple[float, float, float], BeforeValidator(_direction), _DIRECTION_SCHEMA]
