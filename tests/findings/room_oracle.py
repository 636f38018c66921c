"""Room beside a seam, written to be read: by python-fcl, one pair and place at a time."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.contact_rules import comes_near, pair_margin
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.clearance.stretches import stretches
from pathsim.findings.centre_line import on_seam
from pathsim.geometry.containment import winding_number
from pathsim.model import Role
from pathsim.transforms import translation

PLACES, HALVINGS, WIDEST = 15, 7, 2.0


def plain_room(evidence, track):
    """Least room to the left and to the right, m, and when the lesser comes, s."""
    cell, weave = evidence.cell, track.move.weave
    widest, tilt = WIDEST * weave.amplitude, weave.tilt
    (part,) = stretches(cell, evidence.trajectory, track)
    pairs = [
        (Shape(piece.mesh), piece.link, Shape(thing.mesh), thing.on_table,
         pair_margin(cell, track, piece, thing, part))
        for piece in cell.arm_pieces
        for thing in obstacles(cell)
        if piece.is_torch and not comes_near(piece, thing, part)
        if thing.stands_from <= track.index
    ]  # fmt: skip
    pairs += _of_the_wire(cell, track)
    rooms = [(widest, side, float(track.t[0])) for side in (1.0, -1.0)]
    for share in np.linspace(0, 1, PLACES):
        place = on_seam(cell, track, float(share))
        if place is None:
            continue
        table = cell.table_motion(place.q[None])[0]
        travel = table[:3, :3] @ place.travel
        left = np.cross(-place.T_world_tcp[:3, 2], travel)
        if np.linalg.norm(left) < 1e-9:
            continue
        left /= np.linalg.norm(left)
        left = np.cos(tilt) * left + np.sin(tilt) * np.cross(travel, left)
        links = cell.link_poses(place.q[None])[0]
        time = float(track.t[0] + share * track.travel_seconds)
        ways = [(side, side * left) for side in (1.0, -1.0)]
        rooms += [(_room(pairs, links, table, way, widest), side, time) for side, way in ways]
    least = [min(room for room in rooms if room[1] == side) for side in (1.0, -1.0)]
    return least[0][0], least[1][0], min(least)[2]


def _of_the_wire(cell, track):
    """The wire above its end against parts, which it must not touch; beads count by their height.

    Its end: what the move says, the amplitude, and in beads round its line their height.
    """
    tips = cell.tips_on_part(track.q_at(np.linspace(track.t[0], track.t[-1], 129)))
    pairs = []
    for body in cell.standing:
        if body.role is not Role.PART or body.stands_from > track.index:
            continue
        end = track.move.wire_end + track.move.weave.amplitude
        mesh = body.mesh.moved(body.T_world_body)
        if body.bead_top and any(
            abs(winding_number(tip, mesh.vertices, mesh.faces)) > 0.5 for tip in tips
        ):
            end += max(one.body.section.top for one in cell.beads if one.body is not None)
        wire = cell.torch.wire_above(end)
        if wire is not None:
            pairs.append((Shape(wire.mesh), cell.arm.dof, Shape(mesh), body.on_table, 1e-9))
    return pairs


def _room(pairs, links, table, direction, widest):
    def keeps(way):
        for moving, link, still, on_table, margin in pairs:
            moving.place(translation(way * direction) @ links[link])
            still.place(table if on_table else np.eye(4))
            if moving.gap(still) < margin:
                return False
        return True

    if not keeps(0.0):
        return 0.0
    if keeps(widest):
        return widest
    low, high = 0.0, widest
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if keeps(middle) else (low, middle)
    return low
