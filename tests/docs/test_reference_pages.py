"""Commands and file reference name every option and every key there is, and no other."""

import enum
import importlib
import pkgutil
import re
import typing

import pytest
import typer.main

import pathsim.files
from pathsim.arm.postures import WORDS
from pathsim.files.points_header import PLACE
from pathsim.files.quantities import Entry
from pathsim.units import TABLE
from tests.docs.pages import command_line, first_columns, read, sections, ticked

COMMANDS = typer.main.get_command(command_line().commands()).commands
SHAPES = [
    "ShapeEntry", "ShapedEntry", "_Section", "BlockShape", "PlateShape", "WallShape",
    "CylinderShape", "PipeShape", "TubeShape", "AngleShape", "ChannelShape", "BeamShape",
    "BenchShape", "PedestalShape", "StopBlockShape", "ToggleClampShape", "CClampShape",
]  # fmt: skip
#: Under which heading of the file reference the keys of each record stand.
PLACES = {
    "CellFile": "cell.yaml",
    "ArmEntry": "arm",
    "TorchEntry": "torch",
    "TableAxisEntry": "turning table",
    "TurningTableEntry": "turning table",
    "BodyEntry": "bodies",
    "GroupEntry": "groups",
    "WithinEntry": "groups",
    **dict.fromkeys(SHAPES, "shapes"),
    "CableEntry": "cables",
    "PointsEntry": "points",
    "MarginsEntry": "margins",
    "WeaveEntry": "weaves",
    "ScheduleEntry": "schedules",
    "ProcessEntry": "process",
    "SheetEntry": "sheet",
    "StepEntry": "program",
    "PassEntry": "passes",
    "StationEntry": "stations",
    "HoseEntry": "hoses",
    "ArmFile": "Arm description",
    "DimensionsEntry": "dimensions",
    "ChainEntry": "chain",
    "FrameEntry": "chain",
    "JointEntry": "joints",
    "UrdfEntry": "urdf",
    "RailEntry": "rail",
    "TipEntry": "tip",
    "LinksEntry": "links",
    "LinkEntry": "links",
    "SharedRoomEntry": "links",
    "SharedBallEntry": "links",
    "CapsuleEntry": "links",
    "BoxEntry": "links",
    "GirthEntry": "links",
    "ReadingsEntry": "readings",
    "ReadingEntry": "readings",
    "ShownFrameEntry": "readings",
    "TorchFile": "Torch description",
    "ToolCentreEntry": "Torch description",
    "PieceEntry": "Torch description",
    **dict.fromkeys(("BuiltEntry", "BarrelEntry", "NeckEntry", "NozzleEntry"), "built"),
}


def _records():
    """Every record that a file of a cell is read by."""
    for module in pkgutil.iter_modules(pathsim.files.__path__):
        importlib.import_module(f"pathsim.files.{module.name}")
    waiting, found = [Entry], []
    while waiting:
        subs = waiting.pop().__subclasses__()
        found += [one for one in subs if one.__module__.startswith("pathsim.")]
        waiting += subs
    return sorted(found, key=lambda record: record.__name__)


def _keys(record):
    return {field.alias or name for name, field in record.model_fields.items()}


def _words(kind):
    """Words that a field may hold: of literals and enums, however deep."""
    if typing.get_origin(kind) is typing.Literal:
        return {word for word in typing.get_args(kind) if isinstance(word, str)}
    if isinstance(kind, type) and issubclass(kind, enum.StrEnum):
        return {str(member) for member in kind}
    return set().union(*(_words(inner) for inner in typing.get_args(kind)), set())


def test_every_command_has_its_section():
    page = sections(read("docs/commands.md"))
    assert set(COMMANDS) <= set(page)
    assert set(page) - set(COMMANDS) == {"Commands", "Environment"}


@pytest.mark.parametrize("command", COMMANDS)
def test_options_of_a_command_are_those_of_its_section(command):
    section = sections(read("docs/commands.md"))[command]
    there = {
        option
        for one in COMMANDS[command].params
        for option in (*one.opts, *one.secondary_opts)
        if option.startswith("-")
    } - {"--help"}
    named = set(re.findall(r"`(--?[a-z][a-z-]*)", section)) - {"-o"}
    assert named == there - {"-o"}
    what = "FILE" if command == "mesh" else "CELL"
    assert f"pathsim {command} {what}" in section


def test_every_record_has_a_place_in_the_reference():
    assert {record.__name__ for record in _records()} == set(PLACES)
    assert set(PLACES.values()) <= set(sections(read("docs/files.md")))


@pytest.mark.parametrize("record", _records(), ids=lambda record: record.__name__)
def test_every_key_stands_in_the_reference(record):
    section = sections(read("docs/files.md"))[PLACES[record.__name__]]
    missing = _keys(record) - set(ticked(section))
    assert not missing, f"{record.__name__}: {sorted(missing)} not under {PLACES[record.__name__]}"


@pytest.mark.parametrize("place", sorted(set(PLACES.values())))
def test_no_key_stands_in_the_reference_that_is_none(place):
    known = set().union(*(_keys(r) for r in _records() if PLACES[r.__name__] == place))
    section = sections(read("docs/files.md"))[place]
    named = {key for cell in first_columns(section, "Key") for key in ticked(cell)}
    assert named or place in {"dimensions", "tip"}, "no table of keys"
    assert named <= known, sorted(named - known)


def test_every_word_that_a_key_may_hold_stands_in_the_reference():
    kinds = [field.annotation for record in _records() for field in record.model_fields.values()]
    words = set().union(*(_words(kind) for kind in kinds)) | set(PLACE)
    words |= set(re.split(r" or |, ", WORDS))
    page = " ".join(ticked(read("docs/files.md")))
    missing = {word for word in words if not re.search(rf"(?<!\w){re.escape(word)}(?!\w)", page)}
    assert {"zigzag", "link frames", "quaternion w-x-y-z", "clamp"} <= words
    assert not missing


def test_every_unit_stands_in_the_reference():
    section = sections(read("docs/files.md"))["Units"]
    named = set(re.split(r"[\s|,;]+", section))
    assert {unit for units in TABLE.values() for unit in units} <= named
