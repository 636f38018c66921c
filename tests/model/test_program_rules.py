"""What a program of the Python interface is refused for, as a file is."""

from dataclasses import replace

import pytest

from pathsim.errors import CellError, LineError
from pathsim.model import Move, MoveKind, Program, Search
from pathsim.model.pause import Pause
from pathsim.model.wanted_contact import Station, StationKind
from tests.advice.test_welds_untouched import small_cell
from tests.builders import joint, linear, seam

ROUNDED = Move(MoveKind.LINEAR, "start", 0.1, rounding=0.01)
SEARCH = Move(MoveKind.LINEAR, "middle", 0.02, search=Search("plate"))


@pytest.mark.parametrize(
    ("behind", "why"),
    [
        ((seam("end"),), "the arc starts there"),
        ((SEARCH,), "a search starts there"),
        ((Move(MoveKind.LINEAR, "middle", 0.1, station="plate"),), "a station starts there"),
        ((), "the program ends there"),
    ],
)
def test_rounding_is_refused_where_the_arm_has_to_stop(behind, why):
    with pytest.raises(CellError, match=f"rounding: came 0.01; expected 0: .*{why}"):
        Program("home", (ROUNDED, *behind))
    Program("home", (replace(ROUNDED, rounding=0.0), *behind))


def test_rounding_is_refused_at_a_wait_and_kept_in_the_air():
    with pytest.raises(CellError, match="the arm waits there"):
        Program("home", (replace(ROUNDED, wait=1.0), linear("end")))
    assert Program("home", (ROUNDED, linear("end"))).moves[0].rounding == 0.01


def shorter(*moves, inch=-0.003, **of_cell):
    pause = Pause(0.5, inch=inch)
    c = small_cell([joint("above"), replace(linear("start"), wait=0.5, pauses=(pause,))])
    return replace(c, program=replace(c.program, moves=(*c.program.moves, *moves)), **of_cell)


def test_a_search_with_a_wire_inched_back_is_refused():
    """It would touch 3 mm deeper than it was taught and drawn."""
    with pytest.raises(LineError, match=r"the wire is 3\.0 mm shorter there than the stick-out"):
        shorter(SEARCH)
    back = replace(linear("above"), wait=0.5, pauses=(Pause(0.5, inch=0.003),))
    assert shorter(back, SEARCH).program.moves[-1].search is not None
    # an arc brings the stick-out back, and the nozzle does not feel with the wire
    shorter(replace(seam("end"), crater=0.3), linear("above"), SEARCH)
    shorter(replace(SEARCH, search=Search("plate", piece="nozzle")))


def test_a_search_with_a_wire_that_a_cutter_leaves_shorter_is_refused():
    length = small_cell([joint("above")]).torch.wire_length
    visit = Move(MoveKind.LINEAR, "middle", 0.1, station="block")

    def cut_to(cut):
        station = Station("block", StationKind.CUTTER, "wire", 0.02, cuts_to=cut)
        c = small_cell([joint("above")])
        c = replace(c, stations=(station,))
        moves = (joint("above"), visit, replace(visit, target="above"), SEARCH)
        return replace(c, program=replace(c.program, moves=moves))

    assert cut_to(length).stations
    with pytest.raises(LineError, match=r"the wire is 4\.0 mm shorter"):
        cut_to(length - 0.004)
