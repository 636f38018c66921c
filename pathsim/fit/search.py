"""The cheapest explanation that removes the residual: every combination in order of price.

Three searches share the list: single things and small combinations are fitted one and all; ways to
count that change many joints at once come from the inverse (``by_inverse``); and a row that alone
does not fit is a slip of the pen, which costs as little as a wrong sign.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from pathsim.fit.description import Description, Reading, Residual, require_usable, residuals
from pathsim.fit.explanations import Explanation, candidates
from pathsim.fit.solve import Things
from pathsim.fit.trials import CLOSE, CLOSE_TURN, Candidate, Trials

_HIGHEST_PRICE = 4
_MOST_THINGS = 3


@dataclass(frozen=True, eq=False)
class Verdict:
    """What readings say of a description.

    ``agrees``: nothing to explain. ``explained``: all candidates of the lowest price that
    removes the residual; empty when none does. ``nearest``: the best that was found then.
    """

    before: tuple[Residual, ...]
    agrees: bool
    explained: tuple[Candidate, ...]
    nearest: Candidate | None


def explain(
    description: Description,
    rows: Sequence[Reading],
    *,
    shows_tool: bool = True,
    close: float = CLOSE,
    close_turn: float = CLOSE_TURN,
    progress: Callable[[str, float], None] | None = None,
) -> Verdict:
    """Hold ``rows`` against a description and find the cheapest explanation of what is off.

    ``shows_tool`` False: poses are the flange's, so that no tool can be wrong. Raises ArmError
    when the rows cannot be held against anything.
    """
    require_usable(rows)
    before = residuals(description, rows)
    search = Trials(description, tuple(rows), close, close_turn)
    if search.is_close(before):
        return Verdict(before, agrees=True, explained=(), nearest=None)
    say = progress if progress is not None else lambda _what, _share: None
    say("postures of each row", 0.0)
    others = [*search.slips_alone(before), *search.counted_otherwise()]
    has_poses = any(row.T_shown_tcp is not None for row in rows)
    things = candidates(description.arm, with_tool=shows_tool, with_base=has_poses)
    nearest: Candidate | None = None
    found: list[Candidate] = []
    doubtful: list[Candidate] = []  # explain the rows and put some of them past a limit
    for price in range(1, _HIGHEST_PRICE + 1):
        say(f"explanations of price {price} of {_HIGHEST_PRICE}", (price - 1) / _HIGHEST_PRICE)
        fitted = search.fitted(list(_of_price(things, price)))
        found = [c for c in fitted if search.is_close(c.left)]
        others += search.slip_and_one([t for t in things if t.price == price - 1 and t.numbers > 2])
        found += [c for c in others if c.price == price]
        nearest = min([*fitted, *([nearest] if nearest else [])], key=search.size, default=None)
        doubtful = doubtful or found
        found = [c for c in found if not search.rows_past(c)]
        if found:
            break
    if not found and others:
        inside = [c for c in others if not search.rows_past(c)]
        least = min((c.price for c in inside), default=0)
        found = [c for c in inside if c.price == least]
        if not found and not doubtful:
            least = min(c.price for c in others)
            found = [c for c in others if c.price == least]
    found = found or doubtful
    return Verdict(before, agrees=False, explained=search.best_first(found), nearest=nearest)


def _of_price(things: list[Explanation], price: int) -> Iterator[Things]:
    """All combinations of that price that make sense together."""
    for count in range(1, _MOST_THINGS + 1):
        for combination in itertools.combinations(things, count):
            if sum(t.price for t in combination) != price:
                continue
            parts = [t.kind.split()[0] for t in combination]
            if any(parts.count(part) > 1 for part in ("tool", "base", "coupling")):
                continue
            yield combination
