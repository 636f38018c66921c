"""Shapes without CAD as ``cell.yaml`` may name them: one record for each, and its mesh."""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import Field, model_validator

from pathsim import shapes
from pathsim.files.quantities import Entry, LengthFromZero, Tape
from pathsim.geometry.mesh import Mesh
from pathsim.shapes import Along, From


class ShapeEntry(Entry):
    """What all shapes have in common: what of them their place is measured to."""

    measured_from: From = Field(default=From.MIDDLE, alias="from")

    def mesh(self) -> Mesh:
        """Return the shape; raises MeshError for numbers that make none."""
        return shapes.stood(self._shape(), self.measured_from)

    def _shape(self) -> Mesh:
        raise NotImplementedError


class BlockShape(ShapeEntry):
    """A block: a table, a plate on edge, a cupboard."""

    length: Tape
    width: Tape
    height: Tape

    def _shape(self) -> Mesh:
        return shapes.box(self.length, self.width, self.height)


class PlateShape(ShapeEntry):
    """A flat plate."""

    length: Tape
    width: Tape
    thickness: Tape

    def _shape(self) -> Mesh:
        return shapes.box(self.length, self.width, self.thickness)


class WallShape(ShapeEntry):
    """A wall, a screen, a fence."""

    length: Tape
    height: Tape
    thickness: Tape

    def _shape(self) -> Mesh:
        return shapes.box(self.length, self.thickness, self.height)


class CylinderShape(ShapeEntry):
    """A round bar, a post, a drum; it stands."""

    diameter: Tape
    length: Tape

    def _shape(self) -> Mesh:
        return shapes.cylinder(self.diameter, self.length)


class PipeShape(ShapeEntry):
    """A round pipe."""

    diameter: Tape
    wall: Tape
    length: Tape
    along: Along = Along.Z

    def _shape(self) -> Mesh:
        return shapes.pipe(self.diameter, self.wall, self.length, self.along)


class _Section(ShapeEntry):
    width: Tape
    height: Tape
    length: Tape
    along: Along = Along.X
    root: LengthFromZero | None = None


class TubeShape(_Section):
    """A square or rectangular tube."""

    wall: Tape

    def _shape(self) -> Mesh:
        return shapes.tube(self.width, self.height, self.wall, self.length, self.along, self.root)


class AngleShape(_Section):
    """An angle."""

    thickness: Tape

    def _shape(self) -> Mesh:
        return shapes.angle(
            self.width, self.height, self.thickness, self.length, self.along, self.root
        )


class ChannelShape(_Section):
    """A channel, its back down."""

    web: Tape
    flange: Tape

    def _shape(self) -> Mesh:
        return shapes.channel(
            self.width, self.height, self.web, self.flange, self.length, self.along, self.root
        )


class BeamShape(_Section):
    """A beam, its web upright."""

    web: Tape
    flange: Tape

    def _shape(self) -> Mesh:
        return shapes.beam(
            self.width, self.height, self.web, self.flange, self.length, self.along, self.root
        )


class BenchShape(ShapeEntry):
    """A bench on four legs, with slots or without."""

    length: Tape
    width: Tape
    height: Tape
    thickness: Tape
    leg: Tape
    slots: int = Field(default=0, ge=0, le=50)
    slot_width: Tape | None = Field(default=None, alias="slot width")
    slot_depth: Tape | None = Field(default=None, alias="slot depth")

    @model_validator(mode="after")
    def _slots_have_sizes(self) -> BenchShape:
        said = [self.slot_width is not None, self.slot_depth is not None]
        if self.slots and not all(said):
            raise ValueError("came 'slots' alone; expected 'slot width' and 'slot depth' too")
        if not self.slots and any(said):
            raise ValueError("came the size of slots without 'slots'; expected how many there are")
        return self

    def _shape(self) -> Mesh:
        return shapes.bench(
            self.length, self.width, self.height, self.thickness, self.leg,
            self.slots, self.slot_width or 0.0, self.slot_depth or 0.0,
        )  # fmt: skip


class PedestalShape(ShapeEntry):
    """A square column with plates at both ends."""

    height: Tape
    column: Tape
    plate: Tape
    thickness: Tape

    def _shape(self) -> Mesh:
        return shapes.pedestal(self.height, self.column, self.plate, self.thickness)


class StopBlockShape(ShapeEntry):
    """A foot plate with an upright."""

    length: Tape
    width: Tape
    height: Tape
    thickness: Tape

    def _shape(self) -> Mesh:
        return shapes.stop_block(self.length, self.width, self.height, self.thickness)


class ToggleClampShape(Entry):
    """A toggle clamp, closed."""

    reach: Tape
    height: Tape
    width: Tape
    base: Tape
    arm: Tape
    pad: Tape | None = None
    pad_height: LengthFromZero = Field(default=0.0, alias="pad height")

    def mesh(self) -> Mesh:
        """Return the shape, the middle of its foot at the origin."""
        return shapes.toggle_clamp(
            self.reach, self.height, self.width, self.base, self.arm, self.pad, self.pad_height
        )


class CClampShape(Entry):
    """A C-clamp, its screw upright."""

    opening: Tape
    throat: Tape
    frame: Tape
    width: Tape
    screw: Tape
    handle: Tape

    def mesh(self) -> Mesh:
        """Return the shape, the middle of the upper jaw's face at the origin."""
        return shapes.c_clamp(
            self.opening, self.throat, self.frame, self.width, self.screw, self.handle
        )


AnyShape = ShapeEntry | ToggleClampShape | CClampShape


class ShapedEntry(Entry):
    """The keys under which a body may have a shape in the place of a mesh."""

    box: BlockShape | None = None
    plate: PlateShape | None = None
    wall: WallShape | None = None
    cylinder: CylinderShape | None = None
    pipe: PipeShape | None = None
    tube: TubeShape | None = None
    angle: AngleShape | None = None
    channel: ChannelShape | None = None
    beam: BeamShape | None = None
    bench: BenchShape | None = None
    pedestal: PedestalShape | None = None
    stop_block: StopBlockShape | None = Field(default=None, alias="stop block")
    toggle_clamp: ToggleClampShape | None = Field(default=None, alias="toggle clamp")
    c_clamp: CClampShape | None = Field(default=None, alias="c-clamp")

    def shapes(self) -> Iterator[tuple[str, AnyShape]]:
        """Yield the shapes that are given, each with its key."""
        for name, field in ShapedEntry.model_fields.items():
            value = getattr(self, name)
            if value is not None:
                yield field.alias or name, value


def shape_keys() -> list[str]:
    """Return the keys under which a body may have a shape."""
    return [field.alias or name for name, field in ShapedEntry.model_fields.items()]
