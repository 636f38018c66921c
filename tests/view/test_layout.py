"""Everything has its place in windows of any size."""

from hypothesis import given
from hypothesis import strategies as st

from pathsim.view.layout import layout


@given(st.integers(480, 5000), st.integers(360, 3000))
def test_boxes_tile_the_window_and_stay_readable(width, height):
    place = layout(width, height)
    area = sum(box.width * box.height for box in (place.stage, place.panel, place.strip))
    assert abs(area - width * height) < 1
    assert place.stage.width >= 0.5 * width and place.stage.height >= 0.5 * height
    assert place.strip.bottom <= place.moves.bottom < place.moves.top < place.chart.bottom
    assert place.chart.bottom < place.chart.top <= place.lane.bottom < place.lane.top
    assert place.lane.top < place.legend.bottom < place.legend.top <= place.strip.top
    assert place.chart.height >= 20 and place.moves.height >= 18
    assert 12 <= place.font <= 96
    left, bottom, right, top = place.stage_viewport
    assert 0 <= left < right <= 1 and 0 <= bottom < top <= 1


def test_type_follows_the_picture_and_the_screen():
    assert layout(1280, 800).font == 14
    double = layout(2560, 1600)
    assert double.font == 28 and double.scale == 2 * layout(1280, 800).scale
    assert layout(3840, 2160).font >= 36  # a tall screen far away is read too
    assert layout(1280, 800, screen=1.5).font > layout(1280, 800).font
