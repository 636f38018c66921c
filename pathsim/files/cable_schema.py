"""What ``cell.yaml`` may say about a cable."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from pathsim.files.quantities import CableRadius, Entry, LengthFromZero, Place

SPAN = (
    "one link: a free span between two links changes its shape with the posture and is not "
    "modelled; give the lengths that stay with one link each, and look at the span by hand"
)


def _one_link(value: object) -> object:
    """Refuse several links; a number is that of a link."""
    if isinstance(value, list | dict):
        raise ValueError(f"came {_plain(value)}; expected {SPAN}")  # noqa: TRY004 - pydantic's way
    if isinstance(value, int) and not isinstance(value, bool):
        return f"link {value}"
    return value


def _places(value: object) -> object:
    """Refuse places with a link of their own, and say why."""
    for place in value if isinstance(value, list) else ():
        if isinstance(place, dict) and "on" in place:
            raise ValueError(f"came {_plain(place)}; expected {SPAN}")
    return value


def _plain(value: Any) -> str:
    """Write a list or mapping of the file in one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {one}" for key, one in value.items()) + "}"
    return "[" + ", ".join(str(one) for one in value) + "]"


class CableEntry(Entry):
    """A cable or hose that stays with one link; ``points`` in that link's frame."""

    name: str = Field(min_length=1)
    on: Annotated[str, BeforeValidator(_one_link)]
    points: Annotated[list[Place], BeforeValidator(_places)]
    radius: CableRadius
    slack: LengthFromZero | None = None
    margin: LengthFromZero | None = None
    drawn_in: Literal["base frame at zero", "link frame"] = Field(
        default="link frame", alias="drawn in"
    )
