"""The 3D window and stills. Drawing libraries are imported only when something is shown."""

from pathsim.view.probe import CannotShow

__all__ = ["CannotShow"]
