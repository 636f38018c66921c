"""What a person types ("6 in/min", "4 mm", "12 deg") to SI, and back.

The table is closed: a bare number where a unit is due is refused with the list of
units, because a guessed unit is a clamp in the wrong place.
"""

from __future__ import annotations

import math
import re
from types import MappingProxyType

from pathsim.errors import UnitError

_DEG = math.pi / 180.0
_INCH = 0.0254

#: kind -> unit -> factor to SI. "share" is a part of a whole, 1.0 = 100 %.
TABLE: MappingProxyType[str, MappingProxyType[str, float]] = MappingProxyType(
    {
        "length": MappingProxyType({"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": _INCH}),
        "angle": MappingProxyType({"deg": _DEG, "rad": 1.0}),
        "time": MappingProxyType({"s": 1.0, "ms": 1e-3, "min": 60.0}),
        "speed": MappingProxyType(
            {
                "mm/s": 1e-3,
                "cm/min": 1e-2 / 60,
                "mm/min": 1e-3 / 60,
                "m/min": 1 / 60,
                "m/s": 1.0,
                "in/min": _INCH / 60,
                "in/s": _INCH,
            }
        ),
        "acceleration": MappingProxyType({"mm/s2": 1e-3, "m/s2": 1.0}),
        "turning speed": MappingProxyType({"deg/s": _DEG, "rad/s": 1.0}),
        "turning acceleration": MappingProxyType({"deg/s2": _DEG, "rad/s2": 1.0}),
        "jerk": MappingProxyType({"mm/s3": 1e-3, "m/s3": 1.0}),
        "turning jerk": MappingProxyType({"deg/s3": _DEG, "rad/s3": 1.0}),
        "frequency": MappingProxyType({"Hz": 1.0, "/s": 1.0, "/min": 1 / 60}),
        "voltage": MappingProxyType({"V": 1.0}),
        "current": MappingProxyType({"A": 1.0}),
        "power": MappingProxyType({"W": 1.0, "kW": 1e3}),
        "share": MappingProxyType({"%": 0.01}),
    }
)

#: Largest sizes that can be meant, SI: several times what the fastest arms do. What is beyond them
#: has most likely another unit, and a move at such a speed would be over before anybody sees it.
MOST: MappingProxyType[str, float] = MappingProxyType(
    {
        "speed": 20.0,
        "acceleration": 1e3,
        "jerk": 1e6,
        "turning speed": 7200 * _DEG,
        "turning acceleration": 5e4 * _DEG,
        "turning jerk": 1e8 * _DEG,
    }
)

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_QUANTITY = re.compile(rf"^\s*((?:{_NUMBER}\s+)*{_NUMBER})\s*([^\d\s].*?)?\s*$")


def units_of(kind: str) -> str:
    """Return the units of a kind as a list for a message."""
    return ", ".join(TABLE[kind])


def factor(unit: str, kind: str) -> float:
    """Return the factor from ``unit`` to SI; UnitError when the unit is not of this kind."""
    table = TABLE[kind]
    name = unit.strip().replace("²", "2").replace("³", "3")
    if name in table:
        return table[name]
    for known in table:
        if known.lower() == name.lower():
            return table[known]
    raise UnitError(f"the unit {unit!r} is not a unit of {kind} (units: {units_of(kind)})")


def parse(value: object, kind: str, count: int = 1) -> tuple[float, ...]:
    """Read ``count`` numbers and one unit, as in ``"0 0 750 mm"``, into SI.

    Raises UnitError when the unit is missing, of another kind, when the count differs,
    or when a number is not finite.
    """
    numbers = "a number" if count == 1 else f"{count} numbers"
    rule = f"{numbers} and a unit ({units_of(kind)})"
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise UnitError(f"{value!r} is not {rule}", f"{value!r} is not {numbers}")
    match = _QUANTITY.match(str(value))
    if match is None:
        raise UnitError(f"{value!r} is not {rule}", f"{value!r} is not {numbers}")
    parts = match.group(1).split()
    if len(parts) != count:
        came = f"{value!r} has {len(parts)} number{'s' if len(parts) > 1 else ''}"
        raise UnitError(f"{came}, not {rule}", came)
    if match.group(2) is None:
        came = f"{value!r} has no unit"
        raise UnitError(f"{came}; write {rule}", came)
    scale = factor(match.group(2), kind)
    result = tuple(float(part) * scale for part in parts)
    if not all(math.isfinite(number) for number in result):
        raise UnitError(f"{value!r} is too large to be meant")
    return result


def quantity(size: float, kind: str) -> str:
    """Return a size in SI for a message, as in ``"7200 deg/s"`` or ``"20 m/s"``."""
    first, scale = next(iter(TABLE[kind].items()))
    whole = next((unit for unit, factor in TABLE[kind].items() if factor == 1.0), first)
    if first[0] == "m" and size / scale >= 1e4:
        return f"{size:g} {whole}"
    return f"{size / scale:g} {first}"


def millimetres(metres: float, digits: int = 1) -> str:
    """Return a length for people, as in ``"38.2 mm"``."""
    return f"{metres * 1e3:.{digits}f} mm"


def short_millimetres(metres: float) -> str:
    """Return a length that somebody asked for, as in ``"10 mm"`` or ``"1.5 mm"``."""
    return f"{round(metres * 1e3, 2):g} mm"


def guaranteed_millimetres(metres: float) -> str:
    """Return a guaranteed clearance for people: rounded down, so that it stays guaranteed."""
    return f"{math.floor(metres * 1e4 + 1e-9) / 10:.1f} mm"


def percent(share: float) -> str:
    """Return a share for people, as in ``"62 %"``."""
    return f"{share * 100:.0f} %"


def degrees(radians: float, digits: int = 1) -> str:
    """Return an angle for people, as in ``"12.5 deg"``."""
    return f"{math.degrees(radians):.{digits}f} deg"
