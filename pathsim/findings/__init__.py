"""Numbers to findings, one small file per concern."""

from pathsim.findings.collect import collect, describe_seams
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kept_rooms import KeptRooms

__all__ = ["Evidence", "Finding", "KeptRooms", "Level", "collect", "describe_seams"]
