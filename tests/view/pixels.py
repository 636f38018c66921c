"""What tests of pictures share: sizes, pixels about a place, pixels of a colour."""

from pathlib import Path

import numpy as np
from PIL import Image

from pathsim.view.playback_state import opened

SAMPLES = Path(__file__).parents[2] / "sample_cells"
SIZE = (1280, 800)


def pixels(path):
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def player_of(scene):
    return opened(scene.duration, tuple(mark.time for mark in scene.marks))


def region(image, x, y, half):
    """Pixels about a place that is counted from below, as VTK does."""
    row, column = image.shape[0] - 1 - round(y), round(x)
    return image[max(row - half, 0) : row + half, max(column - half, 0) : column + half]


def close_to(pixels, colour, far=40):
    return np.linalg.norm(pixels.astype(float) - np.array(colour), axis=-1) < far
