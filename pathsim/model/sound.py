"""What the records of a cell demand of their fields: one sentence, with what came and what is due.

Each of these returns the value as the record keeps it: arrays as read-only copies, sequences as
tuples, words as what they stand for. ``what`` names the record and its field.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from enum import StrEnum
from numbers import Integral, Real
from typing import Any, NoReturn, TypeVar

import numpy as np

from pathsim.errors import CellError
from pathsim.transforms import Array

Kind = TypeVar("Kind")
Word = TypeVar("Word", bound=StrEnum)
#: How far a rotation may be from one: what files round away, and nothing else.
_ROUNDED = 1e-6
#: What comes is shown up to this length.
_LONGEST = 60


def refuse(what: str, came: object, expected: str) -> NoReturn:
    """Raise CellError: ``what`` cannot be ``came``."""
    raise CellError(f"{what}: came {shown(came)}; expected {expected}")


def shown(value: object) -> str:
    """Return a value in few words: of an array or a record only what it is."""
    if isinstance(value, np.ndarray):
        return f"an array of shape {value.shape}"
    text = repr(value)
    return text if len(text) <= _LONGEST and "\n" not in text else f"a {type(value).__name__}"


def put(record: object, **values: object) -> None:
    """Put checked values in the place of what a frozen record was made with."""
    for name, value in values.items():
        object.__setattr__(record, name, value)


def text(what: str, value: object) -> str:
    """Return a name of one line, with something in it."""
    if not isinstance(value, str) or not value.strip() or "\n" in value:
        refuse(what, value, "a name in one line")
    return value


def flag(what: str, value: object) -> bool:
    """Return true or false."""
    if not isinstance(value, bool | np.bool_):
        refuse(what, value, "True or False")
    return bool(value)


def record(what: str, value: object, kind: type[Kind], name: str) -> Kind:
    """Return a record of a kind; ``name`` with its article: "a Mesh"."""
    if not isinstance(value, kind):
        refuse(what, value, name)
    return value


def records(what: str, values: object, kind: type[Kind], name: str) -> tuple[Kind, ...]:
    """Return records of a kind, as a tuple."""
    if isinstance(values, str) or not isinstance(values, Iterable):
        refuse(what, values, f"a sequence of which each is {name}")
    found = tuple(values)
    for index, value in enumerate(found):
        if not isinstance(value, kind):
            refuse(f"{what}[{index}]", value, name)
    return found


def word(what: str, value: object, kind: type[Word]) -> Word:
    """Return one of the words of ``kind``, which may come as its text."""
    try:
        return kind(str(value))
    except ValueError:
        refuse(what, value, "one of: " + ", ".join(kind))


def number(
    what: str,
    value: object,
    unit: str = "",
    *,
    low: float = -math.inf,
    high: float = math.inf,
    above: float = -math.inf,
) -> float:
    """Return a finite number from ``low`` (or above ``above``) to ``high``."""
    is_number = isinstance(value, Real) and not isinstance(value, bool | np.bool_)
    size = float(value) if is_number else math.nan  # type: ignore[arg-type]
    if not (low <= size <= high and size > above and math.isfinite(size)):
        bounds = [f"above {above:g}"] if above > -math.inf else []
        bounds += [f"at least {low:g}"] if low > -math.inf else []
        bounds += [f"at most {high:.6g}"] if high < math.inf else []
        rule = " ".join(["a finite number", " and ".join(bounds)]).strip()
        refuse(what, value, f"{rule} {unit}".strip())
    return size


def whole(what: str, value: object, low: int, high: int) -> int:
    """Return a whole number from ``low`` to ``high``."""
    is_whole = isinstance(value, Integral) and not isinstance(value, bool | np.bool_)
    if not is_whole or not low <= int(value) <= high:  # type: ignore[call-overload]
        refuse(what, value, f"a whole number from {low} to {high}")
    return int(value)  # type: ignore[call-overload, no-any-return]


def array(what: str, values: object, shape: tuple[int | None, ...], of: str) -> Array:
    """Return finite numbers of a shape (None: any length), as a read-only copy.

    ``of``: what is due, for the message.
    """
    try:
        given = np.asarray(values)
    except ValueError:  # rows of unequal length
        refuse(what, values, of)
    if given.dtype.kind not in "iuf":
        refuse(what, values, of)
    # What is read-only already stays the same object: things are kept by it.
    is_kept = given is values and given.dtype == np.float64 and given.base is None
    found = given if is_kept and not given.flags.writeable else given.astype(np.float64)
    fits = found.ndim == len(shape) and all(
        due in (None, length) for length, due in zip(found.shape, shape, strict=True)
    )
    if not fits:
        refuse(what, found, of)
    if not np.isfinite(found).all():
        raise CellError(f"{what}: came numbers that are not finite; expected {of}")
    found.setflags(write=False)
    return found


def pose(what: str, values: object) -> Array:
    """Return a pose ``(4, 4)`` that neither scales nor mirrors, as a read-only copy."""
    T = array(what, values, (4, 4), "a pose (4, 4)")
    (a, b, c, _), (d, e, f, _), (g, h, i, _), last = T.tolist()
    squares = (a * a + b * b + c * c, d * d + e * e + f * f, g * g + h * h + i * i)
    across = (a * d + b * e + c * f, a * g + b * h + c * i, d * g + e * h + f * i)
    error = max(*(abs(square - 1) for square in squares), *(abs(x) for x in across))
    if error > _ROUNDED:
        even = max(squares) - min(squares) < _ROUNDED and max(map(abs, across)) < _ROUNDED
        came = f"scales by {math.sqrt(squares[0]):.6g}" if even else "is no rotation"
        raise CellError(f"{what}: its rotation part {came}; expected a pose that only turns")
    if a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g) < 0:
        raise CellError(f"{what}: its rotation part mirrors; expected a pose that only turns")
    if max(abs(x - due) for x, due in zip(last, (0, 0, 0, 1), strict=True)) > _ROUNDED:
        raise CellError(f"{what}: its last row is {last}; expected 0 0 0 1")
    return T


def once(what: str, names: Iterable[str], others: Sequence[str] = ()) -> None:
    """Refuse a name that stands twice, or among ``others``."""
    seen = set(others)
    for name in names:
        if name in seen:
            refuse(what, name, "a name that nothing else has")
        seen.add(name)


def known(
    what: str, name: object, names: Iterable[Any], due: str = "the name of a point of the cell"
) -> None:
    """Refuse a name that is none of ``names``; ``due`` says what is expected."""
    if name not in names:
        import difflib

        near = difflib.get_close_matches(str(name), [str(n) for n in names], n=1, cutoff=0.5)
        cure = f" (did you mean '{near[0]}'?)" if near else ""
        refuse(what, name, f"{due}{cure}")
