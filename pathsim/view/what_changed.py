"""What a check of changed files found otherwise than the one before."""

from __future__ import annotations

from collections import Counter

from pathsim.check import CheckResult
from pathsim.findings import Finding, Level
from pathsim.scene import Scene


def what_changed(old: CheckResult, new: CheckResult) -> str:
    """Say in a line what a check of changed files found otherwise than the one before."""
    before, after = _grave(old), _grave(new)
    gone, come = before - after, after - before
    parts = [
        f"{sum(found.values())} {word}" for found, word in ((gone, "gone"), (come, "new")) if found
    ]
    seconds = new.trajectory.duration - old.trajectory.duration
    if abs(seconds) >= 0.05:
        parts.append(f"{abs(seconds):.1f} s {'longer' if seconds > 0 else 'shorter'}")
    said = ", ".join(parts) if parts else "stop and watch findings as before"
    return f"Checked again: {said}."


def _grave(result: CheckResult) -> Counter[tuple[object, ...]]:
    return Counter(_key(f) for f in result.findings if f.level.at_least(Level.WATCH))


def _key(finding: Finding) -> tuple[object, ...]:
    return (finding.level, finding.kind, finding.move, finding.piece, finding.body)


def same_finding(old: Scene, chosen: int | None, new: Scene) -> int | None:
    """Where the chosen finding of ``old`` stands in ``new``: same kind, move and pair."""
    if chosen is None or chosen >= len(old.result.findings):
        return None
    was = old.result.findings[chosen]
    key = (was.kind, was.move, was.piece, was.body)
    return next(
        (k for k, f in enumerate(new.result.findings) if (f.kind, f.move, f.piece, f.body) == key),
        None,
    )
