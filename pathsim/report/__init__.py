"""Results as text and as JSON: formatters only format."""

from pathsim.report.text import print_brief, print_result
from pathsim.result.as_json import result_as_json

__all__ = ["print_brief", "print_result", "result_as_json"]
