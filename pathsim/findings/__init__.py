"""Numbers to findings, one small file per concern."""

from pathsim.findings.collect import collect, describe_seams
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kept_rooms import KeptRooms
from pathsim.findings.kinds import FindingKind

__all__ = ["Evidence", "Finding", "FindingKind", "KeptRooms", "Level", "collect", "describe_seams"]
