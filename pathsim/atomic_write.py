"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from pathsim.errors import CannotCheck
from pathsim.stopping import signals_held

#: Stands in the name of all that is not finished: whoever finds such a thing may delete it.
UNFINISHED = "unfinished-"


def write_whole(path: Path, contents: str | bytes) -> None:
    """Write ``contents`` (text as UTF-8) beside ``path`` and rename it there.

    Raises CannotCheck when it fails.
    Whoever reads ``path`` meets the old contents or the new, never half of them, also after a
    power cut. A link stays, and the file that it leads to is written.
    """
    temporary = None
    with signals_held():
        try:
            real = Path(os.path.realpath(path))
            handle, temporary = tempfile.mkstemp(
                dir=real.parent, prefix=f".{real.name}.{UNFINISHED}"
            )
            with os.fdopen(handle, "wb") as stream:
                stream.write(contents.encode() if isinstance(contents, str) else contents)
                stream.flush()
                os.fsync(stream.fileno())
            mode = real.stat().st_mode & 0o777 if real.exists() else 0o644
            Path(temporary).chmod(mode)
            Path(temporary).replace(real)
        except OSError as error:
            raise CannotCheck(f"cannot write '{path}': {error.strerror or error}") from error
        finally:
            if temporary is not None:
                with contextlib.suppress(OSError):
                    Path(temporary).unlink()
