"""What an arm description may say.

An arm is described in one of four forms: Denavit-Hartenberg rows (``convention`` and rows
with a, alpha, d), a dimension drawing (``dimensions``), a robot description file (``urdf``), or its
frames in full (``chain``), which is how an arm put together in Python is saved.
"""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Literal

import numpy as np
from pydantic import Field, model_validator

from pathsim.files.quantities import (
    Acceleration,
    Angle,
    DrawnTo,
    Entry,
    FormatNumber,
    Frequency,
    Jerk,
    Length,
    LengthAboveZero,
    LengthRange,
    Limits,
    PartNames,
    Place,
    Quantity,
    Rate,
    RateOfRate,
    RateOfRateOfRate,
    Size,
    Speed,
    Turn,
    TurningAcceleration,
    Unit,
    Up,
)
from pathsim.files.readings_schema import ReadingsEntry
from pathsim.mesh_files import OWN_UNIT
from pathsim.transforms import Array, pose

FORMS = ("convention", "dimensions", "chain", "urdf")


class JointEntry(Entry):
    """Limits of one joint, and its Denavit-Hartenberg row in that form."""

    a: Length | None = None
    alpha: Angle | None = None
    d: Length | None = None
    theta0: Angle | None = None
    moves: Literal["turns", "slides"] = "turns"
    limits: Limits
    speed: Rate
    acceleration: RateOfRate
    jerk: RateOfRateOfRate | None = None

    @model_validator(mode="after")
    def _units_fit(self) -> JointEntry:
        kind = "length" if self.slides else "angle"
        for name in ("limits", "speed", "acceleration", "jerk"):
            value: Quantity | None = getattr(self, name)
            if value is not None and value.kind != kind:
                rule = "lengths (mm, mm/s, mm/s2)" if self.slides else "angles (deg, deg/s, deg/s2)"
                raise ValueError(
                    f"came '{name}' in another unit; expected {rule} for a joint that {self.moves}"
                )
        return self

    @property
    def slides(self) -> bool:
        """Tell whether the joint slides along its axis."""
        return self.moves == "slides"


class FrameEntry(Entry):
    """A pose in full: its place, and its rotation row by row, so that no bit of it is lost."""

    at: Place
    rows: list[float] = Field(min_length=9, max_length=9)

    @property
    def pose(self) -> Array:
        """The pose ``(4, 4)``, m."""
        return pose(np.reshape(self.rows, (3, 3)), self.at)


class ChainEntry(Entry):
    """One joint of a chain: its axis (z) in the axis before, and its link's frame in its own."""

    axis: FrameEntry
    link: FrameEntry


class DimensionsEntry(Entry):
    """Lengths of a six-axis dimension drawing; see README for which is which."""

    shoulder_height: Length = Field(alias="shoulder height")
    shoulder_offset: Length = Field(alias="shoulder offset")
    shoulder_side: Length = Field(default=0.0, alias="shoulder side")
    upper_arm: LengthAboveZero = Field(alias="upper arm")
    elbow_offset: Length = Field(alias="elbow offset")
    forearm: Length
    wrist_offset: Length = Field(default=0.0, alias="wrist offset")
    flange: Length


class UrdfEntry(Entry):
    """A robot description file (URDF), its last link, and where its packages lie."""

    file: str
    tip: str | None = None
    shapes: Literal["both", "visual", "collision"] = "both"
    packages: dict[str, str] = Field(default_factory=dict)
    acceleration: TurningAcceleration
    sliding_acceleration: Acceleration | None = Field(default=None, alias="sliding acceleration")


class RailEntry(Entry):
    """A rail that carries the whole arm, along an axis of the arm's base frame."""

    along: Literal["x", "y", "z", "-x", "-y", "-z"]
    limits: LengthRange
    speed: Speed
    acceleration: Acceleration


class TipEntry(Entry):
    """The largest speed, acceleration and, if known, jerk of the tip."""

    speed: Speed
    acceleration: Acceleration
    jerk: Jerk | None = None


class CapsuleEntry(Entry):
    """All points within a radius of a line."""

    start: Place = Field(alias="from")
    end: Place = Field(alias="to")
    radius: LengthAboveZero


class BoxEntry(Entry):
    """A box by its size and the place of its middle."""

    size: Size
    at: Place
    turned: Turn = (0.0, 0.0, 0.0)


class LinkEntry(Entry):
    """The shape of one link: a mesh, a capsule or a box; ``mesh: none`` says there is none."""

    link: int = Field(ge=0, strict=True)
    mesh: str | None = None
    part: PartNames | None = None
    drawn_to: DrawnTo | None = Field(default=None, alias="drawn to")
    capsule: CapsuleEntry | None = None
    box: BoxEntry | None = None

    @model_validator(mode="after")
    def _is_one_shape(self) -> LinkEntry:
        given = [k for k in ("mesh", "capsule", "box") if getattr(self, k) is not None]
        if len(given) != 1:
            came = " and ".join(given) if given else "no shape"
            raise ValueError(f"came {came}; expected one of mesh, capsule, box")
        for key, value in (("part", self.part), ("drawn to", self.drawn_to)):
            if value is not None and self.mesh in (None, "none"):
                raise ValueError(f"came '{key}' without a mesh file; expected both, or none")
        return self


