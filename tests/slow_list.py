"""Which tests are slow: one measured list, read by ``conftest.py``."""

from __future__ import annotations

from pathlib import Path

LIST = Path(__file__).with_name("slow_tests.txt")


def slow_tests() -> dict[str, float]:
    """Return the CPU seconds of each slow test, by its whole name."""
    lines = (line for line in LIST.read_text(encoding="utf-8").splitlines() if line[0] != "#")
    pairs = (line.split(" ", 1) for line in lines)
    return {name: float(seconds) for seconds, name in pairs}
