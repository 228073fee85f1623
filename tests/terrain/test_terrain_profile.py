"""Profiles against scipy's interpolator and against values worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS
from scipy.interpolate import RegularGridInterpolator

from linkplan.errors import PlaceError
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.profile import profile_between

FRAME = LocalFrame.around(CRS.from_epsg(32633), 400_000.0, 5_300_000.0)
ROWS, COLUMNS = 40, 60
cells = st.tuples(st.integers(0, ROWS - 1), st.integers(0, COLUMNS - 1))


def grid_of(
    height_m: np.ndarray, clutter_m: np.ndarray | None = None, cell_size_m: float = 10.0
) -> TerrainGrid:
    return TerrainGrid(FRAME, cell_size_m, 17, 23, height_m, clutter_m, "none", cell_size_m)


RNG = np.random.default_rng(4)
ROUGH = grid_of(300.0 + 50.0 * RNG.random((ROWS, COLUMNS)), 12.0 * RNG.random((ROWS, COLUMNS)))


@settings(max_examples=60, deadline=None)
@given(start=cells, end=cells)
def test_between_centres_it_is_linear_at_each_grid_line(start: tuple[int, int], end: tuple[int, int]) -> None:
    """The way a map's radial is sampled: one step a row or column of the longer axis."""
    if start == end:
        return
    profile = profile_between(ROUGH, ROUGH.centre_of(*start), ROUGH.centre_of(*end))
    steps = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
    length = 10.0 * math.hypot(end[0] - start[0], end[1] - start[1])
    if steps >= 4 or length < 250.0:
        assert len(profile.distance_m) == steps + 1
    steps = len(profile.distance_m) - 1
    for sample in range(steps + 1):
        row = start[0] + (end[0] - start[0]) * sample / steps
        column = start[1] + (end[1] - start[1]) * sample / steps
        along, across = (column, row) if abs(end[1] - start[1]) >= abs(end[0] - start[0]) else (row, column)
        if abs(along - round(along)) > 1e-9:
            continue
        low = min(math.floor(across + 1e-9), (ROWS if along is column else COLUMNS) - 1)
        share = max(0.0, across - low)
        high = low + (1 if share > 1e-9 else 0)
        pair = [(k, round(along)) if along is column else (round(along), k) for k in (low, high)]
        ground = [ROUGH.height_m[cell] for cell in pair]
        assert profile.height_m[sample] == pytest.approx(
            ground[0] + share * (ground[1] - ground[0]), abs=1e-6
        )
    assert profile.distance_m == pytest.approx(np.linspace(0.0, length, steps + 1))
    assert profile.clutter_height_m[[0, -1]].tolist() == [0.0, 0.0]
    assert profile.height_m[0] == ROUGH.height_m[start]
    assert profile.height_m[-1] == pytest.approx(ROUGH.height_m[end], abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(
    x=st.tuples(st.floats(-230.0, 360.0), st.floats(-230.0, 360.0)),
    y=st.tuples(st.floats(-220.0, 170.0), st.floats(-220.0, 170.0)),
)
def test_anywhere_it_is_bilinear(x: tuple[float, float], y: tuple[float, float]) -> None:
    if math.hypot(x[1] - x[0], y[1] - y[0]) < 1.0:
        return
    profile = profile_between(ROUGH, (x[0], y[0]), (x[1], y[1]))
    at = np.column_stack([17.0 - profile.y_m / 10.0, 23.0 + profile.x_m / 10.0])
    axes = (np.arange(ROWS), np.arange(COLUMNS))
    inside = (at >= 0.0).all(axis=1) & (at <= [ROWS - 1, COLUMNS - 1]).all(axis=1)
    ground = RegularGridInterpolator(axes, ROUGH.height_m)(at[inside])
    assert profile.height_m[inside] == pytest.approx(ground, abs=1e-6)
    assert ROUGH.clutter_height_m is not None
    clutter = RegularGridInterpolator(axes, ROUGH.clutter_height_m)(at[inside])
    middle = slice(1, -1)
    if inside.all():
        assert profile.complete
        assert profile.clutter_height_m[middle] == pytest.approx(clutter[middle], abs=1e-6)


def test_a_tilted_plane() -> None:
    """h = 100 + 0.02 x - 0.01 y, from (-100, 50) to (200, 150): 100 - 2 - 0.5 to 100 + 4 - 1.5."""
    row, column = np.mgrid[0:ROWS, 0:COLUMNS]
    plane = 100.0 + 0.2 * (column - 23) - 0.1 * (17 - row)
    profile = profile_between(grid_of(plane), (-100.0, 50.0), (200.0, 150.0))
    assert profile.height_m[0] == pytest.approx(97.5)
    assert profile.height_m[-1] == pytest.approx(102.5)
    assert profile.height_m == pytest.approx(np.linspace(97.5, 102.5, 31))
    assert profile.distance_m[-1] == pytest.approx(math.sqrt(300.0**2 + 100.0**2))
    assert not profile.clutter_height_m.any()


@pytest.mark.parametrize(
    ("length_m", "samples"), [(100.0, 2), (249.0, 4), (250.0, 5), (300.0, 5), (900.0, 10)]
)
def test_at_least_five_points_from_250_m(length_m: float, samples: int) -> None:
    coarse = grid_of(np.zeros((ROWS, COLUMNS)), cell_size_m=100.0)
    assert len(profile_between(coarse, (0.0, 0.0), (length_m, 0.0)).distance_m) == samples


def test_only_cells_that_count_can_be_missing() -> None:
    height = np.zeros((ROWS, COLUMNS))
    height[17, 30] = np.nan
    grid = grid_of(height)
    through = profile_between(grid, (0.0, 0.0), (150.0, 0.0))
    assert np.isnan(through.height_m).nonzero()[0].tolist() == [7]
    assert not through.complete
    beside = profile_between(grid, (0.0, 10.0), (150.0, 10.0))
    assert beside.complete
    between = profile_between(grid, (0.0, 4.0), (150.0, 4.0))
    assert np.isnan(between.height_m).nonzero()[0].tolist() == [7]


def test_unknown_clutter_spoils_the_path_but_not_its_ends() -> None:
    clutter = np.full((ROWS, COLUMNS), 3.0)
    clutter[17, 23] = clutter[17, 38] = np.nan
    grid = grid_of(np.zeros((ROWS, COLUMNS)), clutter)
    assert profile_between(grid, (0.0, 0.0), (150.0, 0.0)).complete
    assert not profile_between(grid, (0.0, 0.0), (200.0, 0.0)).complete


def test_beyond_the_grid_is_unknown() -> None:
    profile = profile_between(ROUGH, (0.0, 0.0), (0.0, 300.0))
    assert np.isfinite(profile.height_m).tolist() == [True] * 18 + [False] * 13


def test_a_path_needs_length() -> None:
    with pytest.raises(PlaceError, match="two different points"):
        profile_between(ROUGH, (5.0, 5.0), (5.0, 5.0))
    with pytest.raises(PlaceError):
        profile_between(ROUGH, (5.0, 5.0), (math.nan, 5.0))
