"""Moves marked on the sheet and the moments with pictures: the gravest, each once."""

import io
import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from pathsim.cli.sheet import make_sheet
from pathsim.files import load_cell
from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_pdf import sheet_as_pdf
from pathsim.result.words import guaranteed
from pathsim.scene.camera_fit import Camera
from pathsim.scene.moments import delicate_moments, side_in_words
from tests.report.made_sheets import (
    SAMPLES,
    flat,
    made,
    pages_of,
    put_together,
    words_of,
)


def test_moments_are_the_gravest_in_order_of_time():
    result, _ = made("gate_hinge_no_retract")
    moments = delicate_moments(result)
    assert len(moments) == 3
    assert [m.time for m in moments] == sorted(m.time for m in moments)
    assert result.findings[0] in moments
    clear, _ = made("gate_hinge")
    near = delicate_moments(clear)
    least = min(clear.moves, key=lambda m: m.worst.clearance.lower - m.worst.margin)
    assert least.track.number in {m.move for m in near}
    assert len({m.move for m in near}) == 3


@pytest.mark.parametrize(
    ("eye", "words"),
    [
        ((3, 0, 0), "from outside the guard, at the front of the arm"),
        ((0, 3, 0), "from outside the guard, at the left of the arm"),
        ((0, -3, 0.5), "from outside the guard, at the right of the arm"),
        ((-3, 3, 0), "from outside the guard, behind on the left"),
        ((0.1, 0, 3), "from outside the guard; the picture looks from above"),
        ((2, 0, 2), "from outside the guard, at the front of the arm, looking down"),
    ],
)
def test_sides_in_words(eye, words):
    cell = load_cell(SAMPLES / "gate_hinge")
    camera = Camera("c", np.array(eye, float), np.zeros(3), np.array([0, 0, 1.0]), 0.5)
    assert side_in_words(cell, camera) == words


def test_without_pictures_it_says_so():
    content = make_sheet(
        SAMPLES / "wrist_in_line",
        load_cell(SAMPLES / "wrist_in_line"),
        0.25,
        False,
        lambda *_: None,
    )
    assert "without pictures" in content.no_stills
    assert "at 25 %" in content.totals
    assert "without pictures" in flat(pages_of(sheet_as_pdf(content))[0])
    (zone,) = content.wrist
    assert zone.lead == "watch, move 2" and zone.text == "see moment 1 above."
    assert "line up" in content.moments[0].what


def test_stills_are_grey_and_of_the_moments():
    pytest.importorskip("pyvista")
    content = make_sheet(
        SAMPLES / "gate_hinge_no_retract",
        load_cell(SAMPLES / "gate_hinge_no_retract"),
        None,
        True,
        lambda *_: None,
    )
    if content.no_stills:
        assert "no pictures" in content.no_stills
        pytest.skip(content.no_stills)
    for moment in content.moments:
        image = Image.open(io.BytesIO(moment.still))
        assert image.mode == "L" and np.asarray(image).std() > 10


def random_result(result, seed):
    """Return a result with findings of all levels strewn over its moves, some about none."""
    rng = np.random.default_rng(seed)
    kinds = [FindingKind.CONTACT, FindingKind.NEAR_HIT, FindingKind.WRIST_ALIGNED,
             FindingKind.UNLIKELY_BODY, FindingKind.PROCESS]  # fmt: skip
    found = []
    for k in range(int(rng.integers(0, 14))):
        number = int(rng.integers(0, len(result.moves) + 1)) or None
        time = None
        if number is not None and rng.random() < 0.7:
            t = result.moves[number - 1].track.t
            time = float(rng.uniform(t[0], t[-1]))
        level = list(Level)[int(rng.integers(3))]
        kind = kinds[int(rng.integers(len(kinds)))]
        some = rng.choice(len(result.moves), size=int(rng.integers(0, 3)), replace=False) + 1
        moves = tuple(map(int, some))
        found.append(Finding(level, kind, f"Saying {seed}-{k} of it.", number, time, moves=moves))
    return replace(result, findings=tuple(sorted(found, key=lambda f: f.level.rank)))


def html_rows(html):
    """Return what stands in each row of the table of moves, and its classes."""
    table = html[html.index("<tbody") : html.index("</tbody>")]
    rows = re.findall(r'<tr[^>]* class="([^"]*)">(.*?)</tr>', table, re.DOTALL)
    return [(kinds.split(), re.findall(r"<td[^>]*>(.*?)</td>", cells)) for kinds, cells in rows]


