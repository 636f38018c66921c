"""The posture that is asked for next decides: an interview ends at the true way to count."""

import dataclasses

import numpy as np
import pytest

from pathsim.arm import ReadingsMap
from pathsim.fit import Reading, explain
from pathsim.fit.next_posture import next_posture
from pathsim.fit.proof import LEAST_ROWS, require_proof
from tests.fit.test_explain import ARM, TRUE, readings, with_map

LIMITED = dataclasses.replace(
    TRUE, arm=dataclasses.replace(ARM, lower=np.full(6, -2.6), upper=np.full(6, 2.6))
)


def anywhere(_q):
    return True


def nowhere(_q):
    return False


def limited(truth):
    return dataclasses.replace(LIMITED, arm=LIMITED.arm.with_readings(truth.arm.readings))


def seen(truth, shown, number):
    return Reading(f"p{number}", number + 1, shown, truth.poses(shown[None])[0])


def interview(truth, rows, most=8):
    """Ask and answer until nothing is left to ask; return the rows and the last verdict."""
    for _ in range(most):
        verdict = explain(LIMITED, rows) if rows else None
        asked = next_posture(LIMITED, rows, verdict, anywhere)
        if asked is None:
            break
        rows = [*rows, seen(truth, asked.shown, len(rows) + 1)]
    return rows, explain(LIMITED, rows)


@pytest.mark.parametrize("joint", range(6))
def test_a_sign_is_told_within_a_few_rows(joint):
    signs = np.ones(6)
    signs[joint] = -1
    rows, verdict = interview(limited(with_map(signs)), [])
    assert len(rows) <= LEAST_ROWS + 2
    (found,) = verdict.explained
    assert [(t.kind, t.joint) for t in found.things] == [("sign", joint)]
    require_proof(LIMITED, rows, found)


def test_zeros_and_a_coupling_are_told_too():
    truth = limited(with_map((1, 1, 1, 1, 1, -1), (0, -0.4, 0, 0, 0, 0), [(2, 1, -1.0)]))
    rows, verdict = interview(truth, [])
    assert len(rows) <= LEAST_ROWS + 3
    (found,) = verdict.explained
    readings_map = found.description.arm.readings
    assert readings_map.mix == pytest.approx(truth.arm.readings.mix, abs=1e-6)
    assert readings_map.zero == pytest.approx(truth.arm.readings.zero, abs=1e-6)


def test_a_joint_that_never_moved_is_what_is_asked_about():
    rows = readings(TRUE, 5)
    still = [dataclasses.replace(row, shown=np.where(np.arange(6) == 4, 0.4, row.shown))
             for row in rows]  # fmt: skip
    still = [seen(TRUE, row.shown, k) for k, row in enumerate(still)]
    asked = next_posture(LIMITED, still, explain(LIMITED, still), anywhere)
    assert asked.tells == ("whether joint 5 counts the other way",)
    assert abs(asked.shown[4] - 0.4) > np.radians(15)


def test_rows_that_decide_ask_for_no_more():
    rows = readings(TRUE, 6)
    assert next_posture(LIMITED, rows, explain(LIMITED, rows), anywhere) is None
    few = rows[: LEAST_ROWS - 1]
    assert next_posture(LIMITED, few, explain(LIMITED, few), anywhere) is not None


def test_postures_are_whole_degrees_within_limits_and_free():
    shown = with_map((1, -1, 1, 1, -1, 1), (0, 0.3, 0, 0, 0, 0)).arm.readings
    arm = LIMITED.arm.with_readings(ReadingsMap.of(np.diag(shown.mix), shown.zero))
    description = dataclasses.replace(LIMITED, arm=arm)
    refused = []

    def is_free(q):
        refused.append(q)
        return len(refused) > 5

    asked = next_posture(description, [], None, is_free)
    assert np.degrees(asked.shown) == pytest.approx(np.round(np.degrees(asked.shown)), abs=1e-9)
    q = arm.readings.model(asked.shown)
    assert (arm.room(q) > 0).all()
    # Five postures were refused as the description has them; the sixth is looked at as it may be
    # by all that nobody knows yet: each joint the other way, and joint 3 coupled.
    of_it = [looked for looked in refused if looked == pytest.approx(q)]
    assert of_it and len(refused) == 5 + 2 + 6 + 1
    assert next_posture(description, [], None, nowhere) is None
