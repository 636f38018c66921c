"""Mutations of what is told of meshes that stand still: trees, grids, distances, inside."""

from __future__ import annotations

from tests.clearance.swept.mutation import Mutation

MESH_MUTATIONS = {
    # geometry/bvh.py
    "smaller bricks": Mutation(
        "geometry/bvh.py", "half = (high[n] - low[n]) / 2.0", "half = 0.4 * (high[n] - low[n])"
    ),
    "smaller spheres": Mutation(
        "geometry/bvh.py", "np.sqrt(farthest) + ROUNDING", "0.9 * np.sqrt(farthest)"
    ),
    "boxes without a leaf's last corner": Mutation(
        "geometry/bvh.py",
        "for j in range(3): value = triangles[i, j, k]",
        "for j in range(2):\n                        value = triangles[i, j, k]",
    ),
    # geometry/bvh_split.py
    "last triangle of each leaf lost": Mutation(
        "geometry/bvh_split.py",
        "links[node, COUNT] = first, last - first",
        "links[node, COUNT] = first, max(last - first - 1, 1)",
    ),
    # geometry/containment_kernel.py
    "rays: in and out not told apart": Mutation(
        "geometry/containment_kernel.py", "return -1 if determinant > 0.0 else 1", "return 1"
    ),
    "rays: one that errs is believed": Mutation(
        "geometry/containment_kernel.py",
        "if self._closed[part] and (turns == turns[0]).all():",
        "if self._closed[part]:",
    ),
    "rays: every component counts as closed": Mutation(
        "geometry/containment_kernel.py", "if self._closed[part] and (turns", "if (turns"
    ),
    # geometry/triangle_distance.py
    "crossing triangles not seen": Mutation(
        "geometry/triangle_distance.py",
        "    if through:\n        return 0.0, x, x\n    return",
        "    return",
    ),
    "sides of triangles left out": Mutation(
        "geometry/triangle_distance.py",
        "        for j in range(3):\n            other, x, y = _inner",
        "        for j in range(2):\n            other, x, y = _inner",
    ),
    "one triangle behind a plane is enough": Mutation(
        "geometry/triangle_distance.py",
        "if dot(d, sub(t[k], p)) < past or dot(d, sub(q, u[k])) < past:",
        "if dot(d, sub(q, u[k])) < past:",
    ),
    # geometry/tree_distance.py
    "trees: a node left whose bound is a little nearer": Mutation(
        "geometry/tree_distance.py",
        "if bounds[filled] >= best:",
        "if bounds[filled] >= 0.9 * best:",
    ),
    "trees: a sphere's radius too small": Mutation(
        "geometry/tree_distance.py",
        "np.sqrt(of_ball) - sphere[a, 3]",
        "np.sqrt(of_ball) - 0.8 * sphere[a, 3]",
    ),
    "trees: half of a turned box": Mutation(
        "geometry/tree_distance.py",
        "gap = max(gap - half, 0.0)",
        "gap = max(gap - half / 2.0, 0.0)",
    ),
    # geometry/triangle_grid.py
    "grid: a plane held against half a box": Mutation(
        "geometry/triangle_grid.py",
        "half += (high[k] - low[k]) / 2 *",
        "half += (high[k] - low[k]) / 4 *",
    ),
    "grid: cells between two rings left out": Mutation(
        "geometry/triangle_grid.py", "(off > inner) &", "(off > 1.01 * inner) &"
    ),
    "grid: what is surely there a little nearer": Mutation(
        "geometry/triangle_grid.py", "<= surely + ROUNDING", "<= 0.9 * surely"
    ),
    "grid: the last triangle of a cell left out": Mutation(
        "geometry/triangle_grid.py",
        "np.diff(np.append(starts, count))",
        "np.maximum(np.diff(np.append(starts, count)) - 1, 1)",
    ),
    # geometry/surface.py
    "surface: a cell's normals taken for one": Mutation(
        "geometry/surface.py", "off + self._spread[cells] >", "off >"
    ),
    "surface: cells farther than half of what was found left out": Mutation(
        "geometry/surface.py", "(gap < found[which])", "(2 * gap < found[which])"
    ),
    "surface: what a line meets in its first piece alone": Mutation(
        "geometry/surface.py",
        "np.maximum(along[:, :-1], along[:, 1:])",
        "np.maximum(along[:, :-1], along[:, :-1])",
    ),
    "surface: far places by the last round": Mutation(
        "geometry/surface.py",
        "~(found.distance[left] <= reach)",
        "~(found.distance[left] <= 2 * reach)",
    ),
}
