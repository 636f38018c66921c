"""The written result: by its schema, the same bytes each time, the result's own numbers."""

import json
import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import pathsim
from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.report import result_as_json
from pathsim.result import record
from pathsim.result.as_json import schema

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture(scope="module")
def result():
    return pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract"))


def test_follows_its_schema(result):
    document = json.loads(result_as_json(result))
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(document, schema(), cls=jsonschema.Draft202012Validator)


def test_same_cell_same_bytes(result):
    again = pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract"))
    assert result_as_json(result) == result_as_json(again)


def test_numbers_are_the_results(result):
    document = json.loads(result_as_json(result))
    assert document["is_clear"] is False
    assert document["cell"]["sha256"] == result.cell.fingerprint
    for written, move in zip(document["moves"], result.moves, strict=True):
        assert len(written["pairs"]) == len(move.pairs)
        assert written["knots"]["t_s"] == pytest.approx(move.track.t, abs=1e-9)
        np.testing.assert_allclose(written["knots"]["q"], np.degrees(move.track.q), atol=1e-8)
        for entry, pair in zip(written["pairs"], move.pairs, strict=True):
            assert entry["guaranteed_mm"] == pytest.approx(pair.clearance.lower * 1e3, abs=1e-6)
            assert entry["touches"] == pair.clearance.touches
    assert [f["text"] for f in document["findings"]] == [f.text for f in result.findings]


def test_holds_no_path_of_a_machine(result):
    text = result_as_json(result)
    assert str(SAMPLES) not in text and str(Path.home()) not in text


def test_axes_say_what_the_columns_are():
    """A rail counts in millimetres, a turning table has a column of its own."""
    for name, unit, count in (("hanging_rail", "mm", 7), ("turned_collar", "deg", 7)):
        result = pathsim.check(pathsim.load_cell(SAMPLES / name))
        document = json.loads(result_as_json(result))
        jsonschema.validate(document, schema(), cls=jsonschema.Draft202012Validator)
        assert len(document["axes"]) == count
        rail_or_table = 0 if unit == "mm" else 6
        assert document["axes"][rail_or_table]["unit"] == unit
        seam = np.array(document["moves"][2]["knots"]["q"])
        # the rail goes 600 mm, the table 270 degrees: numbers of the cell's points file
        expected = 600 if unit == "mm" else 270
        assert abs(seam[-1] - seam[0])[rail_or_table] == pytest.approx(expected, abs=1e-6)


def test_cables_stand_in_it_only_where_there_are_some(result):
    assert "cables" not in json.loads(result_as_json(result))
    loose = pathsim.check(pathsim.load_cell(SAMPLES / "loose_cable"))
    document = json.loads(result_as_json(loose))
    jsonschema.validate(document, schema(), cls=jsonschema.Draft202012Validator)
    (cable,) = document["cables"]
    assert (cable["name"], cable["on"], cable["slack_is_said"]) == (
        "torch cable",
        "the torch",
        True,
    )
    sizes = (cable["radius_mm"], cable["slack_mm"], cable["margin_mm"])
    assert sizes == pytest.approx((10, 10, 15))
    np.testing.assert_allclose(cable["points_mm"], [[0, 20, 80], [0, 60, 140], [0, 75, 220]])


@pytest.mark.parametrize("kind", list(FindingKind))
def test_a_finding_of_any_kind_follows_the_schema(result, kind):
    """About a move or about none, with a moment or without one."""
    found = [
        Finding(Level.STOP, kind, "About the model."),
        Finding(Level.WATCH, kind, "About a body.", body="left clamp", numbers={"gap": 0.1}),
        Finding(Level.NOTE, kind, "About a move.", 1, 0.5, (), "nozzle", "left clamp"),
    ]
    document = json.loads(result_as_json(replace(result, findings=tuple(found))))
    jsonschema.validate(document, schema(), cls=jsonschema.Draft202012Validator)
    assert [f["kind"] for f in document["findings"]] == [str(kind)] * 3
    assert [f["move"] for f in document["findings"]] == [None, None, 1]


def test_the_schema_knows_every_kind_of_finding():
    kinds = schema()["$defs"]["finding"]["properties"]["kind"]["enum"]
    assert kinds == [str(kind) for kind in FindingKind]


def test_findings_carry_the_numbers_of_their_sentence(result):
    written = json.loads(result_as_json(result))["findings"]
    for finding, said in zip(result.findings, written, strict=True):
        assert said["numbers_si"] == pytest.approx(dict(finding.numbers), abs=1e-9)
    assert written[0]["numbers_si"]["clearance"] == 0.0


def test_placement_is_worked_out_once(result, monkeypatch):
    first = result.placement
    monkeypatch.setattr(record, "placement_tolerances", lambda *_: pytest.fail("again"))
    assert result.placement is first and first


def test_a_number_that_is_none_is_null(result):
    none = Finding(Level.WATCH, FindingKind.FLOATS, "Nothing is near.", numbers={"gap": math.inf})
    document = json.loads(result_as_json(replace(result, findings=(none,), seams=(none,))))
    jsonschema.validate(document, schema(), cls=jsonschema.Draft202012Validator)
    assert document["findings"][0]["numbers_si"] == {"gap": None}
    assert document["seams"][0]["numbers_si"] == {"gap": None}
