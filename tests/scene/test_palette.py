"""Bands can be told apart by people with any colour sight, and text can be read."""

import itertools

import numpy as np
import pytest

from pathsim.scene.palette import ACCENT, BANDS, INK, PANEL, PAPER, QUIET, TINT

# Machado, Oliveira and Fernandes 2009, severity 1.0 (from memory), on linear RGB.
SIGHT = {
    "normal": np.eye(3),
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
               [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
               [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
               [0.004733, 0.691367, 0.303900]],
}  # fmt: skip


def linear(colour):
    c = np.asarray(colour) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    """CIE L*a*b*, D65."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    x = xyz @ np.clip(rgb, 0, 1) / [0.9505, 1.0, 1.089]
    f = np.where(x > 0.008856, np.cbrt(x), 7.787 * x + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("sight", SIGHT)
def test_neighbouring_bands_differ(sight):
    seen = [lab(np.asarray(SIGHT[sight]) @ linear(band.colour)) for band in BANDS]
    for a, b in itertools.combinations(seen, 2):
        assert np.linalg.norm(a - b) > 12
    lightness = [value[0] for value in seen[1:]]  # the accent of a contact stands apart
    assert lightness == sorted(lightness)  # near is dark, far fades


def test_width_tells_it_too():
    widths = [band.width for band in BANDS]
    assert widths == sorted(widths, reverse=True) and len(set(widths)) == len(widths)


def contrast(a, b):
    weights = [0.2126, 0.7152, 0.0722]
    high, low = sorted((weights @ linear(a), weights @ linear(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_text_can_be_read():
    # WCAG 2: 4.5 : 1 for text.
    for colour in (INK, QUIET, ACCENT):
        assert contrast(colour, PAPER) > 4.5
    assert contrast(ACCENT, PAPER) == pytest.approx(5.9, abs=0.3)


@pytest.mark.parametrize("sight", SIGHT)
def test_what_is_missing_to_the_margin_is_told_from_everything_beside_it(sight):
    matrix = np.asarray(SIGHT[sight])
    tint = lab(matrix @ linear(TINT))
    for beside in (PAPER, PANEL, INK, *(band.colour for band in BANDS)):
        assert np.linalg.norm(tint - lab(matrix @ linear(beside))) > 12


def test_every_band_stands_out_from_the_paper_by_itself_or_by_its_casing():
    """WCAG 2 asks for 3 : 1 of what must be seen; pale bands have a casing of ink round them."""
    assert contrast(INK, PAPER) > 7
    for band in BANDS:
        by_itself = contrast(band.colour, PAPER) >= 3
        assert by_itself or contrast(band.colour, INK) >= 4.5, band.label
    assert all(contrast(band.colour, PAPER) >= 3 for band in BANDS[:3])  # what must not be missed
