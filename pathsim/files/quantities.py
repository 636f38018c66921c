"""Quantities with units as pydantic types."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from pathsim.errors import UnitError
from pathsim.units import MOST, parse, quantity, units_of


def _reader(
    kind: str,
    count: int = 1,
    low: float | None = None,
    strict: bool = False,
    high: float | None = None,
) -> Any:
    """Return a validator: ``count`` numbers of ``kind``, not below ``low`` (or above it).

    ``high``: in SI, the largest size that can be meant (``MOST`` when not given); beyond it a wrong
    unit is likely.
    """
    most = MOST.get(kind, math.inf) if high is None else high

    def read(value: object) -> float | tuple[float, ...]:
        try:
            numbers = parse(value, kind, count)
        except UnitError as error:
            rule = f"{'a number' if count == 1 else f'{count} numbers'} and a unit"
            raise ValueError(f"{error.came}; expected {rule} ({units_of(kind)})") from error
        for number in numbers:
            if low is not None and (number < low or (strict and number == low)):
                bound = "above" if strict else "at least"
                raise ValueError(f"came {value!r}; expected {bound} {low:g}")
            if abs(number) > most:
                raise ValueError(
                    f"came {value!r}; expected at most {quantity(most, kind)}; is the unit right?"
                )
        return numbers[0] if count == 1 else numbers

    return BeforeValidator(read)


def angle_up_to(most: float) -> Any:
    """Return a validator of an angle above 0 and up to ``most`` rad."""
    return _reader("angle", low=0.0, strict=True, high=most + 1e-9)


def length_up_to(most: float) -> Any:
    """Return a validator of a length above 0 and up to ``most`` m."""
    return _reader("length", low=0.0, strict=True, high=most)


@dataclass(frozen=True)
class Quantity:
    """Numbers in SI with their kind: of a turning joint "angle", of a sliding one "length"."""

    kind: str
    values: tuple[float, ...]

    @property
    def value(self) -> float:
        """Return the only number."""
        return self.values[0]


def _either(turning: str, sliding: str, count: int, strict: bool) -> Any:
    """Return a validator of ``count`` numbers in a unit of either kind."""

    def read(value: object) -> Quantity:
        if isinstance(value, Quantity):
            return value
        for kind, name in ((turning, "angle"), (sliding, "length")):
            try:
                numbers = parse(value, kind, count)
            except UnitError:
                continue
            if strict and numbers[0] <= 0:
                raise ValueError(f"came {value!r}; expected above 0")
            most = MOST.get(kind, _MOST_TURN if name == "angle" else _FARTHEST)
            if max(abs(n) for n in numbers) > most:
                rule = f"at most {quantity(most, kind)}; is the unit right?"
                raise ValueError(f"came {value!r}; expected {rule}")
            return Quantity(name, numbers)
        rule = f"{'a number' if count == 1 else f'{count} numbers'} and a unit"
        units = f"{units_of(turning)}; {units_of(sliding)} for a joint that slides"
        raise ValueError(f"came {value!r}; expected {rule} ({units})")

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
#: How far a mesh may be off its true surface; more is no drawing of it.
DrawnTo = Annotated[float, _reader("length", low=0.0, high=0.005)]
#: A cable or hose thicker than this is most likely in a wrong unit.
CableRadius = Annotated[float, _reader("length", low=0.0, strict=True, high=0.15)]
#: What a tape measure gives; more is most likely in a wrong unit.
Tape = Annotated[float, _reader("length", low=0.0, strict=True, high=50.0)]
Turn = Annotated[Triple, _reader("angle", 3)]
AngleRange = Annotated[Pair, _reader("angle", 2, high=_MOST_TURN)]
LengthRange = Annotated[Pair, _reader("length", 2, high=_FARTHEST)]
Size = Annotated[Triple, _reader("length", 3, low=0.0, strict=True, high=_FARTHEST)]
Limits = Annotated[Any, _either("angle", "length", 2, strict=False)]
Rate = Annotated[Any, _either("turning speed", "speed", 1, strict=True)]
RateOfRate = Annotated[Any, _either("turning acceleration", "acceleration", 1, strict=True)]
RateOfRateOfRate = Annotated[Any, _either("turning jerk", "jerk", 1, strict=True)]
Jerk = Annotated[float, _reader("jerk", low=0.0, strict=True)]
Unit = Literal["mm", "cm", "m", "in"]
#: Which axis of a mesh file points up. GLB says y by its standard, but not every program keeps
#: to it, so a GLB file needs the word.
Up = Literal["y", "z"]
TurningSpeed = Annotated[float, _reader("turning speed", low=0.0, strict=True)]
TurningAcceleration = Annotated[float, _reader("turning acceleration", low=0.0, strict=True)]
Speed = Annotated[float, _reader("speed", low=0.0, strict=True)]
Acceleration = Annotated[float, _reader("acceleration", low=0.0, strict=True)]
Time = Annotated[float, _reader("time", low=0.0, high=3600.0)]
Voltage = Annotated[float, _reader("voltage", low=0.0, strict=True, high=100.0)]
Power = Annotated[float, _reader("power", low=0.0, strict=True, high=100e3)]
Current = Annotated[float, _reader("current", low=0.0, strict=True, high=1500.0)]
Override = Annotated[float, _reader("share", low=0.0, strict=True, high=1.0)]
Frequency = Annotated[float, _reader("frequency", low=0.05, high=100.0)]
#: A filler wire thicker than this is most likely in a wrong unit.
WireDiameter = Annotated[float, _reader("length", low=0.0, strict=True, high=0.01)]
#: On and off lengths of a stitch.
StitchLength = Annotated[float, _reader("length", low=1e-3, high=10.0)]
Inch = Annotated[float, _reader("length", high=0.2)]
Amplitude = Annotated[float, _reader("length", low=5e-5, high=0.1)]


def _no_word(value: object) -> object:
    """Refuse ``true`` where 1 is meant: YAML's words would count as numbers."""
    if isinstance(value, bool):
        raise ValueError(f"came {value!r}; expected a number")  # noqa: TRY004 - pydantic's way
    return value


FormatNumber = Annotated[Literal[1], BeforeValidator(_no_word)]


def _part_names(value: object) -> object:
    return [value] if isinstance(value, str) else value


def _each_once(names: tuple[str, ...]) -> tuple[str, ...]:
    if len(set(names)) < len(names):
        raise ValueError("came a part twice; expected each once")
    return names


#: One part of a mesh file that keeps several apart, or a list of them.
PartNames = Annotated[
    tuple[str, ...],
    BeforeValidator(_part_names),
    Field(min_length=1),
    AfterValidator(_each_once),
]


class Entry(BaseModel):
    """Base of everything read from YAML: unknown keys are faults, values do not change."""

    # Validators are made of whole files, not once more of each part of them: a sixth sooner.
    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        populate_by_name=False,
        str_strip_whitespace=True,
        defer_build=True,
    )
