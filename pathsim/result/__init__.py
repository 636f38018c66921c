"""Results: the record, and what scripts make of it (JSON, arrays, a table for notebooks)."""

from pathsim.result.check_result import CheckResult

__all__ = ["CheckResult"]
