"""The chart's axis: there and back, equal widths, zoom, numbers that never pile up."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.scene.records import MoveBand
from pathsim.view.time_axis import WHOLE, AxisMode, axis_of, spread

# an air move of a second, a ten-minute seam, and two more air moves
ENDS = [0.0, 1.0, 601.0, 602.5, 603.0]
BANDS = [MoveBand(k + 1, "joint", "a", "b", ENDS[k], ENDS[k + 1], is_whole=True) for k in range(4)]


def axis(mode, zoom=WHOLE):
    return axis_of(BANDS, mode, zoom, 100.0, 1100.0)


@given(st.floats(0, 603), st.sampled_from(AxisMode))
def test_there_and_back(time, mode):
    shown = axis(mode)
    assert shown.time_at(shown.x(time)) == pytest.approx(time, abs=1e-6)


def test_by_moves_a_long_seam_hides_no_air_move():
    by_time, by_moves = axis(AxisMode.TIME), axis(AxisMode.MOVES)
    for band in BANDS:
        assert by_moves.x(band.end) - by_moves.x(band.start) == pytest.approx(250)
        share = (band.end - band.start) / 603 * 1000
        assert by_time.x(band.end) - by_time.x(band.start) == pytest.approx(share)


def test_a_move_without_time_has_no_width():
    bands = [*BANDS[:2], MoveBand(3, "joint", "b", "b", 601.0, 601.0, is_whole=True)]
    shown = axis_of(bands, AxisMode.MOVES, WHOLE, 0, 100)
    assert [shown.x(t) for t in (0.0, 1.0, 601.0)] == pytest.approx([0, 50, 100])


@given(st.floats(0, 1), st.lists(st.floats(0.3, 4), min_size=1, max_size=12))
def test_zooming_leaves_the_place_where_it_is_drawn(share, factors):
    zoom = WHOLE
    for factor in factors:
        before, zoom = zoom, zoom.about(share, factor)
        assert 0 <= zoom.start < zoom.end <= 1 + 1e-12
        assert zoom.end - zoom.start >= 1 / 200 - 1e-12
        if zoom.start > 1e-6 and zoom.end < 1 - 1e-6:
            inside = [(share - z.start) / (z.end - z.start) for z in (before, zoom)]
            assert inside[0] == pytest.approx(inside[1], abs=1e-6)


def test_panning_stops_at_the_ends():
    zoom = WHOLE.about(0.5, 4)
    assert zoom.moved(-99).start == 0 and zoom.moved(99).end == pytest.approx(1)
    assert WHOLE.moved(0.3) == WHOLE
    assert zoom.holding(0.9).start < 0.9 < zoom.holding(0.9).end


def test_what_is_not_shown_has_no_pixels_and_a_short_contact_has_three():
    zoomed = axis(AxisMode.TIME, WHOLE.about(0.0, 10))
    assert zoomed.clipped(601.0, 602.0) is None
    left, right = axis(AxisMode.TIME).clipped(300.0, 300.001, 3.0)
    assert right - left == pytest.approx(3.0)
    assert zoomed.clipped(-5, 1e9) == (100.0, 1100.0)


@given(st.floats(0, 600), st.floats(0.5, 600), st.sampled_from(AxisMode))
def test_ticks_are_round_and_apart(start, width, mode):
    shown = axis(mode)
    end = min(start + width, 603.0)
    ticks = shown.ticks(start, end, 40.0)
    assert all(start - 1e-6 <= t <= end + 1e-6 for t in ticks)
    assert all(abs(t / 0.02 - round(t / 0.02)) < 1e-6 for t in ticks)


@given(st.lists(st.floats(0, 1000), max_size=30))
def test_numbers_never_pile_up(places):
    wanted = sorted(places)
    out = spread(wanted, 25.0, 0.0, 1000.0)
    assert len(out) == len(wanted)
    assert all(-1e-6 <= x <= 1000 + 1e-6 for x in out)
    assert all(b - a >= 25.0 - 1e-6 for a, b in pairwise(out))
    if all(b - a >= 25.0 for a, b in pairwise(wanted)):
        np.testing.assert_allclose(out, wanted, atol=1e-6)  # what has room stays where it is
