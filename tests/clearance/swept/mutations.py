"""One change for each term of each bound, which a test has to notice (``mutate.py``)."""

from __future__ import annotations

from tests.clearance.swept.mesh_mutations import MESH_MUTATIONS
from tests.clearance.swept.mutation import Mutation

MUTATIONS = MESH_MUTATIONS | {
    # clearance/swept/motion_bound.py
    "bend without cross terms": Mutation(
        "clearance/swept/motion_bound.py", "w * (w + 2.0 * moved)", "w * w"
    ),
    "bend without squares": Mutation(
        "clearance/swept/motion_bound.py", "w * (w + 2.0 * moved)", "w * 2.0 * moved"
    ),
    "A/16 in place of A/8, one segment": Mutation(
        "clearance/swept/motion_bound.py", "= bends[a] / 8.0", "= bends[a] / 16.0"
    ),
    "A/8 left out of many segments": Mutation(
        "clearance/swept/motion_bound.py", "np.sqrt(rest) + worst_bend / 8.0", "np.sqrt(rest)"
    ),
    "residual beside the two directions left out": Mutation(
        "clearance/swept/motion_bound.py", "out[BALL] = np.sqrt(rest) +", "out[BALL] = 0.0 * rest +"
    ),
    "slab of the first direction halved": Mutation(
        "clearance/swept/motion_bound.py",
        "scaled(v, (high1 - low1) / 2.0)",
        "scaled(v, (high1 - low1) / 4.0)",
    ),
    "slab of the second direction halved": Mutation(
        "clearance/swept/motion_bound.py",
        "scaled(u, (high2 - low2) / 2.0)",
        "scaled(u, (high2 - low2) / 4.0)",
    ),
    "slab not moved to its middle": Mutation(
        "clearance/swept/motion_bound.py",
        "scaled(v, (low1 + high1) / 2.0)",
        "scaled(v, 0.0 * low1)",
    ),
    "turn: children's gap left out": Mutation(
        "clearance/swept/motion_bound.py",
        "max(numbers[early, ROTATION_BALL], numbers[late, ROTATION_BALL]) + apart",
        "apart",
    ),
    "turn: own gap left out": Mutation(
        "clearance/swept/motion_bound.py",
        "max(numbers[early, ROTATION_BALL], numbers[late, ROTATION_BALL]) + apart",
        "max(numbers[early, ROTATION_BALL], numbers[late, ROTATION_BALL])",
    ),
    "spectral norm from the mean alone": Mutation(
        "clearance/swept/motion_bound.py", "min(mean + np.sqrt(2.0) * std, trace)", "mean"
    ),
    # clearance/swept/swept_pose.py
    "A of a part not with its square but cube": Mutation(
        "clearance/swept/swept_pose.py", "* (f1 - f0) * (f1 - f0) / 8.0", "* (f1 - f0) ** 3 / 8.0"
    ),
    "turn error without distance": Mutation(
        "clearance/swept/swept_pose.py", "* (length(sub(c, job.reference)) + r)", "* r"
    ),
    "turn error without radius": Mutation(
        "clearance/swept/swept_pose.py",
        "* (length(sub(c, job.reference)) + r)",
        "* length(sub(c, job.reference))",
    ),
    "error shrunk to 0.3": Mutation(
        "clearance/swept/swept_pose.py",
        "return float(store[BAND, BALL] +",
        "return 0.3 * float(store[BAND, BALL] +",
    ),
    # clearance/swept/box_bound.py
    "box of the chord's start only": Mutation(
        "clearance/swept/box_bound.py",
        "max(_sum_along(n, s.first), _sum_along(n, s.last))",
        "_sum_along(n, s.first)",
    ),
    "extent without the first slab": Mutation(
        "clearance/swept/box_bound.py", " + abs(dot(n, s.w1))", ""
    ),
    "extent without the second slab": Mutation(
        "clearance/swept/box_bound.py", " + abs(dot(n, s.w2))", ""
    ),
    "chord left out of boxes": Mutation(
        "clearance/swept/box_bound.py", "abs(h[0]) + extent", "extent"
    ),
    "chord left out of planes": Mutation(
        "clearance/swept/box_bound.py", "s.m) - abs(dot(n, s.h)) - extent", "s.m) - extent"
    ),
    "planes without the extent": Mutation(
        "clearance/swept/box_bound.py",
        "- abs(dot(n, s.h)) - extent(s, n, size), size)",
        "- abs(dot(n, s.h)), size)",
    ),
    "plane behind the triangle's nearest point only": Mutation(
        "clearance/swept/box_bound.py",
        "return max(dot(n, t[0]), dot(n, t[1]), dot(n, t[2]))",
        "return min(dot(n, t[0]), dot(n, t[1]), dot(n, t[2]))",
    ),
    "box behind a plane that goes through it": Mutation(
        "clearance/swept/box_bound.py",
        "wall += max(n[2] * box[node, 2], n[2] * box[node, 5])",
        "wall += min(n[2] * box[node, 2], n[2] * box[node, 5])",
    ),
    "plane of a length other than its direction's": Mutation(
        "clearance/swept/box_bound.py",
        "plane.level - wall >= limit * plane.size",
        "plane.level - wall >= 0.7 * limit * plane.size",
    ),
    "box outside of which all is far: half as far": Mutation(
        "clearance/swept/box_bound.py", "max(near, far) >= limit", "max(near, far) >= 0.5 * limit"
    ),
    "box outside of which all is far: the wrong one": Mutation(
        "clearance/swept/box_bound.py",
        "top = left if near < far else right",
        "top = right if near < far else left",
    ),
    # clearance/swept/triangle_bound.py
    "line at one end only": Mutation(
        "clearance/swept/triangle_bound.py",
        "return first - wall, last - wall",
        "return first - wall, first - wall",
    ),
    "line without the slab": Mutation(
        "clearance/swept/triangle_bound.py",
        "lines[count, 0], lines[count, 1] = first - wide, last - wide",
        "lines[count, 0], lines[count, 1] = first, last",
    ),
    "wall of two corners": Mutation(
        "clearance/swept/triangle_bound.py",
        ("wall = max(dot(n, still[0]), dot(n, still[1]), dot(n, still[2]))\n    first"),
        "wall = max(dot(n, still[0]), dot(n, still[1]))\n    first",
    ),
    # clearance/swept/leaf_bound.py
    "leaf's corners at the start only": Mutation(
        "clearance/swept/leaf_bound.py",
        "least = min(least, dot(n, point_of(points, 0, i)), dot(n, point_of(points, 1, i)))",
        "least = min(least, dot(n, point_of(points, 0, i)))",
    ),
    "leaf without off": Mutation(
        "clearance/swept/leaf_bound.py", "add(placed(store, END, c), off)", "placed(store, END, c)"
    ),
    "leaf's plane without the slabs": Mutation(
        "clearance/swept/leaf_bound.py", "least - abs(dot(n, w1)) - abs(dot(n, w2))", "least"
    ),
    "leaf's reach without the chord": Mutation(
        "clearance/swept/leaf_bound.py", "r + length(s.h) + ", "r + "
    ),
    "first triangle of a leaf passed over": Mutation(
        "clearance/swept/leaf_bound.py",
        "hint >= 0 and not",
        "hint >= 0 and need < 0.0 and not",
    ),
    # clearance/swept/search_node.py
    "leaf's error not taken off": Mutation(
        "clearance/swept/search_node.py",
        "workspace.found[BOUND] - error)",
        "workspace.found[BOUND])",
    ),
    "node's error not taken off": Mutation(
        "clearance/swept/search_node.py", "else gap - error)", "else gap)"
    ),
    "bound of a hurried leaf believed": Mutation(
        "clearance/swept/search_node.py", "    elif not splittable:\n", "    else:\n"
    ),
    "allowed three times": Mutation(
        "clearance/swept/search_node.py",
        "upper - allowed(asked.tolerance, upper)))",
        "upper - 3.0 * allowed(asked.tolerance, upper)))",
    ),
    "guess in place of the bound": Mutation(
        "clearance/swept/search_node.py",
        "lower, hint, key = bounded.lower",
        "lower, hint, key = bounded.guess",
    ),
    "one half of a segment dropped": Mutation(
        "clearance/swept/search_node.py",
        "node, hint, top, middle, f1)",
        "node, hint, top, middle, middle)",
    ),
    "one half of a sphere dropped": Mutation(
        "clearance/swept/search_node.py",
        "lower, right, node, hint, top, f0, f1)",
        "lower, left, node, hint, top, f0, f1)",
    ),
    "one half of time dropped": Mutation(
        "clearance/swept/search_node.py",
        (
            "early, hint, top, 0.0, 1.0)\n        push(numbers, whole, filled + 1, "
            "key, lower, sphere, late, hint"
        ),
        (
            "early, hint, top, 0.0, 1.0)\n        push(numbers, whole, filled + 1, "
            "key, lower, sphere, early, hint"
        ),
    ),
    "box outside of which all is far: without E": Mutation(
        "clearance/swept/search_node.py",
        "swept_bound(pair.tree, s, need + error, lower",
        "swept_bound(pair.tree, s, need, lower",
    ),
    # clearance/swept/search.py
    "key in place of the bound": Mutation(
        "clearance/swept/search.py",
        "lower, f0, f1 = numbers[0, LOWER_BOUND]",
        "lower, f0, f1 = numbers[0, 0] + 2e6 * (numbers[0, 0] < 0)",
    ),
    "seen at another moment": Mutation(
        "clearance/swept/search.py",
        "f = min(max((time - start) / (end - start), 0.0), 1.0)",
        "f = 0.5 * min(max((time - start) / (end - start), 0.0), 1.0)",
    ),
    # clearance/swept/broad_phase.py
    "reach without the bulge": Mutation(
        "clearance/swept/link_pose.py", "bulge / 8.0 + ROUNDING", "ROUNDING"
    ),
    "reach of one knot less": Mutation(
        "clearance/swept/link_pose.py",
        "for k in range(first, first + knots):",
        "for k in range(first + 1, first + knots):",
    ),
    "reach with half the piece's box": Mutation(
        "clearance/swept/link_pose.py",
        "low, high = min(low, c - half), max(high, c + half)",
        "low, high = min(low, c - 0.5 * half), max(high, c + 0.5 * half)",
    ),
    "far by the gaps' sum": Mutation(
        "clearance/swept/broad_phase.py",
        "squares = squares + apart * apart\n    return np.asarray(np.sqrt(squares))",
        "squares = squares + apart\n    return np.asarray(squares)",
    ),
    "far: boxes of things turned the other way": Mutation(
        "clearance/swept/jobs.py", "corners @ T[:3, :3].T + T", "corners @ T[:3, :3] + T"
    ),
    # clearance/swept/batch.py
    "stretch of a move for another of its stretches": Mutation(
        "clearance/swept/batch.py", "kept.once((links.digest, part)", "kept.once((links.digest,)"
    ),
    # clearance/swept/window_knots.py
    "ends of stretches told to a hundredth of a second": Mutation(
        "clearance/swept/window_knots.py", "_TICK = 9", "_TICK = 2"
    ),
    "a line of joint space bent by a hundredth of a degree": Mutation(
        "clearance/swept/window_knots.py", "_OFF_LINE = 1e-12", "_OFF_LINE = 2e-4"
    ),
    "an arm that stands still on its way gone on with": Mutation(
        "clearance/swept/knots_kernel.py",
        "if k > 0 and not share[k] > share[k - 1]:",
        "if k > len(q):",
    ),
    # clearance/swept/chain_motion.py
    "times of even way told for those of the move": Mutation(
        "clearance/swept/chain_motion.py",
        "return times if self.line is None else self.line.real(times)",
        "return times",
    ),
    # clearance/queries.py
    "questions about another move's windows": Mutation(
        "clearance/queries.py", "window + len(self._parts)", "window + 0 * len(self._parts)"
    ),
    # clearance/swept/packing.py
    "trees of one link at another's place": Mutation(
        "clearance/swept/packing.py",
        "node + place * (2 * knots - 3)",
        "node + 0 * place * (2 * knots - 3)",
    ),
    # clearance/swept/intervals.py
    "spans: error not asked for": Mutation(
        "clearance/swept/intervals.py", "if gap >= limit + error:", "if gap >= limit:"
    ),
    "spans: ends not looked at": Mutation(
        "clearance/swept/intervals.py",
        "near_end = near_at(pair, last, f1, limit, seen, workspace)",
        "near_end = True",
    ),
    "spans: both halves take the node's near start for theirs": Mutation(
        "clearance/swept/intervals.py",
        "was_near[filled, 0], was_near[filled, 1] = near[1], near[2]",
        "was_near[filled, 0], was_near[filled, 1] = near[0], near[2]",
    ),
    "spans: a whole in which nothing was seen is far": Mutation(
        "clearance/swept/intervals.py",
        "is_near = is_last\n",
        "is_near = is_last\n        if is_whole and not is_seen:\n            continue\n",
    ),
    "spans: what was near once is near for good": Mutation(
        "clearance/swept/intervals.py",
        "if last[k] >= 0 and _are_near(pair, last[k], last[k + 1], limit, store):",
        "if last[k] >= 0:",
    ),
    "spans: half of the box near a sphere left out below it": Mutation(
        "clearance/swept/intervals.py",
        "spheres[TOPS, filled], spheres[TOPS, filled + 1] = top, top",
        "top = max(top, pair.tree.links[top, LEFT])\n"
        "            spheres[TOPS, filled], spheres[TOPS, filled + 1] = top, top",
    ),
    "spans: longer ways joined": Mutation(
        "clearance/swept/intervals.py", "and way < joined:", "and way < 3.0 * joined:"
    ),
}
