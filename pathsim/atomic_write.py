"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from pathsim.errors import CannotCheck


def write_whole(path: Path, contents: str | bytes) -> None:
    """Write ``contents`` (text as UTF-8) beside ``path`` and rename it there.

    Raises CannotCheck when it fails.
    Whoever reads ``path`` meets the old contents or the new, never half of them.
    """
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent or Path(), prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as stream:
            stream.write(contents.encode() if isinstance(contents, str) else contents)
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
        Path(temporary).chmod(mode)
        Path(temporary).replace(path)
    except OSError as error:
        raise CannotCheck(f"cannot write '{path}': {error.strerror or error}") from error
    finally:
        if temporary is not None:
            with contextlib.suppress(FileNotFoundError):
                Path(temporary).unlink()
