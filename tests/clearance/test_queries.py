"""What a program asks: all pairs on all stretches, by numbers as by records."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.clearance.contact_rules import pair_margin, pairs_to_measure
from pathsim.clearance.engine import PairQuery, Queries, Span
from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.obstacle import OWN_MARGIN, obstacles
from pathsim.clearance.queries import queries_of, queries_of_each
from pathsim.clearance.stretches import stretches, wire_stretches
from pathsim.files import load_cell
from pathsim.motion import plan_program

SAMPLES = Path(__file__).parents[2] / "sample_cells"
NAMES = ["gate_hinge", "turned_collar", "hanging_rail", "loose_cable", "deep_channel"]


def one_by_one(cell, trajectory, things, own, tracks):
    """All of them, with part and margin, in as plain a way as they can be written down."""
    found = []
    for track in tracks:
        of_move = stretches(cell, trajectory, track)
        of_wire = []
        for piece, standing in pairs_to_measure(cell, track, things):
            is_wire_and_part = piece is cell.wire and standing.role == "part"
            for part in () if is_wire_and_part else of_move:
                question = PairQuery(track, piece, standing, Span(part.start, part.end))
                found.append((question, part.zone, pair_margin(cell, track, piece, standing, part)))
            for part in (
                wire_stretches(cell, trajectory, track, of_move) if is_wire_and_part else ()
            ):
                end = part.touching_end
                some = cell.wires_above[end] if end else cell.wire
                margin = (
                    0.0 if part.zone == "seam" else pair_margin(cell, track, some, standing, part)
                )
                question = PairQuery(track, some, standing, Span(part.start, part.end))
                of_wire.append((question, part.zone, margin))
        found += of_wire
        whole = Span(float(track.t[0]), float(track.t[-1]))
        found += [(PairQuery(track, *pair, whole), "air", OWN_MARGIN) for pair in own]
    return found


@pytest.mark.parametrize("name", NAMES)
def test_all_pairs_on_all_stretches_are_asked_about(name):
    cell = load_cell(SAMPLES / name)
    trajectory, things, own = plan_program(cell), obstacles(cell), own_pairs(cell)
    for tracks in (None, trajectory.tracks[1:3], [], trajectory.tracks[::-1]):
        asked = queries_of(cell, trajectory, things, own, tracks)
        some = trajectory.tracks if tracks is None else tracks
        plain = one_by_one(cell, trajectory, things, own, some)
        assert [(one.question, one.part.zone, one.margin) for one in asked] == plain
        assert list(asked.queries) == [question for question, _, _ in plain]
        assert len(asked) == len(plain)
        for k in (0, len(plain) // 2, -1) if plain else ():
            assert asked[k].question == plain[k][0] and asked[k].margin == plain[k][2]
        assert [one.margin for one in asked[1:4]] == [margin for _, _, margin in plain[1:4]]
    assert len(queries_of(cell, trajectory, (), ()).queries) == 0


def test_questions_by_numbers_are_those_by_records():
    cell = load_cell(SAMPLES / "turned_collar")
    trajectory = plan_program(cell)
    kept = queries_of(cell, trajectory, obstacles(cell), own_pairs(cell)).queries
    records = list(kept)
    assert Queries.of(kept) is kept
    numbered = Queries.of(records)
    assert list(numbered) == records
    assert len(numbered.pairs) <= len(kept.pairs) and len(numbered.windows) <= len(kept.windows)
    rng = np.random.default_rng(3)
    for _ in range(20):
        a, b = np.sort(rng.integers(0, len(records), 2)).tolist()
        step = int(rng.integers(1, 5))
        assert list(kept[a:b:step]) == records[a:b:step] == list(numbered[a:b:step])
        assert kept[a] == records[a] and kept[a - len(records)] == records[a]
    assert list(kept[::-1]) == records[::-1]
    with pytest.raises(IndexError):
        kept[len(records)]


def test_several_trajectories_are_asked_about_as_each_alone():
    cell = load_cell(SAMPLES / "turned_collar")
    things, own = obstacles(cell), own_pairs(cell)
    first = plan_program(cell)
    other = plan_program(replace(cell, tip_speed=0.5 * cell.tip_speed))
    wanted = [
        (first, own, first.tracks[1:3]),
        (other, own[:1], other.tracks),
        (first, (), first.tracks[2:]),
    ]
    asked, places = queries_of_each(cell, things, wanted)
    assert len(places) == 4 and places[-1] == len(asked)
    for (trajectory, some, tracks), a, b in zip(wanted, places[:-1], places[1:], strict=True):
        alone = queries_of(cell, trajectory, things, some, tracks)
        assert len(alone) == b - a
        assert asked[a:b] == list(alone)
        assert (asked.is_own[a:b] == alone.is_own).all()
    pairs = asked.queries.pairs
    assert len(set(pairs)) == len(pairs)
    none, nowhere = queries_of_each(cell, things, [])
    assert len(none) == 0 and nowhere == [0]
