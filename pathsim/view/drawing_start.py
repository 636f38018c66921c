"""Starting the plotting library without what it would load beside itself and no picture needs.

Pictures of a single mesh and of the arm at zero have its axes with numbers; all else is drawn by
``plotter.py`` without it. It loads the whole of matplotlib's plotting, for colours of charts that
nobody here draws, and mypy too where that is installed. While it starts, stand-ins are in their
place; who asks a stand-in for anything gets it from the real one.
"""

from __future__ import annotations

import functools
import importlib
import sys
from types import ModuleType
from typing import Any

_LIBRARY = "pyvista.plotting"
_PLOTS, _CANVAS = "matplotlib.pyplot", "matplotlib.backends.backend_agg"
_TYPES = "mypy"


class _StandIn(ModuleType):
    """Loads the module it stands for when somebody asks it for something."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        if sys.modules.get(self.__name__) is self:  # the library takes a name, and uses it later
            return functools.partial(self._call, name)
        return getattr(importlib.import_module(self.__name__), name)

    def _call(self, name: str, *values: Any, **named: Any) -> Any:
        return getattr(self, name)(*values, **named)


def load_drawing() -> None:
    """Load the plotting library; others in this process find all that was left out as ever."""
    if _LIBRARY in sys.modules:
        return
    stand_ins: dict[str, ModuleType | None] = {
        name: _StandIn(name) for name in (_PLOTS, _CANVAS) if name not in sys.modules
    }
    if _TYPES not in sys.modules:
        stand_ins[_TYPES] = None  # how the import system writes down that there is none
    sys.modules.update(stand_ins)  # type: ignore[arg-type]
    try:
        importlib.import_module(_LIBRARY)
    finally:
        for name, module in stand_ins.items():
            if sys.modules.get(name, name) is module:
                del sys.modules[name]
