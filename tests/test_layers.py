"""Upper layers import lower ones only (the contract stands in pyproject.toml)."""

from pathlib import Path

from importlinter import cli


def test_layers_hold():
    config = Path(__file__).parents[1] / "pyproject.toml"
    assert cli.lint_imports(config_filename=str(config), no_cache=True) == 0
