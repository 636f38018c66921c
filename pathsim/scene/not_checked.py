"""What a check leaves open, in a line for the window and the page."""

from __future__ import annotations

from pathsim.check import CheckResult


def not_checked_line(result: CheckResult) -> str:
    """Say what was not measured and is no agreed contact; empty when there is nothing."""
    lacking = [f"{item.what} ({item.why})" for item in result.left_out if not item.is_agreed]
    return f"Not checked: {'; '.join(lacking)}." if lacking else ""
