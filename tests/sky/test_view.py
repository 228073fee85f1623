"""Counts and dilution of base and rovers against plain loops and numpy's own least squares."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from linkplan.gnss.constellations import typical_orbits
from linkplan.gnss.gnss_time import gps_from_utc
from linkplan.gnss.positions import SatellitePositions, satellite_positions
from linkplan.gnss.visibility import look
from linkplan.sky.results import RoverSky
from linkplan.sky.view import base_view, on_cells, rover_view, system_days, worst_time
from linkplan.terrain.horizon import HorizonProfile

AZIMUTHS = np.arange(0.0, 360.0, 10.0)
PLACE = (46.2, 7.4, 600.0)


@pytest.fixture(scope="module")
def positions() -> SatellitePositions:
    """Four planned constellations over six hours; one satellite called unhealthy."""
    start = gps_from_utc(datetime.datetime(2026, 5, 3, 6, 0, tzinfo=datetime.UTC))
    orbits = typical_orbits(start, "GREC")
    found = satellite_positions(orbits, start + 1800.0 * np.arange(12))
    found.usable[3] = False
    return found


def profile(horizon_deg: np.ndarray) -> HorizonProfile:
    far = np.full(AZIMUTHS.size, 20_000.0)
    return HorizonProfile(AZIMUTHS, horizon_deg, far, far)


def plain_pdop(rows: np.ndarray, systems: np.ndarray) -> float:
    """Square root of the place's part of the trace of (A'A)^-1, a clock for each system."""
    clocks = (systems[:, None] == np.unique(systems)[None, :]).astype(float)
    design = np.hstack([rows, clocks])
    if design.shape[0] < design.shape[1]:
        return float("nan")
    return float(np.sqrt(np.trace(np.linalg.inv(design.T @ design)[:3, :3])))


def test_a_wall_in_the_south_hides_what_stands_behind_it(positions: SatellitePositions) -> None:
    # from 90 to 270 degrees the ground stands 40 degrees high
    wall = np.where((AZIMUTHS >= 90.0) & (AZIMUTHS <= 270.0), 40.0, 0.0)
    azimuth, elevation, seen = base_view(positions, PLACE, profile(wall), 10.0)
    directions = look(positions.ecef_m, *PLACE)
    for one, time in np.ndindex(seen.shape):
        at = directions.azimuth_deg[one, time]
        # straight from 0 to 40 degrees within the 10 degrees beside the wall's ends
        edge = 40.0 * np.clip(min(at - 80.0, 280.0 - at) / 10.0, 0.0, 1.0)
        free = directions.elevation_deg[one, time] >= 10.0 and directions.elevation_deg[one, time] > edge
        assert seen[one, time] == (free and one != 3)
    assert np.array_equal(azimuth, directions.azimuth_deg)
    assert np.array_equal(elevation, directions.elevation_deg)
    _, _, free_sky = base_view(positions, PLACE, profile(np.zeros(AZIMUTHS.size)), 10.0)
    # this far north most of the sky's satellites are in the south
    assert seen.sum() < 0.8 * free_sky.sum()


def test_each_system_and_all_against_least_squares_and_the_gate(positions: SatellitePositions) -> None:
    azimuth, elevation, seen = base_view(positions, PLACE, profile(np.full(AZIMUTHS.size, 15.0)), 10.0)
    each, together = system_days(positions, azimuth, elevation, seen, least_satellites=6, greatest_pdop=2.5)
    assert [one.name for one in each] == ["GPS", "GLONASS", "Galileo", "BeiDou"]
    up = np.radians(elevation)
    vectors = np.stack(
        [np.cos(up) * np.sin(np.radians(azimuth)), np.cos(up) * np.cos(np.radians(azimuth)), np.sin(up)],
        axis=-1,
    )
    for day, letters in [*zip(each, "GREC", strict=True), (together, "GREC")]:
        wanted = np.isin(positions.systems, list(letters))
        for time in range(seen.shape[1]):
            here = seen[:, time] & wanted
            pdop = plain_pdop(vectors[here, time], positions.systems[here])
            assert day.satellites[time] == here.sum()
            assert day.pdop[time] == pytest.approx(pdop, rel=1e-6, nan_ok=True)
            assert day.held_back[time] == (not (here.sum() >= 6 and pdop <= 2.5))
    assert any(one.held_back.any() for one in each)
    assert together.satellites.min() > max(one.satellites.max() for one in each)
    assert together.held_share == together.held_back.mean()


def test_rovers_share_only_what_both_see(positions: SatellitePositions) -> None:
    random = np.random.default_rng(8)
    count = 7
    latitude = PLACE[0] + random.uniform(-0.02, 0.02, count)
    longitude = PLACE[1] + random.uniform(-0.02, 0.02, count)
    height = np.full(count, 550.0)
    horizons = random.uniform(0.0, 50.0, (count, AZIMUTHS.size))
    horizons[2] = np.nan
    _, _, base = base_view(positions, PLACE, profile(np.full(AZIMUTHS.size, 5.0)), 12.0)
    common, pdop, enough = rover_view(
        positions, base, (latitude, longitude, height), AZIMUTHS, horizons, 10.0,
        least_common=7, greatest_pdop=3.0,
    )  # fmt: skip
    for place in range(count):
        _, _, own = base_view(
            positions, (latitude[place], longitude[place], height[place]), profile(horizons[place]), 10.0
        )
        both = own & base if place != 2 else np.zeros_like(own)
        assert np.array_equal(common[place], both.sum(axis=0))
        directions = look(positions.ecef_m, latitude[place], longitude[place], height[place])
        up, around = np.radians(directions.elevation_deg), np.radians(directions.azimuth_deg)
        vectors = np.stack([np.cos(up) * np.sin(around), np.cos(up) * np.cos(around), np.sin(up)], axis=-1)
        for time in range(both.shape[1]):
            here = both[:, time]
            plain = plain_pdop(vectors[here, time], positions.systems[here]) if here.any() else np.nan
            # all places of the job share the directions of one: 3 km turn them by some hundredths of a degree
            assert pdop[place, time] == pytest.approx(plain, rel=5e-3, nan_ok=True)
            if abs(plain - 3.0) > 0.05 or np.isnan(plain):
                assert enough[place, time] == (here.sum() >= 7 and plain <= 3.0)
    assert not enough[2].any(), "over unknown ground nothing is claimed"
    assert enough.any()


def test_the_worst_time_has_the_fewest_places_that_can_work() -> None:
    enough = np.array([[1, 0, 1, 0], [1, 1, 1, 0], [1, 0, 0, 1]], dtype=bool)
    common = np.array([[9, 5, 8, 4], [9, 8, 8, 4], [9, 5, 5, 6]], dtype=np.uint8)
    assert worst_time(enough, common) == 3  # one place each at 1 and 3; 18 satellites against 14


def test_cells_take_the_nearest_place_of_the_lattice() -> None:
    rows, columns = (part.ravel() for part in np.mgrid[1:10:3, 1:10:3])
    nothing = np.zeros(9)
    rover = RoverSky(
        3, rows, columns, nothing, np.zeros((9, 1), np.uint8), np.zeros((9, 1), np.float32),
        np.zeros((9, 1), bool), 0, 5, 6.0, 0.9,
    )  # fmt: skip
    wanted = np.ones((9, 9), dtype=bool)
    wanted[0, 0] = False
    nearest = on_cells(rover, wanted)
    assert nearest.size == 80
    for (row, column), place in zip(np.argwhere(wanted), nearest, strict=True):
        assert (rows[place], columns[place]) == (1 + row // 3 * 3, 1 + column // 3 * 3)


def test_a_place_counts_as_open_from_the_wanted_share_of_the_day() -> None:
    enough = np.array([[True] * 9 + [False], [True] * 8 + [False] * 2])
    rover = RoverSky(
        1, np.arange(2), np.arange(2), np.ones(2), np.full((2, 10), 9, np.uint8),
        np.ones((2, 10), np.float32), enough, 0, 5, 6.0, 0.9,
    )  # fmt: skip
    assert rover.suffices.tolist() == [True, False]
