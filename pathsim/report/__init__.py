"""Results as text and as JSON: formatters only format."""

from pathsim.report.result_json import result_as_json
from pathsim.report.text import print_result

__all__ = ["print_result", "result_as_json"]
