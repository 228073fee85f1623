"""The map as pixels: hillshade, class colours over it, and bands of other quantities."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.results import CoverageMap
from linkplan.outputs import style
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.hillshade import hillshade

ByteImage = NDArray[np.uint8]


def shade_bytes(grid: TerrainGrid) -> ByteImage:
    """Hillshade in shades of grey within the style's range, (rows, columns); the legend's grey where missing.

    Gentle and steep terrain alike use the whole range: the contrast is stretched between the 5th and the
    95th percentile, but never more than tenfold, so that flat ground stays calm.
    """
    light = hillshade(grid.height_m, grid.cell_size_m)
    known = light[np.isfinite(light)]
    dark, bright = style.HILLSHADE_WHITE
    if known.size == 0:
        return np.full(grid.shape, round(255 * style.LEGEND_GREY), dtype=np.uint8)
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


def class_picture(coverage: CoverageMap) -> ByteImage:
    """Classes over the hillshade, (rows, columns, 3); no data shows the ground alone."""
    ground = np.repeat(shade_bytes(coverage.grid)[..., None], 3, axis=2)
    colour = class_palette(coverage)[coverage.class_index]
    mixed = style.OVERLAY_OPACITY * colour + (1.0 - style.OVERLAY_OPACITY) * ground
    known = (coverage.class_index > 0)[..., None]
    return np.where(known, np.round(mixed), ground).astype(np.uint8)


def band_index(values: NDArray[Any], bands: tuple[style.Band, ...]) -> ByteImage:
    """Number of the band (from 1) that each value falls into, 0 where it is NaN."""
    index = np.zeros(values.shape, dtype=np.uint8)
    for number, band in enumerate(bands, start=1):
        index[(values >= band.low) & (values < band.high)] = number
    return index
