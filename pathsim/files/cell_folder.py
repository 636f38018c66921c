"""``load_cell``: a folder to a ``Cell``, or every fault in it at once."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from pathsim.clearance.obstacle import ARM_BASE
from pathsim.errors import CannotCheck, LineError
from pathsim.files.arm_file import ArmDescription, read_arm
from pathsim.files.body_shapes import body_mesh
from pathsim.files.cables import read_cables
from pathsim.files.cell_schema import CellFile
from pathsim.files.contents import CELL_FILE, Contents, own_folder, require_cell
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.frames import frame_names, pose_frame
from pathsim.files.groups import (
    check_bears,
    check_groups,
    check_reach,
    check_stand,
    placement,
    read_groups,
    standing_place,
)
from pathsim.files.hoses import read_hoses
from pathsim.files.left_out_parts import with_meant
from pathsim.files.mesh_source import MeshSource
from pathsim.files.paths import confined, shown
from pathsim.files.points_file import PointsTable, read_points
from pathsim.files.points_header import points_form
from pathsim.files.program_reader import read_program
from pathsim.files.standing_schema import TableAxisEntry
from pathsim.files.together import require_whole
from pathsim.files.torch_file import read_torch
from pathsim.files.wanted_contacts import read_stations, require_wanted
from pathsim.files.yaml_source import YamlSource, read_validated
from pathsim.mesh_files import drawn_to
from pathsim.model import (
    Assembly,
    Body,
    Cable,
    Cell,
    Hose,
    Margins,
    Program,
    TiltAxis,
    Torch,
    TurningTable,
)
from pathsim.model.groups import STANDS
from pathsim.model.torch import WIRE
from pathsim.model.turning_table import StandsOn
from pathsim.transforms import Array


def load_cell(folder: str | Path, instead: Mapping[Path, bytes] | None = None) -> Cell:
    """Load a cell folder (or its ``cell.yaml``).

    Raises CellFaults with every fault of every file, CannotCheck when there is no such
    folder. Nothing is returned from half a cell. ``instead``: bytes by real path, read in the
    place of what is on disk.
    """
    path = own_folder(folder)
    require_cell(folder, path)
    require_whole(path.resolve().parent)
    faults = FaultList()
    cell = _Loader(path.resolve(), faults, Contents(instead or {})).load()
    faults.raise_if_any()
    if cell is None:
        raise CannotCheck("the cell could not be put together")
    return cell


class _Loader:
    """Reads all files of one cell and goes on after a fault, to find the others too."""

    def __init__(self, folder: Path, faults: FaultList, contents: Contents) -> None:
        self._folder = folder
        self._root = folder.parent
        self._faults = faults
        self._meshes = MeshSource(self._root, faults, contents)

    def load(self) -> Cell | None:
        """Return the cell; None after a fault."""
        name = shown(self._folder / CELL_FILE, self._root)
        contents = self._meshes.contents
        read = read_validated(self._folder / CELL_FILE, name, CellFile, contents, self._faults)
        if read is None:
            return None
        source, file = read
        arm_path = self._described(source, ("arm", "description"), file.arm.description)
        torch_path = self._described(source, ("torch", "description"), file.torch.description)
        arm = torch = None
        if arm_path is not None:
            arm = read_arm(arm_path, shown(arm_path, self._root), self._meshes, self._faults)
        if torch_path is not None:
            torch = read_torch(
                torch_path,
                shown(torch_path, self._root),
                file.torch.wire,
                self._meshes,
                self._faults,
            )
        bodies = self._bodies(file, source, arm)
        T_world_base = placement(file.arm.at, file.arm.turned)
        if arm is None:
            return None
        taken = [body.name for body in file.bodies]
        taken += [] if torch is None else [piece.name for piece in torch.pieces]
        cables = read_cables(file.cables, source, arm.arm, taken, self._faults)
        points = self._points(file, source, arm, T_world_base)
        names = points.lines if points.is_readable else None
        program = read_program(file, source, names, self._faults)
        pieces = None if torch is None else [*(piece.name for piece in torch.pieces), WIRE]
        require_wanted(file, source, pieces, self._faults)
        hoses = read_hoses(file.hoses, arm.arm, source, self._faults)
        assemblies = self._meshes.assemblies(file.assemblies)
        if torch is not None and not len(self._faults):
            assemblies = with_meant(assemblies, file.left_out, source, self._faults)
        if torch is None or program is None or len(self._faults):
            return None  # a cell of faulty files would not even be one
        try:
            return self._cell(
                file,
                arm,
                torch,
                bodies,
                points,
                program,
                cables,
                hoses,
                T_world_base,
                assemblies,
            )
        except LineError as error:
            self._faults.add(source.shown, error.line, "program", error.came, error.expected)
            return None

    def _cell(
        self,
        file: CellFile,
        arm: ArmDescription,
        torch: Torch,
        bodies: list[Body],
        points: PointsTable,
        program: Program,
        cables: tuple[Cable, ...],
        hoses: tuple[Hose, ...],
        T_world_base: Array,
        assemblies: tuple[Assembly, ...],
    ) -> Cell:
        """Return the cell of files that were read without a fault."""
        seam = file.margins.seam
        approach = seam if file.margins.approach is None else file.margins.approach
        return Cell(
            name=file.name,
            arm=arm.arm,
            T_world_base=T_world_base,
            link_meshes=arm.link_meshes,
            links_drawn_to=arm.drawn_to,
            assemblies=assemblies,
            tip_speed=arm.tip_speed,
            tip_acceleration=arm.tip_acceleration,
            tip_jerk=arm.tip_jerk,
            natural_frequency=arm.natural_frequency,
            override=file.override,
            process=None if file.process is None else file.process.process,
            torch=torch,
            bodies=tuple(bodies),
            points=points.points,
            margins=Margins(file.margins.air, approach, seam),
            program=program,
            fingerprint=self._fingerprint(),
            files=tuple(sorted(self._meshes.contents.digests)),
            table=_table(file),
            approximate_links=arm.approximate,
            shared_room=arm.shared,
            cables=cables,
            hoses=hoses,
            weaves=tuple(file.weaves),
            schedules=tuple(file.schedules),
            subprograms=tuple(file.subprograms),
            to_do=tuple(dict.fromkeys(file.to_do)),
            groups=tuple(read_groups(file).values()),
            stations=read_stations(file),
            labels=file.sheet.labels,
        )

    def _described(self, source: YamlSource, location: tuple[str, str], text: str) -> Path | None:
        path, wrong = confined(text, self._folder, self._root)
        if path is None:
            self._faults.add(
                source.shown,
                source.line(location),
                ".".join(location),
                f"'{text}' {wrong}",
                "a path relative to this file, inside the folder that holds the cell folder",
            )
        return path

    def _bodies(self, file: CellFile, source: YamlSource, arm: ArmDescription | None) -> list[Body]:
        bodies: list[Body] = []
        check_groups(file, source, self._faults)
        groups = read_groups(file)
        names: dict[str, int | None] = {ARM_BASE: None}
        for index, entry in enumerate(file.bodies):
            line, key = source.line(("bodies", index)), f"bodies[{index + 1}]"
            if entry.name in names:
                came = f"the name '{entry.name}' stands in line {names[entry.name]} already"
                if entry.name == ARM_BASE:
                    came = f"the name '{ARM_BASE}' is the arm's own"
                self._faults.add(source.shown, line, f"{key}.name", came, "a name for each body")
            names.setdefault(entry.name, line)
            mesh = body_mesh(entry, index, source, self._folder, self._meshes, self._faults,
                             file.mesh_folder)  # fmt: skip
            if mesh is not None:
                T, stands_on, known_to = standing_place(entry, file.groups)
                group = groups.get(entry.on or "")
                body = Body(
                    entry.name, entry.role, mesh, T, stands_on is StandsOn.TABLE,
                    None if group else entry.bears, entry.unit or "", known_to,
                    None if group is None else group.name,
                    max(entry.drawn_to or 0.0, drawn_to(Path(entry.mesh or ""))),
                    stands_on is StandsOn.TILT,
                )  # fmt: skip
                bodies.append(body)
                if group is not None:
                    line_of = source.line(("groups", group.name))
                    check_reach(body, group, line_of, source, self._faults)
            if entry.bears == "arm" and arm is not None and not arm.arm.has_rail:
                came = "it bears the arm, which stands on no rail"
                rule = "'bears: arm' for the bed of a rail only"
                self._faults.add(source.shown, line, key, came, rule)
            if entry.on not in (None, *STANDS, *file.groups):
                came = f"on '{entry.on}', which is no group of this cell"
                rule = ", ".join([*STANDS, *(f"'{name}'" for name in file.groups)])
                rule += "" if file.groups else ", or a name that stands under 'groups'"
                cure = did_you_mean(entry.on or "", [*STANDS, *file.groups])
                cure = cure or f"Add it: 'groups: {{{entry.on}: {{at: 1000 0 750 mm}}}}'."
                self._faults.add(source.shown, line, f"{key}.on", came, rule, cure)
            check_stand(entry.on, file, source, line, key, self._faults)
            check_bears(entry, file, source, line, key, self._faults)
        return bodies

    def _points(
        self, file: CellFile, source: YamlSource, arm: ArmDescription, T_world_base: Array
    ) -> PointsTable:
        path = self._described(source, ("points", "file"), file.points.file)
        if path is None:
            return PointsTable()
        name = shown(path, self._root)
        entry = file.points
        groups, turning = read_groups(file), _table(file)
        form = points_form(arm.arm, turning, entry.rotation, entry.frame)
        known = frame_names(groups, turning)
        if entry.frame is not None and entry.frame not in known:
            line = source.line(("points", "frame"))
            came, cure = f"'{entry.frame}'", did_you_mean(entry.frame, known)
            rule = f"one of: {', '.join(known)}"
            self._faults.add(source.shown, line, "points.frame", came, rule, cure)
            return PointsTable()
        frame = pose_frame(entry.frame, T_world_base, groups, turning)
        table = read_points(path, name, form, arm.arm, frame, self._faults, entry.layout)
        self._meshes.contents.digests[name] = table.digest
        return table

    def _fingerprint(self) -> str:
        """Return a hash over names and contents of all files that were read."""
        total = hashlib.sha256()
        for name, digest in sorted(self._meshes.contents.digests.items()):
            total.update(name.encode() + b"\0" + digest)
        return total.hexdigest()


def _table(file: CellFile) -> TurningTable | None:
    """Return the turning table, None when the cell has none."""
    entry = file.turning_table
    if entry is None:
        return None
    tilt = None if entry.tilt is None else TiltAxis(*_axis(entry.tilt))
    return TurningTable(*_axis(entry), tilt)


def _axis(entry: TableAxisEntry) -> tuple[Array, float, float, float, float]:
    """Return place, limits, speed and acceleration of an axis."""
    T = placement(entry.at, entry.turned)
    return T, *entry.limits, entry.speed, entry.acceleration
