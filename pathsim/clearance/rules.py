"""Who is measured against whom, with which margin, and what may touch what."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from pathsim.clearance.records import LeftOut
from pathsim.model import Cell, Margins, Mesh, MoveKind, Piece, Role
from pathsim.model.torch import WIRE
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Array
from pathsim.units import percent

ARM_BASE = "arm base"
#: Moments looked at to see when the tip leaves the neighbourhood of a seam's end.
_LOOKS = 801


@dataclass(frozen=True, eq=False)
class Standing:
    """Something that stands still, with its mesh in the world. ``role`` None: the arm's base."""

    name: str
    role: Role | None
    mesh: Mesh


class Zone(StrEnum):
    """Where in the program a stretch lies; it decides the margin."""

    AIR = "air"
    APPROACH = "approach"
    SEAM = "seam"


@dataclass(frozen=True)
class Stretch:
    """Part of a move, from ``start`` to ``end`` (s), with one margin (m) for all of it."""

    start: float
    end: float
    zone: Zone
    wire_may_touch_part: bool

    def margin(self, margins: Margins) -> float:
        """Clearance asked for in this zone, m."""
        return {Zone.AIR: margins.air, Zone.APPROACH: margins.approach, Zone.SEAM: margins.seam}[
            self.zone
        ]


def standing_things(cell: Cell) -> tuple[Standing, ...]:
    """All bodies, and the arm's own base when it has a shape, in the world."""
    things = [Standing(b.name, b.role, b.mesh.moved(b.T_world_body)) for b in cell.bodies]
    base = cell.link_meshes[0]
    if base is not None:
        things.append(Standing(ARM_BASE, None, base.moved(cell.T_world_base)))
    return tuple(things)


def are_joined(piece: Piece, standing: Standing) -> bool:
    """Tell whether the two are neighbours in the arm: link 1 sits on the base."""
    return standing.role is None and piece.link == 1


def may_touch(piece: Piece, standing: Standing, stretch: Stretch) -> bool:
    """Tell whether contact is what the program is for: the wire on the part at the weld."""
    return stretch.wire_may_touch_part and piece.name == WIRE and standing.role is Role.PART


def stretches(cell: Cell, trajectory: Trajectory, track: MoveTrack) -> tuple[Stretch, ...]:
    """Divide a move where the margin changes.

    A seam is one stretch. Any other move that leaves a seam's end, or comes to one, has a
    stretch there while the tip is within the wire's own length of it; beyond it straight
    moves count as approach and joint moves as air.
    """
    start, end = float(track.t[0]), float(track.t[-1])
    if track.move.arc_on:
        return (Stretch(start, end, Zone.SEAM, wire_may_touch_part=True),)
    tracks = trajectory.tracks
    after_seam = track.index > 0 and tracks[track.index - 1].move.arc_on and track.continuous
    following = tracks[track.index + 1] if track.index + 1 < len(tracks) else None
    before_seam = (
        following is not None
        and following.move.arc_on
        and following.continuous
        and track.fault is None
    )
    if not (after_seam or before_seam) or start == end:
        return (Stretch(start, end, Zone.AIR, wire_may_touch_part=False),)
    near_start, near_end = _near_ends(cell, track)
    leave = near_start if after_seam else start
    arrive = near_end if before_seam else end
    straight = track.move.kind is not MoveKind.JOINT
    if leave >= arrive:
        return (Stretch(start, end, Zone.SEAM, wire_may_touch_part=True),)
    parts = []
    if leave > start:
        parts.append(Stretch(start, leave, Zone.SEAM, wire_may_touch_part=True))
    zone = Zone.APPROACH if straight else Zone.AIR
    parts.append(Stretch(leave, arrive, zone, wire_may_touch_part=False))
    if arrive < end:
        parts.append(Stretch(arrive, end, Zone.SEAM, wire_may_touch_part=True))
    return tuple(parts)


def _near_ends(cell: Cell, track: MoveTrack) -> tuple[float, float]:
    """Until when the tip stays by the move's start, and from when on by its end."""
    times = np.linspace(track.t[0], track.t[-1], _LOOKS)
    tips = tip_positions(cell, track.q_at(times))
    reach = cell.torch.wire_length
    far_start = np.linalg.norm(tips - tips[0], axis=-1) > reach
    far_end = np.linalg.norm(tips - tips[-1], axis=-1) > reach
    # The look before the first far one: the tip is surely still near there.
    first_far = int(np.argmax(far_start)) if far_start.any() else _LOOKS
    last_far = _LOOKS - 1 - int(np.argmax(far_end[::-1])) if far_end.any() else -1
    return float(times[max(first_far - 1, 0)]), float(times[min(last_far + 1, _LOOKS - 1)])


def tip_positions(cell: Cell, q: Array) -> Array:
    """Tip ``(n, 3)`` in the world at joints ``(n, dof)``."""
    T = cell.T_world_base @ cell.arm.pose(q) @ cell.torch.T_flange_tcp
    return np.asarray(T[..., :3, 3])


def left_out(cell: Cell, trajectory: Trajectory) -> tuple[LeftOut, ...]:
    """Everything that the rules leave out of the measurement, in words."""
    items: list[LeftOut] = []
    seams = tuple(t.number for t in trajectory.tracks if t.move.arc_on)
    if seams and any(body.role is Role.PART for body in cell.bodies):
        items.append(
            LeftOut(
                "wire against parts",
                "on seams, and within the wire's own length of a seam's ends, the wire may touch",
                is_agreed=True,
                moves=seams,
            )
        )
    if cell.link_meshes[0] is not None:
        items.append(LeftOut("link 1 against the arm base", "they are joined", is_agreed=True))
    items.append(LeftOut("arm base against the bodies", "both stand still", is_agreed=True))
    items.append(
        LeftOut("the arm against itself", "this version does not measure it", is_agreed=False)
    )
    items.append(LeftOut("cables and hoses", "they are not in the model", is_agreed=False))
    items.extend(
        LeftOut(
            "arm base" if link == 0 else f"link {link}",
            "the arm's description says it has no shape",
            is_agreed=False,
        )
        for link in cell.shapeless_links
    )
    items.extend(
        LeftOut(
            f"move {track.number} from {percent(track.fault.share)} on",
            f"the arm cannot be moved further: {track.fault.kind}",
            is_agreed=False,
            moves=(track.number,),
        )
        for track in trajectory.tracks
        if track.fault is not None
    )
    return tuple(items)
