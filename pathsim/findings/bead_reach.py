"""Beads that grow into what is no part: a clamp too low for the torch to meet is welded on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.findings.finding import Evidence, Finding, Level, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.geometry.containment import solid_of
from pathsim.geometry.surface import PartSurface
from pathsim.model import Body, Cell, Role
from pathsim.model.beads import BeadBody, front_of
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, apply, inverse
from pathsim.units import millimetres, percent

#: Places of a pass at which it is looked how near the body comes.
_PLACES = 201


def bead_reach(evidence: Evidence) -> Iterator[Finding]:
    """One watch for each bead and each body but parts that it reaches as it comes to stand.

    Looked at where both are when the pass ends; what moves past the bead later is measured.
    """
    cell, tracks = evidence.cell, evidence.trajectory.tracks
    for bead in cell.beads:
        track = tracks[bead.laid_by]
        if bead.body is None or track.fault is not None:
            continue
        for body in cell.bodies:
            if body.role is not Role.PART and _reaches(cell, track, bead.body, body):
                yield _finding(cell, track, bead.body, body)


def _reaches(cell: Cell, track: MoveTrack, bead: BeadBody, body: Body) -> bool:
    """Tell whether what a bead may fill, on the torch's side of its root, meets a body."""
    T = _from_body(cell, track, bead, body)
    low, high = body.mesh.bounds
    corners = apply(T, bead.mesh.corners)
    off = body.off_by
    if (corners.min(axis=0) > high + off).any() or (corners.max(axis=0) < low - off).any():
        return False
    front = front_of(cell, bead).moved(T)
    if Shape(front).gap(Shape(body.mesh)) <= off:
        return True
    return solid_of(front).holds(body.mesh.vertices[:1]) or solid_of(body.mesh).holds(
        front.vertices[:1]
    )


def _finding(cell: Cell, track: MoveTrack, bead: BeadBody, body: Body) -> Finding:
    away, share = _nearest(cell, track, bead, body)
    text = (
        f"{upper_move_name(track)}: the {bead.name} as drawn reaches the {body.name}, which is "
        f"{millimetres(away)} from the wire's end at {percent(share)}. It may be welded on. "
        f"Move the {body.name}, or end the pass before it."
    )
    time = track.travel_start + share * track.travel_seconds
    return Finding(
        Level.WATCH, FindingKind.BEAD_REACH, text, track.number, time, piece=bead.name,
        body=body.name, numbers={"away": away},
    )  # fmt: skip


def _nearest(cell: Cell, track: MoveTrack, bead: BeadBody, body: Body) -> tuple[float, float]:
    """How near a body is to the line of a pass, m (looked at), and at which share of its way."""
    line = apply(_from_body(cell, track, bead, body), bead.lain[0].line)
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    shares = np.linspace(0.0, 1.0, _PLACES)
    places = np.column_stack(
        [np.interp(shares * lengths[-1], lengths, line[:, k]) for k in range(3)]
    )
    away = PartSurface.of(body.mesh).nearest(places).distance
    k = int(np.argmin(away))
    return float(away[k]), float(shares[k])


def _from_body(cell: Cell, track: MoveTrack, bead: BeadBody, body: Body) -> Array:
    """Where a bead is as the mesh of a body sees it ``(4, 4)``, when the pass has ended."""
    q = track.q_at(track.t[-1])
    frames = (cell.frame_motion(one.stands_on, q)[0] for one in (body, bead))
    T_world_body, T_world_bead = frames
    return np.asarray(inverse(T_world_body @ body.T_world_body) @ T_world_bead)
