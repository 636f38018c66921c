"""Changing several files of a cell together: all of them or none, also when it is cut off.

One rename is whole by itself; several are not. So the old contents are put down first, in one
file. While it is there the cells beside it are not read; ``put_back`` undoes what was done.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from pathsim.atomic_write import UNFINISHED, write_whole
from pathsim.errors import CannotCheck
from pathsim.stopping import signals_held

#: Lies in the folder that holds the cells, since they may share the files that change.
RECORD = f".{UNFINISHED}change.json"


def change_together(root: Path, texts: Mapping[Path, bytes]) -> None:
    """Replace files under ``root``; raises CannotCheck, and then all are as they were."""
    if len(texts) == 1:
        write_whole(*next(iter(texts.items())))
        return
    entries = [
        {
            "file": path.relative_to(root).as_posix(),
            "old": base64.b64encode(path.read_bytes()).decode(),
            "new": _hash(text),
        }
        for path, text in texts.items()
    ]
    with signals_held():
        write_whole(root / RECORD, json.dumps({"files": entries}, indent=1) + "\n")
        try:
            for path, text in texts.items():
                write_whole(path, text)
        except BaseException:
            put_back(root)
            raise
        (root / RECORD).unlink()


def require_whole(root: Path) -> None:
    """Require that no change of the cells under ``root`` was cut off; raises CannotCheck."""
    record = root / RECORD
    if record.exists():
        names = ", ".join(str(entry["file"]) for entry in _entries(record))
        raise CannotCheck(
            f"a change of {names} was cut off half-way, by a power cut or a killed program. Run "
            "'pathsim arm' on this cell once: it puts the old files back"
        )


def put_back(root: Path) -> list[str]:
    """Undo a change that was cut off; return the names of the files that are as before it.

    A file that somebody has changed since is left as it is, and the record is kept beside.
    Raises CannotCheck then, or when something cannot be written.
    """
    record = root / RECORD
    if not record.exists():
        return []
    entries = _entries(record)
    touched = []
    for entry in entries:
        path, old = root / str(entry["file"]), base64.b64decode(str(entry["old"]))
        now = _hash(path.read_bytes()) if path.is_file() else ""
        if now == entry["new"]:
            write_whole(path, old)
        elif now != _hash(old):
            touched.append(str(entry["file"]))
    if touched:
        kept = record.with_name(record.name.lstrip("."))
        record.replace(kept)
        raise CannotCheck(
            f"{', '.join(touched)} was edited after a change was cut off, and was left as it is. "
            f"Look it through; its old contents are in '{kept.name}'"
        )
    record.unlink()
    return [str(entry["file"]) for entry in entries]


def _entries(record: Path) -> list[dict[str, object]]:
    try:
        return list(json.loads(record.read_text(encoding="utf-8"))["files"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CannotCheck(
            f"'{record}' tells of a change that was cut off, and cannot be read. Look the arm and "
            "torch descriptions through, then delete it"
        ) from error


def _hash(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()
