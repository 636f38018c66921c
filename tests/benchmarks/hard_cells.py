"""Hard cells made at random: clamps, bars, beams, windows, gantries, hops between seams.

All from a sound sample cell with plain boxes put in the way, by a seed. Half of them have lost
their retract and approach points.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pathsim.files import load_cell
from pathsim.model import Body, Cell, MoveKind, Role
from pathsim.motion import plan_program
from pathsim.transforms import frozen, pose, rotation_about, translation
from tests.benchmarks.hard_planner import Sampler
from tests.builders import box

SAMPLES = Path(__file__).parents[2] / "sample_cells"
BASES = ("gate_hinge", "collar_seam", "deep_channel")
KINDS = ("clamps", "bar", "beam", "window", "gantry", "hop")
UP = np.array([0.0, 0.0, 1.0])
#: So often is drawn anew where the new bodies come too near to a seam, and how near that is, m.
_DRAWS, _OFF_SEAM = 25, 0.009
#: What is longer is no clamp, m.
_LONGEST_CLAMP = 0.35


@dataclass(frozen=True, eq=False)
class HardCell:
    """A cell, what stands in the way, and the numbers it was made from."""

    base: str
    kind: str
    seed: int
    cell: Cell

    @property
    def name(self):
        return cell_name(self.seed, self.base, self.kind)


def cell_name(seed, base=None, kind=None):
    """Its sample cell, what stands in the way, and its seed."""
    base = base or BASES[seed % len(BASES)]
    kind = kind or KINDS[(seed // len(BASES)) % len(KINDS)]
    return f"{base}/{kind}/{seed}"


def hard_cell(seed, base=None, kind=None):
    """The hard cell of a seed; nothing is promised of it but that it is always the same."""
    rng = np.random.default_rng([19, seed])
    base = base or BASES[seed % len(BASES)]
    kind = kind or KINDS[(seed // len(BASES)) % len(KINDS)]
    cell = load_cell(SAMPLES / base)
    if kind == "hop":
        cell = _hopping(cell)
    if rng.random() < 0.5:
        cell = _bare(cell)
    tracks = plan_program(cell).tracks
    for _ in range(_DRAWS):
        bodies = _THINGS[kind](rng, cell, tracks)
        hard = replace(cell, bodies=(*cell.bodies, *bodies))
        if _leaves_the_seam_alone(hard, tracks, bodies):
            break
    return HardCell(base, kind, seed, hard)


def _leaves_the_seam_alone(cell, tracks, bodies):
    """Tell whether all stays well off the new bodies with the arc on: else no air point helps."""
    sampler = Sampler(cell, tracks[0], {body.name for body in bodies})
    margin = cell.margins.seam + _OFF_SEAM
    seams = [track for track in tracks if track.move.arc_on]
    looks = [t.q_at(np.linspace(t.t[0], t.t[-1], 25)) for t in seams]
    return all(sampler.keeps(q, margin, margin) for qs in looks for q in qs)


def _hopping(cell):
    """The seam welded twice: from its end straight on to where it starts."""
    moves = cell.program.moves
    seam = next(k for k, move in enumerate(moves) if move.arc_on)
    start = moves[seam - 1].target
    joint = next(move for move in moves if move.kind is MoveKind.JOINT)
    again = replace(joint, target=start, wait=0.0)
    return _with_moves(cell, (*moves[: seam + 1], again, moves[seam], *moves[seam + 1 :]))


def _bare(cell):
    """Without any retract or approach: joint moves straight to the weld and away from it."""
    moves, kept = cell.program.moves, []
    for k, move in enumerate(moves):
        follows = k > 0 and moves[k - 1].arc_on
        leads = k + 1 < len(moves) and moves[k + 1].arc_on
        if move.kind is MoveKind.LINEAR and not move.arc_on and follows:
            continue
        if move.kind is MoveKind.LINEAR and not move.arc_on and leads:
            kept[-1] = replace(kept[-1], target=move.target)
            continue
        kept.append(move)
    used = {cell.program.start, *(m.target for m in kept), *(m.via for m in kept)}
    points = {name: point for name, point in cell.points.items() if name in used}
    return _with_moves(replace(cell, points=points, program=replace(
        cell.program, moves=tuple(kept))), tuple(kept))  # fmt: skip


def _with_moves(cell, moves):
    return replace(cell, program=replace(cell.program, moves=tuple(moves)))


def _body(name, size, T):
    # A beam is no clamp: of one so long the check asks whether its unit is right, and says all of
    # its hits in that one question, so that none would be counted here.
    role = Role.CLAMP if max(size) < _LONGEST_CLAMP else Role.OTHER
    return Body(name, role, box(size), frozen(T))


def _seam_ends(cell, tracks):
    seam = next(track for track in tracks if track.move.arc_on)
    return cell.tool_poses(np.stack([seam.q[0], seam.q[-1]]))[:, :3, 3]


def _turned(angle, at):
    return pose(rotation_about(UP, angle), at)


def _clamps(rng, cell, tracks):
    """One on each side of the seam, and now and then a third behind it."""
    ends = _seam_ends(cell, tracks)
    middle, along = ends.mean(axis=0), ends[1] - ends[0]
    angle = np.arctan2(along[1], along[0])
    made = []
    for k, side in enumerate((90, -90, 180 * rng.integers(2))[: 2 + int(rng.integers(2))]):
        size = rng.uniform([0.03, 0.03, 0.10], [0.07, 0.07, 0.28])
        off = angle + np.radians(side + rng.uniform(-25, 25))
        far = rng.uniform(0.07, 0.16) + (0.5 * np.linalg.norm(along) if k == 2 else 0)
        at = middle + far * np.array([np.cos(off), np.sin(off), 0.0])
        at[2] = middle[2] - 0.03 + 0.5 * size[2]
        made.append(_body(f"hard clamp {k + 1}", size, _turned(rng.uniform(0, np.pi), at)))
    return made


def _bar(rng, cell, tracks):
    """A bar that lies over one end of the seam."""
    end = _seam_ends(cell, tracks)[rng.integers(2)]
    size = np.array([rng.uniform(0.3, 0.6), *rng.uniform(0.03, 0.06, 2)])
    at = end + np.array([*rng.uniform(-0.08, 0.08, 2), rng.uniform(0.10, 0.28)])
    return [_body("hard bar", size, _turned(rng.uniform(0, np.pi), at))]


def _way(rng, cell, tracks, low, high):
    """A tip on the way of a long joint move, and the direction of the way there."""
    joints = [t for t in tracks if t.move.kind is MoveKind.JOINT and t.tip_length > 0.2]
    track = joints[rng.integers(len(joints))] if joints else tracks[0]
    moment = track.t[0] + rng.uniform(low, high) * track.duration
    q = track.q_at([moment, min(moment + 0.05 * track.duration, track.t[-1])])
    tips = cell.tool_poses(q)[:, :3, 3]
    return tips[0], np.arctan2(*(tips[1] - tips[0])[1::-1])


def _beam(rng, cell, tracks):
    """A long beam across a way, high enough to be in it."""
    tip, angle = _way(rng, cell, tracks, 0.25, 0.75)
    size = np.array([rng.uniform(0.05, 0.09), rng.uniform(0.6, 1.2), rng.uniform(0.08, 0.3)])
    at = tip + rng.normal(0, [0.02, 0.02, 0.05])
    return [_body("hard beam", size, _turned(angle + rng.uniform(-0.4, 0.4), at))]


def _frame(T, wide, high, thick):
    """Four bars round an opening: in the frame's own y and z."""
    sides = ((0, 0.5 * (wide + thick)), (0, -0.5 * (wide + thick)))
    made = [((thick, thick, high + 2 * thick), (0.0, y, 0.0)) for _, y in sides]
    made += [((thick, wide, thick), (0.0, 0.0, s * 0.5 * (high + thick))) for s in (1, -1)]
    return [
        _body(f"hard frame {k + 1}", size, T @ translation(np.array(at)))
        for k, (size, at) in enumerate(made)
    ]


