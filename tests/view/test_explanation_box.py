"""The reasons of a finding over the stage: all sentences, inside the box, in any window."""

from pathlib import Path

import pytest

from pathsim.advice.explain import explain
from pathsim.check import check
from pathsim.files import load_cell
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


def test_w_asks_why_and_escape_closes():
    player = opened(10.0, (1.0, 2.0))
    asked = player.key("w")
    assert asked.why_shown and not asked.key("w").why_shown
    assert not asked.key("Escape").why_shown
    assert asked.key("question").help_shown and not asked.key("question").why_shown
    assert asked.key("n").why_shown  # the next finding's reasons
