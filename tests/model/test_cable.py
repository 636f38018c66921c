"""A cable's mesh holds the true rounded shape, and is not much larger."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.errors import CellError, MeshError
from pathsim.geometry.containment import winding_number
from pathsim.model import Cable

#: Corners of the mesh are at most so many radii from the line.
LARGEST = 1.022
PLACES = arrays(float, st.tuples(st.integers(2, 4), st.just(3)), elements=st.floats(-0.5, 0.5))


def far_enough(points):
    return (np.linalg.norm(np.diff(points, axis=0), axis=1) > 1e-3).all()


def to_line(points, places):
    """Distance of ``places (m, 3)`` to a line through ``points``, written out again here."""
    rows = []
    for a, b in itertools.pairwise(points):
        s = np.clip((places - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        rows.append(np.linalg.norm(places - a - s[:, None] * (b - a), axis=1))
    return np.min(rows, axis=0)


@given(
    PLACES.filter(far_enough), st.floats(1e-3, 0.1), st.floats(0, 0.1),
    arrays(float, 3, elements=st.floats(-1, 1)), st.floats(0, 1), st.integers(0, 2),
)  # fmt: skip
@settings(max_examples=200, deadline=None)
def test_every_point_of_the_true_shape_is_inside_the_mesh(points, radius, slack, way, s, stretch):
    if np.linalg.norm(way) < 1e-3:
        return
    cable = Cable("cable", 1, points, radius, slack)
    a, b = list(itertools.pairwise(points))[stretch % (len(points) - 1)]
    # hard against the true surface, from within
    place = a + s * (b - a) + (1 - 1e-6) * (radius + slack) * way / np.linalg.norm(way)
    assert to_line(points, place[None])[0] < radius + slack
    assert winding_number(place, cable.mesh.vertices, cable.mesh.faces) > 0.5


@given(PLACES.filter(far_enough), st.floats(1e-3, 0.1), st.floats(0, 0.1))
@settings(max_examples=100, deadline=None)
def test_no_face_cuts_into_the_true_shape_and_no_corner_is_far_out(points, radius, slack):
    cable = Cable("cable", 1, points, radius, slack)
    reach, per_capsule = radius + slack, len(cable.mesh.faces) // (len(points) - 1)
    corners = cable.mesh.vertices[cable.mesh.faces]
    weights = np.random.default_rng(1).dirichlet([1, 1, 1], 5)
    for k, pair in enumerate(itertools.pairwise(points)):
        own = corners[k * per_capsule : (k + 1) * per_capsule]
        on_faces = np.einsum("wc,fcx->fwx", weights, own).reshape(-1, 3)
        assert to_line(pair, on_faces).min() >= reach - 1e-9
        assert to_line(pair, own.reshape(-1, 3)).max() <= LARGEST * reach + 1e-9


def test_slack_that_is_not_said_is_a_tenth_of_the_length():
    cable = Cable("cable", 1, np.array([[0, 0, 0], [0.3, 0, 0], [0.3, 0.2, 0]]), 0.01)
    assert cable.slack_taken == pytest.approx(0.05) and cable.reach == pytest.approx(0.06)
    # a parabola of span 1 and sag 0.1 by fine steps: nearly 3 % longer than its span
    x = np.linspace(0, 1, 20001)
    length = np.hypot(np.diff(x), np.diff(0.4 * x * (1 - x))).sum()
    assert 1.025 < length < 1.03


LINE = [[0.0, 0, 0], [0.1, 0, 0]]


@pytest.mark.parametrize(
    ("points", "sizes", "says"),
    [
        (LINE[:1], {}, "two points"),
        ([*LINE, LINE[1]], {}, "points 2 and 3"),
        ([[0.0, 0, 0], [np.nan, 0, 0]], {}, "finite"),
        (LINE, {"radius": 0.0}, "radius: came 0.0; expected a finite number above 0"),
        (LINE, {"radius": np.nan}, "radius: came nan"),
        (LINE, {"slack": -0.001}, "slack"),
        (LINE, {"slack": np.nan}, "slack"),
        (LINE, {"margin": -0.001}, "margin"),
        (LINE, {"link": 0}, "link: came 0; expected a whole number from 1"),
    ],
)
def test_what_is_no_cable_is_refused(points, sizes, says):
    given_sizes = {"link": 1, "radius": 0.01, "slack": 0.0, **sizes}
    with pytest.raises((CellError, MeshError), match=says):
        Cable("cable", points=np.array(points), **given_sizes)
