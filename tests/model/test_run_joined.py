"""Seams that go on without a stop within runs: as if each piece stood in the program itself."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.errors import CellError, CellFaults
from pathsim.files import load_cell, save_cell
from pathsim.files.cell_differences import differences
from pathsim.model import Move, MoveKind, Pattern, Weave
from pathsim.model.run import Run, Shift
from pathsim.motion import plan_program
from tests.advice.test_welds_untouched import small_cell
from tests.builders import joint, linear
from tests.mistakes.case import copy_of, swap
from tests.model.test_run import tip

FIRST = Move(MoveKind.LINEAR, "middle", 0.01, arc_on=True)
ON = replace(FIRST, target="end", joined=True, crater=0.4)
WOVEN = Weave("w", Pattern.SINE, 0.002, 2.0)
HOME = joint("home")


def lines(weave):
    first, on = replace(FIRST, weave=weave), replace(ON, weave=weave)
    return (joint("above"), linear("start"), first, on, linear("retract"))


@pytest.mark.parametrize("weave", [None, WOVEN])
def test_joined_seams_of_a_run_are_those_of_the_program_to_the_last_bit(weave):
    run = Run("weld", lines(weave))
    one = plan_program(small_cell([run.move, HOME]))
    two = plan_program(small_cell([*lines(weave), HOME]))
    for mine, theirs in zip(one.tracks, two.tracks, strict=True):
        assert np.array_equal(mine.t, theirs.t) and np.array_equal(mine.q, theirs.q)


@pytest.mark.parametrize("weave", [None, WOVEN])
@pytest.mark.parametrize("turned", [0.0, 0.05])
def test_repeated_and_shifted_they_go_on_at_their_corner_and_there_alone(weave, turned):
    """By speed: the tip has its travel speed at the corner of each repetition; it never stops."""
    shift = Shift((0.0, 0.0, 0.01), (0.0, 0.0, turned))
    step = Shift((0.02, 0.0, 0.0))
    c = small_cell([Run("weld", lines(weave), 3, shift, step).move, HOME])
    trajectory = plan_program(c)
    seams = [track for track in trajectory.tracks if track.move.arc_on]
    assert [track.move.joined for track in seams] == [False, True] * 3
    plain = [t for t in plan_program(small_cell([*lines(weave), HOME])).tracks if t.move.arc_on]
    for first, on in zip(seams[::2], seams[1::2], strict=True):
        assert first.fault is None and on.fault is None
        assert np.array_equal(first.q[-1], on.q[0]) and first.t[-1] == on.t[0]
        # as fast as where they were taught: no stop, no ramp at the corner
        assert first.duration == pytest.approx(plain[0].duration, abs=2e-4)
        assert on.duration == pytest.approx(plain[1].duration, abs=2e-4)
        if weave is None:
            times = first.t[-1] + np.array([-0.02, -0.01, 0.0, 0.01, 0.02])
            q = np.vstack([first.q_at(times[:3]), on.q_at(times[3:])])
            speed = np.linalg.norm(np.diff(c.tips(q), axis=0), axis=1) / 0.01
            assert speed == pytest.approx(0.01, rel=1e-3)
    for number in (1, 2, 3):
        for name in ("middle", "end"):
            assert f"{name}, weld {number}" in c.points
    if not turned:
        for number in (1, 2, 3):
            off = tip(c, f"middle, weld {number}")[:3, 3] - tip(c, "middle")[:3, 3]
            assert np.allclose(off, [0.02 * (number - 1), 0.0, 0.01], atol=1e-9)


def test_a_cell_with_them_is_saved_as_it_was_written(tmp_path):
    run = Run("weld", lines(None), 2, step=Shift((0.02, 0.0, 0.0)))
    c = small_cell([HOME]).with_program("home", run.move, HOME)
    loaded = load_cell(save_cell(c, tmp_path / "cell"))
    assert list(differences(c, loaded)) == []
    assert [m.joined for m in loaded.program.moves] == [m.joined for m in c.program.moves]


def test_a_seam_does_not_go_on_from_one_repetition_or_run_into_the_next():
    """The arc stops where a run ends: whoever wants it burning writes one subprogram."""
    with pytest.raises(CellError, match="a first line that goes on from nothing"):
        Run("weld", (ON,))
    open_end = Run("weld", lines(None)[:3])  # ends in a seam without a crater
    with pytest.raises(CellError, match="joined"):
        small_cell([open_end.move, replace(ON, speed=0.02), linear("retract"), HOME])


RETRACT = "  - {linear: retract, speed: 120 mm/s}\n"
SEAM = "  - {seam: weld end, speed: 5 mm/s, weave: hinge fillet, crater: 0.6 s}\n"


def in_file(tmp_path: Path, subprogram: str, behind: str = ""):
    folder = copy_of("gate_hinge", tmp_path / "shop")
    text = f"subprograms:\n  feet:\n{subprogram}\nprogram:"
    swap("program:", text)(folder)
    swap(SEAM, f"  - {{run: feet}}\n{behind}")(folder)
    return folder


def test_the_file_reads_them_and_says_where_they_cannot_be(tmp_path):
    half = "    - {seam: weld start, speed: 5 mm/s}\n"
    on = "    - {seam: weld end, joined: true, crater: 0.6 s}\n"
    c = load_cell(in_file(tmp_path / "a", half + on))
    assert [m.joined for m in c.program.moves if m.arc_on] == [False, True]
    for name, subprogram, behind, says in (
        ("b", on, "", "without a seam right before it"),
        ("c", half, "  - {seam: weld end, joined: true}\n", "without a seam right before it"),
    ):
        with pytest.raises(CellFaults, match=says):
            load_cell(in_file(tmp_path / name, subprogram, behind))


@pytest.mark.parametrize("kind", ["stitch", "multipass"])
def test_a_line_of_several_parts_keeps_no_wanted_position(kind, tmp_path):
    """The table would have to go with the torch from part to part: refused in the trade's words."""
    folder = copy_of("tilted_pipe", tmp_path / "shop")
    text = (folder / "cell.yaml").read_text(encoding="utf-8")
    (seam,) = [row for row in text.splitlines() if "position:" in row and "seam:" in row][:1]
    more = {
        "stitch": "on: 20 mm, off: 20 mm, between: 50 mm/s, ",
        "multipass": "passes: [{pass: root, leg: 4 mm}], between: 50 mm/s, lift: 3 cm, ",
    }
    new = seam.replace("seam:", f"{kind}:").replace("position:", more[kind] + "position:")
    swap(seam, new)(folder)
    with pytest.raises(CellFaults) as error:
        load_cell(folder)
    assert "the table keeps no position from" in str(error.value)
    assert str(error.value).startswith("1 fault")
