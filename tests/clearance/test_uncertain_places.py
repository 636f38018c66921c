"""What is clear with a place that is only known so well stays clear wherever it really is."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim import Group, Session, load_cell
from pathsim.clearance.contact_rules import largest_margin, unknown_place
from pathsim.clearance.measure import measure_moves
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.motion import plan_program
from pathsim.transforms import apply, exp_rotation, frozen, pose, translation

SAMPLES = Path(__file__).parents[2] / "sample_cells"
#: The jig of each cell: its bodies, and whether it turns with the table.
JIGS = {
    "gate_hinge": (("left clamp", "right clamp"), False),
    "turned_collar": (("left stop", "right stop"), True),
    "hanging_rail": (("trestle",), False),
}


def with_jig(name, known_to):
    cell = load_cell(SAMPLES / name)
    words, on_table = JIGS[name]
    on_jig = [body.name for body in cell.bodies if any(word in body.name for word in words)]
    assert on_jig, [body.name for body in cell.bodies]
    T = translation(cell.body(on_jig[0]).T_world_body[:3, 3] + [0.05, -0.03, 0.0])
    bodies = tuple(
        replace(body, group="jig", known_to=known_to) if body.name in on_jig else body
        for body in cell.bodies
    )
    return replace(cell, bodies=bodies, groups=(Group("jig", T, on_table, known_to),))


def moved(cell, most, rng):
    """Move the jig by up to ``most`` m at its corners: shifted, and turned about its frame."""
    [jig] = cell.groups
    corners = np.vstack([jig.reach(body) for body in cell.bodies if body.group])
    turn, shift = rng.normal(size=3), rng.normal(size=3)
    shift *= rng.uniform(0, 1) * most / np.linalg.norm(shift)
    off = lambda size: np.linalg.norm(  # noqa: E731
        apply(pose(exp_rotation(size * turn), shift), corners) - corners, axis=1
    ).max()
    low, high = 0.0, 0.2
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if off(middle) <= most else (low, middle)
    assert off(low) <= most
    assert off(low) > 0.9 * most or np.linalg.norm(shift) > 0.9 * most
    T = jig.T_world_group @ pose(exp_rotation(low * turn), shift)
    return cell.with_group(replace(jig, T_world_group=frozen(T), known_to=0.0))


@pytest.mark.parametrize("name", JIGS)
def test_wherever_the_jig_is_it_has_what_was_said_to_spare(name):
    rng = np.random.default_rng(2026)
    session = Session()
    for known_to in (0.001, 0.003):
        cell = with_jig(name, known_to)
        told = session.evaluate(cell)
        tolerance = session.engine(cell).tolerance
        for _ in range(6):
            true = session.evaluate(moved(cell, known_to, rng))
            assert true.spare >= told.spare - tolerance - 1e-6


@pytest.mark.parametrize("engine", [ReferenceEngine, None])
def test_every_pair_of_either_engine_has_both_its_places_in_its_margin(engine):
    """Also two groups against each other while the table turns: each has its own share."""
    cell = load_cell(SAMPLES / "turned_collar")
    known = {body.name: 0.001 * (k + 1) for k, body in enumerate(cell.bodies)}
    wide = replace(cell, bodies=tuple(replace(b, known_to=known[b.name]) for b in cell.bodies))
    margins = {}
    for one in (cell, wide):
        used = Session().engine(one) if engine is None else engine(one)
        trajectory = plan_program(one)
        margins[one] = [
            ((pair.piece, pair.body, pair.stretch), pair.margin)
            for move in measure_moves(one, trajectory, used)
            for pair in move.pairs
        ]
    both = 0
    for (key, plain), (again, widened) in zip(margins[cell], margins[wide], strict=True):
        assert key == again
        due = known.get(key[0], 0.0) + known.get(key[1], 0.0)
        both += key[0] in known and key[1] in known
        assert widened - plain == pytest.approx(due, abs=1e-12)
    assert both > 0


def test_engines_tell_apart_as_far_as_the_widest_margin():
    cell = load_cell(SAMPLES / "turned_collar")
    wide = replace(cell, bodies=tuple(replace(b, known_to=0.03) for b in cell.bodies),
                   margins=replace(cell.margins, air=0.05))  # fmt: skip
    most = max(
        wide.margins.air + unknown_place(piece, thing)
        for piece in (*wide.arm_pieces, *wide.table_pieces)
        for thing in obstacles(wide)
    )
    assert most == pytest.approx(largest_margin(wide)) == pytest.approx(0.11)
    assert ReferenceEngine(wide).cap > most
    assert Session().engine(wide).cap > most
