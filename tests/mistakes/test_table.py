"""Every mistake is told of at its level and in its words; what is harmless stays clear.

The rows stand in the modules ``about_*.py`` beside this file, each with a list ``MISTAKES`` and a
list ``HARMLESS``.
"""

from __future__ import annotations

import importlib
from functools import cache
from pathlib import Path

import pytest

import pathsim
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.errors import PathsimError
from pathsim.findings import Level
from tests.mistakes.case import SAMPLES, Harmless, Mistake, copy_of

_MODULES = [
    importlib.import_module(f"tests.mistakes.{path.stem}")
    for path in sorted(Path(__file__).parent.glob("about_*.py"))
]
MISTAKES: list[Mistake] = [row for module in _MODULES for row in module.MISTAKES]
HARMLESS: list[Harmless] = [row for module in _MODULES for row in module.HARMLESS]


@cache
def unchanged(cell):
    return pathsim.check(pathsim.load_cell(SAMPLES / cell))


def says(result, row):
    """Findings of the row's level that hold all of its words."""
    return [
        f
        for f in result.findings
        if f.level is row.level and all(word.lower() in f.text.lower() for word in row.words)
    ]


def test_names_are_told_apart():
    names = [row.name for row in (*MISTAKES, *HARMLESS)]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("row", MISTAKES, ids=lambda row: row.name)
def test_a_mistake_is_told_of(row, tmp_path):
    folder = copy_of(row.cell, tmp_path / "cells")
    row.change(folder)
    if row.level is None:
        with pytest.raises(PathsimError) as refused:
            pathsim.check(pathsim.load_cell(folder))
        text = str(refused.value).lower()
        assert all(word.lower() in text for word in row.words), text
        return
    assert not says(unchanged(row.cell), row), "the sound cell says so too"
    cell = pathsim.load_cell(folder)
    engines = [None, ReferenceEngine(cell)] if row.both_engines else [None]
    for engine in engines:
        result = pathsim.check(cell, engine=engine)
        told = [f"{f.level}: {f.text}" for f in result.findings]
        assert says(result, row), told


@pytest.mark.parametrize("row", HARMLESS, ids=lambda row: row.name)
def test_what_is_harmless_stays_clear(row, tmp_path):
    folder = copy_of(row.cell, tmp_path / "cells")
    row.change(folder)
    result = pathsim.check(pathsim.load_cell(folder))
    assert [f"{f.level}: {f.text}" for f in result.findings if f.level is not Level.NOTE] == []
