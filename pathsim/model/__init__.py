"""What a cell is: frozen records, no file, no screen."""

from pathsim.geometry.mesh import Mesh
from pathsim.model.assembly import Assembly
from pathsim.model.axes import Axes
from pathsim.model.bead import Bead
from pathsim.model.cable import Cable
from pathsim.model.cell import Cell
from pathsim.model.groups import Group
from pathsim.model.hoses import Hose
from pathsim.model.margins import Margins
from pathsim.model.move import Move, MoveKind, tack
from pathsim.model.multipass import Multipass, Pass
from pathsim.model.piece import Piece
from pathsim.model.program import Program
from pathsim.model.scenery import Body, Point, Role, ToDo
from pathsim.model.schedule import Schedule
from pathsim.model.shared_room import SharedRoom
from pathsim.model.stitch import Stitch
from pathsim.model.torch import Torch, TorchPiece
from pathsim.model.turning_table import StandsOn, TiltAxis, TurningTable
from pathsim.model.wanted_contact import Search, Station, StationKind
from pathsim.model.weave import DwellCounts, Pattern, Weave

__all__ = [
    "Assembly",
    "Axes",
    "Bead",
    "Body",
    "Cable",
    "Cell",
    "DwellCounts",
    "Group",
    "Hose",
    "Margins",
    "Mesh",
    "Move",
    "MoveKind",
    "Multipass",
    "Pass",
    "Pattern",
    "Piece",
    "Point",
    "Program",
    "Role",
    "Schedule",
    "Search",
    "SharedRoom",
    "StandsOn",
    "Station",
    "StationKind",
    "Stitch",
    "TiltAxis",
    "ToDo",
    "Torch",
    "TorchPiece",
    "TurningTable",
    "Weave",
    "tack",
]
