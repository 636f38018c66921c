"""Names of any kind on the sheet: shown, shortened, told apart, and none is run."""

from dataclasses import replace

import pytest

from pathsim.check import check
from pathsim.files import load_cell
from pathsim.report.sheet_content import names_of
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_pdf import sheet_as_pdf
from pathsim.report.short_names import LONGEST_NAME
from tests.report.made_sheets import SAMPLES, flat, made, pages_of, picture, put_together, words_of


def test_names_of_any_kind_are_shown_and_run_nothing():
    umlaut, sign = "\N{LATIN SMALL LETTER U WITH DIAERESIS}", "\N{CJK UNIFIED IDEOGRAPH-4E2D}"
    name = f"<script>alert(1)</script> & {umlaut} {sign}"
    _, content = made("gate_hinge", name=name)
    html = sheet_as_html(content)
    assert "<script" not in html and "&lt;script&gt;" in html
    assert f"{umlaut} {sign}" in html
    text = pages_of(sheet_as_pdf(content))[0]
    assert "<script>" in text and umlaut in text
    assert "[U+4E2D]" in text  # the font lacks it, and says so


def test_letters_with_separate_marks_are_set_as_one():
    _, content = made("gate_hinge", name="Ka\u0308fig")
    assert "K\u00e4fig" in pages_of(sheet_as_pdf(content))[0]


def renamed(cell, names):
    """Return a cell whose bodies have other names, the first ones near the torch first."""
    wanted = dict(zip(("left clamp", "right clamp", "gate post"), names, strict=False))
    bodies = tuple(replace(b, name=wanted.get(b.name, b.name)) for b in cell.bodies)
    return replace(cell, bodies=bodies)


@pytest.mark.parametrize(
    "names",
    [
        (" ".join(["upper left"] * 200), "right clamp", "gate post"),
        ("W" * 300, "W" * 150 + "x" + "W" * 149, "W" * 150 + "y" + "W" * 149),
        ("\N{CJK UNIFIED IDEOGRAPH-4E2D}" * 300, "&<b>" * 100, "<" * 300),
    ],
)
def test_no_name_breaks_the_sheet_and_all_stay_apart(names):
    cell = renamed(load_cell(SAMPLES / "gate_hinge_no_retract"), names)
    cell = replace(cell, name="A long name " * 60)
    result = check(cell)
    short = names_of(cell)
    forms = [short(body.name) for body in cell.bodies]
    assert len(set(forms)) == len(cell.bodies)
    for body, form in zip(cell.bodies, forms, strict=True):
        if len(body.name) > LONGEST_NAME:
            assert len(form) < 60 and form[:15] == body.name[:15] and "\u2026" in form
        else:
            assert form == body.name
    content = put_together(result, picture())
    pages = pages_of(sheet_as_pdf(content))
    assert 1 <= len(pages) <= 3  # names as long as these may take, in codes where a font lacks them
    text = words_of(sheet_as_html(content))
    assert flat(short(names[0])) in text and names[0] not in text
    assert any("shortened" in note for note in content.notes)
