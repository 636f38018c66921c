"""One place for compiled kernels and trees, so that tests neither wait for nor touch a user's."""

from __future__ import annotations

import os

import pytest

from pathsim.kernels.cache_folder import VARIABLE


def pytest_configure(config: pytest.Config) -> None:
    """Compile the kernels once, before any worker starts; they are kept until a source changes."""
    if hasattr(config, "workerinput"):
        return  # a worker inherits the variable from the process that started it
    os.environ[VARIABLE] = str(config.cache.mkdir("pathsim"))
    from pathsim.clearance.swept.warm_up import prepare

    prepare()
