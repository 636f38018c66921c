"""Legs by looks and halving, against every leg proved by itself."""

from __future__ import annotations

import numpy as np
import pytest

from pathsim.advice.edges import Edge, EdgeProver
from pathsim.advice.roots import LENGTHS, SPARE, _within_reach, directions, roots
from pathsim.advice.section import SectionEnd
from pathsim.motion import plan_program
from pathsim.session import Session
from tests.benchmarks.hard_cells import hard_cell


@pytest.mark.parametrize("seed", [0, 16])
def test_a_leg_is_a_root_where_it_is_proved_and_its_tip_is_off_everything(seed):
    """As if all were asked about; turned torches aside, whose longer legs go by no shorter tip."""
    cell = hard_cell(seed).cell
    tracks = plan_program(cell).tracks
    seam = next(track for track in tracks if track.move.arc_on)
    prover = EdgeProver(cell, Session(), 0.25, 0.1)
    for leaves in (True, False):
        q = seam.q[-1 if leaves else 0]
        end = SectionEnd("weld", q, seam.move)
        found = roots(cell, prover, end, leaves=leaves)
        assert found[0].direction is None and np.array_equal(found[0].q, q)
        got = {(root.direction.words, root.length): root.q for root in found[1:]}
        ways = list(directions(cell, q))
        wanted, count = {}, 0
        for way, tips in zip(ways, _within_reach(cell, q, ways), strict=True):
            legs = [Edge(q, tip, True, seam.move) if leaves else
                    Edge(tip, q, True, None, seam.move) for tip in tips]  # fmt: skip
            clear = prover.spare(legs) >= 0
            count += len(legs) - int(clear.sum())
            off = prover.look_off(tips, SPARE)
            if way.turn:
                got = {key: tip for key, tip in got.items() if key[0] != way.words}
                continue
            for n, tip in enumerate(tips):
                if clear[n:].any() and off[n]:
                    wanted[way.words, LENGTHS[n]] = tip
        assert got.keys() == wanted.keys()
        assert all(np.allclose(got[key], tip, atol=1e-12) for key, tip in wanted.items())
        assert wanted and count
