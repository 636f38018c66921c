"""What a modelled cable was measured as, so that nobody takes it for more."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.clearance.contact_rules import cable_margin
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cable, Cell
from pathsim.model.cable import SLACK_SHARE
from pathsim.units import millimetres, percent


def cables(evidence: Evidence) -> Iterator[Finding]:
    """One note for each modelled cable: its thickness, its slack, and where that ends."""
    for cable in evidence.cell.cables:
        yield Finding(
            Level.NOTE,
            FindingKind.CABLE,
            _text(evidence.cell, cable),
            numbers={
                "radius": cable.radius,
                "slack": cable.slack_taken,
                "margin": cable_margin(evidence.cell, cable),
            },
        )


def _text(cell: Cell, cable: Cable) -> str:
    slack = f"{millimetres(cable.slack_taken)} of slack to every side"
    if cable.slack is None:
        slack += f" ({percent(SLACK_SHARE)} of its length, as the cell does not say)"
    return (
        f"The {cable.name} was measured as it is fixed on {carrier_name(cell, cable)}: "
        f"{millimetres(cable.radius)} thick from its centre and {slack}, and has to stay "
        f"{millimetres(cable_margin(cell, cable))} from bodies. Where the real one hangs farther "
        "out, or goes on to another link, nothing was measured."
    )


def carrier_name(cell: Cell, cable: Cable) -> str:
    """Name what carries a cable: a link, or the torch on the last one."""
    return "the torch" if cable.link == cell.arm.dof else cell.link_name(cable.link)
