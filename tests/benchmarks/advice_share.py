"""Share of hits that advice cures, on clamps put at random in the way of air moves.

    python -m tests.benchmarks.advice_share [how many a cell]

Counted are hits on moves whose two ends are clear of the clamp: for others no point on the way
is any use; all hits are counted beside them. Each cure has been checked by the bench; here the
reference engine checks it again.
"""

import sys
import time
from collections import Counter

from pathsim.advice import Evaluator, advise, changed
from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.session import Session
from tests.advice.clamps import is_curable, with_clamp_in_the_way


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    for name in ("gate_hinge", "collar_seam"):
        kinds, hits, curable, cured, wrong, spent = Counter(), 0, 0, 0, 0, 0.0
        for seed in range(count):
            cell, _ = with_clamp_in_the_way(name, seed)
            start = time.perf_counter()
            bench = Evaluator(cell, Session())
            advice = advise(bench)
            spent += time.perf_counter() - start
            hits += sum(f.body == "extra clamp" and f.kind in ("contact", "near-hit")
                        for f in bench.before.findings)  # fmt: skip
            for one in advice:
                if not is_curable(bench.before, one.finding):
                    continue
                curable += 1
                if not one.proposals:
                    continue
                best = one.proposals[0]
                other = changed(cell, best.change)
                again = check(other, engine=ReferenceEngine(other))
                good = not bench.worsened(best.change, again)
                good = good and one.finding in bench.cured(best.change, again)
                cured, wrong = cured + good, wrong + (not good)
                kinds[best.kind] += 1
        print(f"{name}: {count} clamps, {hits} hits, {curable} of them curable, {cured} cured "
              f"({cured / max(curable, 1):.0%}), {wrong} not confirmed by the reference engine; "
              f"{dict(kinds)}; {spent / count:.1f} s a cell")  # fmt: skip


if __name__ == "__main__":
    main()
