"""Doubts of sizes and of the torch: closed forms, and what is grouped under them."""

import dataclasses

import numpy as np
import pytest
import trimesh

from pathsim.check import check
from pathsim.clearance import Span
from pathsim.findings import Finding, Level
from pathsim.findings.bore import outline
from pathsim.findings.doubt import Doubt, grouped, moves_in_words
from pathsim.findings.drawn_in import guesses, question
from pathsim.findings.kinds import FindingKind
from pathsim.findings.torch_sizes import torch_doubts
from pathsim.model import Mesh, Role, Torch, TorchPiece
from pathsim.transforms import frozen, pose, rotation_about, translation
from tests.builders import body, box, cell, joint, sound

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])


def tube(radius, inner, length, at=(0, 0, 0)):
    shape = trimesh.creation.annulus(inner, radius, length, sections=64)
    shape.apply_translation(np.asarray(at) + [0, 0, length / 2])
    return Mesh(shape.vertices, shape.faces)


def straight_torch(shift=(0, 0, 0), turn=0.0, wire=0.018, unit="mm", scale=1.0):
    """A tube of 11 mm radius from the flange to z 200 mm; the wire stands 15 mm out of it."""
    mesh = tube(0.011, 0.008, 0.2).moved(np.diag([scale, scale, scale, 1.0]))
    T = translation([0, 0, 0.215]) @ translation(shift)
    T = T @ pose(rotation_about([0.0, 1.0, 0.0], turn), [0, 0, 0])
    return Torch("tube", (TorchPiece("nozzle", mesh),), frozen(T), wire, 0.001, unit)


def told(torch):
    return [doubt.finding.text for doubt in torch_doubts(torch)]


@pytest.mark.parametrize("shift", [0.0, 0.003, -0.012])
def test_outline_of_a_tube_in_closed_form(shift):
    mesh = tube(0.011, 0.008, 0.1, (shift, 0, 0))
    found = outline(mesh.vertices[mesh.faces], 0.05)
    assert found.depth == pytest.approx(0.011 - abs(shift), abs=5e-5)
    assert found.radius == pytest.approx(0.011, abs=5e-5)
    np.testing.assert_allclose(found.middle, [shift, 0], atol=5e-5)
    assert outline(mesh.vertices[mesh.faces], 0.2) is None


def test_the_middle_of_the_nozzle():
    assert told(straight_torch()) == []
    assert told(straight_torch(shift=(0.004, 0, 0))) == []
    (text,) = told(straight_torch(shift=(0, 0.005, 0)))
    assert "leaves the nozzle 5.0 mm beside its middle, in a radius of 11.0 mm" in text
    (text,) = told(straight_torch(shift=(0.030, 0, 0)))
    assert "it begins 19.0 mm from the nozzle" in text


def test_along_the_nozzle_and_askew():
    assert told(straight_torch(shift=(0, 0, -0.012))) == []
    (text,) = told(straight_torch(shift=(0, 0, -0.020)))
    assert "lies 5.0 mm inside the nozzle" in text
    (text,) = told(straight_torch(shift=(0, 0, 0.040)))
    gap = np.hypot(37.0, 8.0)  # from the rim of the bore
    assert f"it begins {gap:.1f} mm from the nozzle" in text
    assert told(straight_torch(turn=np.radians(10))) == []
    (text,) = told(straight_torch(turn=np.radians(20)))
    assert "20 deg askew" in text


def test_a_torch_in_another_unit_is_asked_for_by_name():
    (text,) = told(straight_torch(scale=1 / 25.4))
    assert "drawn in inch, not mm" in text
    (text,) = told(straight_torch(scale=25.4, unit="in"))
    assert "drawn in mm, not inch" in text


@pytest.mark.parametrize(("gap", "is_told"), [(0.039, False), (0.041, True)])
def test_what_is_missing_between_flange_and_nozzle(gap, is_told):
    pieces = (TorchPiece("body", tube(0.03, 0.02, 0.1)),
              TorchPiece("nozzle", tube(0.011, 0.008, 0.1 - gap, (0, 0, 0.1 + gap))))  # fmt: skip
    texts = told(dataclasses.replace(straight_torch(), pieces=pieces))
    assert len(texts) == is_told
    assert not is_told or f"Between the body and the nozzle there is {gap * 1e3:.0f} mm" in texts[0]


