"""What is exempt where a joint, a rail, a table's stand or the flange holds two things together."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.clearance.joined import joined_of, mounts_of
from pathsim.clearance.joint_store import Apart
from pathsim.clearance.joint_zone import PAD
from pathsim.clearance.records import LeftOut
from pathsim.model import Cell
from pathsim.motion import Trajectory
from pathsim.units import millimetres


def left_out_at_joints(cell: Cell, trajectory: Trajectory) -> Iterator[LeftOut]:
    """Say how far from each joint contact is taken as by design; the rest is measured."""
    joined = joined_of(cell)
    castings = [one for one in joined if one.range.sides.grows and one.standing.bears is None]
    near = [
        f"{cell.axes.names[one.column]} {millimetres(zone.radius, 0)}"
        for one in castings
        if (zone := one.range.known.zone) is not None
    ]
    if near:
        what = "neighbouring links against each other round the joint that holds them together"
        yield LeftOut(what, f"within so much of its axis: {', '.join(near)}", is_agreed=True)
    for one in joined:
        pair, zone = f"{one.piece.name} against the {one.standing.name}", one.range.known.zone
        if one.range.sides.is_slide and one.range.sides.castings is None:
            why = f"it bears the slide: within {millimetres(PAD, 0)} of walls that run all along"
            yield LeftOut(f"{pair}, along the guides", why, is_agreed=True)
        elif one.standing.bears is not None and zone is not None:
            why = f"it bears the table: within {millimetres(zone.radius, 0)} of the axis"
            yield LeftOut(f"{pair}, round the table's axis", why, is_agreed=True)
    for one in joined if trajectory.tracks else ():
        if one.apart(trajectory.tracks) is Apart.EXEMPT:
            what = f"{one.piece.name} against {one.standing.name}, wholly"
            why = "all of one of them is where the joint holds them together"
            yield LeftOut(what, why, is_agreed=True)
    if cell.arm.dof in cell.approximate_links:
        what = f"the torch against {cell.link_name(cell.arm.dof)}, wholly"
        yield LeftOut(what, "a simple solid stands for the flange's casting", is_agreed=True)
    mounts = [zone.radius for one in mounts_of(cell) if (zone := one.range.known.zone) is not None]
    if mounts:
        what = f"the torch against {cell.link_name(cell.arm.dof)} round the flange"
        why = f"it is fastened there: within {millimetres(max(mounts), 0)} of the flange's axis"
        yield LeftOut(what, why, is_agreed=True)
