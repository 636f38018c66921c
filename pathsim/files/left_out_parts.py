"""Parts of mesh files of which the cell file says that they are left out on purpose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Assembly

KEY = "left out"


def with_meant(
    assemblies: Sequence[Assembly],
    said: Mapping[str, Sequence[str]],
    source: YamlSource,
    faults: FaultList,
) -> tuple[Assembly, ...]:
    """Return files of several parts with those that are left out on purpose.

    ``said``: parts under the file's name, or under its path as ``mesh`` has it. A file or a part
    that is not there, or is in the cell after all, is a fault.
    """
    found = list(assemblies)
    for name, parts in said.items():
        matching = [k for k, one in enumerate(found) if _is_named(one.file, name)]
        if len(matching) != 1:
            files = [one.file for one in found]
            came = f"{'several files are' if matching else 'no file of which parts are used is'}"
            expected = f"one of: {', '.join(files)}" if files else "none: no body has a 'part'"
            faults.add(source.shown, source.line((KEY, name)), f"{KEY}.{name}",
                       f"{came} called '{name}'", expected, did_you_mean(name, files))  # fmt: skip
            continue
        one = found[matching[0]]
        users = dict(one.parts)
        meant = []
        for part in parts:
            if part not in users:
                came, expected = f"'{name}' has no part '{part}'", f"one of: {', '.join(users)}"
                cure = did_you_mean(part, users)
            elif users[part]:
                came, expected = f"part '{part}' is {' and '.join(users[part])}", "parts in no body"
                cure = "Take it out of this list, or take the body out."
            else:
                meant.append(part)
                continue
            line = source.line((KEY, name))
            faults.add(source.shown, line, f"{KEY}.{name}", came, expected, cure)
        found[matching[0]] = replace(one, meant=(*one.meant, *dict.fromkeys(meant)))
    return tuple(found)


def _is_named(file: str, name: str) -> bool:
    return file == name or file.endswith(f"/{name}")
