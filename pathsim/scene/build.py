"""``build_scene(result) -> Scene``: what to draw, from the result and nothing else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pathsim.check import CheckResult
from pathsim.clearance import Span
from pathsim.clearance.obstacle import ARM_BASE
from pathsim.clearance.records import ClearanceProfile
from pathsim.findings.kinds import FindingKind
from pathsim.model import Body, Cable, MoveKind
from pathsim.scene.cameras import general_cameras
from pathsim.scene.marks import finding_marks
from pathsim.scene.palette import BANDS, bands_of
from pathsim.scene.records import Detour, MoveBand, PathLine, PointName, Ring, Scene, SceneMesh
from pathsim.session import Session
from pathsim.transforms import Array, frozen

#: Moments at which the arm's reach is looked at to fit the cameras.
_MOMENTS = 40
_RING_RADIUS = 0.011  # m
_RINGS_APART = 0.012  # m along the path
_MOST_RINGS = 60


def build_scene(result: CheckResult, session: Session | None = None) -> Scene:
    """Build the scene of a checked cell; measures the clearance over time for chart and path.

    ``session``: the one that checked it, whose engine then already knows the cell.
    """
    cell, trajectory = result.cell, result.trajectory
    profile = (session or Session()).profile(result)
    if not cell.bodies:  # a number against the arm's own base alone would look like clear
        profile = replace(profile, guaranteed=frozen(np.full_like(profile.guaranteed, np.nan)))
    unchecked = tuple(f.text for f in result.findings if f.kind == FindingKind.NOT_CHECKED)
    meshes = _meshes(result)
    paths = _paths(result, profile, is_all_checked=not unchecked)
    moments = np.linspace(0, trajectory.duration, _MOMENTS)
    q = np.stack([trajectory.q_at(time) for time in moments])
    poses = cell.link_poses(q)
    wrist = tuple(
        span for f in result.findings if f.kind == FindingKind.WRIST_ALIGNED for span in f.spans
    )
    return Scene(
        result=result,
        profile=profile,
        meshes=meshes,
        paths=paths,
        detours=_detours(result),
        rings=_rings(result),
        marks=finding_marks(result, meshes),
        names=_names(result),
        bands=tuple(
            MoveBand(
                track.number,
                track.move.label,
                track.start,
                track.move.target,
                float(track.t[0]),
                float(track.t[-1]),
                track.fault is None,
                track.move.belongs_to,
            )
            for track in trajectory.tracks
        ),
        cameras=general_cameras(cell, trajectory, paths, meshes, poses),
        wrist_spans=wrist,
        unchecked=unchecked,
        contact_spans=tuple(
            span
            for move in result.moves
            for pair in move.noteworthy
            if pair.clearance.touches
            for span in pair.spans
        ),
    )


def _meshes(result: CheckResult) -> tuple[SceneMesh, ...]:
    cell = result.cell
    found = []
    for body in cell.standing:
        if body.is_carried:
            continue
        mesh = body.mesh.moved(body.T_world_body)
        since = _since(result, body)
        found.append(
            SceneMesh(body.name, str(body.role), None, mesh.vertices, mesh.faces, since=since)
        )
    base = cell.link_meshes[0]
    if base is not None:
        found.append(SceneMesh(ARM_BASE, "arm", 0, base.vertices, base.faces))
    for piece in cell.pieces:
        grey = "torch" if piece.is_torch else "arm"
        if piece.body is not None:
            grey = str(piece.body.role)
        mesh, core = piece.mesh, None
        since = _since(result, piece.body)
        if piece.cable is not None:
            grey, core = "cable", _core(piece.cable)
        found.append(
            SceneMesh(piece.name, grey, piece.link, mesh.vertices, mesh.faces, core, since)
        )
    return tuple(found)


def _since(result: CheckResult, body: Body | None) -> float:
    """Return from when on a body stands, s: of a bead the end of its own pass."""
    first = 0 if body is None else body.stands_from
    return float(result.trajectory.tracks[first - 1].t[-1]) if first else 0.0


def _core(cable: Cable) -> SceneMesh | None:
    """Return the cable inside the room that its slack gives it; None where that is all of it."""
    if cable.slack_taken == 0:
        return None
    mesh = cable.core
    return SceneMesh(cable.name, "cable", cable.link, mesh.vertices, mesh.faces)


def _paths(
    result: CheckResult, profile: ClearanceProfile, *, is_all_checked: bool
) -> tuple[PathLine, ...]:
    """Tip ways at the profile's own moments and the knots, banded by guaranteed clearance.

    Where a move or a thing was not wholly checked, nothing is drawn as far from everything.
    """
    lines = []
    for track in result.trajectory.tracks:
        rows = np.flatnonzero(profile.move == track.number)
        t = np.unique(np.concatenate([profile.t[rows], track.t]))
        points = result.cell.tips(track.q_at(t))
        middles = (t[:-1] + t[1:]) / 2
        k = rows[0] + np.clip(
            np.searchsorted(profile.t[rows], middles, side="right") - 1, 0, max(len(rows) - 2, 0)
        )
        band = (
            bands_of(profile.guaranteed[k], profile.margin[k])
            if len(rows) > 1
            else np.zeros(0, np.int64)
        )
        if not is_all_checked or track.fault is not None:
            band = np.where(band == len(BANDS) - 1, -1, band)
        lines.append(PathLine(track.number, frozen(t), frozen(points), band))
    return tuple(lines)


def _detours(result: CheckResult) -> tuple[Detour, ...]:
    found = []
    for track in result.trajectory.tracks:
        if track.move.kind is not MoveKind.JOINT or track.detour <= 0:
            continue
        ends = result.cell.tips(track.q[[0, -1]])
        on_path = result.cell.tips(track.q_at(track.detour_time))[0]
        way = ends[1] - ends[0]
        length = float(way @ way)
        share = float(np.clip((on_path - ends[0]) @ way / length, 0, 1)) if length > 0 else 0.0
        on_line = ends[0] + share * way
        found.append(Detour(track.number, ends[0], ends[1], on_line, on_path, track.detour))
    return tuple(found)


def _names(result: CheckResult) -> tuple[PointName, ...]:
    """Return the names where the tip really is at the ends of moves."""
    names: dict[str, Array] = {}
    for track in result.trajectory.tracks:
        ends = result.cell.tips(track.q[[0, -1]])
        if track.continuous:
            names.setdefault(track.start, ends[0])
        if track.fault is None:
            names.setdefault(track.move.target, ends[1])
    return tuple(PointName(name, place) for name, place in names.items())


def _rings(result: CheckResult) -> tuple[Ring, ...]:
    """Rings round the path in every wrist zone."""
    rings: list[Ring] = []
    for finding in result.findings:
        if finding.kind != FindingKind.WRIST_ALIGNED or finding.move is None:
            continue
        track = result.trajectory.tracks[finding.move - 1]
        for span in finding.spans:
            rings.extend(_rings_in(result, track.number, span))
    return tuple(rings)


def _rings_in(result: CheckResult, number: int, span: Span) -> list[Ring]:
    track = result.trajectory.tracks[number - 1]
    times = np.linspace(span.start, span.end, 200)
    tips = result.cell.tips(track.q_at(times))
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(tips, axis=0), axis=1))])
    count = int(np.clip(way[-1] / _RINGS_APART, 1, _MOST_RINGS))
    turn = np.linspace(0, 2 * np.pi, 25)
    rings = []
    for distance in np.linspace(0, way[-1], count + 1):
        k = int(np.clip(np.searchsorted(way, distance), 1, len(way) - 1))
        axis = tips[k] - tips[k - 1]
        size = float(np.linalg.norm(axis))
        axis = axis / size if size > 1e-12 else np.array([0.0, 0.0, 1.0])
        u = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
        u /= np.linalg.norm(u)
        v = np.cross(axis, u)
        circle = np.outer(np.cos(turn), u) + np.outer(np.sin(turn), v)
        rings.append(Ring(number, tips[k] + _RING_RADIUS * circle))
    return rings
