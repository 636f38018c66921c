"""A margin inside an interval is decided: no alarm for nothing, and none left out."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import ReferenceEngine, measure_moves
from pathsim.clearance.engine import Bounds
from pathsim.clearance.measure import all_questions
from pathsim.clearance.narrowing import narrowed, narrowed_bounds
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.clearance.swept.engine import FastEngine
from pathsim.errors import CannotCheck
from pathsim.files import load_cell
from pathsim.findings.kinds import FindingKind
from pathsim.model import TorchPiece
from pathsim.motion import plan_program
from tests.builders import ball, body, box, cell, joint
from tests.clearance.oracle import dense_distances

SAMPLES = Path(__file__).parents[2] / "sample_cells"
ENGINES = [FastEngine, ReferenceEngine]
HOME = np.array([0.3, 0.1, 0.2, 0.3, 0.9, 0.4])
MARGIN = 0.01
LINKS = (box((0.001,) * 3),) * 7


def swinging(down):
    """A ball on a torch swings past a large plate, its middle ``down`` m below the ball's way."""
    points = {"home": HOME, "end": HOME + [0.6, 0.15, -0.1, 0.2, 0.1, 0.0]}
    pieces = (TorchPiece("nozzle", ball(0.02, (0, 0, 0.1), 2)),)
    plate = body(box((4.0, 4.0, 0.02)), at=(0.0, 0.0, down))
    return cell(points, [joint("end")], bodies=(plate,), pieces=pieces, links=LINKS)


def nearest(c):
    """True least distance of the ball from the plate, from below, by dense looks."""
    track = plan_program(c).tracks[0]
    piece = next(p for p in c.arm_pieces if p.name == "nozzle")
    (plate,) = (t for t in obstacles(c) if t.name == "block")
    _, seen = dense_distances(c, track, piece, plate, (track.t[0], track.t[-1]), 3000)
    return float(np.min(seen))


@pytest.fixture(scope="module")
def gap_at():
    """How far down the plate is for a wished distance: straight down counts in full."""
    far = nearest(swinging(-0.3)) - 0.3

    def down(distance):
        return far - distance

    assert nearest(swinging(down(0.02))) == pytest.approx(0.02, abs=2e-6)
    return down


@pytest.mark.parametrize("make", ENGINES)
@pytest.mark.parametrize("beyond", [1e-4, 3e-5, 4e-4])
def test_a_body_a_tenth_of_a_millimetre_beyond_its_margin_is_clear(make, beyond, gap_at):
    c = swinging(gap_at(MARGIN + beyond))
    pairs = measure_moves(c, plan_program(c), make(c))[0].pairs
    (pair,) = (p for p in pairs if (p.piece, p.body) == ("nozzle", "block"))
    assert MARGIN <= pair.clearance.lower <= MARGIN + beyond
    kinds = {f.kind for f in check(c, engine=make(c)).findings if f.piece == "nozzle"}
    assert FindingKind.NEAR_HIT not in kinds


def say_the_same(found, records):
    """Tell whether numbers alone are those of records, to the last bit."""
    assert found.lower.tolist() == [one.lower for one in records]
    assert found.upper.tolist() == [one.upper for one in records]
    assert found.is_inside.tolist() == [one.is_inside for one in records]
    assert found.touches.tolist() == [one.touches for one in records]


@pytest.mark.parametrize("make", ENGINES)
@pytest.mark.parametrize("beyond", [1e-4, -1e-4, -0.02])
def test_numbers_alone_say_what_records_say(make, beyond, gap_at):
    """Narrowed and not; the last ball is in the plate."""
    c = swinging(gap_at(MARGIN + beyond))
    asked, engine = all_questions(c, plan_program(c)).asked, make(c)
    first, wide = engine.min_distance(asked.queries), make(c).bounds(asked.queries)
    say_the_same(wide, first)
    found = narrowed_bounds(make(c), asked, wide)
    say_the_same(found, narrowed(engine, asked, first))
    is_narrower = (found.lower > wide.lower) | (found.upper < wide.upper)
    assert is_narrower.any() == (beyond > 0.0)


@pytest.mark.parametrize("make", ENGINES)
def test_numbers_of_what_lies_within_and_of_what_is_just_beyond_the_cap(make):
    within = replace(swinging(0.0), bodies=(body(box((4.0, 4.0, 4.0))),))
    asked = all_questions(within, plan_program(within)).asked
    found = make(within).bounds(asked.queries)
    say_the_same(found, make(within).min_distance(asked.queries))
    assert found.is_inside.any() and (found.lower[found.is_inside] == 0.0).all()
    c = load_cell(SAMPLES / "gate_hinge_no_retract")
    some = all_questions(c, plan_program(c)).asked.queries[::7]
    found = make(c).bounds(some)
    say_the_same(found, make(c).min_distance(some))
    assert found.touches.any() and np.isinf(found.upper).any() and np.isfinite(found.upper).any()


def test_what_is_not_a_number_is_no_bound():
    one, nothing = np.array([0.1]), np.array([np.nan])
    for ends in ((nothing, one), (one, nothing)):
        with pytest.raises(CannotCheck, match="not a number"):
            Bounds.of(*ends, np.array([False]))


@pytest.mark.parametrize("make", ENGINES)
@pytest.mark.parametrize("inside", [1e-4, 2e-5])
def test_a_tenth_of_a_millimetre_inside_is_told(make, inside, gap_at):
    c = swinging(gap_at(MARGIN - inside))
    found = [f for f in check(c, engine=make(c)).findings if f.kind is FindingKind.NEAR_HIT]
    assert any(f.piece == "nozzle" for f in found)


@pytest.mark.parametrize("make", ENGINES)
def test_lower_ends_only_rise_and_upper_ends_only_fall(make):
    for offset in np.linspace(-6e-4, 6e-4, 7):
        c = swinging(-0.1 + offset)
        engine, trajectory = make(c), plan_program(c)
        asked = queries_of(c, trajectory, obstacles(c), ())
        before = list(engine.min_distance(asked.queries))
        # Margins put right inside the interval: each is asked about.
        middle = (before[0].lower + min(before[0].upper, 0.05)) / 2
        c = replace(c, margins=replace(c.margins, air=middle))
        asked = queries_of(c, trajectory, obstacles(c), ())
        after = narrowed(make(c), asked, before)
        for old, new in zip(before, after, strict=True):
            assert old.lower <= new.lower <= new.upper <= old.upper
            assert new.is_wide <= old.is_wide


@pytest.mark.parametrize("make", ENGINES)
def test_nothing_is_asked_where_no_margin_is_inside(make, gap_at, monkeypatch):
    c = swinging(gap_at(0.03))
    engine = make(c)
    monkeypatch.setattr(make, "finer", None)
    measure_moves(c, plan_program(c), engine)
