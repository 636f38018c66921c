"""Pairs of one move put together: one pair is one finding, however many stretches it spans."""

from __future__ import annotations

from pathsim.clearance import MoveClearance, PairClearance


def pairs_of(move: MoveClearance) -> list[list[PairClearance]]:
    """All stretches of each pair of a move, in the order of measuring.

    Of the arm against itself only what is nearer than it should be.
    """
    groups: dict[tuple[str, str], list[PairClearance]] = {}
    for pair in move.noteworthy:
        groups.setdefault((pair.piece, pair.body), []).append(pair)
    return list(groups.values())
