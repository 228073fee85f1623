"""The sky over the working day: the base's, and the rovers' on a lattice over the job."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import PlaceError
from linkplan.gnss.constellations import typical_orbits
from linkplan.gnss.gnss_time import gps_from_utc, leap_seconds_known
from linkplan.gnss.orbit_files import read_orbits
from linkplan.gnss.orbit_sets import TYPICAL, Orbits, join
from linkplan.gnss.positions import SatellitePositions, satellite_positions
from linkplan.plan.model import Plan
from linkplan.plan.sky_model import SkyWishes
from linkplan.sky.results import BaseSky, OrbitsUsed, RoverSky, WorkingDay
from linkplan.sky.view import base_view, rover_view, system_days, worst_time
from linkplan.tables.constellations import SYSTEMS
from linkplan.terrain.grid import BoolArray, TerrainGrid
from linkplan.terrain.horizon import horizon_deg, unknown_share, with_obstructions
from linkplan.terrain.horizon_map import horizons_at
from linkplan.terrain.surroundings import SKY_KNOWN_M, horizon_with_far, surroundings

BASE_AZIMUTHS_DEG = np.arange(0.0, 360.0, 1.0)
ROVER_AZIMUTHS_DEG = np.arange(0.0, 360.0, 5.0)

MOST_PLACES = 1500
"""Places of the job at which rovers' satellites are counted."""

FAR_SPOTS = 300
"""Places for which the ground beyond the job's grid is looked at; the others take the nearest one's."""

OLD_DAYS = 30.0
"""An almanac older than this is said so: its satellites have drifted by some degrees, or moved slots."""

Progress = Callable[[float], None]


def wishes_of(plan: Plan) -> SkyWishes:
    """What the job says about the sky; PlaceError where it says nothing."""
    if plan.sky is None:
        raise PlaceError(
            f"{plan.file}: there is no [sky]; add it with the working hours, e.g. date, from and to"
        )
    return plan.sky


def base_sky(plan: Plan, grid: TerrainGrid) -> tuple[BaseSky, SatellitePositions]:
    """The base's sky on the ground of `grid`, which stands around it, and the satellites' positions.

    Raises AlmanacError for orbit files that cannot serve.
    """
    wishes = wishes_of(plan)
    moments = wishes.hours.moments_utc(wishes.step_s)
    orbits, positions = _orbits_and_positions(wishes)
    ground_m = float(grid.height_m[grid.base_row, grid.base_column])
    near = horizon_deg(
        grid.height_m,
        cell_size_m=grid.cell_size_m,
        row=grid.base_row,
        column=grid.base_column,
        eye_height_m=wishes.base_gnss_height_m,
        azimuths_deg=BASE_AZIMUTHS_DEG,
    )
    spot = plan.base.easting, plan.base.northing
    far = surroundings(plan.terrain, plan.crs, [spot])
    horizon = horizon_with_far(near, far, spot, eye_height_m=wishes.base_gnss_height_m, ground_m=ground_m)
    unknown = unknown_share(horizon, wishes.elevation_mask_deg, SKY_KNOWN_M)
    if wishes.obstructions:
        azimuths, elevations = zip(*wishes.obstructions, strict=True)
        horizon = with_obstructions(horizon, azimuths, elevations)
    longitude, latitude = grid.frame.to_geographic(0.0, 0.0)
    place = float(latitude), float(longitude), ground_m + wishes.base_gnss_height_m
    azimuth, elevation, visible = base_view(positions, place, horizon, wishes.elevation_mask_deg)
    systems, together = system_days(
        positions,
        azimuth,
        elevation,
        visible,
        least_satellites=wishes.least_satellites,
        greatest_pdop=wishes.greatest_pdop,
    )
    sky = BaseSky(
        day=WorkingDay(
            utc=moments,
            local=tuple(wishes.hours.local(moment) for moment in moments),
            time_zone=wishes.hours.zone_name,
            step_s=wishes.step_s,
        ),
        orbits=_used(orbits, positions, wishes),
        latitude_deg=place[0],
        longitude_deg=place[1],
        horizon=horizon,
        unknown_share=unknown,
        mask_deg=wishes.elevation_mask_deg,
        least_satellites=wishes.least_satellites,
        greatest_pdop=wishes.greatest_pdop,
        satellites=positions.satellites,
        azimuth_deg=azimuth,
        elevation_deg=elevation,
        visible=visible,
        systems=systems,
        together=together,
    )
    return sky, positions


