"""The torch against the room that a forearm's radius asks for round the wrist."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.geometry.closest_points import closest_points
from pathsim.model import Mesh
from pathsim.model.shared_room import SharedBall
from pathsim.units import millimetres

#: The flange's face may touch the ball; this much deeper is more than rounding, m.
_DEEP = 0.002


def wrist_room(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each thing on the flange that stands in the ball round the wrist.

    The ball moves with the flange, since it is the same however the wrist turns. What reaches
    into it is there in every posture, and is not measured against the forearm's own end there.
    """
    cell = evidence.cell
    ball = cell.shared_room.ball
    if ball is None:
        return
    for piece in cell.arm_pieces:
        if not piece.is_torch:
            continue
        depth = ball.radius - _from_centre(piece.mesh, ball)
        if depth <= _DEEP:
            continue
        text = (
            f"The {piece.name} stands {millimetres(depth)} inside the forearm's radius of "
            f"{millimetres(ball.radius)} about the wrist, in every posture. There it is not "
            f"measured against {cell.link_name(ball.other)}. Give a smaller radius, or shapes for "
            "each link."
        )
        yield Finding(
            Level.WATCH,
            FindingKind.APPROXIMATE_SHAPES,
            text,
            piece=piece.name,
            numbers={"depth": depth},
        )


@lru_cache(maxsize=100)
def _from_centre(mesh: Mesh, ball: SharedBall) -> float:
    """Distance of a mesh from a ball's centre, both in the frame of the link that has it, m."""
    triangles = mesh.vertices[mesh.faces]
    centre = np.tile(ball.centre, (len(triangles), 1))
    nearest = closest_points(triangles, centre)
    return float(np.linalg.norm(nearest - centre, axis=1).min())
