"""Changing a YAML file: comments, layout and line ends stay as they were typed."""

from __future__ import annotations

import difflib
import io
from collections import Counter
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from pathsim.errors import CannotCheck

#: Ways in which people indent lists; the one that gives back the file as it is gets used.
_INDENTS = ((2, 4, 2), (2, 2, 0), (4, 4, 2), (4, 6, 4), (4, 4, 0), (2, 3, 1))


class YamlEdit:
    """A YAML file whose ``data`` may be changed before ``text`` is asked for."""

    def __init__(self, path: Path) -> None:
        self.path = path
        #: The bytes that were read.
        self.original = raw = path.read_bytes()
        self._bom = raw.startswith(b"\xef\xbb\xbf")
        text = raw.decode("utf-8-sig")
        self._newline = "\r\n" if "\r\n" in text else "\n"
        text = text.replace("\r\n", "\n")
        self._original = text
        self._yaml = min((_yaml(*i) for i in _INDENTS), key=lambda y: _changes(y, text))
        self.data: Any = self._yaml.load(text)

    def text(self) -> str:
        """Return the file with its changes; lines that say the same stay as they were typed.

        Raises CannotCheck when the file's layout cannot be kept, or a comment would be lost.
        """
        stream = io.StringIO()
        self._yaml.dump(self.data, stream)
        old, new = self._original.splitlines(), stream.getvalue().splitlines()
        matcher = difflib.SequenceMatcher(None, _squeezed(old), _squeezed(new), autojunk=False)
        lines: list[str] = []
        for what, a, b, c, d in matcher.get_opcodes():
            lines += old[a:b] if what == "equal" else _with_comments(old[a:b], new[c:d])
        text = "\n".join(lines) + "\n"
        if not self._says_the_same(text):
            raise CannotCheck(
                f"{self.path.name} is laid out in a way that cannot be kept (a comment inside "
                "brackets, or unusual indentation); make the change by hand"
            )
        return ("\ufeff" if self._bom else "") + text.replace("\n", self._newline)

    def _says_the_same(self, text: str) -> bool:
        """Tell whether a text holds the data that was meant and every comment of the file."""
        try:
            if self._yaml.load(text) != self.data:
                return False
        except YAMLError:
            return False
        return _comments(self._original) <= _comments(text)

    @property
    def is_changed(self) -> bool:
        """Tell whether values differ from the file's (its layout does not count)."""
        return bool(self._yaml.load(self._original) != self.data)


def _with_comments(old: list[str], new: list[str]) -> list[str]:
    """Return ``new`` lines in place of ``old`` ones, whose lines of comment are kept.

    Some of them the library drops, as one between two lines in brackets. Those at the end
    belong to what follows.
    """
    last = len(old)
    while last > 0 and _is_comment(old[last - 1]):
        last -= 1
    said = Counter(line.strip() for line in new)

    def lost(lines: list[str]) -> list[str]:
        kept = []
        for line in lines:
            if _is_comment(line):
                said[line.strip()] -= 1
                if said[line.strip()] < 0:
                    kept.append(line)
        return kept

    before, behind = lost(old[:last]), lost(old[last:])
    return [*before, *new, *behind]


def _is_comment(line: str) -> bool:
    return line.lstrip().startswith("#")


def _comments(text: str) -> Counter[str]:
    """Return the comments of a YAML text (or what looks like one), each with its count."""
    found = (line.partition("#") for line in text.splitlines())
    return Counter(comment.strip() for _, mark, comment in found if mark)


def _yaml(mapping: int, sequence: int, offset: int) -> YAML:
    yaml = YAML(typ="rt")
    yaml.preserve_quotes = True
    yaml.width = 4096
    yaml.indent(mapping=mapping, sequence=sequence, offset=offset)
    return yaml


def _changes(yaml: YAML, text: str) -> int:
    """How many lines merely reading and writing would change."""
    stream = io.StringIO()
    yaml.dump(yaml.load(text), stream)
    return len(set(text.splitlines()) ^ set(stream.getvalue().splitlines()))


def _squeezed(lines: list[str]) -> list[str]:
    """Lines without the spaces that people align columns with; the indent stays."""
    return [
        line[: len(line) - len(line.lstrip())] + " ".join(line.split()).replace("{ ", "{")
        for line in lines
    ]
