"""A picture of one mesh, from a corner of its box, with the box's sides in mm."""

from __future__ import annotations

from typing import Any, cast

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.outputs import OutputFile
from pathsim.scene.palette import INK, PAPER
from pathsim.view.drawing_start import load_drawing
from pathsim.view.probe import drawn, require_off_screen
from pathsim.view.stills import png_of

#: Grey of its faces; sharper edges than this are drawn, deg.
_GREY, _SHARP = (0.78, 0.78, 0.76), 30.0


def write_mesh_still(mesh: Mesh, out: OutputFile, size: tuple[int, int] = (900, 700)) -> None:
    """Write a PNG of a mesh; its axes stand in its own frame. CannotShow where nothing draws."""
    require_off_screen()
    load_drawing()
    import pyvista as pv

    from pathsim.view.drawable import rgb

    faces = np.column_stack([np.full(len(mesh.faces), 3), mesh.faces])
    data = pv.PolyData(1e3 * mesh.vertices, faces).clean()
    plotter = cast("Any", pv.Plotter(off_screen=True, window_size=list(size)))
    try:
        plotter.set_background(rgb(PAPER))
        plotter.add_mesh(data, color=_GREY)
        edges = data.extract_feature_edges(_SHARP, manifold_edges=False)
        if edges.n_points:
            plotter.add_mesh(edges, color=rgb(INK), line_width=1.5)
        plotter.show_bounds(
            xtitle="x mm", ytitle="y mm", ztitle="z mm", color=rgb(INK), location="outer",
            font_size=11, use_3d_text=False,
        )  # fmt: skip
        plotter.add_axes(color=rgb(INK))
        plotter.view_isometric()
        pixels = plotter.screenshot(return_img=True)
        drawn()
    finally:
        plotter.close()
    out.write(png_of(pixels))
