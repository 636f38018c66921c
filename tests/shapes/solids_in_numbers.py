"""True solids as sets of points, written from their definitions, not from the meshes."""

import numpy as np


def winding(mesh, points):
    """Winding number of a mesh round each point, by solid angles (Van Oosterom, Strackee 1983)."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]][None] - points[:, None] for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=-1) for v in (a, b, c))
    top = np.einsum("ijk,ijk->ij", a, np.cross(b, c))
    down = la * lb * lc + (a * b).sum(-1) * lc + (b * c).sum(-1) * la + (c * a).sum(-1) * lb
    return 2 * np.arctan2(top, down).sum(axis=1) / (4 * np.pi)


def volume(mesh):
    """Volume of a closed mesh, by the divergence theorem."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    return float((a * np.cross(b, c)).sum() / 6)


def is_closed(mesh):
    """Every edge is gone along once each way."""
    edges = np.vstack([mesh.faces[:, [k, (k + 1) % 3]] for k in range(3)])
    there = {tuple(edge) for edge in edges.tolist()}
    return len(there) == len(edges) and all((b, a) in there for a, b in there)


def has_area(mesh):
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    return bool((np.linalg.norm(np.cross(b - a, c - a), axis=1) > 1e-14).all())


def in_pipe(p, diameter, wall, length):
    r = np.hypot(p[:, 0], p[:, 1])
    return (r <= diameter / 2) & (r >= diameter / 2 - wall) & (p[:, 2] >= 0) & (p[:, 2] <= length)


def in_rounded_rectangle(y, z, width, height, r):
    """Rectangle round (0, 0) with corners rounded by r."""
    dy, dz = np.abs(y) - (width / 2 - r), np.abs(z) - (height / 2 - r)
    is_in = (np.abs(y) <= width / 2) & (np.abs(z) <= height / 2)
    return is_in & ~((dy > 0) & (dz > 0) & (np.hypot(dy, dz) > r))


def in_tube(p, width, height, wall, root):
    y, z = p[:, 1], p[:, 2] - height / 2
    inside = in_rounded_rectangle(y, z, width - 2 * wall, height - 2 * wall, root)
    return in_rounded_rectangle(y, z, width, height, 1.5 * root) & ~inside


def _fillet(u, v, r):
    """Material in an inner corner at (0, 0) of the quarter u, v >= 0, rounded by r."""
    return (u >= 0) & (v >= 0) & (u <= r) & (v <= r) & (np.hypot(u - r, v - r) >= r)


def in_angle(p, width, thickness, root):
    y, z, t = p[:, 1] + width / 2, p[:, 2], thickness
    return (z <= t) | (y <= t) | _fillet(y - t, z - t, root)


def in_channel(p, width, web, flange, root):
    y, z = np.abs(p[:, 1]), p[:, 2]
    return (z <= web) | (y >= width / 2 - flange) | _fillet(width / 2 - flange - y, z - web, root)


def in_beam(p, height, web, flange, root):
    y, z = np.abs(p[:, 1]), height / 2 - np.abs(p[:, 2] - height / 2)
    return (y <= web / 2) | (z <= flange) | _fillet(y - web / 2, z - flange, root)
