"""The ground of the brief's map: classes over the hillshade, their outlines, the boundary."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.coverage.results import CoverageMap
from linkplan.outputs import style
from linkplan.outputs.brief.pictures_job_view import View
from linkplan.outputs.canvas import patch_of
from linkplan.outputs.map_labels import Extent
from linkplan.outputs.picture import ByteImage, class_palette, shade_bytes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GREY_STEP = 4.0
SPECK_IN = 0.03
"""Patches of less than its square are left to their colour."""
SLACK_IN = 0.005
"""How far an outline may be off, an eighth of a millimetre: the file stays small."""
NO_DATA_HATCH = "////"


def draw_ground(axes: Axes, view: View, extent: Extent, most_pixels: int) -> None:
    """Classes over the hillshade, the part that is seen."""
    grid = view.coverage.grid
    cell, (rows, columns) = grid.cell_size_m, grid.shape
    west, _, _, north = grid.extent_m
    first_row = max(math.floor((north - extent[3]) / cell), 0)
    last_row = min(math.ceil((north - extent[1]) / cell), rows)
    first_column = max(math.floor((extent[0] - west) / cell), 0)
    last_column = min(math.ceil((extent[2] - west) / cell), columns)
    step = math.ceil(max(last_row - first_row, last_column - first_column) / most_pixels)
    picture = _tinted(
        view.coverage, (slice(first_row, last_row, step), slice(first_column, last_column, step))
    )
    left, top = west + first_column * cell, north - first_row * cell
    high, wide = picture.shape[0] * step * cell, picture.shape[1] * step * cell
    axes.imshow(picture, extent=(left, left + wide, top - high, top), interpolation="none", zorder=1)


def _tinted(coverage: CoverageMap, part: tuple[slice, slice]) -> ByteImage:
    """Classes over a hillshade of few greys, so that their colours stay as they are in a picture of 256."""
    grey = np.round(shade_bytes(coverage.grid)[part] / GREY_STEP) * GREY_STEP
    ground = np.repeat(np.minimum(grey, 255.0)[..., None], 3, axis=2)
    index = coverage.class_index[part]
    mixed = style.OVERLAY_OPACITY * class_palette(coverage)[index] + (1.0 - style.OVERLAY_OPACITY) * ground
    return np.where((index > 0)[..., None], np.round(mixed), ground).astype(np.uint8)


def draw_class_outlines(axes: Axes, view: View, inch: float) -> None:
    """Fine lines around the classes, a hatch where nothing is known."""
    import shapely

    hatch = np.array(style.HATCH_RGB) / 255.0
    for area in view.areas:
        seen = shapely.clip_by_rect(area.outline, *_wider(view.extent))
        parts = [part for part in shapely.get_parts(seen) if part.geom_type == "Polygon"]
        how: dict[str, Any] = {"ec": hatch, "hatch": NO_DATA_HATCH, "lw": 0.6, "zorder": 2}
        if area.index != 0:
            parts = [part for part in parts if part.area > (SPECK_IN * inch) ** 2]
            how = {"ec": (0, 0, 0, 0.6), "lw": 0.35, "zorder": 2.5}
        if parts:
            outline = shapely.simplify(shapely.MultiPolygon(parts), SLACK_IN * inch)
            axes.add_artist(patch_of(outline, fc="none", **how))


def _wider(extent: Extent) -> Extent:
    """So that a cut edge is drawn outside of the frame."""
    rim = 0.01 * (extent[2] - extent[0])
    return extent[0] - rim, extent[1] - rim, extent[2] + rim, extent[3] + rim


def draw_boundary(axes: Axes, view: View, scale: float, inch: float) -> None:
    outline = view.boundary.simplify(SLACK_IN / 2.0 * inch)
    for colour, width, order in (("white", style.CASING_WIDTH, 4.0), ("black", style.BOUNDARY_WIDTH, 4.1)):
        line = patch_of(outline, fc="none", ec=colour, lw=width * scale, joinstyle="round", zorder=order)
        axes.add_artist(line)


def bare(axes: Axes, extent: Extent) -> None:
    axes.set_xlim(extent[0], extent[2])
    axes.set_ylim(extent[1], extent[3])
    axes.set_aspect("auto")
    axes.set_xticks([])
    axes.set_yticks([])