@pytest.mark.parametrize(
    ("unit", "factor", "asked"),
    [("mm", 25.4, "drawn in inch, not mm"), ("in", 1 / 25.4, "drawn in mm, not inch"),
     ("mm", 1 / 25.4, "drawn 25.4 times too large"), ("", 10.0, "drawn 10 times too small")],
)  # fmt: skip
def test_guesses_name_the_unit(unit, factor, asked):
    (found,) = [g for g in guesses(unit) if g.factor == pytest.approx(factor)]
    assert question([found]) == asked


def finding(kind, move, piece, name, level=Level.STOP):
    spans, numbers = (Span(1.0, 1.2),), {"clearance": 0.004}
    return Finding(level, kind, f"{piece} and {name}", move, 1.0, spans, piece, name, numbers)


def test_what_a_doubt_explains_is_one_finding_and_nothing_else_is_lost():
    doubt = Doubt(
        Finding(Level.WATCH, FindingKind.UNLIKELY_UNIT, "The clamp is huge.", body="clamp"),
        bodies=frozenset(["clamp"]),
    )
    touches = [finding(FindingKind.CONTACT, k, f"link {k}", "clamp") for k in (1, 2, 3, 4, 5)]
    near = finding(FindingKind.NEAR_HIT, 5, "neck", "clamp", Level.WATCH)
    other = finding(FindingKind.CONTACT, 2, "neck", "post")
    about_it = finding(FindingKind.PROCESS, 2, "neck", "clamp", Level.NOTE)
    first, *rest = grouped([doubt], [*touches, near, other, about_it])
    assert rest == [other, about_it]
    assert first.level is Level.STOP and first.moves == (1, 2, 3, 4, 5) and first.move is None
    assert first.text == (
        "The clamp is huge. As it is, it touches link 1, link 2, link 3 and 2 more in moves 1 to "
        "5. It comes too near to neck in move 5."
    )
    numbers = {"contacts": 5.0, "near": 1.0, "contact seconds": 1.0, "clearance": 0.004}
    assert dict(first.numbers) == pytest.approx(numbers)


def test_one_finding_alone_stays_beside_its_doubt():
    doubt = Doubt(Finding(Level.WATCH, FindingKind.UNLIKELY_UNIT, "Huge.", body="clamp"),
                  bodies=frozenset(["clamp"]))  # fmt: skip
    touch = finding(FindingKind.CONTACT, 2, "neck", "clamp")
    assert grouped([doubt], [touch]) == [doubt.finding, touch]


def test_moves_in_words():
    assert moves_in_words([4]) == "move 4"
    assert moves_in_words([1, 2]) == "moves 1 and 2"
    assert moves_in_words([1, 2, 3]) == "moves 1 to 3"
    assert moves_in_words([1, 3, 4]) == "moves 1, 3 and 4"


def doubts_of(*bodies):
    c = cell({"home": HOME, "end": HOME + 0.1}, [joint("end")], bodies=bodies)
    return [f for f in check(sound(c)).findings if f.kind == FindingKind.UNLIKELY_UNIT]


@pytest.mark.parametrize(
    ("role", "size", "is_told"),
    [(Role.CLAMP, 0.026, False), (Role.CLAMP, 0.011, True), (Role.CLAMP, 1.5, False),
     (Role.CLAMP, 1.7, True), (Role.TABLE, 0.25, False), (Role.TABLE, 0.10, True),
     (Role.PART, 0.003, True), (Role.PART, 0.03, False), (Role.PART, 14.0, False),
     (Role.PART, 61.0, True)],
)  # fmt: skip
def test_sizes_at_their_limits(role, size, is_told):
    it = dataclasses.replace(body(box((size, size / 2, size / 2)), "it", role, (3, 0, -9)),
                             unit="mm")  # fmt: skip
    assert [f.body for f in doubts_of(it)] == (["it"] if is_told else [])
