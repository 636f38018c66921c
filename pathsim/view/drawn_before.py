"""Whether a picture was drawn here before, with the same libraries: then nobody tries again.

To try is another process, a tenth of a picture's time. What is kept is the way to draw and all
libraries that it loaded, with their sizes and times of change; it counts on the same computer, not
started anew since, with the same settings. It is taken away when it is used and written anew once
a picture is there: a process that crashes while drawing leaves nothing, and the next one tries.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
from pathlib import Path

from pathsim.kernels.cache_folder import cache_folder

Choice = dict[str, str]
#: Settings that decide how is drawn begin so.
_SETTINGS = ("DISPLAY", "WAYLAND", "VTK", "LIBGL", "MESA", "GALLIUM", "EGL", "__", "LD_", "LP_")
_BOOT = Path("/proc/sys/kernel/random/boot_id")
_LOADED = Path("/proc/self/maps")


class DrawnBefore:
    """What is kept of pictures drawn with the settings that this process has now."""

    def __init__(self) -> None:
        self._path = _place()

    def take(self) -> Choice | None:
        """Take away what is kept and return the way to draw; None: somebody has to try."""
        kept = self.read()
        if kept is not None and self._path is not None:
            self._path.unlink(missing_ok=True)
        return kept

    def read(self) -> Choice | None:
        """Return the way to draw that served before; None where any library changed since."""
        if self._path is None:
            return None
        try:
            kept = json.loads(self._path.read_text(encoding="utf-8"))
            if kept["started"] != _started() or not kept["libraries"]:
                return None
            if any(_file(name) != was for name, *was in kept["libraries"]):
                return None
            return {str(name): str(value) for name, value in kept["choice"].items()}
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None

    def keep(self, choice: Choice) -> None:
        """Keep a way to draw that this process drew a picture with."""
        if self._path is None:
            return
        temporary = self._path.with_suffix(f".{os.getpid()}")
        with contextlib.suppress(OSError):
            libraries = [[name, *_file(name)] for name in _loaded()]
            kept = {"choice": choice, "started": _started(), "libraries": libraries}
            temporary.write_text(json.dumps(kept), encoding="utf-8")
            temporary.replace(self._path)


def _place() -> Path | None:
    """Return the file for these settings; None where it cannot be told what was loaded."""
    if not sys.platform.startswith("linux") or not _started():
        return None
    folder = cache_folder("drawing")
    settings = sorted(item for item in os.environ.items() if item[0].startswith(_SETTINGS))
    told = json.dumps([sys.executable, settings])
    name = hashlib.blake2b(told.encode(), digest_size=12).hexdigest()
    return None if folder is None else folder / f"{name}.json"


def _started() -> str:
    """Return what is another on each computer, each time that it is started; empty: unknown."""
    try:
        return _BOOT.read_text(encoding="ascii").strip()
    except OSError:
        return ""


def _loaded() -> list[str]:
    """Return the files of all libraries that this process loaded."""
    lines = _LOADED.read_text(encoding="utf-8", errors="replace").splitlines()
    names = {line.split(maxsplit=5)[-1] for line in lines if ".so" in line}
    return sorted(name for name in names if name.startswith("/"))


def _file(name: str) -> list[int]:
    """Return size and time of change of a file; nothing where there is none."""
    try:
        found = Path(name).stat()
    except OSError:
        return []
    return [found.st_size, found.st_mtime_ns]
