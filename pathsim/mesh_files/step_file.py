"""STEP: surfaces as they are meant, cut into triangles by a library that is an extra.

The triangles are off the true surface by ``OFF`` at most, to either side; whoever measures against
them has to take that off. Read in a process of its own, with an end to its patience, and kept by
content: a file of 5 MB takes a quarter of a minute.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from pathsim.errors import MeshError
from pathsim.kernels.cache_folder import cache_folder

#: How far triangles may be off the true surface, m, and how long one file may take, s.
OFF, _LONGEST = 1e-4, 300.0
_PACKAGE = "cascadio"
_MARK = b"ISO-10303-21;"
#: Texts in quotes, lines by their number, and the numbers that lines name.
_TEXT = re.compile(rb"'[^']*'")
_DEFINED = re.compile(rb"(?:^|[;\n])\s*#(\d+)\s*=")
_NAMED = re.compile(rb"#(\d+)")
#: So many files are kept; those used longest ago go first.
_MOST_FILES = 200


def step_as_glb(raw: bytes) -> bytes:
    """Return a STEP file as the bytes of a GLB, in metres; MeshError where it cannot be read."""
    if _MARK not in raw[:4096]:
        raise MeshError("it does not begin like a STEP file (ISO-10303-21)")
    if b"END-ISO-10303-21" not in raw[-4096:]:
        raise MeshError("its end is missing (cut off?)")
    _require_all_there(raw)
    # It takes a thirtieth of a whole check to load, and most cells have no such file.
    from importlib.metadata import PackageNotFoundError, version

    try:
        installed = version(_PACKAGE)
    except PackageNotFoundError as error:
        raise MeshError(
            "STEP files need one package more: pip install 'pathsim[step]'; or export STL"
        ) from error
    kept = _kept_at(raw, installed)
    found = None if kept is None else _read(kept)
    if found is None:
        found = _converted(raw)
        if kept is not None:
            _keep(kept, found)
    return found


def holds_solids_alone(raw: bytes) -> bool:
    """Tell whether a STEP file has solids and no surfaces beside them: then all of it is closed."""
    return b"SHELL_BASED_SURFACE_MODEL" not in raw and b"GEOMETRIC_SET" not in raw


def _require_all_there(raw: bytes) -> None:
    """Refuse a file with lines that name others which are not there: its reader would skip them."""
    text = _TEXT.sub(b"", raw)
    defined = set(_DEFINED.findall(text))
    for name in _NAMED.findall(text):
        if name not in defined:
            raise MeshError(f"it names #{name.decode()}, which is not in it (cut off?)")


def _converted(raw: bytes) -> bytes:
    with tempfile.TemporaryDirectory(prefix="pathsim-step-") as folder:
        source, target = Path(folder) / "in.step", Path(folder) / "out.glb"
        source.write_bytes(raw)
        command = [
            sys.executable, "-m", "pathsim.mesh_files.step_child", str(source), str(target),
            f"{OFF * 1e3:g}",
        ]  # fmt: skip
        try:
            done = subprocess.run(  # noqa: S603 - our own module, and paths that we made
                command,
                capture_output=True,
                timeout=_LONGEST,
                check=False,
                stdin=subprocess.DEVNULL,
            )
        except subprocess.TimeoutExpired as error:
            raise MeshError(
                f"reading it took more than {_LONGEST:.0f} s; export it as STL, or leave out what "
                "is inside of it"
            ) from error
        except OSError as error:
            raise MeshError(
                f"the reader of STEP files does not start ({error.strerror})"
            ) from error
        # A cut file is told by the exit code alone, and by what was not written.
        if done.returncode != 0 or not target.is_file() or not target.stat().st_size:
            raise MeshError(f"it holds no solid that can be read (reader's exit {done.returncode})")
        return target.read_bytes()


def _kept_at(raw: bytes, version: str) -> Path | None:
    folder = cache_folder("step")
    if folder is None:
        return None
    key = hashlib.sha256(f"{version} {OFF!r} 1\n".encode() + hashlib.sha256(raw).digest())
    return folder / f"{key.hexdigest()[:40]}.glb"


def _read(path: Path) -> bytes | None:
    """Return what is kept, None where there is nothing that can be believed."""
    try:
        kept = path.read_bytes()
        os.utime(path)
    except OSError:
        return None
    checksum, found = kept[:32], kept[32:]
    return found if hashlib.sha256(path.stem.encode() + found).digest() == checksum else None


def _keep(path: Path, found: bytes) -> None:
    """Keep a GLB under its key. What cannot be written is left: it will be made again."""
    aside = path.with_name(f".{path.stem}-{os.getpid()}.glb")
    with contextlib.suppress(OSError):
        aside.write_bytes(hashlib.sha256(path.stem.encode() + found).digest() + found)
        aside.replace(path)
        files = sorted(path.parent.glob("*.glb"), key=lambda one: one.stat().st_mtime)
        for old in files[:-_MOST_FILES]:
            old.unlink(missing_ok=True)
