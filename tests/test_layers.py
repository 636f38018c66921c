"""Upper layers import lower ones only (the contract stands in pyproject.toml), and in no circle."""

from pathlib import Path

import grimp
from importlinter import cli


def test_layers_hold():
    config = Path(__file__).parents[1] / "pyproject.toml"
    assert cli.lint_imports(config_filename=str(config), no_cache=True) == 0


def circles(imports):
    """Sets of modules that import each other, by Tarjan's algorithm; ``imports``: name to names."""
    order, low, path, found = {}, {}, [], []

    def visit(name):
        order[name] = low[name] = len(order)
        path.append(name)
        for other in imports[name]:
            if other not in order:
                visit(other)
            if other in path:
                low[name] = min(low[name], low[other])
        if low[name] == order[name]:
            circle = path[path.index(name) :]
            del path[path.index(name) :]
            if len(circle) > 1:
                found.append(sorted(circle))

    for name in imports:
        if name not in order:
            visit(name)
    return found


def test_a_circle_is_found():
    assert circles({"a": ["b"], "b": ["c"], "c": ["b"], "d": ["a"]}) == [["b", "c"]]
    assert circles({"a": ["b"], "b": [], "c": ["a", "b"]}) == []


def test_no_modules_import_each_other():
    """Names that only annotations need do not count: nothing is imported for them."""
    graph = grimp.build_graph("pathsim", exclude_type_checking_imports=True, cache_dir=None)
    of = {name: sorted(graph.find_modules_directly_imported_by(name)) for name in graph.modules}
    assert len(of) > 200
    assert circles(of) == []