def day_positions(plan: Plan) -> SatellitePositions:
    """The satellites of the wanted systems over the working day; AlmanacError as `base_sky`."""
    return _orbits_and_positions(wishes_of(plan))[1]


def rover_sky(
    plan: Plan,
    grid: TerrainGrid,
    inside: BoolArray,
    base: BaseSky,
    positions: SatellitePositions,
    progress: Progress | None = None,
) -> RoverSky:
    """The rovers' sky on a lattice over the job's cells `inside` (rows, columns)."""
    wishes = wishes_of(plan)
    rows, columns, stride = lattice(inside)
    horizons, known_to_m = rover_horizons(plan, grid, rows, columns, progress)
    x_m = (columns - grid.base_column) * grid.cell_size_m
    y_m = (grid.base_row - rows) * grid.cell_size_m
    longitude, latitude = grid.frame.to_geographic(x_m.astype(np.float64), y_m.astype(np.float64))
    ground = np.where(np.isnan(grid.height_m[rows, columns]), 0.0, grid.height_m[rows, columns])
    common, pdop, enough = rover_view(
        positions,
        base.visible,
        (np.asarray(latitude), np.asarray(longitude), ground + wishes.rover_gnss_height_m),
        ROVER_AZIMUTHS_DEG,
        horizons,
        wishes.rover_elevation_mask_deg,
        least_common=wishes.least_common,
        greatest_pdop=wishes.rover_greatest_pdop,
    )
    return RoverSky(
        stride=stride,
        rows=rows,
        columns=columns,
        open_share=_open_shares(horizons, wishes.rover_elevation_mask_deg),
        common=common,
        pdop=pdop,
        enough=enough & ~base.together.held_back[None, :],
        worst_time=worst_time(enough, common),
        least_common=wishes.least_common,
        greatest_pdop=wishes.rover_greatest_pdop,
        wanted_share=wishes.workable_share,
        unknown_share=float(
            np.mean(~(horizons > wishes.rover_elevation_mask_deg) & ~(known_to_m >= SKY_KNOWN_M))
        ),
    )


