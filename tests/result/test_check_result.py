"""What scripts ask of a result: arrays, JSON, a profile, a table for notebooks."""

import html
import io
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

import pathsim
from pathsim.caution import CAUTION
from pathsim.clearance.profile import clearance_profile
from pathsim.errors import CannotCheck
from pathsim.report import result_as_json
from pathsim.result.arrays import OWN, SCENE, WIRE
from tests.builders import body, box, cell, joint
from tests.test_public_api import SAMPLES


@pytest.fixture(scope="module")
def result():
    return pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract"))


def test_every_pair_has_its_row(result):
    """Against the records themselves, one by one."""
    pairs = [
        (kind, pair)
        for move in result.moves
        for kind, group in ((SCENE, move.pairs), (OWN, move.own), (WIRE, move.wire))
        for pair in group
    ]
    rows = result.clearances
    assert len(rows) == len(pairs) > 50
    assert {SCENE, OWN, WIRE} == set(rows["of"])
    for row, (kind, pair) in zip(rows, pairs, strict=True):
        found = pair.clearance
        names = (pair.move, kind, pair.piece, pair.body, str(pair.stretch.zone))
        assert tuple(row[["move", "of", "piece", "body", "zone"]]) == names
        assert (row["start"], row["end"]) == (pair.stretch.start, pair.stretch.end)
        assert (row["margin"], row["lower"], row["upper"]) == (
            pair.margin, found.lower, found.upper,
        )  # fmt: skip
        assert row["touches"] == found.touches and row["capped"] == found.is_capped
        assert row["wide"] == found.is_wide and row["inside"] == found.is_inside
        if np.isfinite(found.upper):
            assert row["time"] == found.time
        else:
            assert np.isnan(row["time"])
        if found.on_moving is not None:
            assert row["on_moving"].tolist() == found.on_moving.tolist()
            assert row["on_standing"].tolist() == found.on_standing.tolist()


def test_the_worst_row_is_the_worst_pair(result):
    rows = result.clearances
    touching = rows[rows["touches"] & (rows["of"] == "scene")]
    assert set(zip(touching["piece"], touching["body"], strict=True)) >= {("neck", "left clamp")}
    assert (touching["move"] == 4).all()


def test_rows_cannot_be_changed_and_are_made_once(result):
    assert result.clearances is result.clearances
    with pytest.raises(ValueError, match="read-only"):
        result.clearances["lower"][0] = 1.0


def test_points_lie_as_far_apart_as_the_row_says(result):
    """Where a distance was seen, it is that of the two points."""
    rows = result.clearances
    seen = np.isfinite(rows["on_moving"]).all(axis=1) & np.isfinite(rows["upper"])
    seen &= ~rows["touches"] & ~rows["capped"]
    assert seen.sum() > 20
    apart = np.linalg.norm(rows["on_moving"] - rows["on_standing"], axis=1)[seen]
    assert np.allclose(apart, rows["upper"][seen], atol=1e-6)


def test_a_cell_without_anything_has_no_rows():
    empty = pathsim.check(cell({"home": np.zeros(6)}, [joint("home")]))
    assert len(empty.clearances[empty.clearances["of"] == "scene"]) == 0
    assert set(empty.clearances.dtype.names) >= {"move", "lower", "margin"}


def test_profile_is_the_chart_s(result):
    profile = result.profile()
    known = clearance_profile(result.cell, result.trajectory, moves=result.moves)
    assert profile is result.profile()
    assert profile.guaranteed.tobytes() == known.guaranteed.tobytes()
    assert len(profile.guaranteed) == len(profile.t) - 1


def test_json_is_that_of_the_command(result, tmp_path):
    assert result.to_json() == result_as_json(result)
    path = result.write_json(tmp_path / "result.json")
    assert path.read_text(encoding="utf-8") == result.to_json()
    assert json.loads(path.read_text(encoding="utf-8"))["format"] == "pathsim-result"
    result.write_json(path)  # an older result may be replaced


@pytest.mark.parametrize("name", ["cell.yaml", "note.json", "folder"])
def test_json_replaces_nothing_else(result, tmp_path, name):
    path = tmp_path / name
    if name == "folder":
        path.mkdir()
    else:
        path.write_text("{}\n")
    with pytest.raises(CannotCheck):
        result.write_json(path)
    assert path.is_dir() or path.read_text() == "{}\n"


class Tags(HTMLParser):
    """All tags of a page, each closed."""

    def __init__(self, page):
        super().__init__()
        self.seen, self.open = [], []
        self.feed(page)
        assert not self.open

    def handle_starttag(self, tag, attrs):
        assert not attrs
        self.seen.append(tag)
        self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def text_of(page):
    return html.unescape(re.sub(r"<[^>]+>", " ", page))


def test_notebook_table_says_what_matters(result):
    page = result._repr_html_()
    assert set(Tags(page).seen) <= {"p", "b", "i", "table", "tr", "th", "td", "ol", "li"}
    said = text_of(page)
    assert CAUTION in said and "Not clear: 1 stop" in said and "touches" in said
    assert "3.1 mm" in said and "neck and left clamp" in said
    assert "Not checked:" in said
    for finding in result.findings:
        assert (finding.text in said) == finding.level.at_least(pathsim.Level.WATCH)


def test_notebook_table_escapes_every_name():
    """Names are a user's: a cell from elsewhere must not bring its own code."""
    bad = "<script>alert(1)</script> & \"x\" 'y'"
    block = body(box((0.1, 0.1, 0.1)), bad, at=(0.3, 0, 0.5))
    made = cell({"home": np.zeros(6), bad: np.full(6, 0.2)}, [joint(bad), joint("home")],
                bodies=(block,))  # fmt: skip
    page = replace(pathsim.check(made), engine_note=bad)._repr_html_()
    assert "<script" not in page and "script" not in Tags(page).seen
    assert text_of(page).count(bad) >= 3


def test_notebook_table_never_calls_the_unmeasured_clear():
    """Links without a shape: no number of such a move, and it says what is missing."""
    made = pathsim.check(cell({"home": np.zeros(6)}, [joint("home")]))
    said = text_of(made._repr_html_())
    assert "not checked" in said and "Not clear" in said and "no shape" in said


def test_repr_is_one_line(result):
    assert repr(result) == "CheckResult('Gate hinge, no retract', 1 stop, 3 watch, 1 note)"
    print(result, file=io.StringIO())
