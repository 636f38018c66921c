"""Where this computer keeps what was worked out before: compiled kernels and trees."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

#: Another place for all of it; empty: keep nothing.
VARIABLE = "PATHSIM_CACHE"


def cache_folder(name: str) -> Path | None:
    """Return a folder that can be written to; None when nothing can or shall be kept."""
    asked = os.environ.get(VARIABLE)
    if asked == "":
        return None
    root = Path(asked) if asked else Path(platformdirs.user_cache_dir("pathsim", appauthor=False))
    if not asked and not root.is_absolute():
        return None  # nobody's home: a folder named "~" here would help nobody
    folder = root / name
    try:
        if not folder.is_dir():
            folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None


def kernels_folder(key: str) -> Path | None:
    """Return the folder of compiled kernels whose sources have this hash."""
    return cache_folder(f"kernels-{key}")
