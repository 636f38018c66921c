"""Every kind of finding has a headline of its own that a welder reads without a manual."""

import pytest

from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.scene import headlines
from pathsim.scene.headlines import headline

NUMBERS = {"angle": 0.01, "joint": 5.0, "off": 0.004}


def of(kind, **named):
    return headline(Finding(Level.WATCH, kind, "text", numbers=NUMBERS, **named), None)


@pytest.mark.parametrize("named", [{}, {"piece": "nozzle", "body": "left clamp"}])
def test_every_kind_has_its_own_words(named):
    kinds = [kind for kind in FindingKind if named or kind is not FindingKind.CONTACT]
    said = [of(kind, **named) for kind in kinds]
    assert len(set(said)) == len(said)
    assert set(headlines._PLAIN) == set(FindingKind)
    for kind, words in zip(kinds, said, strict=True):
        assert 2 <= len(words.split()) <= 9 and words[0].isupper(), kind
        assert "None" not in words and "{" not in words


def test_what_is_named_stands_in_the_headline():
    for kind in (
        FindingKind.FLOATS,
        FindingKind.CONTACT,
        FindingKind.OVERLAP,
        FindingKind.UNLIKELY_UNIT,
        FindingKind.DRAWN_INTO,
        FindingKind.SEAM_OFF,
    ):
        assert "left clamp" in of(kind, piece="nozzle", body="left clamp").lower()
