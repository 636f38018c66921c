"""Share of hard cells that advice cures, by what they need and by their kind.

    python -m tests.benchmarks.advice_hard [how many] [--known FILE] [--sure] [--say]

``hard_cells.py`` makes the cells, ``hard_planner.py`` says which of their air sections can be cured
and what that needs; ``--known`` keeps what it said. Of each such section is asked whether all its
hits are gone once the proposals that go together are made. ``--sure``: every proposal is checked
again by the reference engine. No run is trusted in which a point with the arc on has moved.
"""

import argparse
import json
import sys
import time
from collections import defaultdict
from pathlib import Path

import numpy as np

from pathsim.advice import Evaluator, advise, best_first, changed, that_go_together
from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.findings.weld_places import weld_points
from pathsim.session import Session
from tests.benchmarks.hard_cells import cell_name, hard_cell
from tests.benchmarks.hard_planner import HITS, Planner, air_hits, sections


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("count", type=int, nargs="?", default=30)
    asked.add_argument("--known", type=Path)
    asked.add_argument("--sure", action="store_true")
    asked.add_argument("--base")
    asked.add_argument("--only", nargs="*", help="names of cells")
    asked.add_argument("--say", action="store_true", help="a line a section")
    args = asked.parse_args()
    known = json.loads(args.known.read_text()) if args.known and args.known.exists() else {}
    rows, spent, harm, cells, seed = [], [], 0, 0, 0
    while cells < args.count and seed < 40 * args.count:
        name, seed = cell_name(seed, args.base), seed + 1
        if known.get(name) == {} or (args.only and name not in args.only):
            continue
        hard = hard_cell(seed - 1, args.base)
        curable = _curable(hard, known)
        if args.known:
            args.known.write_text(json.dumps(known, indent=0))
        if not curable or _is_plain(hard, curable):
            continue
        cells += 1
        before = time.process_time()
        evaluator = Evaluator(hard.cell, Session())
        chosen, change, _ = that_go_together(evaluator, best_first(advise(evaluator)))
        spent.append(time.process_time() - before)
        harm += _harm(evaluator, chosen, change, sure=args.sure)
        gone = evaluator.cured(change, evaluator.full(change)) if chosen else []
        for section in sections(hard.cell):
            need = curable.get(str(section.first))
            if need is None:
                continue
            hits = air_hits(evaluator.before, section)
            is_cured = all(f in gone for f in hits)
            mine = [p for p in chosen if any(f in p.cures for f in hits)]
            row = _row(hard, need, is_cured, mine)
            rows.append(row)
            if args.say:
                print(hard.name, section.first, need, row, f"{spent[-1]:.1f} s", flush=True)
    _report(rows, spent, harm, cells)


def _curable(hard, known):
    """What each section with hits needs, by the planner: {first move: [need, seconds, points]}."""
    if hard.name in known:
        return known[hard.name]
    session, found = Session(), {}
    result = session.check(hard.cell)
    arc_on = {track.number for track in result.trajectory.tracks if track.move.arc_on}
    on_seam = any(f.move in arc_on and f.kind in HITS and "hard" in (f.body or "")
                  for f in result.findings)  # fmt: skip
    if not on_seam:
        for section in sections(hard.cell):
            if air_hits(result, section):
                solved = Planner(session, result, section).solve()
                if solved is not None:
                    found[str(section.first)] = list(solved)
    known[hard.name] = found
    return found


def _is_plain(hard, curable):
    """Tell whether plain legs serve throughout: of such cells only every third is kept."""
    return all(need == "plain leg" for need, *_ in curable.values()) and (hard.seed // 18) % 3 != 0


def _harm(evaluator, chosen, change, *, sure):
    """Proposals that touch a weld or make any finding worse, by the reference engine if sure."""
    bad, welds = 0, weld_points(evaluator.cell)
    for one in [*[p.change for p in chosen], change]:
        if welds & set(one.points):
            bad += 1
        elif sure:
            other = changed(evaluator.cell, one)
            again = check(other, engine=ReferenceEngine(other))
            bad += bool(evaluator.worsened(one, again))
        else:
            bad += bool(evaluator.worsened(one, evaluator.full(one)))
    return bad


def _row(hard, need, is_cured, proposals):
    cell, tilts, spare = hard.cell, [0.0], []
    points = {}
    for one in proposals:
        points |= dict(one.change.points)
        tight = one.tightest_after
        if tight is not None:
            spare.append(1e3 * (tight.clearance.lower - tight.margin))
    wires = [-cell.tool_poses(cell.points[n].q[None])[0, :3, 2]
             for n in weld_points(cell) if cell.points[n].q is not None]  # fmt: skip
    for q in points.values():
        wire = -cell.tool_poses(q[None])[0, :3, 2]
        tilts.append(min(_angle(wire, other) for other in wires) if wires else 0.0)
    room = [float(np.degrees(cell.axes.room(q)[~cell.axes.prismatic].min()))
            for q in points.values()]  # fmt: skip
    return {
        "kind": hard.kind, "base": hard.base, "need": need[0], "cured": bool(is_cured),
        "points": len(points), "spare": min(spare, default=None), "tilt": max(tilts),
        "room": min(room, default=None), "best": need[1],
        "added": sum(p.added_seconds for p in proposals) if is_cured else None,
    }  # fmt: skip


def _angle(a, b):
    return float(np.degrees(np.arccos(np.clip(a @ b, -1, 1))))


def _report(rows, spent, harm, cells):
    print(f"{cells} hard cells, {len(rows)} air sections that can be cured; {harm} harmful changes")
    for what in ("need", "kind", "base"):
        counts = defaultdict(list)
        for row in rows:
            counts[row[what]].append(row["cured"])
        for name, each in sorted(counts.items()):
            print(f"  {what:5} {name:18} {sum(each):4} of {len(each):4}  {np.mean(each):6.0%}")
    cured = [row for row in rows if row["cured"]]
    if not rows:
        return
    print(f"  all                      {len(cured):4} of {len(rows):4}  "
          f"{len(cured) / len(rows):6.0%}")  # fmt: skip
    print(
        f"  CPU seconds a cell: median {np.median(spent):.1f}, 95 % {np.percentile(spent, 95):.1f}"
    )
    if not cured:
        return
    for what, words in (("points", "points taught"), ("spare", "spare over margin, mm"),
                        ("tilt", "tilt from the weld's torch, deg"),
                        ("room", "joint room, deg")):  # fmt: skip
        values = [row[what] for row in cured if row[what] is not None]
        print(f"  {words}: median {np.median(values):.1f}, from {min(values):.1f} to "
              f"{max(values):.1f}")  # fmt: skip
    ratio = [max(r["added"], 0.05) / max(r["best"], 0.05) for r in cured]
    added = np.median([r["added"] for r in cured])
    share = np.mean(np.array(ratio) <= 1.3)
    print(f"  added s: {added:.2f} median; over the planner's: median {np.median(ratio):.2f}, "
          f"{share:.0%} within 1.3")  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
