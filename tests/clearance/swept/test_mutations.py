"""The runner of mutations finds what it is to break."""

from tests.clearance.swept.mutate import ROOT, misplaced, pattern_of
from tests.clearance.swept.mutations import MUTATIONS


def test_every_mutation_finds_its_text_once():
    assert misplaced(ROOT) == []


def test_a_mutation_changes_something():
    for name, (_, text, becomes) in MUTATIONS.items():
        assert text.split() != becomes.split(), name


def test_a_text_is_found_however_its_lines_are_broken():
    assert pattern_of("f(a, b)").search("f(\n    a,\n    b)")
    assert not pattern_of("f(a, b)").search("f(a, c)")
