"""The first-run sheet: everything on it, on one page, readable in grey, whatever the names."""

import io
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from pathsim.check import check
from pathsim.cli.main import main
from pathsim.cli.sheet import make_sheet
from pathsim.files import load_cell
from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.findings.seam_on_part import Untold
from pathsim.report.sheet_content import names_of, sheet_content
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_pdf import SIZES, STILLS, sheet_as_pdf
from pathsim.report.sheet_records import Shown
from pathsim.report.short_names import LONGEST_NAME
from pathsim.result.words import guaranteed
from pathsim.scene.moments import delicate_moments, side_in_words
from pathsim.scene.records import Camera
from pathsim.scene.seam_words import short_seam_lines
from pathsim.view.gap_picture import TYPE_SHARE

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def made(sample, **changes):
    cell = replace(load_cell(SAMPLES / sample), **changes)
    result = check(cell)
    return result, put_together(result)


def put_together(result, still=None, count=3):
    """Return the content with the moments that the command would choose."""
    shown = tuple(Shown(f, "from the left", still) for f in delicate_moments(result, count))
    return sheet_content(result, "cell.yaml and all files that it names", "2031-01-01", shown)


def picture(width=780, height=500):
    """Return a PNG of the size of a still."""
    buffer = io.BytesIO()
    Image.new("L", (width, height), 128).save(buffer, format="PNG")
    return buffer.getvalue()


def pages_of(raw):
    return [page.extract_text() for page in PdfReader(io.BytesIO(raw)).pages]


def words_of(html):
    return flat(unescape(re.sub("<[^>]+>", " ", html)))


def flat(text):
    return " ".join(text.split())


@pytest.mark.parametrize("name", ["gate_hinge", "gate_hinge_no_retract", "turned_collar"])
def test_everything_stands_on_one_page_as_text(name):
    result, content = made(name)
    pages = pages_of(sheet_as_pdf(content))
    assert len(pages) == 1
    for text in (flat(pages[0]), words_of(sheet_as_html(content))):
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


def lengthened(name, **changes):
    """Return a cell of five moves a round with more rounds."""
    cell = load_cell(SAMPLES / name)
    program = replace(cell.program, moves=(cell.program.moves * 12)[: changes.pop("count")])
    return replace(cell, program=program, **changes)


def test_thirty_moves_stand_on_the_first_page_of_two_at_most():
    calm, hasty = lengthened("gate_hinge", count=26), load_cell(SAMPLES / "gate_hinge_no_retract")
    moves = (*calm.program.moves[:25], *hasty.program.moves, calm.program.moves[0])
    cell = replace(calm, program=replace(calm.program, moves=moves))
    result = check(cell)
    # The program goes round and round only to be long: what is said of that is not looked for here.
    told = tuple(f for f in result.findings if f.kind is not FindingKind.REPEATED)
    result = replace(result, findings=told)
    content = put_together(result, picture())
    assert len(content.rows) == 30 and len(content.moments) == 3
    assert content.findings and len(cell.files) > 10
    raw = sheet_as_pdf(content)
    first, *rest = PdfReader(io.BytesIO(raw)).pages
    assert len(rest) <= 1  # points, plan and remarks take room
    assert sum(len(page.images) for page in (first, *rest)) >= 1  # the same picture is kept once
    assert moves_in(flat(first.extract_text())) == list(range(1, 31))
    text = flat(" ".join(pages_of(raw)))
    assert_all_findings_stand(result, content, text)
    for name in cell.files:
        assert name in text.replace(" ", "")


def test_more_moves_take_several_pages_and_nothing_is_lost():
    result = check(lengthened("gate_hinge", count=60))
    pages = pages_of(sheet_as_pdf(put_together(result, picture())))
    assert 1 < len(pages) <= 3
    assert moves_in(flat(" ".join(pages))) == list(range(1, 61))
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in flat(page)


def moves_in(text):
    found = re.findall(r"(?:^| )(\d+) (?:joint|linear|seam) (?!move)", text)
    return [int(row) for row in found]


def assert_all_findings_stand(result, content, text):
    """Each finding stands in exactly one list, and as often as there are findings."""
    text = text.replace("watch: ", "").replace("stop: ", "")
    for said in {f.text for f in result.findings}:
        assert text.count(flat(said)) == sum(f.text == said for f in result.findings), said
    listed = len(content.findings) + sum(bool(line.lead) for line in content.wrist)
    twice = sum(line.text.startswith("see moment") for line in content.wrist)
    moments = sum(bool(moment.level) for moment in content.moments)
    assert listed - twice + moments == len(result.findings)


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


def test_type_never_falls_below_what_can_be_read():
    assert min(SIZES) >= 6.5


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


def test_html_stands_alone_and_prints_in_grey():
    _, content = made("gate_hinge")
    html = sheet_as_html(content)
    assert "<script" not in html
    assert not re.findall(r"(?:src|href)=\"(?!data:)", html) and "url(" not in html
    colours = re.findall(r"#([0-9a-f]{3})\b", html)
    assert colours and all(len(set(colour)) == 1 for colour in colours)  # greys only
    assert "size: A4" in html


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
    text = flat(pages_of(sheet_as_pdf(content))[0]).replace(" ", "")
    assert content.all_files.replace(" ", "") in text


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
    assert 1 <= len(pages) <= 2
    text = words_of(sheet_as_html(content))
    assert flat(short(names[0])) in text and names[0] not in text
    assert any("shortened" in note for note in content.notes)


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


def test_type_on_stills_can_be_read_in_the_smallest():
    """Height of type on the narrowest still, whose pixels are spread over its width, in pt."""
    assert TYPE_SHARE * min(STILLS) >= 6.5


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
    table = html[html.index("<tbody>") : html.index("</tbody>")]
    rows = re.findall(r'<tr class="([^"]*)">(.*?)</tr>', table, re.DOTALL)
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
    assert '<td class="n clear">touches</td>' in html
    assert re.search(r"tr\.stop td\.clear, tr\.watch td\.clear \{ font-weight: 700", html)


@pytest.mark.parametrize("sample", ["gate_hinge", "collar_seam", "turned_collar", "hanging_rail"])
def test_a_clear_sheet_marks_moments_alone(sample):
    result, content = made(sample)
    assert result.is_clear
    assert {row.level for row in content.rows} == {""}
    near = {str(moment.when.split(":")[0].removeprefix("Move ")) for moment in content.moments}
    assert {row.number for row in content.rows if row.is_near} == near


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
