"""Reasons: the numbers in the sentences are those of the check, and of plain differences."""

from pathlib import Path

import numpy as np
import pytest

from pathsim.advice.explain import driving_shares, explain
from pathsim.advice.rules_behind import RULES
from pathsim.check import check
from pathsim.files import load_cell
from pathsim.transforms import inverse
from pathsim.units import degrees, millimetres

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture(scope="module")
def clip():
    return check(load_cell(SAMPLES / "gate_hinge_no_retract"))


def test_a_hit_on_a_joint_move_is_told_with_its_numbers(clip):
    finding = clip.findings[0]
    track = clip.trajectory.tracks[finding.move - 1]
    text = " ".join(explain(clip, finding))
    tips = clip.cell.tool_poses(track.q)[:, :3, 3]
    assert millimetres(float(np.linalg.norm(tips[-1] - tips[0])), 0) in text
    way = np.linalg.norm(np.diff(tips, axis=0), axis=1).sum()
    assert millimetres(float(way), 0) in text
    assert millimetres(track.detour, 0) in text
    assert "does not follow that line" in text
    assert "neck" in text and "left clamp" in text


def test_the_joint_that_drives_it_against_plain_differences(clip):
    """Move one joint alone by a little and see how far the place goes."""
    finding = clip.findings[0]
    track = clip.trajectory.tracks[finding.move - 1]
    pair = next(p for p in clip.moves[finding.move - 1].pairs if p.clearance.touches)
    time, place = pair.clearance.time, pair.clearance.on_moving
    shares = driving_shares(clip.cell, track, time, place, pair.piece)
    piece = next(p for p in clip.cell.pieces if p.name == pair.piece)
    q = track.q_at(time)[0]
    rate = (track.q_at(time + 1e-4)[0] - track.q_at(time - 1e-4)[0]) / 2e-4
    T = clip.cell.link_poses(q[None])[0, piece.link]
    in_link = inverse(T) @ np.append(place, 1.0)
    sizes = []
    for k in range(len(q)):
        moved = q.copy()
        moved[k] += 1e-6
        there = clip.cell.link_poses(moved[None])[0, piece.link] @ in_link
        sizes.append(np.linalg.norm(there[:3] - place) / 1e-6 * abs(rate[k]))
    assert np.allclose(shares, np.array(sizes) / np.sum(sizes), atol=1e-3)
    driver = clip.cell.axes.names[int(np.argmax(shares))]
    assert driver.capitalize() in " ".join(explain(clip, finding))


def test_a_wrist_in_line_is_told_with_the_sine_of_its_angle():
    result = check(load_cell(SAMPLES / "wrist_in_line"))
    finding = result.findings[0]
    angle = finding.numbers["angle"]
    text = " ".join(explain(result, finding))
    assert degrees(angle) in text
    assert f"{1 / np.sin(angle):.0f} deg of joint 4" in text


def test_every_finding_of_every_sample_cell_has_a_reason():
    for path in SAMPLES.glob("*/cell.yaml"):
        result = check(load_cell(path.parent))
        for finding in result.findings:
            said = explain(result, finding)
            assert said[0] == finding.text
            assert len(said) > 1, finding.kind


def test_every_kind_of_finding_has_a_rule():
    """The kinds that the findings' sources name: a new one needs a sentence."""
    import re

    folder = Path(__file__).parents[2] / "pathsim" / "findings"
    sources = " ".join(path.read_text() for path in folder.glob("*.py"))
    kinds = set(re.findall(r"Finding\(\s*Level\.\w+,\s*\"([a-z -]+)\"", sources))
    assert len(kinds) > 8
    assert kinds <= set(RULES), kinds - set(RULES)
