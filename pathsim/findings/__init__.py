"""Numbers to findings, one small file per concern."""

from pathsim.findings.collect import collect, describe_seams
from pathsim.findings.finding import Evidence, Finding, Level

__all__ = ["Evidence", "Finding", "Level", "collect", "describe_seams"]
