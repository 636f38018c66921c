"""Meshes that nobody would draw: nothing crashes, and what is said is true."""

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.swept.engine import FastEngine
from pathsim.errors import MeshError
from pathsim.model import Mesh, TorchPiece
from tests.builders import ball, body, box, cell, joint, needle, sheet

HOME = np.array([0.3, 0.1, 0.2, 0.3, 0.9, 0.4])


def inside_out(mesh):
    return Mesh(mesh.vertices, mesh.faces[:, ::-1])


def open_one(mesh):
    return Mesh(mesh.vertices, mesh.faces[::2])


def doubled(mesh):
    return Mesh(mesh.vertices, np.concatenate([mesh.faces, mesh.faces, mesh.faces[:, ::-1]]))


def far_away(mesh):
    """In a corner of the largest box that is allowed, brought back by its placement."""
    return Mesh(mesh.vertices + 990.0, mesh.faces)


def crumbs(mesh):
    """Thousands of triangles at one spot, and slivers a million times as long as wide."""
    spots = np.zeros((300, 3, 3)) + mesh.vertices[0]
    ends = mesh.vertices[1] - mesh.vertices[0]
    slivers = np.stack([[mesh.vertices[0], mesh.vertices[0] + ends,
                         mesh.vertices[0] + ends + 1e-7 * k] for k in range(300)])  # fmt: skip
    loose = np.concatenate([spots, slivers]).reshape(-1, 3)
    faces = np.arange(len(loose)).reshape(-1, 3) + len(mesh.vertices)
    return Mesh(np.concatenate([mesh.vertices, loose]), np.concatenate([mesh.faces, faces]))


KINDS = {
    "inside out": inside_out,
    "open": open_one,
    "doubled": doubled,
    "crumbs": crumbs,
    "far away": far_away,
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("shape", [box((0.1, 0.2, 0.1)), ball(0.1, fineness=2)])
def test_both_engines_agree_on_meshes_of_bad_manners(kind, shape):
    points = {"home": HOME, "end": HOME + [1.0, 0.3, -0.2, 0.4, 0.3, 0.5]}
    probe = cell(points, [joint("end")])
    tip = probe.tool_poses(np.array([HOME]))[0, :3, 3]
    spoilt = KINDS[kind](shape)
    for away in (np.zeros(3), np.array([0.0, 0.12, 0.13])):
        at = tip + away - (990.0 if kind == "far away" else 0.0)
        nozzle = box((0.03, 0.03, 0.2), (0, 0, 0.1))
        nozzle = nozzle if kind == "far away" else KINDS[kind](nozzle)
        pieces = (TorchPiece("nozzle", nozzle),)
        c = cell(points, [joint("end")], bodies=[body(spoilt, at=at)], pieces=pieces)
        fast, slow = check(c, engine=FastEngine(c)), check(c, engine=ReferenceEngine(c))
        for a, b in zip(fast.moves[0].pairs, slow.moves[0].pairs, strict=True):
            x, y = a.clearance, b.clearance
            assert (x.touches, x.is_inside) == (y.touches, y.is_inside)
            assert x.lower <= y.upper + 1e-6 and y.lower <= x.upper + 1e-6


SHEET = ((0, 0, 0), (0.1, 0, 0), (0.1, 0.1, 0), (0, 0.1, 0))


@pytest.mark.parametrize(
    "thing", [needle((0, 0, 0), (0, 0, 0)), needle((0, 0, 0), (0, 0, 0.1)), sheet(SHEET)]
)
def test_points_lines_and_sheets_are_hit(thing):
    points = {"home": HOME, "end": HOME + [0.6, 0.0, 0.0, 0.0, 0.0, 0.0]}
    probe = cell(points, [joint("end")])
    middle = (HOME + points["end"]) / 2
    piece = probe.arm_pieces[0]
    inside = probe.link_poses(middle[None])[0, piece.link] @ [0.0, 0.0, 0.1, 1.0]
    c = cell(points, [joint("end")], bodies=[body(thing, at=inside[:3])])
    result = check(c, engine=FastEngine(c))
    assert result.moves[0].worst.clearance.touches


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e4])
def test_what_cannot_be_a_mesh_is_refused(bad):
    vertices = np.eye(3)
    vertices[1, 1] = bad
    with pytest.raises(MeshError):
        Mesh(vertices, np.array([[0, 1, 2]]))
    with pytest.raises(MeshError):
        Mesh(np.eye(3), np.zeros((0, 3), int))
