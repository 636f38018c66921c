"""Building blocks for the sample meshes: turned, sawn, hulled and joined solids.

Everything here is in millimetres.  An `axis` is "x", "y" or "z"; the pair `at` then names the
two other coordinates of that axis line, in the order x, y, z.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

import manifold3d
import numpy as np
import trimesh
from numpy.typing import NDArray
from shapely.geometry import Polygon

Solid = trimesh.Trimesh
Axis = Literal["x", "y", "z"]
Pair = tuple[float, float]
Triple = tuple[float, float, float]

# Shortest detail kept: anything smaller is boolean noise, and would turn into needle triangles
# once the coordinates are stored as 32-bit numbers.
SMALLEST_DETAIL = 0.05

# Edges above this size show their facets unless they are broken twice.
ROUND_EDGE = 9.5


def as_manifold(solid: Solid) -> manifold3d.Manifold:
    """Hand a closed solid to the boolean kernel."""
    return manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(solid.vertices, dtype=np.float64),
            tri_verts=np.ascontiguousarray(solid.faces, dtype=np.uint64),
        )
    )


def as_solid(body: manifold3d.Manifold) -> Solid:
    """Take a closed solid back from the boolean kernel."""
    mesh = body.to_mesh64()
    return Solid(
        vertices=np.array(mesh.vert_properties)[:, :3],
        faces=np.array(mesh.tri_verts, dtype=np.int64),
        process=False,
    )


def union(*parts: Solid) -> Solid:
    """Join parts into one solid."""
    return trimesh.boolean.union(list(parts), engine="manifold")


def cut(body: Solid, *tools: Solid) -> Solid:
    """Take all tools away from the body."""
    return trimesh.boolean.difference([body, *tools], engine="manifold")


def hull(*parts: Solid) -> Solid:
    """Stretch a skin over the parts, the way a casting flows from one boss to the next."""
    points = np.vstack([part.vertices for part in parts])
    return as_solid(manifold3d.Manifold.hull_points(points))


def moved(solid: Solid, offset: Sequence[float]) -> Solid:
    """Copy of the solid, shifted."""
    return Solid(solid.vertices + np.asarray(offset), solid.faces, process=False)


def rotated(solid: Solid, axis: Axis, degrees: float, about: Triple = (0, 0, 0)) -> Solid:
    """Copy of the solid, turned right-handed about an axis through the point `about`."""
    direction = [float(axis == name) for name in "xyz"]
    matrix = trimesh.transformations.rotation_matrix(np.radians(degrees), direction, about)
    return solid.copy().apply_transform(matrix)


def mirrored(solid: Solid, axis: Axis) -> Solid:
    """Copy of the solid seen in the plane through the origin square to the axis."""
    scale = [-1.0 if axis == name else 1.0 for name in "xyz"]
    return Solid(solid.vertices * scale, solid.faces[:, ::-1], process=False)


def laid_along(solid: Solid, axis: Axis, at: Pair = (0, 0)) -> Solid:
    """Lay a solid drawn along z along another axis.

    The coordinates are swapped round in a cycle instead of multiplied by a rotation, so that
    round numbers stay round numbers.
    """
    order = {"x": [2, 0, 1], "y": [1, 2, 0], "z": [0, 1, 2]}[axis]
    offset = {"x": (0, *at), "y": (at[0], 0, at[1]), "z": (*at, 0)}[axis]
    return Solid(solid.vertices[:, order] + np.array(offset), solid.faces, process=False)


def lathe(profile: Sequence[Pair], axis: Axis = "z", at: Pair = (0, 0), sides: int = 32) -> Solid:
    """Turn a profile of (radius, position along the axis) points round an axis."""
    section = manifold3d.CrossSection([list(profile)], manifold3d.FillRule.EvenOdd)
    body = manifold3d.Manifold.revolve(section, sides)
    return laid_along(as_solid(body), axis, at)


def rod(
    axis: Axis,
    at: Pair,
    low: float,
    high: float,
    radius: float,
    *,
    edge: float = 0,
    sides: int = 32,
) -> Solid:
    """Cylinder between two positions along an axis, with edges broken by `edge`.

    Small edges get one chamfer, edges that are seen as round get two.
    """
    half = edge * (1 - float(np.sqrt(0.5)))
    depths = [(0.0, 0.0)]
    if edge:
        depths = [(edge, 0), (0, edge)]
    if edge > ROUND_EDGE:
        depths.insert(1, (half, half))
    outline = [(radius - inward, low + up) for inward, up in depths]
    outline += [(radius - inward, high - up) for inward, up in reversed(depths)]
    return lathe([(0, low), *outline, (0, high)], axis, at, sides)


def rectangle(x_size: float, y_size: float, radius: float = 0, steps: int = 4) -> list[Pair]:
    """Outline of a rectangle about the origin, corners rounded in `steps` straight pieces."""
    if not radius:
        return [(sx * x_size / 2, sy * y_size / 2) for sx, sy in CORNERS]
    return [
        (
            sx * (x_size / 2 - radius) + radius * float(np.cos(angle)),
            sy * (y_size / 2 - radius) + radius * float(np.sin(angle)),
        )
        for quarter, (sx, sy) in enumerate(CORNERS)
        for angle in np.radians(90 * quarter + np.linspace(0, 90, steps + 1))
    ]


CORNERS: tuple[Pair, ...] = ((1, 1), (-1, 1), (-1, -1), (1, -1))


def prism(
    outline: Sequence[Pair],
    low: float,
    high: float,
    axis: Axis = "z",
    holes: Iterable[Sequence[Pair]] = (),
) -> Solid:
    """Push an outline along an axis.

    The outline is given in the two other coordinates, in the order x, y, z.
    """
    if axis == "y":
        # The cycle of laid_along takes (z, x) to the plane square to y.
        outline = [(z, x) for x, z in outline]
        holes = [[(z, x) for x, z in hole] for hole in holes]
    body = trimesh.creation.extrude_polygon(Polygon(outline, list(holes)), high - low)
    return laid_along(moved(body, (0, 0, low)), axis)


def box(x: Pair, y: Pair, z: Pair) -> Solid:
    """Box between the given low and high coordinates."""
    return prism([(x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1])], *z)


def soft_slab(
    outline: Sequence[Pair], low: float, high: float, edge: float, axis: Axis = "z"
) -> Solid:
    """Prism of a convex outline whose end edges are broken by a chamfer."""
    shrunk = list(Polygon(outline).buffer(-edge, join_style="mitre").exterior.coords)[:-1]
    return hull(prism(shrunk, low, high, axis), prism(outline, low + edge, high - edge, axis))


def swept_obb(
    centres: Sequence[Triple], headings: Sequence[Triple], radii: Sequence[float], sides: int
) -> Solid:
    """Tube skin over circles whose centres lie on a curve in a plane square to y."""
    turn = 2 * np.pi * np.arange(sides) / sides
    side = np.array([0.0, 1.0, 0.0])
    rings = [
        np.asarray(centre)
        + radius * (np.outer(np.cos(turn), side) + np.outer(np.sin(turn), np.cross(head, side)))
        for centre, head, radius in zip(centres, headings, radii, strict=True)
    ]
    points = np.vstack([*rings, centres[0], centres[-1]])
    here = np.arange(sides)
    after = (here + 1) % sides
    faces: list[NDArray[np.int64]] = []
    for start in range(0, sides * (len(rings) - 1), sides):
        near, far = start, start + sides
        faces.append(np.column_stack([near + here, near + after, far + after]))
        faces.append(np.column_stack([near + here, far + after, far + here]))
    last, first_centre = sides * (len(rings) - 1), len(points) - 2
    faces.append(np.column_stack([after, here, np.full(sides, first_centre)]))
    faces.append(np.column_stack([last + here, last + after, np.full(sides, first_centre + 1)]))
    return Solid(points, np.vstack(faces), process=False)


def screw_heads(
    axis: Axis,
    places: Iterable[Pair],
    face: float,
    height: float,
    radius: float,
    *,
    sides: int = 6,
) -> list[Solid]:
    """Screw heads standing on a face; a negative height makes them look down the axis.

    The heads are sunk a millimetre into the face, so that joining them never has to decide
    about two faces lying in one another.
    """
    sunk = face - np.sign(height)
    low, high = sorted((sunk, face + height))
    return [rod(axis, at, low, high, radius, sides=sides) for at in places]


def circle_of(count: int, radius: float, at: Pair = (0, 0), start: float = 0) -> list[Pair]:
    """Places evenly round a circle, the first at `start` degrees."""
    angles = np.radians(start + 360 * np.arange(count) / count)
    return [(at[0] + radius * float(np.cos(a)), at[1] + radius * float(np.sin(a))) for a in angles]


def finished(solid: Solid) -> Solid:
    """Drop boolean noise, round to a micrometre and put everything in one fixed order.

    The fixed order makes the written files depend on the shape alone.
    """
    body = as_solid(as_manifold(solid).simplify(SMALLEST_DETAIL))
    points, index = np.unique(np.round(body.vertices, 3) + 0.0, axis=0, return_inverse=True)
    faces = index.reshape(-1)[body.faces]
    # Where edges of two parts ran into one another, the boolean leaves a vertex twice and a
    # triangle of no width between the two; the rounding has just closed it.
    faces = faces[[len(set(corners)) == 3 for corners in faces.tolist()]]
    first = np.argmin(faces, axis=1)[:, None]
    faces = np.take_along_axis(faces, (first + np.arange(3)) % 3, axis=1)
    faces = faces[np.lexsort(faces.T[::-1])]
    return Solid(points, faces, process=False)
