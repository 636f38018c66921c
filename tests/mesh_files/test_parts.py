"""Names of parts: each once, whatever the file calls them; a wrong one is said with the right."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.errors import MeshError
from pathsim.mesh_files.parts import chosen, named_once
from pathsim.mesh_files.three_mf import Part

NAMES = st.lists(st.sampled_from(["", "bolt", "bolt 2", "bolt 3", "part 1", " bolt "]), max_size=8)


def parts(names):
    return [Part(name, np.full((1, 3), float(k)), np.zeros((1, 3), int))
            for k, name in enumerate(names)]  # fmt: skip


@given(NAMES)
def test_each_part_has_a_name_of_its_own_and_the_first_keeps_the_files(names):
    given_parts = parts(names)
    found = named_once(given_parts)
    said = [part.name for part in found]
    assert len(set(said)) == len(said)
    for part, before in zip(found, given_parts, strict=True):
        assert part.vertices is before.vertices
    for name in {name.strip() for name in names} - {""}:
        first = next(k for k, one in enumerate(names) if one.strip() == name)
        # A nameless part before it may have been called so already.
        assert said[first] == name or name in said[:first]


def test_a_wrong_name_is_said_with_those_that_are_there():
    with pytest.raises(MeshError, match="no part 'nut'; it has 'bolt', 'bolt 2'"):
        chosen(named_once(parts(["bolt", "bolt"])), ["nut"])
    many = [f"p{k}" for k in range(30)]
    with pytest.raises(MeshError, match="'p19', and 10 more"):
        chosen(parts(many), ["nut"])
    assert [part.name for part in chosen(parts(many), ["p7", "p3"])] == ["p3", "p7"]
