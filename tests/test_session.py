"""A session: what it keeps never changes an answer, and nothing known is worked out again."""

import copy
import pickle
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.clearance import profile as profiles
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import FindingKind, Level
from pathsim.scene import build_scene
from pathsim.session import Session
from pathsim.transforms import frozen, translation
from tests.builders import ball, body, linear
from tests.motion.forked_programs import BEFORE, BEHIND, program

SAMPLES = Path(__file__).parents[1] / "sample_cells"


def loaded(name):
    return pathsim.load_cell(SAMPLES / name)


def numbers(result):
    return [
        (m.track.number, p.piece, p.body, p.clearance.lower, p.clearance.upper, p.spans)
        for m in result.moves
        for p in (*m.pairs, *m.own, *m.wire)
    ]


def nudged(cell, name, rng):
    point = cell.points[name]
    q = point.q + rng.normal(0, 0.01, len(point.q))
    return replace(cell, points={**cell.points, name: replace(point, q=frozen(q))})


def test_answers_of_a_session_are_those_of_a_new_one():
    """Edits of two cells in turn, each against a session that knows nothing."""
    rng, session = np.random.default_rng(3), Session()
    cells = [loaded("gate_hinge_no_retract"), loaded("collar_seam")]
    for step in range(6):
        which = step % 2
        cells[which] = cell = nudged(cells[which], "home", rng)
        here, anew = session.check(cell), Session().check(cell)
        assert numbers(here) == numbers(anew)
        assert [f.text for f in here.findings] == [f.text for f in anew.findings]
        kept, fresh = session.profile(here), Session().profile(anew)
        for name in ("t", "guaranteed", "seen", "margin", "on_moving"):
            np.testing.assert_array_equal(getattr(kept, name), getattr(fresh, name))
        assert (kept.piece, kept.body) == (fresh.piece, fresh.body)


def test_one_cell_has_one_engine_and_all_share_what_they_know():
    session, cell = Session(), loaded("gate_hinge")
    first = session.engine(cell)
    assert session.engine(cell) is first
    other = session.engine(replace(cell, name="other"))
    assert other is not first
    if isinstance(first, FastEngine):
        assert other.memory is first.memory


def test_a_chart_of_the_unchanged_cell_is_not_measured_again(monkeypatch):
    session = Session()
    result = session.check(loaded("gate_hinge"))
    before = session.profile(result)
    assert session.profile(result) is before
    again = session.check(loaded("gate_hinge"))
    monkeypatch.setattr(profiles._MoveProfile, "rows", lambda *_: pytest.fail("measured again"))
    np.testing.assert_array_equal(session.profile(again).guaranteed, before.guaranteed)


def test_of_an_edited_cell_only_the_moves_that_changed_are_charted(monkeypatch):
    session, cell = Session(), loaded("gate_hinge")
    session.profile(session.check(cell))
    asked, rows = [], profiles._MoveProfile.rows

    def counted(self, longest_step):
        asked.append(self.track.number)
        return rows(self, longest_step)

    monkeypatch.setattr(profiles._MoveProfile, "rows", counted)
    retract = cell.points["retract"]
    q = frozen(retract.q + np.array([0.0, -0.005, 0, 0, 0, 0]))
    points = {**cell.points, "retract": replace(retract, q=q)}
    session.profile(session.check(replace(cell, points=points)))
    assert asked == [4, 5]


@pytest.mark.parametrize(
    "change",
    [
        lambda c: replace(c, margins=replace(c.margins, air=c.margins.air + 0.001)),
        lambda c: replace(c, torch=replace(c.torch, wire_length=0.019)),
        lambda c: replace(c, T_world_base=frozen(translation([0, 0, 1e-4]) @ c.T_world_base)),
        lambda c: replace(
            c,
            bodies=tuple(
                replace(b, T_world_body=frozen(translation([1e-4, 0, 0]) @ b.T_world_body))
                if b.name == "left clamp"
                else b
                for b in c.bodies
            ),
        ),
        lambda c: replace(c, override=0.3),
    ],
    ids=["margin", "wire", "base", "clamp", "override"],
)
def test_a_chart_is_never_taken_from_another_cell(change):
    session, cell = Session(), loaded("gate_hinge")
    session.profile(session.check(cell))
    changed = change(cell)
    here = session.profile(session.check(changed))
    anew = Session().profile(Session().check(changed))
    for name in ("t", "guaranteed", "seen", "margin", "on_standing"):
        np.testing.assert_array_equal(getattr(here, name), getattr(anew, name))


@pytest.mark.parametrize("name", ["gate_hinge", "gate_hinge_no_retract", "deep_channel"])
def test_quick_numbers_are_those_of_a_check(name):
    session, cell = Session(), loaded(name)
    quick, result = session.evaluate(cell), Session().check(cell)
    assert quick.lower == min(p.clearance.lower for m in result.moves for p in m.pairs)
    near = {FindingKind.CONTACT, FindingKind.NEAR_HIT}
    found = [f for f in result.findings if f.kind in near and f.level is not Level.NOTE]
    assert quick.is_clear == (not found)
    if found:
        assert (quick.piece, quick.body) in {(f.piece, f.body) for f in found}
    assert quick.seconds == result.trajectory.duration


