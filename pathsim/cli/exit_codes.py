"""The codes that every command ends with."""

CLEAR, FOUND, COULD_NOT = 0, 1, 2
