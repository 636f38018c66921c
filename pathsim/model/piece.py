"""What moves: a link, a piece of the torch, a cable, or a body on the turning table."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from pathsim.arm import Arm
from pathsim.geometry.mesh import Mesh
from pathsim.model.cable import Cable
from pathsim.model.scenery import Body


@dataclass(frozen=True, eq=False)
class Piece:
    """Something that moves with link ``link``: a casting, a piece of the torch, a turned body.

    ``mesh`` is in the frame of that link (``Cell.link_poses``). Bodies on the turning table
    have the link behind the flange. ``is_torch``: carried by the last link without being it, as
    the torch is, and a ``cable`` there. ``is_wire``: the wire, or what is left of it above its
    end. ``drawn_to``: how far its mesh may be off the true surface, m.
    """

    name: str
    link: int
    mesh: Mesh
    is_torch: bool
    body: Body | None = None
    cable: Cable | None = None
    is_wire: bool = False
    drawn_to: float = 0.0

    @property
    def off_by(self) -> float:
        """How far any of its surface may be from where the model has it, m."""
        return self.drawn_to if self.body is None else self.body.off_by

    @cached_property
    def content(self) -> bytes:
        """All that decides answers about it, but for how its link moves."""
        return f"{self.link} {self.mesh.digest} ".encode()

    def __repr__(self) -> str:
        return f"Piece({self.name!r}, on link {self.link})"


def link_name(arm: Arm, index: int) -> str:
    """Name of a link in results; on a rail, link 1 is the slide that carries the arm."""
    if index == 0:
        return "arm base"
    if arm.has_rail:
        return "rail slide" if index == 1 else f"link {index - 1}"
    return f"link {index}"