def _window(rng, cell, tracks):
    """A frame that the way goes through, and mostly not through its middle."""
    tip, angle = _way(rng, cell, tracks, 0.35, 0.7)
    wide, high, thick = rng.uniform([0.32, 0.35, 0.03], [0.55, 0.6, 0.05])
    off = np.array([-np.sin(angle), np.cos(angle), 0.0]) * rng.uniform(-0.25, 0.25)
    at = tip + off + UP * rng.uniform(-0.05, 0.25)
    return _frame(_turned(angle + rng.uniform(-0.3, 0.3), at), wide, high, thick)


def _gantry(rng, cell, tracks):
    """Two posts and a crossbar over the part."""
    ends = _seam_ends(cell, tracks)
    at = ends.mean(axis=0) + np.array([*rng.uniform(-0.08, 0.08, 2), 0.0])
    wide, high, thick = rng.uniform([0.35, 0.22, 0.03], [0.6, 0.42, 0.06])
    T = _turned(rng.uniform(0, np.pi), at)
    post = (thick, thick, high)
    made = [(post, (0, s * 0.5 * wide, 0.5 * high - 0.03)) for s in (1, -1)]
    made.append(((thick, wide + thick, thick), (0, 0, high - 0.03 + 0.5 * thick)))
    return [
        _body(f"hard gantry {k + 1}", size, T @ translation(np.array(where, float)))
        for k, (size, where) in enumerate(made)
    ]


def _hop(rng, cell, tracks):
    """A clamp beside or over the middle of the seam, in the way back to its start."""
    ends = _seam_ends(cell, tracks)
    size = rng.uniform([0.02, 0.04, 0.04], [0.05, 0.12, 0.15])
    along = ends[1] - ends[0]
    at = ends.mean(axis=0) + np.array([*rng.uniform(-0.04, 0.04, 2), 0.0])
    at[2] += rng.uniform(0.03, 0.10) + 0.5 * size[2]
    return [_body("hard stop", size, _turned(np.arctan2(along[1], along[0]), at))]


_THINGS = {
    "clamps": _clamps, "bar": _bar, "beam": _beam, "window": _window, "gantry": _gantry,
    "hop": _hop,
}  # fmt: skip
