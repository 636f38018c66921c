"""What a person types or saves who never heard of YAML or UTF-8: one plain message each."""

import pytest

from pathsim import load_cell
from pathsim.errors import CannotCheck, CellFaults
from pathsim.files.new_cell import NewCell, write_new_cell


@pytest.fixture
def mine(tmp_path):
    folder = tmp_path / "Zelle f\u00fcr M\u00fcller"
    write_new_cell(folder, NewCell())
    return folder


def faults(folder):
    with pytest.raises(CellFaults) as raised:
        load_cell(folder)
    return raised.value.faults


def change(folder, old, new, file="cell.yaml"):
    text = (folder / file).read_text("utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), "utf-8")


@pytest.mark.parametrize(
    ("old", "new", "came", "cure"),
    [
        ("format: 1\n", "format: 1\n\toverride: 50 %\n", "begins with a tab", "spaces"),
        ("format: 1\n", "format: 1\noverride:\t50 %\n", "a tab stands", "a space"),
        ("name: 'my cell'", "name: job 7: left", "a second ':'", "quotes"),
        ("format: 1\n", "format: 1\nmargins: {air: 9 mm, seam: 1 mm}\n", "stands twice", "one of"),
        ("  - {joint: 'home'", " - {joint: 'home'", "farther in or out", ""),
        ("air: 10 mm, seam: 1.5 mm}", "air: 10 mm, seam: 1.5 mm", "bracket is not closed", ""),
        ("name: 'my cell'", "name: @left", "a sign that has a meaning", "quotes"),
    ],
)
def test_a_file_that_is_no_yaml_is_told_in_words_of_the_shop(mine, old, new, came, cure):
    name = "name: 'my cell'"
    change(mine, "name: 'Zelle f\u00fcr M\u00fcller'", name)
    change(mine, old, new)
    [fault] = faults(mine)
    assert came in fault.came and cure in fault.cure and fault.line
    for word in ("block", "token", "mapping", "scalar"):
        assert word not in f"{fault.came} {fault.expected}"


def test_a_quote_that_is_not_closed_is_told(mine):
    with (mine / "cell.yaml").open("a", encoding="utf-8") as file:
        file.write("sheet: {job: 'A-7}\n")
    [fault] = faults(mine)
    assert "a quote is not closed" in fault.came


def test_a_mistyped_key_is_one_fault_and_not_two(mine):
    change(mine, "margins:", "margin:")
    [fault] = faults(mine)
    assert fault.key == "margin" and fault.cure == "Did you mean 'margins'?"


def test_a_missing_key_is_still_told_beside_a_strange_one(mine):
    change(mine, "margins: {air: 10 mm, seam: 1.5 mm}", "colour: red")
    assert {fault.key for fault in faults(mine)} == {"colour", "margins"}


def test_a_decimal_comma_among_commas_is_told_as_such(mine):
    change(mine, "air: 10 mm", "air: 10,5 mm")
    assert any("write decimals with a point" in fault.cure for fault in faults(mine))


def test_a_speed_without_a_unit_is_told_with_both_that_may_be_meant(mine):
    change(mine, "speed: 40 %", "speed: 40")
    [fault] = faults(mine)
    assert fault.came == "40 has no unit" and "mm/s" in fault.expected and "%" in fault.expected


def test_a_length_without_a_unit_names_the_units_once(mine):
    change(mine, "wire: 15 mm", "wire: 15")
    [fault] = faults(mine)
    assert fault.came == "15 has no unit" and "in)" in fault.expected


def test_a_wrong_stick_out_of_a_new_cell_names_the_option_and_leaves_nothing(tmp_path):
    with pytest.raises(CannotCheck, match="--wire: '15' has no unit"):
        write_new_cell(tmp_path / "x", NewCell(wire="15"))
    assert not list(tmp_path.iterdir())


def test_a_cell_file_under_another_ending_is_named(mine):
    (mine / "cell.yaml").rename(mine / "cell.yml")
    with pytest.raises(CannotCheck, match=r"is 'cell.yml' meant\? Name it cell.yaml"):
        load_cell(mine)


POINTS = "name;j1 deg;j2 deg;j3 deg;j4 deg;j5 deg;j6 deg\n{}over the bench;0,0;-15,5;15;0;60;0\n"
HOME = "home;30,0;-30,5;20,25;0,0;60,1;0,0\n"


def test_a_spreadsheets_own_first_line_and_its_mark_and_its_line_ends_are_passed_over(mine):
    text = "sep=;\n" + POINTS.format(HOME)
    raw = b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
    (mine / "points.csv").write_bytes(raw)
    shown = load_cell(mine).points["home"]
    assert shown.q is not None and shown.q[1] == pytest.approx(-30.5 * 3.14159265 / 180)


@pytest.mark.parametrize(
    ("coding", "came"), [("latin-1", "not UTF-8 text"), ("utf-16", "UTF-16 text")]
)
def test_a_table_in_another_coding_says_how_to_save_it(mine, coding, came):
    text = POINTS.format(HOME + "dr\u00fcber;0;0;0;0;60;0\n")
    (mine / "points.csv").write_bytes(text.encode(coding))
    [fault] = faults(mine)
    assert came in fault.came and "CSV UTF-8" in fault.cure
    assert fault.line == (3 if coding == "latin-1" else 1)


def test_a_point_in_a_table_of_decimal_commas_may_part_thousands_and_is_refused(mine):
    (mine / "points.csv").write_text(POINTS.format(HOME.replace("-30,5", "-30.5")), "utf-8")
    [fault] = faults(mine)
    assert "'-30.5'" in fault.came and "comma and no point" in fault.expected
    # With points alone nothing is in doubt.
    (mine / "points.csv").write_text(POINTS.format(HOME).replace(",", "."), "utf-8")
    load_cell(mine)


def test_a_table_with_other_headings_is_one_message_that_names_columns(mine):
    (mine / "points.csv").write_text("Punkt;Achse 1;Achse 2\nhome;1;2\n", "utf-8")
    [fault] = faults(mine)
    assert "no heading is known: 'Punkt, Achse 1, Achse 2'" in fault.came
    assert "'columns'" in fault.cure


def test_headings_without_units_are_told_one_by_one_and_nothing_else(mine):
    (mine / "points.csv").write_text(POINTS.format(HOME).replace(" deg", ""), "utf-8")
    found = faults(mine)
    assert len(found) == 6 and all("has no unit" in fault.came for fault in found)