@pytest.mark.parametrize("sample", ["gate_hinge", "gate_hinge_no_retract"])
def test_every_stop_and_watch_move_is_marked_and_nothing_is_left_out(sample):
    """Whatever findings there are: in the PDF's text and in the page, row by row."""
    result, _ = made(sample)
    for seed in range(25):
        some = random_result(result, seed)
        content = put_together(some)
        gravest = {}
        for finding in sorted(some.findings, key=lambda f: -f.level.rank):
            if finding.level is not Level.NOTE:
                about = [n for n in (finding.move, *finding.moves) if n is not None]
                gravest.update(dict.fromkeys(about, str(finding.level)))
        for move in some.moves:  # what touches is marked, whoever made no finding of it
            if guaranteed(move, some.cap) == "touches":
                gravest[move.track.number] = "stop"
        html, raw = sheet_as_html(content), sheet_as_pdf(content)
        text = flat(" ".join(pages_of(raw)))
        rows = html_rows(html)
        assert len(rows) == len(some.moves)
        for move, (kinds, cells) in zip(some.moves, rows, strict=True):
            number, level = move.track.number, gravest.get(move.track.number, "")
            lead = f"» {level} {number}" if level else str(number)
            assert cells[0] == lead or (not level and cells[0] == f"» {number}")
            assert (level in kinds and "near" in kinds) if level else "stop" not in kinds
            assert f"{lead} {move.track.move.label}" in text
            assert unescape(cells[2]).startswith(f"{move.track.start} > ")
            assert flat(unescape(cells[6])) == guaranteed(move, some.cap)
        assert_all_findings_stand_once(some, content, text)
        assert_all_findings_stand_once(some, content, words_of(html))
        assert_what_must_not_be_run_has_nothing_to_tick(some, content, text, html)


def assert_all_findings_stand_once(result, content, text):
    for finding in result.findings:
        assert text.count(flat(finding.text)) == 1
    for finding in (f for f in result.findings if f.move is None):
        assert text.index(flat(finding.text)) < text.index("guaranteed clearance")
    if result.findings:
        total = len(result.findings)
        assert f"All {total} findings" in text or (total == 1 and "The 1 finding of" in text)
    assert len(content.doubts) == sum(f.move is None for f in result.findings)


def assert_what_must_not_be_run_has_nothing_to_tick(result, content, text, html):
    stops = [k for k, f in enumerate(result.findings, start=1) if f.level is Level.STOP]
    if stops:
        assert content.boxes == () == content.arc_on
        assert "manual reduced speed:" not in text and "Signature" not in text
        assert 'class="boxes"' not in html and 'class="sign"' not in html
        assert "Cure first, then check again" in text and "Do not run this program" in text
        told = re.findall(r"findings? ([0-9, ]+) of 'pathsim check'", text)
        assert sorted(int(n) for some in told for n in some.split(", ")) == stops
    else:
        assert "Either manual reduced speed:" in text and "Or automatic:" in text
        assert "Signature" in text and "Cure first" not in text


def fonts_in(raw):
    """Return each piece of text of a PDF with the font that it is set in."""
    seen = []

    def visit(text, _cm, _tm, font, _size):
        if text.strip():
            seen.append((text.strip(), str(font["/BaseFont"]) if font else ""))

    for page in PdfReader(io.BytesIO(raw)).pages:
        page.extract_text(visitor_text=visit)
    return seen


def test_touches_is_bold_in_both():
    _, content = made("gate_hinge_no_retract")
    assert {row.level for row in content.rows} >= {"stop"}
    said = [font for text, font in fonts_in(sheet_as_pdf(content)) if text == "touches"]
    assert said and all("Bold" in font or "Bd" in font for font in said)
    html = sheet_as_html(content)
    assert 'class="n clear">touches</td>' in html
    assert re.search(r"tr\.stop td\.clear, tr\.watch td\.clear \{ font-weight: 700", html)


@pytest.mark.parametrize("sample", ["gate_hinge", "collar_seam", "turned_collar", "hanging_rail"])
def test_a_clear_sheet_marks_moments_alone(sample):
    result, content = made(sample)
    assert result.is_clear
    assert {row.level for row in content.rows} == {""}
    near = {str(moment.when.split(":")[0].removeprefix("Move ")) for moment in content.moments}
    assert {row.number for row in content.rows if row.is_near} == near


@pytest.mark.parametrize("sample", ["gate_hinge_no_retract", "three_passes"])
def test_each_number_of_a_move_stands_under_its_head(sample):
    """And on a phone, where the heads are not seen, with its head before it."""
    _, content = made(sample)
    html = sheet_as_html(content).replace("\N{NO-BREAK SPACE}", " ")
    rows = html_rows(html)
    assert len(rows) == len(content.rows)
    for (_, cells), row in zip(rows, content.rows, strict=True):
        told = (row.mark, row.kind, row.way, row.speed, row.seconds, row.tip, row.clear_by, row.at,
                row.to, "")  # fmt: skip
        assert tuple(unescape(cell) for cell in cells) == told
    heads = [unescape(head) for head in re.findall(r'data-head="([^"]*)"', html)]
    assert heads == ["speed", content.seconds_head, "tip mm/s", "at", "seen mm"] * len(rows)
