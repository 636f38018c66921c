"""A cure that changes the cell is drawn where it would stand, and is not offered to be written."""

from dataclasses import replace

import numpy as np
import pytest

import pathsim
from pathsim.advice.cell_proposal import CellChange, CellChangeKind, CellProposal
from pathsim.scene.ghost_of_cure import ghost_of_cell
from pathsim.scene.palette import INK
from pathsim.transforms import frozen, translation
from pathsim.view.cure_words import question, said_of_ghost
from pathsim.view.messages import Cure
from tests.view.pixels import SIZE, close_to, player_of

BY = np.array([-0.05, 0.04, 0.0])


def proposal(result, cell, kind, **points):
    """A cure as the search would give it; what it does to the clearance is not looked at here."""
    change = CellChange(kind, "Do it by hand.", cell, points)
    after = pathsim.check(cell)
    evidence = ("After: 4.5 mm guaranteed, margin 1.5 mm (nozzle to hinge plate), on move 3.",)
    return CellProposal(change, result.findings[:1], result, after, evidence)


@pytest.fixture(scope="module")
def moved(scenes):
    result = scenes["gate_hinge_no_retract"].result
    bodies = tuple(
        replace(body, T_world_body=frozen(translation(BY) @ body.T_world_body))
        if body.name == "left clamp" else body
        for body in result.cell.bodies
    )  # fmt: skip
    cell = replace(result.cell, bodies=bodies)
    return ghost_of_cell(proposal(result, cell, CellChangeKind.CLAMP_MOVED))


def test_what_stands_elsewhere_is_drawn_there_and_nothing_else(moved, scenes):
    (ghost,) = moved.bodies
    (old,) = (m for m in scenes["gate_hinge_no_retract"].meshes if m.name == "left clamp")
    assert ghost.name == "left clamp" and ghost.link is None
    assert np.allclose(ghost.vertices - old.vertices, BY, atol=1e-9)
    assert not moved.ways and not moved.gone and not moved.points
    held = moved.held(None)
    assert (held.min(axis=0) <= ghost.vertices.min(axis=0) + 1e-9).all()
    assert (held.max(axis=0) >= ghost.vertices.max(axis=0) - 1e-9).all()


def test_its_outline_is_in_the_picture(moved, picture):
    shown = replace(player_of(picture.scene).choose(0), ghost_shown=True)
    try:
        picture.cure = Cure(("words",), moved)
        picture.show(shown)
        image, stage = picture.image(), picture.place.stage
        (ghost,) = moved.bodies
        seen = np.array([picture.to_pixels(v)[:2] for v in ghost.vertices[::7]])
        assert all(stage.holds(x, y) for x, y in seen)
        picture.show(replace(shown, ghost_shown=False, camera="free"))
        without = picture.image()
        rows, columns = SIZE[1] - 1 - seen[:, 1].astype(int), seen[:, 0].astype(int)
        other = np.abs(image[rows, columns].astype(int) - without[rows, columns]).max(axis=1) > 12
        assert other.mean() > 0.4
        assert close_to(image, INK).sum() > close_to(without, INK).sum() + 500
    finally:
        picture.cure = None
        picture.show(player_of(picture.scene))


def test_it_is_said_and_not_written(moved):
    cure = Cure(("words",), moved)
    assert not cure.can_be_written
    said = " ".join(said_of_ghost(cure))
    assert "Clamp moved: Do it by hand." in said and "4.5 mm guaranteed, margin 1.5 mm" in said
    assert "not written" in said and "t: write" not in said
    assert question(cure, "new")[0].startswith("Nothing to write") and "y: write" not in " ".join(
        question(cure, "new")
    )


def test_another_torch_angle_shows_the_torch_at_its_points(scenes):
    result = scenes["gate_hinge_no_retract"].result
    q = np.array(result.cell.points["weld start"].q)
    q[5] += 0.2
    points = dict(result.cell.points)
    points["weld start"] = replace(points["weld start"], q=frozen(q), T_base_tcp=None)
    cell = replace(result.cell, points=points)
    ghost = ghost_of_cell(
        proposal(result, cell, CellChangeKind.TORCH_ANGLE, **{"weld start": frozen(q)})
    )
    assert not ghost.bodies and [point.name for point in ghost.points] == ["weld start"]
    assert np.allclose(ghost.poses[0], cell.link_poses(q[None])[0])
    assert len(ghost.ways) >= 2 and len(ghost.gone) == len(ghost.ways)
