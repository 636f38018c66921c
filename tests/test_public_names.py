"""Every public name has its text: what it is, and units where it takes or gives numbers."""

import enum
import inspect
import re
import subprocess
import sys
from functools import cached_property

import pytest

import pathsim
from pathsim.errors import CellError
from tests.test_public_api import SAMPLES

UNIT = re.compile(r"\b(m|mm|cm|rad|deg|s|Hz|V|A|m/s|m/s2|m/s\^2|rad/s|share|shares|factor)\b")
ARRAYS = re.compile(r"\b(Array|ArrayLike|NDArray)\b")
NUMBERS = re.compile(r"\b(Array|ArrayLike|Flags|NDArray|float)\b")


def members(name):
    """What a class offers itself: methods, properties, not what Python gives all records."""
    thing = getattr(pathsim, name)
    if not inspect.isclass(thing) or issubclass(thing, enum.Enum | Exception):
        return
    for base in thing.__mro__:
        if not base.__module__.startswith("pathsim"):
            continue
        for key, value in vars(base).items():
            if key.startswith("_"):
                continue
            if isinstance(value, classmethod | staticmethod):
                yield f"{name}.{key}", value.__func__
            elif isinstance(value, property):
                yield f"{name}.{key}", value.fget
            elif isinstance(value, cached_property):
                yield f"{name}.{key}", value.func
            elif inspect.isfunction(value):
                yield f"{name}.{key}", value


TEXTS = {name: getattr(pathsim, name) for name in pathsim.__all__}
TEXTS |= dict(pair for name in pathsim.__all__ for pair in members(name))
TEXTS |= {f"plot.{name}": getattr(pathsim.plot, name) for name in pathsim.plot.__all__}


def annotations(thing):
    """Types of what it takes and gives, or of a record's fields, as they are written."""
    own = vars(thing).get("__annotations__", {}) if inspect.isclass(thing) else None
    found = own if own is not None else getattr(thing, "__annotations__", {})
    return [str(found[key]) for key in found if not key.startswith("_")]


def test_names_are_sorted_and_there():
    assert pathsim.__all__ == sorted(pathsim.__all__)
    assert len(TEXTS) > 120


@pytest.mark.parametrize("name", TEXTS)
def test_every_name_has_a_text_of_its_own(name):
    text = vars(TEXTS[name]).get("__doc__") if inspect.isclass(TEXTS[name]) else None
    text = text or inspect.getdoc(TEXTS[name]) or ""
    first = text.strip().splitlines()[0] if text.strip() else ""
    assert first.endswith((".", ":")), f"{name} has no sentence: {first!r}"
    assert not first.startswith(f"{name}(")  # a dataclass's own signature is no text


WITH_NUMBERS = [name for name, one in TEXTS.items() if NUMBERS.search(str(annotations(one)))]


@pytest.mark.parametrize("name", WITH_NUMBERS)
def test_numbers_come_with_their_unit(name):
    """In its own text; of a single number the class may say it."""
    texts = [inspect.getdoc(TEXTS[name]) or ""]
    if not ARRAYS.search(str(annotations(TEXTS[name]))):
        texts.append(inspect.getdoc(getattr(pathsim, name.split(".")[0])) or "")
    assert any(UNIT.search(text) for text in texts), f"{name} names no unit"


def test_import_brings_nothing_heavy():
    """What reads files, compiles or draws comes with the first thing that needs it."""
    heavy = "numba scipy trimesh pydantic ruamel typer rich matplotlib pyvista defusedxml reportlab"
    code = "import sys, pathsim; print({m.split('.')[0] for m in sys.modules} & set(sys.argv[1:]))"
    command = [sys.executable, "-c", code, *heavy.split()]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_an_unknown_name_is_one():
    with pytest.raises(AttributeError, match="no attribute 'chekc'"):
        pathsim.chekc  # noqa: B018


def test_advise_takes_a_cell_or_its_result():
    cell = pathsim.load_cell(SAMPLES / "gate_hinge_no_retract")
    session = pathsim.Session()
    result = session.check(cell)
    of_result = pathsim.advise(result, session=session)
    of_cell = pathsim.advise(cell)
    texts = [[p.text for p in one.proposals] for one in of_result]
    assert texts == [[p.text for p in one.proposals] for one in of_cell]
    best = of_result[0].proposals[0]
    assert "50 mm from 'weld end', half way between" in best.text
    assert best.before is result and not best.after.has(pathsim.Level.STOP)
    assert pathsim.check(best.after.cell).is_clear == best.after.is_clear
    with pytest.raises(CellError, match="came a str; expected a Cell or a CheckResult"):
        pathsim.advise("cell")


def test_reprs_are_one_line():
    cell = pathsim.load_cell(SAMPLES / "turned_collar")
    result = pathsim.check(cell)
    things = [cell, cell.arm, cell.arm.readings, cell.torch, cell.torch.pieces[0], cell.table,
              cell.program, cell.program.moves[0], cell.margins, cell.bodies[0], cell.axes,
              cell.bodies[0].mesh, result, result.trajectory, result.profile(), result.worst,
              result.moves[0], result.trajectory.tracks[0], result.worst.clearance,
              result.placement[0], pathsim.Session(), *cell.points.values(), *result.findings,
              *pathsim.advise(pathsim.load_cell(SAMPLES / "deep_channel"))]  # fmt: skip
    for thing in things:
        assert "\n" not in repr(thing) and len(repr(thing)) < 500, type(thing)
