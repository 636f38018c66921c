"""Things that should have been measured and could not be."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level


def unchecked(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each link without a shape, and one when nothing stands in the cell."""
    for link in evidence.cell.shapeless_links:
        name = "The arm's base" if link == 0 else f"Link {link}"
        text = f"{name} has no shape in the arm's description: whether it hits was not checked."
        yield Finding(Level.WATCH, "not checked", text)
    if not evidence.cell.bodies:
        text = "The cell has no bodies: there was nothing to measure the arm and the torch against."
        yield Finding(Level.WATCH, "not checked", text)
