"""One place for compiled kernels and trees, so that tests neither wait for nor touch a user's."""

from __future__ import annotations

import os

import pytest

from pathsim.kernels.cache_folder import VARIABLE
from tests.slow_list import slow_tests


def pytest_configure(config: pytest.Config) -> None:
    """Compile the kernels once, before any worker starts; they are kept until a source changes."""
    if hasattr(config, "workerinput"):
        return  # a worker inherits the variable from the process that started it
    os.environ[VARIABLE] = str(config.cache.mkdir("pathsim"))
    from pathsim.clearance.swept.warm_up import prepare

    prepare()


@pytest.fixture(autouse=True)
def _as_wide_as_usual(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forget how wide the tests' own terminal is, which several processes hand on."""
    monkeypatch.delenv("COLUMNS", raising=False)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the tests of the slow list."""
    slow = slow_tests()
    for item in items:
        if item.nodeid in slow:
            item.add_marker(pytest.mark.slow)
