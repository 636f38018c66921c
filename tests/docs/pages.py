"""The pages that people read, taken apart: links, code blocks, tables, names in backticks."""

from __future__ import annotations

import importlib
import re
import tomllib
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *DOCS.rglob("*.md")])

_FENCE = re.compile(r"^ *```(\S*)\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_INCLUDE = re.compile(r"^```\{include\} (\S+)$", re.MULTILINE)
_TICKED = re.compile(r"`([^`\n]+)`")
_HEADING = re.compile(r"^#{1,4} (.+)$", re.MULTILINE)


class Block(NamedTuple):
    """A fenced block: its language, which may be empty, and what is in it."""

    language: str
    text: str


def command_line() -> ModuleType:
    """Return the module whose ``main`` is the command, by what the installation is told."""
    scripts = tomllib.loads(read("pyproject.toml"))["project"]["scripts"]
    module, _, function = scripts["pathsim"].partition(":")
    assert function == "main"
    return importlib.import_module(module)


def name_of(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def read(page: Path | str) -> str:
    return (ROOT / page).read_text(encoding="utf-8")


def blocks(text: str) -> list[Block]:
    return [Block(*found) for found in _FENCE.findall(text)]


def prose(text: str) -> str:
    """Return what is outside fenced blocks."""
    return _FENCE.sub("", text)


def links(text: str) -> list[str]:
    """Targets of links, pictures and includes that are not on the net."""
    found = _LINK.findall(prose(text)) + _INCLUDE.findall(text)
    return [target for target in found if "://" not in target and not target.startswith("mailto:")]


def anchor(heading: str) -> str:
    """Return what a heading is linked by."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


def headings(text: str) -> list[str]:
    return _HEADING.findall(prose(text))


def sections(text: str) -> dict[str, str]:
    """Text of each section under its heading, up to the next heading of any depth."""
    parts = _HEADING.split(prose(text))
    names = parts[1::2]
    assert len(set(names)) == len(names), "two sections of one name"
    return dict(zip(names, parts[2::2], strict=True))


def ticked(text: str) -> list[str]:
    return _TICKED.findall(text)


def first_columns(text: str, head: str) -> list[str]:
    """Cells of the first column of every table whose first head is ``head``."""
    cells, inside = [], False
    for line in text.splitlines():
        if not line.startswith("|"):
            inside = False
            continue
        cell = line.split("|")[1].strip()
        if cell == head:
            inside = True
        elif inside and not set(cell) <= {"-"}:
            cells.append(cell)
    return cells
