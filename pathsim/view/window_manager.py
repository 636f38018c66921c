"""Asks the window manager of an X screen to give a window the whole of it, without its frame."""

from __future__ import annotations

import ctypes
import ctypes.util
import re
from typing import Any

_CLIENT_MESSAGE = 33
_WINDOW_TYPE = 33  # XA_WINDOW
#: Window managers listen on the root window for these kinds of events.
_TO_MANAGER = (1 << 19) | (1 << 20)  # SubstructureNotifyMask | SubstructureRedirectMask
_REMOVE, _ADD, _FROM_APPLICATION = 0, 1, 1
_ErrorHandler = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p)


class _ClientMessage(ctypes.Structure):
    """XClientMessageEvent of Xlib, as long as XEvent."""

    _fields_ = (
        ("type", ctypes.c_int),
        ("serial", ctypes.c_ulong),
        ("send_event", ctypes.c_int),
        ("display", ctypes.c_void_p),
        ("window", ctypes.c_ulong),
        ("message_type", ctypes.c_ulong),
        ("format", ctypes.c_int),
        ("data", ctypes.c_long * 5),
        ("rest", ctypes.c_long * 24),
    )


def ask_for_whole_screen(window: Any, *, on: bool) -> bool:
    """Ask the manager that is there; False where there is none, or no X screen at all.

    Source: Extended Window Manager Hints, _NET_WM_STATE.
    """
    found = re.match(r"_([0-9a-fA-F]+)_p_", str(window.GetGenericWindowId()))
    library = ctypes.util.find_library("X11")
    if not window.GetClassName().startswith("vtkXOpenGL") or found is None or library is None:
        return False
    x = ctypes.CDLL(library)
    x.XOpenDisplay.restype = ctypes.c_void_p
    x.XDefaultRootWindow.restype = x.XInternAtom.restype = ctypes.c_ulong
    opened = x.XOpenDisplay(None)
    if not opened:
        return False
    display = ctypes.c_void_p(opened)
    try:
        root = ctypes.c_ulong(x.XDefaultRootWindow(display))
        if not _has_manager(x, display, root):
            return False
        state, full = (
            x.XInternAtom(display, name, 0)
            for name in (b"_NET_WM_STATE", b"_NET_WM_STATE_FULLSCREEN")
        )
        data = (ctypes.c_long * 5)(_ADD if on else _REMOVE, full, 0, _FROM_APPLICATION, 0)
        event = _ClientMessage(
            type=_CLIENT_MESSAGE, send_event=1, window=int(found[1], 16), message_type=state,
            format=32, data=data,
        )  # fmt: skip
        x.XSendEvent(display, root, 0, ctypes.c_long(_TO_MANAGER), ctypes.byref(event))
        x.XSync(display, 0)
    finally:
        x.XCloseDisplay(display)
    return True


def _has_manager(x: Any, display: ctypes.c_void_p, root: ctypes.c_ulong) -> bool:
    """Tell whether a window manager is there, and not only the word of one that has gone.

    Some leave their word on the root window when they end. One that is there has a window whose
    own word names itself. Source: Extended Window Manager Hints, _NET_SUPPORTING_WM_CHECK.
    """
    name = x.XInternAtom(display, b"_NET_SUPPORTING_WM_CHECK", 0)
    named = _window_in(x, display, root, name)
    if not named:
        return False
    ignore = _ErrorHandler(lambda _display, _error: 0)  # a window that has gone ends the program
    x.XSetErrorHandler.restype = ctypes.c_void_p
    usual = x.XSetErrorHandler(ignore)
    try:
        return _window_in(x, display, ctypes.c_ulong(named), name) == named
    finally:
        x.XSync(display, 0)
        x.XSetErrorHandler(ctypes.c_void_p(usual))


def _window_in(x: Any, display: ctypes.c_void_p, window: ctypes.c_ulong, name: int) -> int:
    """Return the window that a property of a window names; 0: there is none."""
    kind, items, left = ctypes.c_ulong(), ctypes.c_ulong(), ctypes.c_ulong()
    width, values = ctypes.c_int(), ctypes.c_void_p()
    x.XGetWindowProperty(
        display, window, ctypes.c_ulong(name), ctypes.c_long(0), ctypes.c_long(1), 0,
        ctypes.c_ulong(_WINDOW_TYPE), ctypes.byref(kind), ctypes.byref(width), ctypes.byref(items),
        ctypes.byref(left), ctypes.byref(values),
    )  # fmt: skip
    if not values.value:
        return 0
    found = ctypes.cast(values, ctypes.POINTER(ctypes.c_ulong))[0] if items.value else 0
    x.XFree(values)
    return int(found)
