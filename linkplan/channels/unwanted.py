"""How strong is an unwanted transmitter at a place, for all but the rarest hours?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.propagation import p1812
from linkplan.propagation.free_space import slant_free_space_loss_db
from linkplan.propagation.line_of_sight import multipath_focusing_db
from linkplan.tables import p1812_8
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import Profile, TerrainGrid
from linkplan.terrain.profile import profile_between

FloatArray = NDArray[np.float64]

TIME_PERCENT = 1.0
"""An unwanted signal is taken at the level that it exceeds for this share of the time only."""

FAR_FROM_COAST_KM = 500.0
"""Inland land is assumed all along, as on the map."""

LEAST_POINTS = 5
MOST_CELLS = 1_000_000
"""Cells of the terrain around one transmitter; coarser cells are taken where it would be more."""


@dataclass(frozen=True)
class Source:
    """A transmitter as the paths from it need it."""

    easting: float
    northing: float
    antenna_height_m: float
    frequency_mhz: float
    eirp_dbm: float


@dataclass(frozen=True)
class UnwantedLevels:
    """Levels of one transmitter at the places asked for."""

    level_dbm: FloatArray
    """(n,) at the rover's receiver."""
    bounded: NDArray[np.bool_]
    """(n,) where no terrain reaches all the way, or the path is too short for P.1812: nothing but the
    least loss that P.1812 knows, that of a clear path, so the level is rather too high."""
    distance_m: FloatArray


def ground_around(plan: Plan, easting: float, northing: float) -> TerrainGrid:
    """The ground of the job and a place, around that place; PlaceError where no terrain reaches it."""
    frame = LocalFrame.around(plan.crs, easting, northing)
    area = frame.geometry_to_local(plan.boundary)
    return load_terrain(plan.terrain, plan.clutter, frame=frame, area=area, max_cells=MOST_CELLS)


def ground_if_any(plan: Plan, easting: float, northing: float) -> TerrainGrid | None:
    """The same, or None where no terrain reaches the place."""
    try:
        return ground_around(plan, easting, northing)
    except PlaceError:
        return None


def unwanted_levels(
    plan: Plan,
    source: Source,
    grid: TerrainGrid | None,
    easting: FloatArray,
    northing: FloatArray,
    receive_gain_db: float,
) -> UnwantedLevels:
    """Levels that a transmitter exceeds for 1 % of the time at places in job coordinates, dBm.

    The whole of P.1812-8 a path, median of locations, the transmitter's antenna at its full gain.
    `grid` lies around the transmitter.
    """
    frame = LocalFrame.around(plan.crs, source.easting, source.northing) if grid is None else grid.frame
    x_m, y_m = frame.to_local(np.asarray(easting), np.asarray(northing))
    distance_m = np.hypot(x_m, y_m)
    loss = np.empty(x_m.shape)
    bounded = np.zeros(x_m.shape, dtype=bool)
    for place, (x, y) in enumerate(zip(x_m, y_m, strict=True)):
        profile = _profile(grid, float(x), float(y))
        if profile is None or grid is None:
            loss[place], bounded[place] = least_loss_db(float(distance_m[place]), source.frequency_mhz), True
        else:
            loss[place] = _rare_loss_db(plan, source, grid, profile)
    return UnwantedLevels(source.eirp_dbm - loss + receive_gain_db, bounded, distance_m)


def least_loss_db(distance_m: float, frequency_mhz: float) -> float:
    """The least that P.1812 lets a path lose for all but 1 % of the time, dB: clear, with focusing.

    [P.1812-8, section 4.2: Lb0p, with the horizon distances at their longest, the path itself]
    """
    distance_km = max(distance_m, 1.0) / 1e3
    free = slant_free_space_loss_db(distance_km, 0.0, 0.0, frequency_mhz / 1e3)
    return free + multipath_focusing_db(distance_km, 0.0, TIME_PERCENT)


def _profile(grid: TerrainGrid | None, x_m: float, y_m: float) -> Profile | None:
    """The ground to a place, or None where P.1812 has no answer for it."""
    if grid is None or math.hypot(x_m, y_m) < 1e3 * p1812_8.PATH_LENGTH_KM[0]:
        return None
    profile = profile_between(grid, (0.0, 0.0), (x_m, y_m))
    return profile if profile.complete and profile.distance_m.size >= LEAST_POINTS else None


def _rare_loss_db(plan: Plan, source: Source, grid: TerrainGrid, profile: Profile) -> float:
    (tx_lon, tx_lat), (rx_lon, rx_lat) = (
        grid.frame.to_geographic(float(profile.x_m[end]), float(profile.y_m[end])) for end in (0, -1)
    )
    return p1812.basic_transmission_loss(
        profile.distance_m / 1e3,
        profile.height_m,
        profile.clutter_height_m,
        radio_climatic_zone=p1812_8.INLAND,
        frequency_ghz=source.frequency_mhz / 1e3,
        time_percent=TIME_PERCENT,
        location_percent=50.0,
        tx_height_m=source.antenna_height_m,
        rx_height_m=plan.rover.antenna_height_m,
        polarization=plan.transmitter.polarization,
        tx_latitude_deg=tx_lat,
        tx_longitude_deg=tx_lon,
        rx_latitude_deg=rx_lat,
        rx_longitude_deg=rx_lon,
        refractivity_gradient_n_units_per_km=plan.environment.refractivity_gradient_n_units_per_km,
        sea_level_refractivity_n_units=plan.environment.sea_level_refractivity_n_units,
        tx_to_coast_km=FAR_FROM_COAST_KM,
        rx_to_coast_km=FAR_FROM_COAST_KM,
    ).basic_transmission_loss_db
