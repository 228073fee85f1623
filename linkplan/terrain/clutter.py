"""Class rasters of what stands on the ground, turned into heights above ground on the local grid."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import DemError
from linkplan.terrain import raster
from linkplan.terrain.grid import BoolArray, FloatArray
from linkplan.terrain.raster import RasterFacts
from linkplan.terrain.resample import Layout
from linkplan.terrain.source import ClutterSource

MOST_CODES_SHOWN = 12
KIND = "clutter file"


@dataclass(frozen=True)
class Clutter:
    """What stands on the cells of a grid; arrays (rows, columns)."""

    height_m: FloatArray
    """Above ground; NaN where no class is known."""
    class_number: NDArray[np.uint32]
    """Which of `codes`, from 1; 0 where no class is known."""
    codes: tuple[int, ...]
    """Those of the class table, ascending."""


def clutter_on(layout: Layout, clutter: ClutterSource) -> Clutter:
    """The class at each cell's centre and its height.

    The class is that of the raster's cell which holds the centre: codes are not averaged. A code that the
    class table lacks raises DemError, since a wrong height is worse than none.
    """
    code, known = _codes_on(layout, clutter)
    found = np.unique(code[known])
    strange = [value for value in found.tolist() if value not in clutter.heights_m]
    if strange:
        shown = ", ".join(f"{value:g}" for value in strange[:MOST_CODES_SHOWN])
        more = f" and {len(strange) - MOST_CODES_SHOWN} more" if len(strange) > MOST_CODES_SHOWN else ""
        listed = ", ".join(str(value) for value in sorted(clutter.heights_m)) or "none"
        raise DemError(
            f"{KIND} {clutter.file}: holds class {shown}{more} without a height; the class table has {listed}"
        )
    codes = tuple(sorted(clutter.heights_m))
    number = np.zeros(code.shape, dtype=np.uint32)
    number[known] = np.searchsorted(np.array(codes, dtype=np.float64), code[known]) + 1
    height_m = np.array([np.nan, *(clutter.heights_m[one] for one in codes)])[number]
    return Clutter(height_m, number, codes)


def _codes_on(layout: Layout, clutter: ClutterSource) -> tuple[NDArray[np.float64], BoolArray]:
    """Class code at each cell's centre, and whether there is one."""
    facts = raster.describe(clutter.file, kind=KIND)
    raster.require_way(facts.crs, layout.frame.job_crs, clutter.file, KIND)
    code, known = _codes_as_placed(layout, clutter, facts, 0.0)
    if facts.crs.is_geographic:  # longitudes may count on across the 180th meridian
        turn = 2.0 * math.pi / facts.crs.axis_info[0].unit_conversion_factor
        for shift in (-turn, turn):
            if not known.all():
                more, found = _codes_as_placed(layout, clutter, facts, shift)
                np.copyto(code, more, where=found & ~known)
                known |= found
    return code, known


def _codes_as_placed(
    layout: Layout, clutter: ClutterSource, facts: RasterFacts, shift: float
) -> tuple[NDArray[np.float64], BoolArray]:
    """The same with the raster moved east by `shift` in its own unit."""
    from affine import Affine
    from rasterio.vrt import WarpedVRT
    from rasterio.warp import Resampling

    with raster.opened(clutter.file, KIND) as dataset:
        alpha = raster.alpha_band(dataset)
        with WarpedVRT(
            dataset,
            src_crs=facts.crs.to_wkt(),
            src_transform=Affine.translation(shift, 0.0) @ facts.transform,
            crs=layout.local_wkt,
            transform=layout.affine,
            width=layout.columns,
            height=layout.rows,
            resampling=Resampling.nearest,
            add_alpha=dataset.nodata is None and alpha is None,
            warp_mem_limit=raster.CACHE_MB,
            tolerance=0.01,
        ) as warped:
            code = warped.read(1).astype(np.float64)
            known: BoolArray = warped.dataset_mask() != 0
            if alpha is not None:
                known &= warped.read(alpha) != 0
    return code, known & np.isfinite(code)
