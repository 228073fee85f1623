"""The map as pixels: hillshade, class colours over it, and bands of other quantities."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.results import CoverageMap
from linkplan.outputs import style
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.hillshade import hillshade

ByteImage = NDArray[np.uint8]


MOST_CELLS = 1600
"""Longer side of a picture in cells; of a larger map it shows every second (third...) cell."""


def step_of(grid: TerrainGrid) -> int:
    """Every how many cells of a map a picture of it shows one."""
    return math.ceil(max(grid.shape) / MOST_CELLS)


def shade_bytes(grid: TerrainGrid, step: int = 1) -> ByteImage:
    """Hillshade in shades of grey within the style's range; the legend's grey where missing.

    (rows, columns) of every `step`-th cell. Gentle and steep terrain alike use the whole range: the
    contrast is stretched between the 5th and the 95th percentile, but never more than tenfold, so that
    flat ground stays calm.
    """
    height = grid.height_m[::step, ::step]
    light = hillshade(height, grid.cell_size_m * step)
    known = light[np.isfinite(light)]
    dark, bright = style.HILLSHADE_WHITE
    if known.size == 0:
        return np.full(height.shape, round(255 * style.LEGEND_GREY), dtype=np.uint8)
    low, high = np.percentile(known, [5.0, 95.0])
    middle, span = (low + high) / 2.0, max(high - low, 10.0 * (bright - dark) / 100.0)
    tone = dark + (bright - dark) * np.clip((light - middle) / span + 0.5, 0.0, 1.0)
    return np.round(255.0 * np.where(np.isfinite(tone), tone, style.LEGEND_GREY)).astype(np.uint8)


def class_palette(coverage: CoverageMap) -> NDArray[np.uint8]:
    """(classes + 1, 3) colours by class index; row 0, no data, is of no meaning."""
    palette = np.zeros((max(one.index for one in coverage.classes) + 1, 3), dtype=np.uint8)
    for one in coverage.classes:
        palette[one.index] = style.class_rgb(one, coverage.classes)
    return palette


def class_picture(coverage: CoverageMap, step: int = 1) -> ByteImage:
    """Classes over the hillshade, (rows, columns, 3) of every `step`-th cell; no data is ground alone."""
    ground = np.repeat(shade_bytes(coverage.grid, step)[..., None], 3, axis=2)
    index = coverage.class_index[::step, ::step]
    colour = class_palette(coverage)[index]
    mixed = style.OVERLAY_OPACITY * colour + (1.0 - style.OVERLAY_OPACITY) * ground
    known = (index > 0)[..., None]
    return np.where(known, np.round(mixed), ground).astype(np.uint8)


def band_index(values: NDArray[Any], bands: tuple[style.Band, ...]) -> ByteImage:
    """Number of the band (from 1) that each value falls into, 0 where it is NaN."""
    index = np.zeros(values.shape, dtype=np.uint8)
    for number, band in enumerate(bands, start=1):
        index[(values >= band.low) & (values < band.high)] = number
    return index
