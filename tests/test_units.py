import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.errors import UnitError
from pathsim.units import TABLE, degrees, guaranteed_millimetres, millimetres, parse


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("4 mm", "length", 0.004),
        ("0.5in", "length", 0.0127),
        ("12 deg", "angle", math.pi / 15),
        ("6 in/min", "speed", 6 * 0.0254 / 60),
        ("300 mm/min", "speed", 0.005),
        ("40 %", "share", 0.4),
        ("2.2 Hz", "frequency", 2.2),
        ("450 deg/s2", "turning acceleration", math.radians(450)),
        ("450 deg/s²", "turning acceleration", math.radians(450)),
        ("1e3 mm", "length", 1.0),
        (".5 mm", "length", 0.0005),
    ],
)
def test_reads_what_people_type(text, kind, expected):
    assert parse(text, kind) == (pytest.approx(expected, rel=1e-15),)


def test_reads_three_numbers_with_one_unit():
    assert parse("950 0 -700.5 mm", "length", 3) == pytest.approx((0.95, 0.0, -0.7005))


@pytest.mark.parametrize(
    ("text", "kind", "count", "says"),
    [
        (4, "length", 1, "no unit"),
        ("4", "length", 1, "mm, cm, m, in"),
        ("4 deg", "length", 1, "not a unit of length"),
        ("4 furlong", "length", 1, "'furlong'"),
        ("1 2 mm", "length", 3, "2 numbers"),
        ("nan mm", "length", 1, "not a number"),
        ("inf mm", "length", 1, "not a number"),
        ("1e999 mm", "length", 1, "too large"),
        (True, "length", 1, "not a number"),
        (None, "length", 1, "not a number"),
        ("", "length", 1, "not a number"),
    ],
)
def test_refuses_what_it_would_have_to_guess(text, kind, count, says):
    with pytest.raises(UnitError, match=says.replace("(", r"\(").replace(")", r"\)")):
        parse(text, kind, count)


@given(
    st.sampled_from([(kind, unit) for kind, table in TABLE.items() for unit in table]),
    st.floats(-1e6, 1e6),
)
def test_value_times_factor(pair, number):
    kind, unit = pair
    (value,) = parse(f"{number!r} {unit}", kind)
    assert value == pytest.approx(number * TABLE[kind][unit], rel=1e-12, abs=1e-300)


def test_guaranteed_numbers_round_down():
    assert guaranteed_millimetres(0.00329) == "3.2 mm"
    assert guaranteed_millimetres(0.0033) == "3.3 mm"
    assert guaranteed_millimetres(0.00009) == "0.0 mm"


def test_back_to_text():
    assert millimetres(0.03825) == "38.2 mm"
    assert degrees(math.pi / 2) == "90.0 deg"
