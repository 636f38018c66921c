"""Making the models of files ready without looking for what others have installed beside them.

Before the library that validates files makes its first model ready, it reads the records of every
installed package for extensions of itself, and loads what reads such records. No file of ours is
for anybody's extension to look at, and both together cost a thirtieth of a whole check.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from types import ModuleType

#: Where the library looks for extensions, and what it asks there.
_LOADER, _ASKED = "pydantic.plugin._loader", "get_plugins"


@contextlib.contextmanager
def without_plugins() -> Iterator[None]:
    """Answer, while models are made ready, that there are no extensions.

    Where somebody else in this process has had the library look already, it stays as it is.
    """
    if _LOADER in sys.modules:
        yield
        return
    answer = ModuleType(_LOADER)
    setattr(answer, _ASKED, tuple)
    sys.modules[_LOADER] = answer
    try:
        yield
    finally:
        if sys.modules.get(_LOADER) is answer:
            del sys.modules[_LOADER]
