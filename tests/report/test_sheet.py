"""The first-run sheet: all of the check stands on it, in both forms."""

from dataclasses import replace

import pytest

from pathsim.check import check
from pathsim.cli.main import main
from pathsim.files import load_cell
from pathsim.findings import Level
from pathsim.findings.seam_place import Untold
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_pdf import sheet_as_pdf
from pathsim.result.words import guaranteed
from pathsim.scene.seam_words import short_seam_lines
from tests.report.made_sheets import (
    SAMPLES,
    assert_all_findings_stand,
    flat,
    made,
    pages_of,
    put_together,
    words_of,
)


@pytest.mark.parametrize("name", ["gate_hinge", "gate_hinge_no_retract", "turned_collar"])
def test_everything_stands_on_two_sides_and_what_is_ticked_on_the_first(name):
    result, content = made(name)
    pages = pages_of(sheet_as_pdf(content))
    assert len(pages) <= 2
    first = flat(pages[0])
    for said in (
        content.verdict, *content.boxes, *content.arc_on, *content.to_cure, content.caution,
        *(line.text for line in content.findings), *(one.what for one in content.moments),
        "Remarks", *(["Signature"] if content.boxes else []),
    ):  # fmt: skip
        assert flat(said) in first
    for text in (flat(" ".join(pages)), words_of(sheet_as_html(content))):
        for move in result.moves:
            track = move.track
            assert track.start in text and track.move.target in text
            assert guaranteed(move, result.cap) in text
        assert result.cell.fingerprint in text.replace(" ", "")
        assert "2031-01-01" in text
        assert flat(content.caution) in text
        for box in content.boxes:
            assert flat(box) in text
        assert "cables and hoses" in text
    stop = any(f.level is Level.STOP for f in result.findings)
    assert content.is_stop == stop
    assert ("Do not run this program" in pages[0]) == stop


@pytest.mark.parametrize("name", ["gate_hinge_no_retract", "deep_channel", "wrist_in_line"])
@pytest.mark.parametrize("count", [0, 1, 3])
def test_every_finding_stands_somewhere(name, count):
    result, _ = made(name)
    content = put_together(result, count=count)
    for text in (flat(" ".join(pages_of(sheet_as_pdf(content)))), words_of(sheet_as_html(content))):
        assert_all_findings_stand(result, content, text)


def test_findings_that_read_alike_all_stand():
    result, _ = made("gate_hinge_no_retract")
    first = result.findings[0]
    twin, other = replace(first), replace(first, move=1)
    content = put_together(replace(result, findings=(*result.findings, twin, other)), count=1)
    leads = [line.lead for line in content.findings if line.text == first.text]
    assert leads == ["stop, move 4", "stop, move 1"]
    text = flat(pages_of(sheet_as_pdf(content))[0])
    assert "stop, move 4: The neck" in text and "stop, move 1: The neck" in text


def test_a_cell_without_bodies_has_no_number_that_looks_clear():
    _, content = made("gate_hinge", bodies=())
    assert all(row.clear_by == "not checked" for row in content.rows)
    assert any("no bodies" in line.text for line in content.doubts)


def test_what_a_move_asks_for_stands_in_its_row():
    _, content = made("collar_seam")
    cell = load_cell(SAMPLES / "collar_seam")
    seam = next(k for k, move in enumerate(cell.program.moves) if move.arc_on)
    move = cell.program.moves[seam]
    row = content.rows[seam].way
    assert move.via in row and move.weave.name in row
    for name in cell.files:
        assert name in content.all_files
    assert any(name.endswith("points.csv") for name in cell.files)
    text = flat(" ".join(pages_of(sheet_as_pdf(content)))).replace(" ", "")
    assert content.all_files.replace(" ", "") in text


def test_what_was_not_measured_stands_where_the_moments_are():
    for changes, said in (
        ({"bodies": ()}, "the cell has no bodies"),
        ({"link_meshes": (None,) * 7}, "link 3"),
    ):
        _, content = made("gate_hinge", **changes)
        content = replace(content, no_stills="There are no pictures: no screen")
        for text in (flat(pages_of(sheet_as_pdf(content))[0]), words_of(sheet_as_html(content))):
            after = text[text.index("Hand on the stop") :]
            note = after[after.index("Not measured:") :]
            assert said in note[:200]
            assert "There are no pictures: no screen" in text
            assert "No moment is nearer" not in text and "keeps its margin" not in text


