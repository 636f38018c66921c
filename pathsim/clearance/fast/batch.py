"""Questions sorted by what they share: few pairs, few stretches, hundreds of questions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.clearance.engine import Pair, Question
from pathsim.clearance.fast.answers import Key
from pathsim.clearance.fast.chains import Chains
from pathsim.clearance.fast.records import Whole
from pathsim.clearance.fast.stretch import Stretched
from pathsim.clearance.moving_chain import ChainName, linkage_name
from pathsim.clearance.questions import Questions, numbered
from pathsim.clearance.rules import Standing

#: All questions about one body that the same chain carries its pieces past.
Group = tuple[ChainName, Standing]


@dataclass(frozen=True, eq=False)
class Batch:
    """Questions, and for each the numbers of its pair and of its stretch.

    ``pairs``, ``parts``: each pair and each stretch once. ``pair (n,)``, ``part (n,)``: which
    of them a question is about. ``chains``: what carries each of the pairs (``linkage_name``).
    ``standings``: what stands in any of them, each once; ``standing (pairs,)``: which of those.
    """

    questions: Questions
    pairs: list[Pair]
    chains: list[ChainName]
    standings: list[Standing]
    standing: Whole
    parts: list[Stretched]
    pair: Whole
    part: Whole

    @classmethod
    def of(cls, questions: Sequence[Question], chains: Chains) -> Batch:
        """Sort questions, at least one; stretches that are not laid out yet are now."""
        asked = Questions.of(questions)
        pair, pairs, windows = asked.pair, asked.pairs, asked.windows
        names = [linkage_name(*each) for each in pairs]
        chain, each_chain = numbered(names)
        both = chain[pair] * len(windows) + asked.window
        met, part = np.unique(both, return_inverse=True)
        parts = [
            chains.stretch_of(each_chain[k // len(windows)], *windows[k % len(windows)])
            for k in met.tolist()
        ]
        standing, standings = numbered(thing for _, thing in pairs)
        return cls(asked, list(pairs), names, standings, standing, parts, pair, part)

    def keys(self, of_pairs: Mapping[int, bytes], asked: Whole) -> list[Key]:
        """Return everything that decides the answers to the questions ``asked (k,)``.

        ``of_pairs`` says it of their pairs, by number.
        """
        of_parts = [part.key for part in self.parts]
        pair, part = self.pair[asked].tolist(), self.part[asked].tolist()
        return [(of_parts[i], of_pairs[k]) for i, k in zip(part, pair, strict=True)]

    def groups(self, asked: Whole) -> dict[Group, Whole]:
        """Return which of the questions ``asked (k,)`` are about each group."""
        number, groups = numbered(zip(self.chains, self.standing.tolist(), strict=True))
        of_each = number[self.pair[asked]]
        return {
            (groups[k][0], self.standings[groups[k][1]]): asked[of_each == k]
            for k in np.unique(of_each).tolist()
        }
