"""The reasons of a finding over the stage: all sentences, inside the box, in any window."""

import time
from pathlib import Path

import pytest

from pathsim.advice.explain import explain
from pathsim.check import check
from pathsim.cli.main import main
from pathsim.files import load_cell
from pathsim.session import Session
from pathsim.view.cure_worker import LOOKING, Cures
from pathsim.view.explanation_box import draw_reasons
from pathsim.view.layout import layout
from pathsim.view.playback_state import opened

SAMPLES = Path(__file__).parents[2] / "sample_cells"


class Paper:
    """Takes down what is drawn."""

    def __init__(self):
        self.boxes, self.texts = [], []

    def box(self, left, bottom, right, top, colour):
        self.boxes.append((left, bottom, right, top, colour))

    def text(self, x, y, words, size, colour, *, bold=False):
        self.texts.append((x, y, words, size, colour, bold))


@pytest.mark.parametrize("size", [(1280, 800), (640, 480), (1920, 1080)])
@pytest.mark.parametrize("name", ["gate_hinge_no_retract", "wrist_in_line", "deep_channel"])
def test_all_sentences_are_written_inside_the_box(name, size):
    result = check(load_cell(SAMPLES / name))
    place = layout(*size)
    for finding in result.findings:
        said, paper = explain(result, finding), Paper()
        draw_reasons(paper, place, said)
        written = " ".join(words for _, _, words, *_ in paper.texts)
        assert written.split() == " ".join(said).split()
        left, bottom, right, top, _ = paper.boxes[-1]
        assert all(left < x < right and bottom < y < top for x, y, *_ in paper.texts)
        assert place.stage.left <= left and right <= place.stage.right


CURE = (
    "What cures it",
    "retract: Teach a point 'retract' 140 mm back along the wire from the weld end.",
    "Before: the neck touches the left clamp; after: 12.2 mm guaranteed where 10.0 mm is asked for "
    "(wire to left clamp); 4 stop or watch before, 0 after; 2.4 s longer (8 %).",
)


@pytest.mark.parametrize("size", [(1280, 800), (800, 600)])
def test_the_cure_stands_below_the_reasons_with_a_bold_head(size):
    result = check(load_cell(SAMPLES / "gate_hinge_no_retract"))
    said, paper = explain(result, result.findings[0]), Paper()
    draw_reasons(paper, layout(*size), said, CURE)
    written = " ".join(words for _, _, words, *_ in paper.texts)
    assert written.split() == " ".join((*said, *CURE)).split()
    bold = " ".join(words for _, _, words, _, _, bold in paper.texts if bold)
    assert bold == f"{said[0]} {CURE[0]}"
    left, bottom, right, top, _ = paper.boxes[-1]
    assert all(left < x < right and bottom < y < top for x, y, *_ in paper.texts)


def known(cures, result, finding):
    end = time.monotonic() + 60
    while cures.words(result, finding) == LOOKING:
        assert time.monotonic() < end
        time.sleep(0.02)
    return cures.words(result, finding)


def test_a_cure_is_found_beside_and_says_what_the_terminal_says(capsys):
    folder = SAMPLES / "gate_hinge_no_retract"
    result, cures = check(load_cell(folder)), Cures(Session())
    start = time.perf_counter()
    assert cures.words(result, 1) == LOOKING
    assert time.perf_counter() - start < 0.2
    said = known(cures, result, 1)
    assert main(["explain", str(folder), "2"]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert " ".join(said[:2]).replace(said[0], f"{said[0]} -") in printed
    assert all(" ".join(sentence.split()) in printed for sentence in said)


def test_a_cell_checked_again_is_looked_at_again():
    """What was found for the cell before is not shown for the one after it was saved."""
    cures = Cures(Session())
    old = check(load_cell(SAMPLES / "gate_hinge_no_retract"))
    assert known(cures, old, 0)[0] == "What cures it"
    new = check(load_cell(SAMPLES / "deep_channel"))
    assert cures.words(new, 0) == LOOKING
    assert "no air point helps" in known(cures, new, 0)[0]


def test_a_search_that_fails_says_so(monkeypatch):
    def broken(_bench, _number):
        raise RuntimeError("of this and that")

    monkeypatch.setattr("pathsim.view.cure_worker.cure_in_words", broken)
    result = check(load_cell(SAMPLES / "gate_hinge_no_retract"))
    assert known(Cures(Session()), result, 0) == (
        "The search for a cure ended early: of this and that",
    )


def test_w_asks_why_and_escape_closes():
    player = opened(10.0, (1.0, 2.0))
    asked = player.key("w")
    assert asked.why_shown and not asked.key("w").why_shown
    assert not asked.key("Escape").why_shown
    assert asked.key("question").help_shown and not asked.key("question").why_shown
    assert asked.key("n").why_shown  # the next finding's reasons
