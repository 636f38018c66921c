"""Points from any table: what the same points say in other layouts is the same."""

import numpy as np
import pytest

from pathsim import CannotCheck, load_cell
from pathsim.files.cell_writer import write_changed_cell
from tests.files.test_cell_folder import SAMPLES, faults, only, shop, spoil

__all__ = ["shop"]
POINTS = "points: {file: points.csv}"
NAMED = "name: Point, " + ", ".join(f"j{k} deg: Axis  {k}" for k in range(1, 7))
NUMBERED = "name: 1, " + ", ".join(f"j{k} deg: {k + 1}" for k in range(1, 7))


def sample_rows():
    lines = (SAMPLES / "gate_hinge/points.csv").read_text(encoding="utf-8").splitlines()
    return [line.split(",") for line in lines[1:]]


def lay_out(shop, text, said, encoding="utf-8"):
    (shop / "gate_hinge/points.csv").write_bytes(text.encode(encoding))
    spoil(shop, "gate_hinge/cell.yaml", POINTS, f"points: {{file: points.csv, {said}}}")


def assert_same(shop):
    found, expected = (
        load_cell(shop / "gate_hinge").points,
        load_cell(SAMPLES / "gate_hinge").points,
    )
    assert list(found) == list(expected)
    for name, point in expected.items():
        np.testing.assert_array_equal(found[name].q, point.q)


def test_a_spreadsheet_with_titles_other_columns_and_decimal_commas(shop):
    head = "Cell 4;;;;;;;;\n;;\nnote;Point;AXIS 1;Axis 2;Axis 3;Axis 4;Axis 5;Axis 6;speed\n"
    rows = ["x;" + ";".join(row).replace(".", ",") + ";40 %" for row in sample_rows()]
    lay_out(shop, head + "\r\n".join(rows), f"columns: {{{NAMED}}}", "utf-8-sig")
    assert_same(shop)


def test_a_listing_without_headings_by_numbers(shop):
    rows = ["\t".join(row) for row in sample_rows()]
    lay_out(shop, "\n".join(rows), f"columns: {{{NUMBERED}}}")
    assert_same(shop)


def test_a_listing_with_spaces(shop):
    rows = ["   ".join([f'"{row[0]}"', *row[1:]]) for row in sample_rows()]
    lay_out(shop, "\n".join(rows), f"columns: {{{NUMBERED}}}, separator: space")
    assert_same(shop)


def test_semicolons_with_decimal_points(shop):
    rows = [";".join(row) for row in sample_rows()]
    lay_out(shop, "\n".join(rows), f"columns: {{{NUMBERED}}}, decimal: point")
    assert_same(shop)


def test_our_own_headings_with_a_separator_of_ones_own(shop):
    text = (SAMPLES / "gate_hinge/points.csv").read_text(encoding="utf-8").replace(",", ";")
    lay_out(shop, text, "separator: semicolon, decimal: point")
    assert_same(shop)


@pytest.mark.parametrize(
    ("said", "came", "expected"),
    [
        (f"columns: {{{NAMED}}}", "no column 'Point'", "the heading of 'name'"),
        (f"columns: {{{NUMBERED.replace('j6 deg: 7', 'j6 deg: 6')}}}", "twice", "once"),
        (f"columns: {{{NUMBERED.replace('j6 deg: 7', 'j6 deg: 0')}}}", "column 0", "1 to 200"),
        (f"columns: {{{NUMBERED.replace(', j6 deg: 7', '')}}}", "no column 'j6'", "all of j1"),
        ("separator: comma, decimal: comma", "comma between values", "two different"),
    ],
)
def test_a_layout_that_does_not_fit_is_one_fault(shop, said, came, expected):
    rows = [",".join(row) for row in sample_rows()]
    lay_out(shop, "Points,Axis 1\n" + "\n".join(rows), said)
    fault = only(shop)
    assert came in fault.came
    assert expected in fault.expected


def test_a_heading_without_its_unit_is_told_so(shop):
    rows = [",".join(row) for row in sample_rows()]
    lay_out(shop, "\n".join(rows), f"columns: {{{NUMBERED.replace('j6 deg', 'j6')}}}")
    assert "'j6' has no unit" in {fault.came for fault in faults(shop)}


def test_a_column_that_a_row_does_not_have_is_said(shop):
    rows = [",".join(row) for row in sample_rows()]
    rows[2] = rows[2].rpartition(",")[0]
    lay_out(shop, "\n".join(rows), f"columns: {{{NUMBERED}}}")
    fault = only(shop)
    assert (fault.line, fault.came) == (3, "is blank")


def test_such_a_table_is_not_written_into(shop):
    rows = ["\t".join(row) for row in sample_rows()]
    lay_out(shop, "\n".join(rows), f"columns: {{{NUMBERED}}}")
    cell = load_cell(shop / "gate_hinge")
    with pytest.raises(CannotCheck, match="only read"):
        write_changed_cell(
            shop / "gate_hinge", shop / "new", cell, {"home": cell.points["home"].q}, []
        )
    assert not (shop / "new").exists()
