"""Trees over triangles: nothing lost, nothing twice, never too deep, and worth their cuts."""

import numpy as np
import pytest

from pathsim.geometry.bvh import boxes
from pathsim.geometry.bvh_split import COUNT, FIRST, LEAF, LEFT, RIGHT, STACK, split


def tree_of(triangles):
    order, links = split(triangles)
    assert sorted(order) == list(range(len(triangles)))
    return triangles[order], links


def depth_of(links):
    """Depth of a tree all of whose nodes hold what their children hold, and leaves at most LEAF."""
    depths = np.zeros(len(links), int)
    covered = 0
    for node, (left, right, first, count) in enumerate(links):
        if left < 0:
            assert right < 0 and 1 <= count <= LEAF
            covered += count
            continue
        assert left > node and right > node
        assert links[left, FIRST] == first
        assert links[right, FIRST] == first + links[left, COUNT]
        assert links[left, COUNT] + links[right, COUNT] == count
        depths[[left, right]] = depths[node] + 1
    assert covered == links[0, COUNT]
    return depths.max()


def scattered(rng, count):
    return rng.normal(size=(count, 1, 3)) + 0.01 * rng.normal(size=(count, 3, 3))


@pytest.mark.parametrize("count", [1, 4, 5, 6, 33, 2000])
def test_every_triangle_is_in_one_leaf(count):
    _, links = tree_of(scattered(np.random.default_rng(count), count))
    depth_of(links)


def test_boxes_hold_what_is_below_them():
    triangles, links = tree_of(scattered(np.random.default_rng(1), 700))
    box = boxes(triangles, links)
    for node in range(len(links)):
        first, count = links[node, FIRST], links[node, COUNT]
        corners = triangles[first : first + count].reshape(-1, 3)
        np.testing.assert_array_equal(box[node, :3], corners.min(axis=0))
        np.testing.assert_array_equal(box[node, 3:], corners.max(axis=0))


@pytest.mark.parametrize("kind", ["one place", "ever nearer", "ever nearer, many", "one line"])
def test_no_mesh_makes_a_tree_too_deep_to_go_down(kind):
    """Cuts that part one triangle from all others would make a tree as deep as it is wide."""
    rng = np.random.default_rng(2)
    small = 1e-4 * rng.normal(size=(1, 3, 3))
    places = {
        "one place": np.zeros((3000, 3)),
        "ever nearer": np.outer(0.5 ** np.arange(1000.0), [1.0, 0.3, 0.2]),
        "ever nearer, many": np.outer(0.9 ** np.repeat(np.arange(600.0), 40), [1.0, 0.0, 0.0]),
        "one line": np.outer(np.arange(3000.0), [0.01, 0.0, 0.0]),
    }[kind]
    _, links = tree_of(places[:, None] + small * np.maximum(places[:, :1, None], 1e-6))
    assert depth_of(links) < STACK - 1


def test_large_triangles_part_from_small_ones():
    """Few large ones among many small ones: halving by number would leave them in every box."""
    rng = np.random.default_rng(3)
    small = rng.uniform(-1, 1, size=(4000, 1, 3)) + 0.005 * rng.normal(size=(4000, 3, 3))
    large = rng.uniform(-1, 1, size=(40, 3, 3))
    triangles, links = tree_of(np.concatenate([small, large]))
    # Beside a tree halved by number along its widest side.
    other = surface(*halved(np.concatenate([small, large])))
    assert surface(boxes(triangles, links), links) < 0.8 * other


def surface(box, links):
    """Sum of the surfaces of all boxes, each for as many triangles as it has below it."""
    x, y, z = (box[:, 3:] - box[:, :3]).T
    return float(((x * y + y * z + z * x) * np.where(links[:, LEFT] < 0, links[:, COUNT], 1)).sum())


def halved(triangles):
    """Boxes and links of a tree that halves by number along its widest side."""
    links, parts = [], [(np.arange(len(triangles)), -1, 0)]
    order = []
    while parts:
        chosen, parent, side = parts.pop()
        node = len(links)
        links.append([-1, -1, 0, len(chosen)])
        if parent >= 0:
            links[parent][side] = node
        if len(chosen) <= LEAF:
            links[node][FIRST] = len(order)
            order += list(chosen)
            continue
        centres = triangles[chosen].mean(axis=1)
        ranked = chosen[np.argsort(centres[:, np.argmax(np.ptp(centres, axis=0))])]
        middle = len(chosen) // 2
        parts += [(ranked[middle:], node, RIGHT), (ranked[:middle], node, LEFT)]
    links = np.array(links)
    return boxes(triangles[order], links), links
