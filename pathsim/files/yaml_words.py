"""What is wrong with a YAML file that cannot be read, in words for people who never heard of YAML.

The reader's own words are only looked at to choose among ours: an unknown one is passed on.
"""

from __future__ import annotations

from ruamel.yaml.error import MarkedYAMLError

#: What the reader says, and what that means: what came, what was expected, a cure.
_MEANT = (
    ("cannot start any token", "a value begins with a sign that has a meaning of its own",
     "text in quotes", "Put the value into quotes."),
    ("mapping values are not allowed", "a second ':' in one entry, or a line too far in",
     "one 'key: value' a line", "Put text with ': ' into quotes."),
    ("found duplicate key", "a key stands twice", "each key once", "Strike out one of the two."),
    ("expected <block end>", "the line stands farther in or out than those it belongs to",
     "the same number of spaces before all of them", ""),
    ("could not find expected ':'", "a key without ':'", "'key: value'", ""),
    ("expected ',' or", "a bracket is not closed, or a comma is missing before this",
     "'{key: value, key: value}'", ""),
    ("while scanning a quoted scalar", "a quote is not closed", "quotes before and behind", ""),
)  # fmt: skip


def in_words(error: MarkedYAMLError, text: str) -> tuple[int | None, str, str, str]:
    """Return line, what came, what was expected and a cure; ``text`` as the file has it."""
    mark = error.problem_mark or error.context_mark
    line = None if mark is None else mark.line + 1
    problem = " ".join(str(error.problem or error.context).split("\n")[0].split())
    lines = text.splitlines()
    here = lines[line - 1] if line is not None and line <= len(lines) else ""
    if "\t" in here[: len(here) - len(here.lstrip())]:
        return line, "the line begins with a tab", "spaces", "Put spaces in the place of the tab."
    if "\t" in here and "cannot start" in problem:
        return line, "a tab stands before the value", "a space", "Put a space in its place."
    said = f"{error.context or ''} {problem}"
    for theirs, came, expected, cure in _MEANT:
        if theirs in said:
            return line, came, expected, cure
    return line, f"is no valid YAML: {problem}", "YAML 1.2", ""
