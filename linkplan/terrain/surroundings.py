"""The ground far around some places, for hills beyond the job that stand in the way of the sky."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from pyproj import CRS

from linkplan.errors import DemError, PlaceError
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.horizon import HorizonProfile, combined, horizon_deg
from linkplan.terrain.source import TerrainSource

SKY_REACH_M = 10_000.0
"""A hill 10 km off must rise 1750 m above the antenna to stand 10 degrees high."""

SKY_KNOWN_M = 2000.0
"""Ground known less far than this in a direction leaves the view of the sky there unknown: a hill of 350 m
behind it would stand 10 degrees high."""

SKY_CELLS = 1_500_000


def surroundings(
    terrain: TerrainSource, crs: CRS, spots: Sequence[tuple[float, float]], reach_m: float = SKY_REACH_M
) -> TerrainGrid | None:
    """A coarser grid that reaches `reach_m` beyond all spots (easting, northing in `crs`), as far as there is
    ground; None where none of them stands on known ground."""
    import shapely

    for easting, northing in spots:
        frame = LocalFrame.around(crs, easting, northing)
        at_m = frame.to_local(np.array([one[0] for one in spots]), np.array([one[1] for one in spots]))
        area = shapely.MultiPoint(np.column_stack(at_m)).envelope.buffer(reach_m)
        try:
            return load_terrain(terrain, None, frame=frame, area=area, margin_m=0.0, max_cells=SKY_CELLS)
        except (PlaceError, DemError):
            continue  # this one stands off the ground: another may not
    return None


def horizon_with_far(
    near: HorizonProfile,
    far: TerrainGrid | None,
    spot: tuple[float, float],
    *,
    eye_height_m: float,
    ground_m: float,
) -> HorizonProfile:
    """A horizon out of the fine grid around a spot, carried on by the coarser one of `surroundings`."""
    if far is None:
        return near
    x_m, y_m = (float(part) for part in far.frame.to_local(*spot))
    if far.cell_of(x_m, y_m) is None:
        return near
    around = horizon_deg(
        far.height_m,
        cell_size_m=far.cell_size_m,
        row=min(max(far.base_row - y_m / far.cell_size_m, 0.0), far.shape[0] - 1.0),
        column=min(max(far.base_column + x_m / far.cell_size_m, 0.0), far.shape[1] - 1.0),
        eye_height_m=eye_height_m,
        azimuths_deg=near.azimuths_deg,
        ground_m=ground_m,
        beyond_m=near.known_to_m,
    )
    return combined(near, around)
