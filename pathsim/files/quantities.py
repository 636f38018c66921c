"""Quantities with units as pydantic types."""

from __future__ import annotations

import math
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict

from pathsim.errors import UnitError
from pathsim.units import parse, units_of


def _reader(
    kind: str,
    count: int = 1,
    low: float | None = None,
    strict: bool = False,
    high: float | None = None,
) -> Any:
    """Return a validator: ``count`` numbers of ``kind``, not below ``low`` (or above it).

    ``high``: in SI, the largest size that can be meant; beyond it a wrong unit is likely.
    """

    def read(value: object) -> float | tuple[float, ...]:
        try:
            numbers = parse(value, kind, count)
        except UnitError as error:
            rule = f"{'a number' if count == 1 else f'{count} numbers'} and a unit"
            raise ValueError(f"{error}; expected {rule} ({units_of(kind)})") from error
        for number in numbers:
            if low is not None and (number < low or (strict and number == low)):
                bound = "above" if strict else "at least"
                raise ValueError(f"came {value!r}; expected {bound} {low:g}")
            if high is not None and abs(number) > high:
                raise ValueError(
                    f"came {value!r}; expected at most {high:g} in SI units; is the unit right?"
                )
        return numbers[0] if count == 1 else numbers

    return BeforeValidator(read)


_FARTHEST = 100.0  # m
_MOST_TURN = 20 * math.pi  # rad
Triple = tuple[float, float, float]
Pair = tuple[float, float]
Length = Annotated[float, _reader("length")]
LengthFromZero = Annotated[float, _reader("length", low=0.0, high=1.0)]
LengthAboveZero = Annotated[float, _reader("length", low=0.0, strict=True)]
Angle = Annotated[float, _reader("angle")]
Place = Annotated[Triple, _reader("length", 3, high=_FARTHEST)]
#: A stick-out; it also says how near a seam the wire may touch, so that a wrong unit is dangerous.
StickOut = Annotated[float, _reader("length", low=0.0, strict=True, high=0.15)]
Turn = Annotated[Triple, _reader("angle", 3)]
AngleRange = Annotated[Pair, _reader("angle", 2, high=_MOST_TURN)]
TurningSpeed = Annotated[float, _reader("turning speed", low=0.0, strict=True)]
TurningAcceleration = Annotated[float, _reader("turning acceleration", low=0.0, strict=True)]
Speed = Annotated[float, _reader("speed", low=0.0, strict=True)]
Acceleration = Annotated[float, _reader("acceleration", low=0.0, strict=True)]
Time = Annotated[float, _reader("time", low=0.0, high=3600.0)]
Frequency = Annotated[float, _reader("frequency", low=0.0, strict=True, high=100.0)]


class Entry(BaseModel):
    """Base of everything read from YAML: unknown keys are faults, values do not change."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=False, str_strip_whitespace=True
    )
