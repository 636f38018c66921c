"""The kinds of findings: what logic asks for, so that no sentence has to be parsed."""

from __future__ import annotations

from enum import StrEnum


class FindingKind(StrEnum):
    """What a finding is about; its value is the ``kind`` that is written to JSON."""

    # Touching, nearness and room.
    CONTACT = "contact"
    NEAR_HIT = "near-hit"
    NOT_NARROWED = "not narrowed"
    WEAVE_ROOM = "weave room"
    BEAD_REACH = "bead reaches a body"
    ROUNDING = "rounding"
    # Contact that is wanted.
    TOUCH_SEARCH = "touch search"
    SEARCH = "search"
    STATION_USE = "station use"
    STATION = "station"
    # What was not measured, or is doubted.
    NOT_CHECKED = "not checked"
    APPROXIMATE_SHAPES = "approximate shapes"
    UNLIKELY_BODY = "unlikely body"
    UNLIKELY_UNIT = "unlikely unit"
    UNLIKELY_TORCH = "unlikely torch"
    CABLE = "cable"
    SEAM_OFF = "seam off the part"
    UNWELDED = "part without a seam"
    PLACE_UNCERTAIN = "place not exactly known"
    UNFINISHED = "unfinished"
    # How the cell stands.
    OVERLAP = "overlap"
    STANDS_TWICE = "stands twice"
    FLOATS = "floats"
    TABLE_EMPTY = "table carries nothing"
    TOUCHES_TABLE = "touches the table"
    DRAWN_INTO = "drawn into each other"
    # The arm.
    OUT_OF_REACH = "out of reach"
    JOINT_LEAP = "joint leap"
    JOINT_LIMIT = "joint limit"
    JOINT_SPEED = "joint speed"
    WRIST_ALIGNED = "wrist aligned"
    ELBOW_STRETCHED = "elbow stretched"
    WRIST_OVER_SHOULDER = "wrist over shoulder"
    NEAR_SINGULAR = "near singular"
    TWO_WAYS = "two ways on"
    ARM_BENDS = "arm bends"
    # Postures and points.
    POSTURE_PICKED = "posture picked"
    ARRIVES_OTHERWISE = "arrives otherwise"
    POSE_DISAGREES = "pose disagrees"
    # The weld and the program.
    PROGRAM_HABIT = "program habit"
    TRADE_PRACTICE = "trade practice"
    PROGRAM_LINE = "line of the program"
    WAY_HOME = "way home"
    WIND_UP = "wind-up"
    UNUSED = "unused"
    PARTS_LEFT_OUT = "parts of a file left out"
    REPEATED = "repeated"
    UNUSUAL_PROCESS = "unusual process"
    UNUSUAL_MARGIN = "unusual margin"
    WEAVE = "weave"
    WEAVE_STROKES = "weave strokes"
    WEAVE_ACCELERATION = "weave acceleration"
    PROCESS = "process"
    TORCH_ANGLES = "torch angles"
    WELD_POSITION = "weld position"
    ARM_RESERVE = "arm reserve"
