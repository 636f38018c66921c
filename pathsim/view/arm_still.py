"""A picture of the arm with all joints at 0 on the display, and the axes of its flange."""

from __future__ import annotations

from typing import Any, cast

import numpy as np

from pathsim.model import Cell
from pathsim.outputs import OutputFile
from pathsim.scene.palette import INK, PAPER
from pathsim.view.drawing_start import load_drawing
from pathsim.view.probe import drawn, require_off_screen
from pathsim.view.stills import png_of

_GREY, _TOOL = (0.80, 0.80, 0.78), (0.62, 0.62, 0.60)
#: Axes of the flange, m long, with the colours that drawings have for x, y and z.
_AXIS = 0.25
#: Right and up in the picture, which looks along (-1, -1, -1); words are so far beside an axis, m.
_RIGHT = np.array([-1.0, 1.0, 0.0]) / np.sqrt(2)
_UP = np.array([-1.0, -1.0, 2.0]) / np.sqrt(6)
_BESIDE = 0.12
_COLOURS = {"x": (0.80, 0.16, 0.12), "y": (0.10, 0.50, 0.18), "z": (0.10, 0.28, 0.75)}


def write_arm_still(cell: Cell, out: OutputFile, size: tuple[int, int] = (900, 800)) -> None:
    """Write a PNG of the arm at its display's zero; CannotShow where nothing draws."""
    require_off_screen()
    load_drawing()
    import pyvista as pv

    from pathsim.view.drawable import rgb

    dof = cell.arm.dof
    q = np.zeros(cell.axes.count)
    q[:dof] = cell.arm.readings.model(np.zeros(dof))
    poses = cell.link_poses(q[None])[0]
    plotter = cast("Any", pv.Plotter(off_screen=True, window_size=list(size)))
    try:
        plotter.set_background(rgb(PAPER))
        links = [(mesh, T, _GREY) for mesh, T in zip(cell.link_meshes, poses, strict=False) if mesh]
        tool = [(piece.mesh, poses[dof], _TOOL) for piece in cell.torch.pieces]
        for mesh, T, colour in (*links, *tool):
            moved = mesh.moved(T)
            faces = np.column_stack([np.full(len(moved.faces), 3), moved.faces])
            data = pv.PolyData(moved.vertices, faces).clean()
            plotter.add_mesh(data, color=colour, opacity=0.55)
            edges = data.extract_feature_edges(30.0, manifold_edges=False)
            if edges.n_points:
                plotter.add_mesh(edges, color=rgb(INK), line_width=1.0)
        # The chain itself, so that an arm without shapes is seen too.
        plotter.add_lines(_pairs(poses[: dof + 1, :3, 3]), color=rgb(INK), width=3)
        flange = poses[dof]
        torch = np.concatenate([flange[None, :3, 3],
                                *(mesh.moved(T).vertices for mesh, T, _ in tool)])  # fmt: skip
        for axis, (name, colour) in enumerate(_COLOURS.items()):
            end = flange[:3, 3] + _AXIS * flange[:3, axis]
            arrow = pv.Arrow(
                start=flange[:3, 3], direction=flange[:3, axis], scale=_AXIS, shaft_radius=0.02,
                tip_radius=0.06, tip_length=0.2,
            )  # fmt: skip
            plotter.add_mesh(arrow, color=colour)
            words = label_place(end, torch)
            plotter.add_lines(np.array([end, words]), color=colour, width=1)
            plotter.add_point_labels([words], [f"{name} of the flange"], text_color=colour,
                                     font_size=16, shape="rect", shape_color=rgb(PAPER),
                                     shape_opacity=0.9, margin=3, show_points=False,
                                     always_visible=True)  # fmt: skip
        plotter.add_text("All joints at 0 on the display. Does your arm stand like this?",
                         font_size=11, color=rgb(INK))  # fmt: skip
        plotter.add_axes(color=rgb(INK), xlabel="x", ylabel="y", zlabel="up")
        plotter.view_isometric()
        plotter.camera.zoom(1.35)
        pixels = plotter.screenshot(return_img=True)
        drawn()
    finally:
        plotter.close()
    out.write(png_of(pixels))


def label_place(end: np.ndarray, torch: np.ndarray) -> np.ndarray:
    """Return where the words for an axis stand, ``(3,)``: beside its ``end`` in the picture.

    On the side on which ``torch (n, 3)``, seen as in the picture, is farthest from the words.
    """
    flat = np.stack([_RIGHT, _UP])
    beside = end + _BESIDE * np.array([s * axis for axis in flat for s in (1.0, -1.0)])
    far = [np.linalg.norm((torch - place) @ flat.T, axis=1).min() for place in beside]
    return np.asarray(beside[int(np.argmax(far))])


def _pairs(points: np.ndarray) -> np.ndarray:
    """Return ends ``(2 n, 3)`` of the lines that join points, without those of no length."""
    ends = np.stack([points[:-1], points[1:]], axis=1)
    long = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) > 1e-6
    return np.asarray(ends[long].reshape(-1, 3))