@pytest.mark.parametrize("air", [0.0, 0.02, 0.03])
def test_what_is_spare_is_what_the_margin_leaves(air):
    """The air moves of this cell clear by 23 to 26 mm: with 30 mm asked for nothing is spare."""
    cell = loaded("gate_hinge")
    cell = replace(cell, margins=replace(cell.margins, air=air))
    quick, result = Session().evaluate(cell), Session().check(cell)
    left = [p.clearance.lower - p.margin for m in result.moves for p in m.noteworthy]
    assert quick.spare == min(left)
    short = any(f.kind == FindingKind.NEAR_HIT for f in result.findings)
    assert quick.is_clear == (not short) == (air < 0.03)
    assert (quick.spare < 0) == short


def test_quick_is_never_clear_of_what_was_not_measured():
    session, cell = Session(), loaded("gate_hinge")
    assert session.evaluate(cell).is_clear
    assert not session.evaluate(replace(cell, bodies=())).is_clear
    meshes = (*cell.link_meshes[:3], None, *cell.link_meshes[4:])
    assert not session.evaluate(replace(cell, link_meshes=meshes)).is_clear
    far = replace(cell.points["approach"], q=None, T_base_tcp=frozen(translation([9.0, 0, 0])))
    lost = session.evaluate(replace(cell, points={**cell.points, "approach": far}))
    assert not lost.is_clear and lost.why_not


def test_threads_wait_for_each_other():
    """Two threads with cells of their own get the answers that each would have alone."""
    session = Session()
    names = ["gate_hinge", "collar_seam"] * 2
    cells, found = [loaded(name) for name in names], [None] * 4

    def work(k):
        result = session.check(cells[k])
        found[k] = numbers(result), session.profile(result).guaranteed

    threads = [threading.Thread(target=work, args=(k,)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for k, name in enumerate(names):
        alone = Session()
        result = alone.check(loaded(name))
        assert found[k][0] == numbers(result)
        np.testing.assert_array_equal(found[k][1], alone.profile(result).guaranteed)


def test_the_scene_takes_the_chart_of_the_session():
    session = Session()
    result = session.check(loaded("gate_hinge"))
    profile = session.profile(result)
    assert build_scene(result, session).profile is profile


def test_a_session_is_copied_as_one_that_knows_nothing():
    session, cell = Session(), loaded("gate_hinge")
    session.check(cell)
    for other in (pickle.loads(pickle.dumps(session)), copy.deepcopy(session)):  # noqa: S301
        assert isinstance(other, Session) and other._engines == []


def test_clearing_forgets_cells():
    session, cell = Session(), loaded("gate_hinge")
    before = numbers(session.check(cell))
    session.clear()
    assert session._engines == [] and numbers(session.check(cell)) == before


def test_quick_is_never_clear_where_the_arm_may_go_on_in_another_posture():
    far = body(ball(0.01).moved(translation([0, 0, -3.0])))
    moves = [linear("end")]
    forked = program(BEFORE, BEHIND, moves, 0.05, bodies=[far])
    unsure = [t.number for t in pathsim.check(forked).trajectory.tracks if t.sure_until is not None]
    quick = Session().evaluate(forked)
    assert unsure and not quick.is_clear and "another posture" in quick.why_not


def test_two_pieces_of_one_name_both_count_in_a_chart():
    """A name is no key: a piece of the torch may be called as a link is, and both decide."""
    session, cell = Session(), loaded("gate_hinge")
    first, *others = cell.torch.pieces
    torch = replace(cell.torch, pieces=(replace(first, name="link 3"), *others))
    for lift in (0.0, 0.03):
        forearm = cell.link_meshes[3].moved(translation([0, 0, lift]))
        meshes = (*cell.link_meshes[:3], forearm, *cell.link_meshes[4:])
        changed = replace(cell, torch=torch, link_meshes=meshes)
        here = session.profile(session.check(changed))
        anew = Session().profile(Session().check(changed))
        for name in ("t", "guaranteed", "seen"):
            np.testing.assert_array_equal(getattr(here, name), getattr(anew, name))


def test_how_well_places_are_known_counts_after_an_edit_too():
    """A session that knows a cell with certain places answers one without as a new session does."""
    cell = loaded("gate_hinge")
    session = Session()
    session.evaluate(cell)
    session.check(cell)
    for known in (0.02, 0.03, 0.001, 0.0):
        bodies = tuple(replace(body, known_to=known) for body in cell.bodies)
        margins = replace(cell.margins, air=0.04)
        other = replace(cell, bodies=bodies, margins=margins)
        told, anew = session.evaluate(other), Session().evaluate(other)
        assert told.spare == anew.spare and told.is_clear is anew.is_clear
        found, fresh = session.check(other), Session().check(other)
        for name in ("lower", "margin"):
            assert found.clearances[name].tolist() == fresh.clearances[name].tolist()
        chart, again = session.profile(found), Session().profile(fresh)
        np.testing.assert_array_equal(chart.margin, again.margin)
        np.testing.assert_array_equal(chart.guaranteed, again.guaranteed)


def test_charts_of_cables_are_kept_by_their_margins():
    """A cable's own margin counts in its chart, and another one is another chart."""
    session, cell = Session(), loaded("loose_cable")
    for margin in (None, 0.001, 0.03):
        cables = tuple(replace(cable, margin=margin) for cable in cell.cables)
        changed = replace(cell, cables=cables)
        here = session.profile(session.check(changed))
        anew = Session().profile(Session().check(changed))
        for name in ("guaranteed", "margin"):
            np.testing.assert_array_equal(getattr(here, name), getattr(anew, name))
        if margin == 0.03:
            assert (here.margin == 0.03).any()
