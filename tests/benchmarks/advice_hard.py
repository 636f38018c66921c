"""Share of hard cells that advice cures, by what they need and by their kind.

    python -m tests.benchmarks.advice_hard [--count 200] [--rows FILE] [--known FILE] [--sure]

``hard_cells.py`` makes the cells, ``hard_planner.py`` says which of their air sections can be cured
and what that needs, within ``--seconds`` a section. Of each such section is asked whether all its
hits are gone once the proposals that go together are made. Every proposal is looked at for harm: a
weld that changes, a finding that is new or worse. ``--sure``: each is measured again by the
reference engine and by dense sampling (``hard_proofs.py``); with a share, in so many of the cells,
drawn by their seed.

``--rows`` keeps a line a cell: a run that was stopped goes on from there, and one with all cells
done only reports. ``--known`` keeps what the planner said, for other versions of the advice.
"""

import argparse
import json
import sys
import time
from collections import defaultdict
from pathlib import Path

import numpy as np

from pathsim.advice import Evaluator, advise, best_first, that_go_together
from pathsim.findings.weld_places import weld_points
from pathsim.session import Session
from tests.benchmarks.hard_cells import cell_name, hard_cell
from tests.benchmarks.hard_planner import HITS, Planner, air_hits, sections
from tests.benchmarks.hard_proofs import disproved, is_harmful


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--count", type=int, default=200, help="curable cells in all")
    asked.add_argument("--rows", type=Path, help="a line a cell, to go on from")
    asked.add_argument("--known", type=Path, help="what the planner said of each cell")
    asked.add_argument("--seconds", type=float, default=10.0, help="of the planner, a section")
    asked.add_argument("--sure", nargs="?", type=float, const=1.0, default=0.0,
                       help="prove each proposal again, in such a share of the cells")  # fmt: skip
    asked.add_argument("--base")
    asked.add_argument("--only", nargs="*", help="names of cells")
    args = asked.parse_args()
    known = json.loads(args.known.read_text()) if args.known and args.known.exists() else {}
    done = _rows_in(args.rows)
    cells, seed = [], 0
    while len(cells) < args.count and seed < 40 * args.count:
        name, seed = cell_name(seed, args.base), seed + 1
        if args.only and name not in args.only:
            continue
        if name not in done:
            done[name] = _cell(hard_cell(seed - 1, args.base), known, args)
            if args.known:
                args.known.write_text(json.dumps(known, indent=0))
            if args.rows:
                with args.rows.open("a") as lines:
                    lines.write(json.dumps(done[name]) + "\n")
        if done[name]["sections"]:
            cells.append(done[name])
            if not args.rows or args.only:
                print(json.dumps(done[name]), flush=True)
    _report(cells)


def _rows_in(path):
    if path is None or not path.exists():
        return {}
    rows = [json.loads(line) for line in path.read_text().splitlines() if line.strip()]
    return {row["name"]: row for row in rows}


def _cell(hard, known, args):
    """Ask for advice on one cell; ``sections`` is empty where nothing is to be cured."""
    said = {"name": hard.name, "sections": [], "seconds": 0.0, "proposals": 0, "harm": [],
            "proved": False, "disproved": []}  # fmt: skip
    curable = _curable(hard, known, args.seconds)
    if not curable or _is_plain(hard, curable):
        return said
    before = time.process_time()
    evaluator = Evaluator(hard.cell, Session())
    advice = advise(evaluator)
    chosen, change, _ = that_go_together(evaluator, best_first(advice))
    said["seconds"] = time.process_time() - before
    proposed = {p.change for one in advice for p in one.proposals}
    if chosen:
        proposed.add(change)
    said["proposals"] = len(proposed)
    said["harm"] = list(filter(None, (is_harmful(evaluator, one) for one in proposed)))
    said["proved"] = bool(np.random.default_rng([19, 2, hard.seed]).random() < args.sure)
    if said["proved"]:
        said["disproved"] = list(filter(None, (disproved(evaluator, one) for one in proposed)))
    gone = evaluator.cured(change, evaluator.full(change)) if chosen else []
    for section in sections(hard.cell):
        need = curable.get(str(section.first))
        if need is None:
            continue
        hits = air_hits(evaluator.before, section)
        mine = [p for p in chosen if any(f in p.cures for f in hits)]
        is_cured = all(f in gone for f in hits)
        said["sections"].append(_row(hard, need, is_cured, mine))
    return said


def _curable(hard, known, seconds):
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
                solved = Planner(session, result, section, seconds).solve()
                if solved is not None:
                    found[str(section.first)] = list(solved)
    known[hard.name] = found
    return found


def _is_plain(hard, curable):
    """Tell whether plain legs serve throughout: of such cells only every third is kept."""
    return all(need == "plain leg" for need, *_ in curable.values()) and (hard.seed // 18) % 3 != 0


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
        "said": sum("tilted" in said or "from its limit" in said
                    for one in proposals for said in one.evidence),
        "added": sum(p.added_seconds for p in proposals) if is_cured else None,
    }  # fmt: skip


def _angle(a, b):
    return float(np.degrees(np.arccos(np.clip(a @ b, -1, 1))))


def _report(cells):
    rows = [row for cell in cells for row in cell["sections"]]
    harm = [words for cell in cells for words in (*cell["harm"], *cell["disproved"])]
    count = sum(cell["proposals"] for cell in cells)
    print(f"{len(cells)} hard cells, {len(rows)} air sections that can be cured; {count} changes "
          f"proposed, {len(harm)} of them harmful or disproved")  # fmt: skip
    proved = [cell for cell in cells if cell.get("proved")]
    print(f"proved again: {sum(cell['proposals'] for cell in proved)} changes in {len(proved)} "
          "cells")  # fmt: skip
    for words in harm:
        print("  !", words)
    if not rows:
        return
    for what in ("need", "kind", "base"):
        counts = defaultdict(list)
        for row in rows:
            counts[row[what]].append(row["cured"])
        for name, each in sorted(counts.items()):
            print(f"  {what:5} {name:18} {sum(each):4} of {len(each):4}  {np.mean(each):6.0%}")
    cured = [row for row in rows if row["cured"]]
    print(f"  all                      {len(cured):4} of {len(rows):4}  "
          f"{len(cured) / len(rows):6.0%}")  # fmt: skip
    whole = [cell for cell in cells if all(row["cured"] for row in cell["sections"])]
    print(f"  cells cured wholly       {len(whole):4} of {len(cells):4}  "
          f"{len(whole) / len(cells):6.0%}")  # fmt: skip
    spent = [cell["seconds"] for cell in cells]
    print(f"  CPU seconds a cell: median {np.median(spent):.1f}, 95 % "
          f"{np.percentile(spent, 95):.1f}")  # fmt: skip
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