class GirthEntry(Entry):
    """Radius round each part of the arm that nothing of the real one leaves."""

    base: LengthAboveZero
    upper_arm: LengthAboveZero = Field(alias="upper arm")
    forearm: LengthAboveZero
    wrist: LengthAboveZero


class SharedBallEntry(Entry):
    """Room of a solid that goes with the flange."""

    other: int = Field(ge=0, strict=True)
    at: Place
    radius: LengthAboveZero


class SharedRoomEntry(Entry):
    """What solids in place of castings share by construction (``pathsim.model.SharedRoom``)."""

    within: list[tuple[int, int]] = Field(default_factory=list)
    joined: list[tuple[int, int]] = Field(default_factory=list)
    ball: SharedBallEntry | None = None


class LinksEntry(Entry):
    """Link shapes and how they are drawn, or capsules sized from the dimensions."""

    drawn_in: Literal["base frame at zero", "link frames"] | None = Field(
        default=None, alias="drawn in"
    )
    unit: Unit | None = None
    up: Up | None = None
    shapes: list[LinkEntry] = Field(default_factory=list)
    within: GirthEntry | None = None
    solids: list[int] = Field(default_factory=list)
    shared_room: SharedRoomEntry | None = Field(default=None, alias="shared room")

    @model_validator(mode="after")
    def _says_enough(self) -> LinksEntry:
        if bool(self.shapes) == (self.within is not None):
            came = "both" if self.shapes else "neither"
            raise ValueError(f"came {came}; expected 'shapes' or 'within' (radii), one of them")
        if self.shapes and self.drawn_in is None:
            raise ValueError(
                "came shapes without 'drawn in'; expected 'base frame at zero' or 'link frames'"
            )
        files = [s.mesh for s in self.shapes if s.mesh not in (None, "none")]
        says_none = [f for f in files if PurePosixPath(f or "").suffix.lower() not in OWN_UNIT]
        if says_none and self.unit is None:
            raise ValueError("came meshes without 'unit'; expected mm, cm, m or in")
        return self


class ArmFile(Entry):
    """An arm description."""

    format: FormatNumber
    name: str = Field(min_length=1)
    convention: Literal["standard", "modified"] | None = None
    chain: list[ChainEntry] | None = Field(default=None, min_length=1)
    dimensions: DimensionsEntry | None = None
    urdf: UrdfEntry | None = None
    joints: list[JointEntry] = Field(default_factory=list)
    held_joint: int | None = Field(default=None, alias="held joint", ge=1, strict=True)
    rail: RailEntry | None = None
    tip: TipEntry
    links: LinksEntry | None = None
    natural_frequency: Frequency | None = Field(default=None, alias="natural frequency")
    readings: ReadingsEntry = Field(default_factory=ReadingsEntry)

    @model_validator(mode="after")
    def _has_one_form(self) -> ArmFile:
        forms = [k for k in FORMS if getattr(self, k) is not None]
        if len(forms) != 1:
            came = " and ".join(forms) if forms else "none of them"
            raise ValueError(
                f"came {came}; expected one of 'convention' (Denavit-Hartenberg rows), "
                "'dimensions' (a dimension drawing), 'chain' (frames in full) and 'urdf' (a robot "
                "description file)"
            )
        form = forms[0]
        if form == "urdf" and self.readings.limits == "as displayed":
            raise ValueError(
                "came 'limits: as displayed' beside 'urdf'; expected 'of the model', as in it"
            )
        if form == "urdf" and (self.joints or self.links is not None):
            what = "joints" if self.joints else "links"
            raise ValueError(f"came '{what}' beside 'urdf'; expected them in that file only")
        if form != "urdf" and (not self.joints or self.links is None):
            what = "'joints'" if not self.joints else "'links'"
            raise ValueError(f"came no {what}; expected them")
        if form == "dimensions" and len(self.joints) != 6:
            raise ValueError(f"came {len(self.joints)} joints; expected the six of the drawing")
        for index, joint in enumerate(self.joints):
            row = [k for k in ("a", "alpha", "d") if getattr(joint, k) is not None]
            if form == "convention" and len(row) < 3:
                missing = next(k for k in ("a", "alpha", "d") if k not in row)
                raise ValueError(f"came joint {index + 1} without '{missing}'; expected its row")
            is_row = bool(row) or joint.theta0 is not None
            may_slide = form != "dimensions"
            if form != "convention" and (is_row or (joint.slides and not may_slide)):
                raise ValueError(
                    f"came a row at joint {index + 1}; expected limits, speed and acceleration "
                    f"only beside '{form}'"
                )
        if self.chain is not None and len(self.chain) != len(self.joints):
            came = f"{len(self.joints)} joints beside a chain of {len(self.chain)}"
            raise ValueError(f"came {came}; expected as many")
        links = self.links
        if links is not None and form != "chain" and (links.solids or links.shared_room):
            raise ValueError("came 'solids' or 'shared room'; expected them beside 'chain' only")
        if self.links is not None and self.links.within is not None and form != "dimensions":
            raise ValueError("came 'within' without 'dimensions'; expected shapes for each link")
        return self
