"""What to draw, as plain data: no drawing library is imported here."""

from pathsim.scene.build import build_scene
from pathsim.scene.records import Scene

__all__ = ["Scene", "build_scene"]
