"""Pairs of one move put together: one pair is one finding, however many stretches it spans."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pathsim.clearance import MoveClearance, PairClearance, Span

#: Spans that are no farther apart go on, s.
_TICK = 1e-9


def doubtful_pairs(move: MoveClearance) -> list[list[PairClearance]]:
    """All stretches of each pair of a move of which anything has to be said, in order of time."""
    groups: dict[tuple[str, str], list[PairClearance]] = {}
    for pair in move.doubtful:
        groups.setdefault((pair.piece, pair.body), []).append(pair)
    return [sorted(group, key=lambda pair: pair.stretch.start) for group in groups.values()]


def spans_of(pairs: Sequence[PairClearance]) -> tuple[Span, ...]:
    """Return the spans of one pair's stretches, one where they go on from stretch to stretch."""
    return going_on(span for pair in pairs for span in pair.spans)


def going_on(each: Iterable[Span]) -> tuple[Span, ...]:
    """Return spans in their order, one where they go on."""
    spans: list[Span] = []
    for span in sorted(each):
        if spans and span.start <= spans[-1].end + _TICK:
            spans[-1] = Span(spans[-1].start, max(spans[-1].end, span.end))
        else:
            spans.append(span)
    return tuple(spans)
