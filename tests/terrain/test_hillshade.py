"""The shaded relief against matplotlib's and against slopes worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from linkplan.terrain.hillshade import hillshade


def test_flat_ground_shows_the_sine_of_the_altitude() -> None:
    assert hillshade(np.zeros((4, 5)), 10.0) == pytest.approx(math.sin(math.radians(45.0)))
    assert hillshade(np.zeros((4, 5)), 10.0, altitude_deg=30.0) == pytest.approx(0.5)


@pytest.mark.parametrize(("azimuth", "east", "north"), [(90, -1, 0), (270, 1, 0), (0, 0, -1), (180, 0, 1)])
def test_a_slope_of_45_degrees_that_faces_the_lamp_is_white(azimuth: float, east: int, north: int) -> None:
    """A slope faces the lamp when it falls towards it; the opposite one is black."""
    row, column = np.mgrid[0:6, 0:7]
    slope = 20.0 * (east * column - north * row)
    assert hillshade(slope, 20.0, azimuth_deg=azimuth, altitude_deg=45.0) == pytest.approx(1.0)
    assert hillshade(-slope, 20.0, azimuth_deg=azimuth, altitude_deg=45.0) == pytest.approx(0.0, abs=1e-12)


def test_against_matplotlib() -> None:
    from matplotlib.colors import LightSource

    ground = np.random.default_rng(2).random((30, 40)) * 20.0
    ours = hillshade(ground, 10.0, azimuth_deg=300.0, altitude_deg=70.0)
    # Matplotlib stretches its result to 0..1.
    theirs = LightSource(azdeg=300.0, altdeg=70.0).hillshade(ground, dx=10.0, dy=10.0)
    assert ours.min() > 0.0
    assert (ours - ours.min()) / np.ptp(ours) == pytest.approx(theirs, abs=1e-9)


def test_only_missing_cells_are_missing() -> None:
    row, column = np.mgrid[0:8, 0:9]
    slope = 5.0 * column + 2.0 * row
    holed = slope.astype(float)
    holed[3, 4] = holed[3, 5] = holed[0, 0] = np.nan
    shade = hillshade(holed, 10.0)
    assert np.array_equal(np.isnan(shade), np.isnan(holed))
    known = np.isfinite(holed)
    assert shade[known] == pytest.approx(hillshade(slope.astype(float), 10.0)[known])
