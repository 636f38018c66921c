"""Ten questions that whoever looks at a picture, a sheet or a page of a checked cell asks.

Each is answered for each sample cell, in the window (what its picture is drawn from), on the
first-run sheet and on the page of explained findings.
"""

from __future__ import annotations

import numpy as np
import pytest

from pathsim.advice import Evaluator
from pathsim.advice.cure_text import OF_CELL, TITLE, cure_in_words
from pathsim.advice.explain import explain
from pathsim.cli.explain import page_of
from pathsim.findings import Level
from pathsim.report.explain_page import explain_page_as_html
from pathsim.report.sheet_content import sheet_content
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_records import Shown
from pathsim.scene import build_scene
from pathsim.scene.message import message_at
from pathsim.scene.moments import delicate_moments
from pathsim.scene.not_checked import not_checked_line
from pathsim.session import Session
from pathsim.view.panel import verdict
from tests.report.made_sheets import flat, words_of
from tests.test_sample_cells import NAMES, SAMPLES, result_of

QUESTIONS = (
    "Is the program clear, and if not, what is the gravest of it?",
    "Which move is it?",
    "What touches, or comes near, what?",
    "Where is that?",
    "When is that?",
    "How near is it, guaranteed?",
    "How near may it be?",
    "Why does it come about?",
    "What cures it, or what was tried?",
    "What was not checked?",
)
_scenes = {}


def scene_of(name):
    if name not in _scenes:
        _scenes[name] = build_scene(result_of(name))
    return _scenes[name]


def grave(result):
    return [k for k, f in enumerate(result.findings) if f.level.at_least(Level.WATCH)]


def worst_word(result):
    levels = {f.level for f in result.findings}
    return next((str(level).upper() for level in (Level.STOP, Level.WATCH) if level in levels),
                "CLEAR")  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_the_window_answers(name):
    scene = scene_of(name)
    result = scene.result
    moments = [(mark.time, mark) for mark in scene.marks if mark.time is not None]
    moments += [(scene.tightest(), None)]
    assert verdict(scene)[0] == worst_word(result)  # 1
    for time, mark in moments:
        said = message_at(scene, time, mark)
        band = said.band
        for word in (f"move {band.number}", band.kind, band.start_name, band.end_name):
            assert word in said.where  # 2
        assert f"{time:.2f} s" in said.where  # 5
        gap = said.gap
        if mark is None or mark.gap is not None:
            assert gap is not None, "the tightest moment has a pair"
            assert gap.piece.lower() in said.how.lower() and gap.body in said.how  # 3
            assert np.isfinite([gap.on_moving, gap.on_standing]).all()  # 4
            assert gap.number in said.how  # 6
            assert gap.touches or f"margin {1e3 * gap.margin:g} mm" in said.how  # 7
        if mark is not None:
            assert mark.headline.lower() in said.how.lower() or gap.pair.lower() in said.how.lower()
            assert mark.camera is not None and mark.place is not None  # 4
    for finding in result.findings:
        assert all(len(sentence.split()) > 2 for sentence in explain(result, finding))  # 8
        assert explain(result, finding)
    assert not_checked_line(result).startswith("Not checked: ")  # 10


@pytest.mark.parametrize("name", NAMES)
def test_the_sheet_answers(name):
    result = result_of(name)
    shown = tuple(Shown(f, "from the left", None) for f in delicate_moments(result))
    content = sheet_content(result, "cell.yaml", "2031-01-01", shown)
    html = sheet_as_html(content)
    assert content.verdict.startswith("STOP") == (worst_word(result) == "STOP")  # 1
    assert content.verdict.startswith("WATCH") == (worst_word(result) == "WATCH")
    for row, move in zip(content.rows, result.moves, strict=True):
        assert row.number == str(move.track.number) and row.kind  # 2
        assert move.track.start in row.way and move.track.move.target in row.way
        assert row.clear_by in {"not checked", "touches"} or "mm" in row.clear_by  # 6
        seen = row.clear_by == "touches" or row.to
        assert row.clear_by in ("not checked",) or seen or row.clear_by.startswith("over")  # 3
    for moment, one in zip(content.moments, shown, strict=True):
        assert f"Move {one.finding.move}: " in moment.when  # 2
        assert " after " in moment.when and moment.side  # 4
        assert f"{one.finding.time:.1f} s" in moment.when  # 5
        for named in (one.finding.piece, one.finding.body):
            assert named is None or named.lower() in moment.what.lower()  # 3
        if one.finding.level.at_least(Level.WATCH) and one.finding.piece and one.finding.body:
            assert "margin" in moment.what or "touches" in moment.what  # 6, 7
    assert "Margins: air" in content.totals  # 7
    for finding in result.findings:  # 8
        assert flat(finding.text) in words_of(html)
    assert content.to_cure if content.is_stop else (content.boxes or result.cell.to_do)  # 9
    assert content.unknown  # 10


@pytest.mark.parametrize("name", NAMES)
def test_the_page_answers(name, monkeypatch):
    result = result_of(name)
    monkeypatch.setattr("pathsim.cli.explain._stills", lambda *_: ([None] * 99, "none here"))
    # What cures each finding is looked for in a test of its own: it takes long.
    monkeypatch.setattr("pathsim.cli.explain.advise_on", no_advice)
    session = Session()
    evaluator = Evaluator(result.cell, session, result)
    page = page_of(SAMPLES / name, evaluator, session, None, lambda *_: None)
    counts = {str(level): sum(f.level is level for f in result.findings) for level in Level}
    for level, count in counts.items():
        assert not count or f"{count} {level}" in page.verdict  # 1
    for one, finding in zip(page.findings, result.findings, strict=True):
        if finding.move is not None and finding.time is not None:
            assert f"Move {finding.move}, " in one.moment  # 2
            assert f"{finding.time:.1f} s" in one.moment  # 5
        for named in (finding.piece, finding.body):
            assert named is None or named.lower() in one.text.lower()  # 3
        assert one.why or one.text.count(". ") >= 1  # 8
    assert page.not_checked == not_checked_line(result)  # 10
    assert page.not_checked in explain_page_as_html(page)


def no_advice(evaluator, number):
    from pathsim.advice.proposal import Advice

    return Advice(evaluator.before.findings[number - 1], number, (), "Not looked for here.")


@pytest.mark.parametrize("name", NAMES)
def test_what_cures_it_is_answered(name):
    result = result_of(name)
    evaluator = Evaluator(result.cell, Session(), result)
    for index in grave(result)[:2]:
        words = cure_in_words(evaluator, index + 1)  # 9
        assert words[0] == TITLE or len(words[0].split()) >= 5
        if words[0] == TITLE:
            assert any("guaranteed" in line or "after" in line.lower() for line in words[1:])
        elif OF_CELL in words:
            assert len(words) > words.index(OF_CELL) + 1


def test_the_list_is_ten_and_stands_in_the_guide():
    assert len(set(QUESTIONS)) == 10 and all(q.endswith("?") for q in QUESTIONS)
    guide = (SAMPLES.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    for question in QUESTIONS:
        assert question in guide