def rover_horizons(
    plan: Plan,
    grid: TerrainGrid,
    rows: NDArray[np.intp],
    columns: NDArray[np.intp],
    progress: Progress | None = None,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """(P, A) horizons of what ground is known, in the grid and far around it, NaN where none is; and how far
    it is known."""
    wishes = wishes_of(plan)
    eye_m = wishes.rover_gnss_height_m
    near = horizons_at(
        grid.height_m,
        rows,
        columns,
        cell_size_m=grid.cell_size_m,
        eye_height_m=eye_m,
        azimuths_deg=ROVER_AZIMUTHS_DEG,
        progress=progress,
    )
    far = surroundings(plan.terrain, plan.crs, [(plan.base.easting, plan.base.northing)])
    if far is None:
        return near.horizon_deg, near.known_to_m
    spots = np.linspace(0, rows.size - 1, min(FAR_SPOTS, rows.size)).astype(np.intp)
    beyond = np.stack([_beyond(grid, far, int(rows[one]), int(columns[one]), eye_m) for one in spots], axis=1)
    apart = np.hypot(rows[:, None] - rows[spots][None, :], columns[:, None] - columns[spots][None, :])
    further_deg, further_m = beyond[:, apart.argmin(axis=1)]
    horizon, known_to_m = np.fmax(near.horizon_deg, further_deg), np.fmax(near.known_to_m, further_m)
    nowhere = np.isnan(grid.height_m[rows, columns])  # on unknown ground nothing is claimed
    horizon[nowhere], known_to_m[nowhere] = np.nan, 0.0
    return horizon, known_to_m


def _beyond(grid: TerrainGrid, far: TerrainGrid, row: int, column: int, eye_m: float) -> NDArray[np.float32]:
    """(2, A): the horizon of one cell where ground beyond the grid makes it, NaN elsewhere, and how far the
    ground is known then."""
    near = horizon_deg(
        grid.height_m,
        cell_size_m=grid.cell_size_m,
        row=row,
        column=column,
        eye_height_m=eye_m,
        azimuths_deg=ROVER_AZIMUTHS_DEG,
    )
    easting, northing = grid.frame.to_job(*grid.centre_of(row, column))
    ground_m = float(grid.height_m[row, column])
    if math.isnan(ground_m):
        return np.full((2, ROVER_AZIMUTHS_DEG.size), np.nan, dtype=np.float32)
    whole = horizon_with_far(
        near, far, (float(easting), float(northing)), eye_height_m=eye_m, ground_m=ground_m
    )
    made_there = ~(whole.horizon_deg <= near.horizon_deg)
    made = np.where(made_there, whole.horizon_deg, np.nan)
    return np.stack([made, whole.known_to_m]).astype(np.float32)


def lattice(inside: BoolArray, most: int = MOST_PLACES) -> tuple[NDArray[np.intp], NDArray[np.intp], int]:
    """Rows, columns and stride of at most `most` cells spread evenly over those inside."""
    stride = max(1, math.ceil(math.sqrt(inside.sum() / most)))
    while True:
        first = stride // 2
        rows, columns = np.nonzero(inside[first::stride, first::stride])
        if 0 < rows.size <= most:
            return rows * stride + first, columns * stride + first, stride
        if rows.size == 0:  # a thin job between the lattice's lines
            rows, columns = np.nonzero(inside)
            pick = np.linspace(0, rows.size - 1, min(most, rows.size)).astype(np.intp)
            return rows[pick], columns[pick], stride
        stride += 1


def _open_shares(horizons_deg: NDArray[np.floating], mask_deg: float) -> NDArray[np.float64]:
    """Share of the sky's solid angle above the mask that is open; azimuths are evenly spaced."""
    mask = math.radians(mask_deg)
    lowest = np.radians(np.maximum(np.where(np.isnan(horizons_deg), 90.0, horizons_deg), mask_deg))
    share: NDArray[np.float64] = ((1.0 - np.sin(lowest)) / (1.0 - math.sin(mask))).mean(axis=1)
    return share


def _orbits_and_positions(wishes: SkyWishes) -> tuple[Orbits, SatellitePositions]:
    gps_s = np.array([gps_from_utc(moment) for moment in wishes.hours.moments_utc(wishes.step_s)])
    orbits = _orbits(wishes, float(gps_s[len(gps_s) // 2]))
    return orbits, satellite_positions(orbits, gps_s)


def _orbits(wishes: SkyWishes, middle_gps_s: float) -> Orbits:
    """The job's orbit files joined, or the typical constellations; only the wanted systems."""
    if not wishes.orbit_files:
        return typical_orbits(middle_gps_s, wishes.letters)
    orbits = join(tuple(read_orbits(str(path), middle_gps_s) for path in wishes.orbit_files))
    wanted = set(wishes.letters)
    kept = replace(
        orbits,
        kepler=tuple(one for one in orbits.kepler if one.satellite[0] in wanted),
        states=tuple(one for one in orbits.states if one.satellite[0] in wanted),
    )
    if not kept.kepler and not kept.states:
        there = sorted({SYSTEMS[one[0]].name for one in orbits.satellites})
        raise PlaceError(
            f"sky.orbits: the files hold no satellite of {', '.join(wishes.systems)}, but of "
            f"{', '.join(there)}; add a file that does, or name those in sky.systems"
        )
    return kept


def _used(orbits: Orbits, positions: SatellitePositions, wishes: SkyWishes) -> OrbitsUsed:
    notes = [f"{one.count} {one.what} left out" for one in orbits.skipped]
    typical = orbits.kind == TYPICAL
    oldest = 0.0 if typical else float(np.nanmax(np.abs(positions.age_s))) / 86_400.0
    if typical:
        notes.append(
            "no orbit file is given: the constellations as planned, typical, not for a date; put an almanac "
            "of the week into sky.orbits"
        )
    elif oldest > OLD_DAYS:
        notes.append(f"the orbits are up to {oldest:.0f} days from the working day: fetch newer ones")
    missing = [
        name
        for letter, name in zip(wishes.letters, wishes.systems, strict=True)
        if letter not in positions.systems
    ]
    if missing:
        notes.append(f"no orbits of {', '.join(missing)} in the files")
    if not leap_seconds_known(wishes.hours.end_utc):
        notes.append("a leap second may have come since this version was made: times may be off by a second")
    return OrbitsUsed(orbits.source, typical, oldest, orbits.unhealthy, tuple(notes))
