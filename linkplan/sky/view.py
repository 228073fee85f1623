"""Satellites over one place and over many, against their horizons: counts, dilution, and if they suffice."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from linkplan.gnss.dop import dilution, unit_vectors
from linkplan.gnss.positions import SatellitePositions
from linkplan.gnss.visibility import BoolArray, FloatArray, above, horizon_at, look, visible_over_area
from linkplan.sky.results import RoverSky, SystemDay
from linkplan.tables.constellations import SYSTEMS
from linkplan.terrain.horizon import HorizonProfile

PLACES_AT_ONCE = 512


def base_view(
    positions: SatellitePositions,
    place: tuple[float, float, float],
    horizon: HorizonProfile,
    mask_deg: float,
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Azimuth, elevation and view (S, T) from a place (latitude, longitude in degrees, height in m).

    A satellite counts where it is healthy, over the mask and over the horizon; a direction whose ground is
    unknown shows what is known of it.
    """
    directions = look(positions.ecef_m, *place)
    standing = np.where(np.isnan(horizon.horizon_deg), -90.0, horizon.horizon_deg)
    edge = horizon_at(directions.azimuth_deg, horizon.azimuths_deg, standing)
    seen = above(directions, mask_deg, edge) & positions.usable
    return directions.azimuth_deg, directions.elevation_deg, seen


def system_days(
    positions: SatellitePositions,
    azimuth_deg: FloatArray,
    elevation_deg: FloatArray,
    visible: BoolArray,
    *,
    least_satellites: int,
    greatest_pdop: float,
) -> tuple[tuple[SystemDay, ...], SystemDay]:
    """Every system by itself, and all together (a clock for each), against the base's gate."""
    directions = unit_vectors(azimuth_deg, elevation_deg)
    letters = positions.systems

    def day(name: str, wanted: BoolArray) -> SystemDay:
        seen = visible & wanted[:, None]
        found = dilution(directions, seen, letters)
        held = ~((found.satellites >= least_satellites) & (found.pdop <= greatest_pdop))
        return SystemDay(name, found.satellites, found.pdop, found.hdop, found.vdop, held)

    names = [letter for letter in SYSTEMS if (letters == letter).any()]
    each = tuple(day(SYSTEMS[letter].name, letters == letter) for letter in names)
    return each, day("all", np.ones(len(letters), dtype=bool))


def rover_view(
    positions: SatellitePositions,
    base_visible: BoolArray,
    places: tuple[FloatArray, FloatArray, FloatArray],
    azimuths_deg: FloatArray,
    horizons_deg: NDArray[np.floating],
    mask_deg: float,
    *,
    least_common: int,
    greatest_pdop: float,
) -> tuple[NDArray[np.uint8], NDArray[np.float32], BoolArray]:
    """Common satellites with the base, their PDOP, and whether both suffice: (P, T) each.

    `places`: latitudes, longitudes in degrees and heights in m, (P,) each; `horizons_deg` (P, A), NaN where
    unknown: nothing is seen there.
    """
    latitude, longitude, height = places
    middle = len(latitude) // 2
    directions = look(positions.ecef_m, latitude[middle], longitude[middle], height[middle])
    vectors = unit_vectors(directions.azimuth_deg, directions.elevation_deg)
    shape = len(latitude), positions.gps_s.size
    common = np.zeros(shape, dtype=np.uint8)
    pdop = np.full(shape, np.nan, dtype=np.float32)
    seen_by_base = base_visible & positions.usable
    kept = seen_by_base.any(axis=1)
    for first in range(0, shape[0], PLACES_AT_ONCE):
        part = slice(first, min(first + PLACES_AT_ONCE, shape[0]))
        seen = visible_over_area(
            positions.ecef_m[kept], latitude[part], longitude[part], height[part], mask_deg,
            azimuths_deg, horizons_deg[part],
        )  # fmt: skip
        seen &= seen_by_base[kept]
        found = dilution(vectors[kept], seen, positions.systems[kept])
        common[part] = np.minimum(found.satellites, 255)
        pdop[part] = found.pdop
    enough = (common >= least_common) & (pdop <= np.float32(greatest_pdop))
    return common, pdop, enough


def worst_time(enough: BoolArray, common: NDArray[np.uint8]) -> int:
    """Index of the time with the fewest places that have enough; of equals the one with fewest satellites."""
    return int(np.lexsort((common.sum(axis=0, dtype=np.int64), enough.sum(axis=0)))[0])


def on_cells(rover: RoverSky, wanted: BoolArray) -> NDArray[np.intp]:
    """Index of the lattice's place nearest to each wanted cell of the grid, in row-major order."""
    from scipy.spatial import cKDTree

    tree = cKDTree(np.column_stack([rover.rows, rover.columns]))
    _, nearest = tree.query(np.column_stack(np.nonzero(wanted)))
    return np.asarray(nearest, dtype=np.intp)


def names_of(systems: Sequence[str]) -> str:
    """Letters of systems by their names, in the tables' order; names that are none are left out."""
    return "".join(letter for letter, one in SYSTEMS.items() if one.name in systems)
