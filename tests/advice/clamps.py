"""Clamps put at random in the way of a sample cell's air moves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from pathsim.files import load_cell
from pathsim.model import Body, MoveKind, Role
from pathsim.motion import plan_program
from pathsim.transforms import frozen, translation
from tests.builders import box

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def with_clamp_in_the_way(name, seed):
    """A sample cell with a clamp on the tip's way of one of its joint moves, away from its ends."""
    rng = np.random.default_rng(seed)
    cell = load_cell(SAMPLES / name)
    tracks = plan_program(cell).tracks
    joints = [t for t in tracks if t.move.kind is MoveKind.JOINT and t.tip_length > 0.2]
    track = joints[rng.integers(len(joints))]
    share = rng.uniform(0.25, 0.75)
    moment = track.t[0] + share * track.duration
    tip = cell.tool_poses(track.q_at(moment))[0, :3, 3]
    size = rng.uniform([0.02, 0.02, 0.03], [0.06, 0.06, 0.12])
    at = tip + rng.normal(0, 0.01, 3)
    clamp = Body("extra clamp", Role.CLAMP, box(size), frozen(translation(at)))
    return replace(cell, bodies=(*cell.bodies, clamp)), track.number


def is_curable(result, finding):
    """A hit on an air move whose two ends are clear by the margin: some way round may exist."""
    if finding.kind not in ("contact", "near-hit") or finding.body != "extra clamp":
        return False
    pairs = [p for p in result.moves[finding.move - 1].pairs if p.body == "extra clamp"]
    track = result.moves[finding.move - 1].track
    ends = (track.t[0], track.t[-1])
    near = [s for p in pairs for s in p.spans if p.clearance.lower < p.margin]
    return all(s.start > ends[0] + 1e-6 and s.end < ends[1] - 1e-6 for s in near)