def test_far_from_everything_is_said_as_no_more_than_that():
    result, _ = made("gate_hinge")
    content = put_together(result, count=0)
    assert content.moments_note == "Nothing that was measured comes nearer than 50 mm on any move."


def test_override_and_engine_stand_on_the_sheet():
    cell = replace(load_cell(SAMPLES / "gate_hinge"), override=0.125)
    result = replace(check(cell), engine_note="The slower engine answered.")
    content = put_together(result)
    for text in (flat(pages_of(sheet_as_pdf(content))[0]), words_of(sheet_as_html(content))):
        assert "override 12.5 %" in text
        assert "s at 12.5 %" in text
        assert "The slower engine answered." in text


@pytest.mark.parametrize("sample", ["gate_hinge", "collar_seam", "hanging_rail"])
def test_where_each_seam_lies_stands_on_the_sheet(sample):
    """Least and most off the part and along the wire, as the result has them."""
    result, content = made(sample)
    assert len(content.seams) == len(result.seam_places) > 0
    for text in (flat(" ".join(pages_of(sheet_as_pdf(content)))), words_of(sheet_as_html(content))):
        for seam, line in zip(result.seam_places, content.seams, strict=True):
            assert flat(line) in text and line.startswith(f"Move {seam.move}: wire end ")
            assert f"({1e3 * seam.allowance:.1f} mm allowed)" in line
            least, most = (f"{1e3 * way:.1f} mm" for way in seam.to_work[2:])
            ways = least if least == most else f"{least} to {most}"
            assert f"Contact tip to work {ways}, " in line
            assert seam.least.part in line and seam.most.part in line


def test_a_seam_beside_the_part_is_said_with_its_side():
    """Points moved by hand: into the part, off it, and along no part at all."""
    result, _ = made("gate_hinge")
    (seam,) = result.seam_places
    off = replace(
        seam,
        least=seam.least._replace(distance=-5.04e-3),
        most=seam.most._replace(distance=2.31e-3, part="other part"),
        to_work=seam.to_work._replace(start=None),
        is_whole=False,
    )
    (line,) = put_together(replace(result, seam_places=(off,))).seams
    assert "wire end 5.0 mm inside to 2.3 mm off the gate post and the other part" in line
    assert "No part in line with the wire at its start" in line
    assert line.endswith("Only as far as the move can be run.")
    nothing = replace(seam, untold=Untold.NO_PART, least=None, most=None, to_work=None)
    (line,) = put_together(replace(result, seam_places=(nothing,))).seams
    assert "not known where it lies, as no body of the cell is a part" in line


def test_of_many_seams_the_window_says_the_farthest_and_how_many_more():
    result, _ = made("gate_hinge")
    (seam,) = result.seam_places
    many = tuple(
        replace(seam, move=k + 1, most=seam.most._replace(distance=1e-3 * off))
        for k, off in enumerate((0.1, 2.0, 0.3, -4.0))
    )
    lines = short_seam_lines(replace(result, seam_places=many), 2)
    assert [line.split(":")[0] for line in lines[:2]] == ["Seam, move 2", "Seam, move 4"]
    assert lines[2] == "2 more seams on the sheet, none farther off"


def test_the_command(tmp_path, capsys):
    cell = str(SAMPLES / "wrist_in_line")
    out = tmp_path / "sheet.pdf"
    assert main(["sheet", cell, "-o", str(out), "--no-stills"]) == 0
    assert out.read_bytes().startswith(b"%PDF")
    assert main(["sheet", cell, "-o", str(tmp_path / "sheet.docx"), "--no-stills"]) == 2
    assert "as .pdf or .html" in capsys.readouterr().err
    missing = tmp_path / "no" / "sheet.html"
    assert main(["sheet", cell, "-o", str(missing), "--no-stills"]) == 2
    assert "cannot write" in capsys.readouterr().err
    assert main(["sheet", str(SAMPLES / "gate_hinge_no_retract"), "-o",
                 str(tmp_path / "x.html"), "--no-stills"]) == 1  # fmt: skip
