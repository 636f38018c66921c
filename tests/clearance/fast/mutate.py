"""Break each term of each bound, one at a time, and see which test notices.

    python -m tests.clearance.fast.mutate [name ...]

Works on a copy in a temporary folder; prints a table of what was broken and what caught it.
Exit code 1 when something went unnoticed. Each mutation compiles the kernels anew: the whole
takes about an hour and a half.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[3]
FAST = "pathsim/clearance/fast"
#: Name: file, text, what it becomes.
MUTATIONS = {
    "bend without cross terms": ("motion.py", "w * (w + 2.0 * moved)", "w * w"),
    "bend without squares": ("motion.py", "w * (w + 2.0 * moved)", "w * 2.0 * moved"),
    "A/16 in place of A/8, one segment": (
        "motion.py", "= bends[a] / 8.0", "= bends[a] / 16.0"),
    "A/8 left out of many segments": (
        "motion.py", "np.sqrt(rest) + worst_bend / 8.0", "np.sqrt(rest)"),
    "A of a part not with its square but cube": (
        "sweep.py", "* (f1 - f0) * (f1 - f0) / 8.0", "* (f1 - f0) ** 3 / 8.0"),
    "residual beside the two directions left out": (
        "motion.py", "out[E2] = np.sqrt(rest) +", "out[E2] = 0.0 * rest +"),
    "slab of the first direction halved": (
        "motion.py", "scaled(v, (high1 - low1) / 2.0)", "scaled(v, (high1 - low1) / 4.0)"),
    "slab of the second direction halved": (
        "motion.py", "scaled(u, (high2 - low2) / 2.0)", "scaled(u, (high2 - low2) / 4.0)"),
    "slab not moved to its middle": (
        "motion.py", "scaled(v, (low1 + high1) / 2.0)", "scaled(v, 0.0 * low1)"),
    "turn: children's gap left out": (
        "motion.py", "max(numbers[early, ER], numbers[late, ER]) + apart", "apart"),
    "turn: own gap left out": (
        "motion.py", "max(numbers[early, ER], numbers[late, ER]) + apart",
        "max(numbers[early, ER], numbers[late, ER])"),
    "spectral norm from the mean alone": (
        "motion.py", "min(mean + np.sqrt(2.0) * std, trace)", "mean"),
    "turn error without distance": (
        "sweep.py", "* (length(sub(c, job.reference)) + r)", "* r"),
    "turn error without radius": (
        "sweep.py", "* (length(sub(c, job.reference)) + r)",
        "* length(sub(c, job.reference))"),
    "error shrunk to 0.3": ("sweep.py", "return float(store[BAND, E2] +",
                            "return 0.3 * float(store[BAND, E2] +"),
    "box of the chord's start only": (
        "inner.py", "max(_sum_along(n, s.first), _sum_along(n, s.last))",
        "_sum_along(n, s.first)"),
    "extent without the first slab": ("inner.py", " + abs(dot(n, s.w1))", ""),
    "extent without the second slab": ("inner.py", " + abs(dot(n, s.w2))", ""),
    "chord left out of boxes": ("inner.py", "abs(h[0]) + extent", "extent"),
    "chord left out of planes": ("inner.py", "wall - abs(dot(n, s.h)) - extent", "wall - extent"),
    "planes without the extent": (
        "inner.py", "- abs(dot(n, s.h)) - extent(s, n, size)) / size",
        "- abs(dot(n, s.h))) / size"),
    "plane behind the triangle's nearest point only": (
        "inner.py", "wall = max(dot(n, t[0]), dot(n, t[1]), dot(n, t[2]))",
        "wall = min(dot(n, t[0]), dot(n, t[1]), dot(n, t[2]))"),
    "plane before the box": ("inner.py", "_beyond(s, n, dot(n, q))",
                             "_beyond(s, n, dot(n, q) - 0.3 * length(n))"),
    "smaller bricks": ("build.py", "half = (high[n] - low[n]) / 2.0",
                       "half = 0.4 * (high[n] - low[n])"),
    "smaller spheres": ("build.py", "np.sqrt(farthest) + ROUNDING", "0.9 * np.sqrt(farthest)"),
    "boxes without a leaf's last corner": (
        "build.py", "for j in range(3): value = triangles[i, j, k]",
        "for j in range(2):\n                        value = triangles[i, j, k]"),
    "line at one end only": ("pairs.py", "return first - wall, last - wall",
                             "return first - wall, first - wall"),
    "line without the slab": ("pairs.py", "lines[count, 0], lines[count, 1] = first - wide, "
                              "last - wide", "lines[count, 0], lines[count, 1] = first, last"),
    "wall of two corners": (
        "pairs.py", "wall = max(dot(n, still[0]), dot(n, still[1]), dot(n, still[2]))\n    first",
        "wall = max(dot(n, still[0]), dot(n, still[1]))\n    first"),
    "leaf's corners at the start only": (
        "leaf.py", "least = min(least, dot(n, point_of(points, 0, i)), "
        "dot(n, point_of(points, 1, i)))", "least = min(least, dot(n, point_of(points, 0, i)))"),
    "leaf without off": ("leaf.py", "add(placed(store, END, c), off)", "placed(store, END, c)"),
    "leaf's reach without the chord": ("leaf.py", "r + length(s.h) + ", "r + "),
    "leaf's error not taken off": ("entry.py", "desk.found[BOUND] - error)",
                                   "desk.found[BOUND])"),
    "node's error not taken off": ("entry.py", "else gap - error)", "else gap)"),
    "bound of a hurried leaf believed": ("entry.py", "    elif not splittable:\n", "    else:\n"),
    "allowed three times": ("entry.py", "upper - allowed(asked.tolerance, upper)))",
                      "upper - 3.0 * allowed(asked.tolerance, upper)))"),
    "key in place of the bound": ("search.py", "lower, f0, f1 = numbers[0, LOWER_BOUND]",
                                  "lower, f0, f1 = numbers[0, 0] + 2e6 * (numbers[0, 0] < 0)"),
    "guess in place of the bound": ("entry.py", "lower, hint, key = bounded.lower",
                                    "lower, hint, key = bounded.guess"),
    "one half of a segment dropped": ("entry.py", "node, hint, top, middle, f1)",
                                      "node, hint, top, middle, middle)"),
    "one half of a sphere dropped": ("entry.py", "lower, right, node, hint, top, f0, f1)",
                                     "lower, left, node, hint, top, f0, f1)"),
    "first triangle of a leaf passed over": ("leaf.py", "    if hint >= 0:\n",
                                             "    if hint >= 0 and need < 0.0:\n"),
    "last triangle of each leaf lost": (
        "split.py", "links[node, COUNT] = first, last - first",
        "links[node, COUNT] = first, max(last - first - 1, 1)"),
    "one half of time dropped": ("entry.py", "early, hint, top, 0.0, 1.0)\n        push(numbers, "
                                 "whole, filled + 1, key, lower, sphere, late, hint",
                                 "early, hint, top, 0.0, 1.0)\n        push(numbers, "
                                 "whole, filled + 1, key, lower, sphere, early, hint"),
    "box outside of which all is far: half as far": (
        "inner.py", "max(near, far) >= limit", "max(near, far) >= 0.5 * limit"),
    "box outside of which all is far: the wrong one": (
        "inner.py", "top = left if near < far else right", "top = right if near < far else left"),
    "box outside of which all is far: without E": (
        "entry.py", "swept_bound(pair.tree, s, need + error, lower",
        "swept_bound(pair.tree, s, need, lower"),
    "seen at another moment": (
        "seen.py", "f = min(max((time - start) / (end - start), 0.0), 1.0)",
        "f = 0.5 * min(max((time - start) / (end - start), 0.0), 1.0)"),
    "reach without the bulge": ("reach.py", "bulge / 8.0 + ROUNDING", "ROUNDING"),
    "reach of one knot less": (
        "reach.py", "for k in range(first, first + knots):",
        "for k in range(first + 1, first + knots):"),
    "reach with half the piece's box": (
        "reach.py", "low, high = min(low, c - half), max(high, c + half)",
        "low, high = min(low, c - 0.5 * half), max(high, c + 0.5 * half)"),
    "far by the gaps' sum": ("far.py", "np.linalg.norm(np.maximum(apart, 0.0), axis=-1)",
                             "np.maximum(apart, 0.0).sum(axis=-1)"),
    "far: boxes of things turned the other way": (
        "far.py", "np.swapaxes(T[:, :3, :3], 1, 2)", "T[:, :3, :3]"),
    "stretch of a move for another of its stretches": (
        "chains.py", "kept.once((links.digest, part)", "kept.once((links.digest,)"),
    "ends of stretches told to a hundredth of a second": ("stretch.py", "_TICK = 9", "_TICK = 2"),
    "questions about another move's windows": (
        "../asked.py", "window + len(parts)", "window + 0 * len(parts)"),
    "trees of one link at another's place": (
        "joined.py", "node + place * (2 * knots - 3)", "node + 0 * place * (2 * knots - 3)"),
    "spans: error not asked for": (
        "spans.py", "if gap >= limit + error:", "if gap >= limit:"),
    "rays: in and out not told apart": ("inside.py", "return -1 if determinant > 0.0 else 1",
                                        "return 1"),
    "rays: one that errs is believed": (
        "inside.py", "if self._closed[part] and (turns == turns[0]).all():",
        "if self._closed[part]:"),
    "rays: every component counts as closed": (
        "inside.py", "if self._closed[part] and (turns", "if (turns"),
    "crossing triangles not seen": ("triangles.py", "    if through:\n        return 0.0, x, x\n"
                                    "    best, p, q = np.inf", "    best, p, q = np.inf"),
    "sides of triangles left out": ("triangles.py", "        for j in range(3):\n            "
                                    "other, x, y = inner", "        for j in range(2):\n"
                                    "            other, x, y = inner"),
}  # fmt: skip


def caught_by(name: str, folder: Path) -> list[str]:
    """Apply one mutation to a copy of the sources and return the tests that fail."""
    file, text, changed = MUTATIONS[name]
    path = folder / FAST / file
    source = path.read_text()
    # Long lines may be broken otherwise than they are written here.
    pattern = r"\s+".join(re.escape(word) for word in text.split())
    pattern = re.sub(r"\\([(\[])", r"\\\1\\s*", pattern)
    mutated, count = re.subn(pattern, lambda _: changed.strip(), source)
    if count == 0:
        raise SystemExit(f"{name}: the text to change is not in {file}")
    path.write_text(mutated)
    try:
        run = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-x", "--tb=no",
             "-n", "0", "tests/clearance/fast"],
            cwd=folder, capture_output=True, text=True, timeout=900, check=False,
            env={**os.environ, "PYTHONPATH": str(folder)},
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return ["it did not end"]
    finally:
        path.write_text(source)
    return re.findall(r"^(?:FAILED|ERROR) \S+?/(test_\w+\.py::\w+|conftest\S*)", run.stdout, re.M)


def main() -> int:
    wanted = sys.argv[1:] or list(MUTATIONS)
    unnoticed = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "copy"
        keep = shutil.ignore_patterns(".git", ".*_cache", "__pycache__")
        shutil.copytree(ROOT, folder, ignore=keep)
        for name in wanted:
            tests = caught_by(name, folder)
            unnoticed += not tests
            print(f"{name:48s} {', '.join(tests) or 'NOT NOTICED'}", flush=True)
            shutil.rmtree(folder / ".pytest_cache", ignore_errors=True)
    print(f"{len(wanted)} broken, {unnoticed} unnoticed")
    return 1 if unnoticed else 0


if __name__ == "__main__":
    sys.exit(main())
