"""Horizons of all cells against a plain search, the one-point horizon, closed forms and what is unknown."""

from __future__ import annotations

import math
import threading
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import PlaceError, RangeError
from linkplan.terrain.horizon import (
    EFFECTIVE_EARTH_RADIUS_M,
    blocked_share,
    horizon_deg,
    open_sky_share,
    unknown_share,
)
from linkplan.terrain.horizon_field import view_of
from linkplan.terrain.horizon_map import horizon_layers, horizon_map, horizons_at, sky_openness
from tests.propagation import terrain_samples
from tests.terrain.test_horizon import searched

FLAT_EARTH_M = 1e15
EVERY_FIFTH_DEG = np.arange(0.0, 360.0, 5.0)
SKEW_DEG = np.array([0.0, 7.3, 45.0, 63.4349488, 90.0, 135.0, 161.0, 180.0, 222.2, 270.0, 315.0, 359.0])
LOOK = {"cell_size_m": 10.0, "eye_height_m": 2.0}


@st.composite
def grounds(draw, largest):
    """Terrain of every kind, with single holes or a whole unknown corner."""
    shape = draw(st.tuples(st.integers(1, largest), st.integers(1, largest)))
    seed = draw(st.integers(0, 10_000))
    height_m = draw(st.sampled_from(terrain_samples.KINDS))(*shape, seed)
    random = np.random.default_rng(seed)
    holes = draw(st.sampled_from(["none", "none", "single", "many", "corner"]))
    if holes == "corner":
        height_m[: shape[0] // 3, : shape[1] // 2] = np.nan
    elif holes != "none":
        height_m[random.random(shape) < (0.002 if holes == "single" else 0.1)] = np.nan
    return height_m, random


@settings(max_examples=50, deadline=None)
@given(
    grounds(24),
    st.sampled_from([0.0, 2.0, 30.0]),
    st.sampled_from([0.5, 10.0, 90.0]),
    st.sampled_from([EFFECTIVE_EARTH_RADIUS_M, 6_371_000.0]),
    st.integers(1, 4),
)
def test_every_cell_has_the_horizon_of_a_plain_search(ground, eye_height_m, cell_size_m, radius_m, stride):
    """Between points of a circle, crossing by crossing; in single precision and, at 0.5 m, in double."""
    height_m, random = ground
    stride = min(stride, max(height_m.shape))
    found = horizon_map(
        height_m, cell_size_m=cell_size_m, eye_height_m=eye_height_m, azimuths_deg=SKEW_DEG,
        effective_earth_radius_m=radius_m, stride=stride,
    )  # fmt: skip
    for _ in range(6):
        i, j = (int(random.integers(0, count)) for count in found.horizon_deg.shape[1:])
        for number, azimuth in enumerate(SKEW_DEG):
            wanted = math.nan, 0.0
            if math.isfinite(height_m[i * stride, j * stride]):
                wanted = searched(
                    height_m, i * stride, j * stride, azimuth, eye_height_m, cell_size_m, radius_m
                )
            assert found.horizon_deg[number, i, j] == pytest.approx(wanted[0], abs=0.001, nan_ok=True)
            assert found.known_to_m[number, i, j] == pytest.approx(wanted[1], rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(grounds(230), st.sampled_from([5.0, 60.0]), st.integers(1, 3), st.floats(0.0, 4.9))
def test_ground_that_is_passed_over_does_not_count(ground, cell_size_m, stride, turn_deg):
    """Larger grids, most of whose ground is never looked at, against the horizon of single points."""
    height_m, random = ground
    stride = min(stride, max(height_m.shape))
    azimuths = np.arange(turn_deg, 360.0, 24.0)
    view = {"cell_size_m": cell_size_m, "eye_height_m": 2.0, "azimuths_deg": azimuths}
    found = horizon_map(height_m, stride=stride, **view)
    rows, columns = (random.integers(0, count, 12) for count in found.horizon_deg.shape[1:])
    single = horizons_at(height_m, rows * stride, columns * stride, **view)
    for number, (i, j) in enumerate(zip(rows, columns, strict=True)):
        wanted = horizon_deg(height_m, row=i * stride, column=j * stride, **view)
        for horizon, known_to_m in (
            (found.horizon_deg[:, i, j], found.known_to_m[:, i, j]),
            (single.horizon_deg[number], single.known_to_m[number]),
        ):
            assert horizon == pytest.approx(wanted.horizon_deg, abs=0.001, nan_ok=True)
            assert known_to_m == pytest.approx(wanted.known_to_m, rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(grounds(120), st.sampled_from([0.0, 10.0, 35.0]), st.sampled_from([0.0, 55.0, 300.0]))
def test_openness_is_that_of_single_points(ground, mask_deg, reach_m):
    height_m, random = ground
    azimuths = np.array([0.0, 20.0, 25.0, 100.0, 180.0, 181.0, 260.0, 333.0])
    found = sky_openness(height_m, azimuths_deg=azimuths, mask_deg=mask_deg, reach_m=reach_m, **LOOK)
    for _ in range(10):
        row, column = (int(random.integers(0, count)) for count in height_m.shape)
        shares = [
            share[row, column] for share in (found.open_share, found.blocked_share, found.unknown_share)
        ]
        if math.isnan(height_m[row, column]):
            assert np.isnan(shares).all()
            continue
        point = horizon_deg(height_m, row=row, column=column, azimuths_deg=azimuths, **LOOK)
        wanted = [
            open_sky_share(point, mask_deg, reach_m=reach_m),
            blocked_share(point, mask_deg),
            unknown_share(point, mask_deg, reach_m),
        ]
        assert shares == pytest.approx(wanted, abs=1e-5)


def test_steepest_ground_for_single_precision_keeps_the_error():
    # no two neighbours alike, 63 cells above and below the middle: as much as single precision is used for
    height_m = 1e3 + np.random.default_rng(3).uniform(-630.0, 630.0, (90, 90))
    view = {"cell_size_m": 10.0, "eye_height_m": 0.0, "azimuths_deg": EVERY_FIFTH_DEG}
    assert view_of(height_m, effective_earth_radius_m=1e7, **view).eye_m.dtype == np.float32
    assert view_of(1.1 * height_m, effective_earth_radius_m=1e7, **view).eye_m.dtype == np.float64
    found = horizon_map(height_m, **view)
    worst = 0.0
    for row, column in np.random.default_rng(4).integers(0, 90, (60, 2)):
        wanted = horizon_deg(height_m, row=row, column=column, **view).horizon_deg
        worst = max(worst, np.nanmax(np.abs(found.horizon_deg[:, row, column] - wanted), initial=0.0))
    assert 0.0 < worst < 0.0005


def test_wall_at_a_known_distance():
    # a wall 30 m high along row 10, eyes 2 m high: arctan(28 cos(azimuth) / distance) south of it,
    # and from row 30 by hand: arctan(28/200) = 7.9696 degrees
    height_m = np.zeros((61, 161))
    height_m[10] = 30.0
    azimuths = np.array([0.0, 5.0, 17.0, 33.0, 340.0])
    found = horizon_map(height_m, azimuths_deg=azimuths, effective_earth_radius_m=FLAT_EARTH_M, **LOOK)
    away_m = 10.0 * (np.arange(11, 61) - 10.0)
    wanted = np.degrees(np.arctan(28.0 * np.cos(np.radians(azimuths))[:, None] / away_m))
    for column in (50, 80, 110):
        assert found.horizon_deg[:, 11:, column] == pytest.approx(wanted, abs=2e-5)
    assert found.horizon_deg[0, 30, 80] == pytest.approx(7.9696, abs=1e-4)


def test_cone_seen_from_all_around():
    """A cone of height H and slope s, its axis D away and p beside the ray: seen from the ground, the ray's
    slope k touches the hyperbola H - s sqrt(p^2 + (t - t0)^2) where H - k t0 = p sqrt(s^2 - k^2)."""
    peak_m, slope = 60.0, 0.8
    line = np.arange(-150.0, 151.0)
    from_axis = np.hypot(line[None, :], line[:, None])
    height_m = np.maximum(peak_m - slope * from_axis, 0.0)
    azimuth = 72.0
    found = horizon_map(
        height_m, cell_size_m=1.0, eye_height_m=0.0, azimuths_deg=[azimuth],
        effective_earth_radius_m=FLAT_EARTH_M,
    ).horizon_deg[0]  # fmt: skip
    ahead = np.array([math.sin(math.radians(azimuth)), math.cos(math.radians(azimuth))])
    seen = 0
    for row in range(0, 301, 20):
        for column in range(0, 301, 20):
            to_axis = np.array([-line[column], line[row]])  # east, north
            foot_m = float(to_axis @ ahead)
            beside_m = math.sqrt(max(float(to_axis @ to_axis) - foot_m**2, 0.0))
            away_m = math.hypot(foot_m, beside_m)
            if away_m * slope <= peak_m or beside_m > 60.0 or foot_m < 0.0:
                continue
            root = math.sqrt((slope * away_m) ** 2 - peak_m**2)
            steepest = (peak_m * foot_m - beside_m * root) / away_m**2
            assert found[row, column] == pytest.approx(math.degrees(math.atan(steepest)), abs=0.03)
            seen += 1
    assert seen > 20


def test_flat_sea_dips_by_the_root_of_2h_over_r():
    # k = 0.13: R = 7 322 989 m. Eye 10 m: dip 0.094687 degrees, at 12.1 km
    sea = np.zeros((3, 600))
    view = {"cell_size_m": 50.0, "eye_height_m": 10.0, "azimuths_deg": [90.0, 270.0]}
    # whatever lower angle need not be told apart: all of it lies nearer
    for lowest_deg in (-90.0, -0.1):
        found = horizon_map(sea, lowest_deg=lowest_deg, **view)
        assert found.horizon_deg[0, :, :350] == pytest.approx(-0.094687, abs=1e-5)
        assert found.horizon_deg[1, :, 250:] == pytest.approx(-0.094687, abs=1e-5)
    # at the edge there is nothing to know
    assert np.isnan(horizon_map(sea, **view).horizon_deg[0, :, -1]).all()


def test_openness_by_hand():
    # walls 30 m high along the row 5 cells north of row 15 and along the column 10 cells east of column 20,
    # eyes 2 m high: arctan(28/50) = 29.249 and arctan(28/100) = 15.642 degrees; west and south flat.
    # mask 10: (1 - sin 29.249)/(1 - sin 10) = 0.511398/0.826352 = 0.618862; (1 - 0.269630)/0.826352 =
    # 0.883848; open = (0.618862 + 0.883848 + 1 + 1)/4 = 0.875678; two of four directions blocked
    height_m = np.zeros((40, 40))
    height_m[10] = 30.0
    height_m[:, 30] = 30.0
    four = [0.0, 90.0, 180.0, 270.0]
    found = sky_openness(height_m, azimuths_deg=four, mask_deg=10.0, **LOOK)
    assert found.open_share[15, 20] == pytest.approx(0.875678, abs=1e-5)
    assert found.blocked_share[15, 20] == pytest.approx(0.5)
    assert found.unknown_share[15, 20] == 0.0
    # known to 195 m to the south (24 cells) and west (20), not to the north (15) and east (19)
    far = sky_openness(height_m, azimuths_deg=four, mask_deg=10.0, reach_m=195.0, **LOOK)
    assert far.open_share[15, 20] == pytest.approx(0.5)
    assert far.blocked_share[15, 20] == pytest.approx(0.5)
    assert far.unknown_share[15, 20] == 0.0
    # a mask above both walls: nothing is known to be blocked, but north and east may be
    high = sky_openness(height_m, azimuths_deg=four, mask_deg=40.0, reach_m=195.0, **LOOK)
    assert high.open_share[15, 20] == pytest.approx(0.5)
    assert high.unknown_share[15, 20] == pytest.approx(0.5)


def test_unknown_ground_is_never_open_sky():
    height_m = np.zeros((50, 50))
    height_m[:, 30] = np.nan
    found = sky_openness(height_m, azimuths_deg=EVERY_FIFTH_DEG, mask_deg=10.0, reach_m=30.0, **LOOK)
    assert np.isnan(found.open_share[:, 30]).all()
    assert np.isnan(found.blocked_share[:, 30]).all()
    # two cells before the hole 30 m are known from 50 degrees off its direction on: arccos(20/30) = 48.2;
    # samples lie up to 14 m apart, so a few directions more
    assert 0.2 < found.unknown_share[25, 28] < 0.5
    assert found.open_share[25, 28] == pytest.approx(1.0 - found.unknown_share[25, 28], abs=1e-6)
    assert found.open_share[25, 15] == pytest.approx(1.0, abs=1e-6)
    nothing = sky_openness(np.full((4, 5), np.nan), azimuths_deg=[0.0], mask_deg=10.0, **LOOK)
    assert np.isnan(nothing.open_share).all()


def test_only_wanted_cells_and_only_horizons_that_matter():
    height_m = terrain_samples.rough(130, 150, 5)
    wanted = np.zeros((65, 75), dtype=bool)
    wanted[10:40, 20:60] = True
    wanted[12, 25] = False
    every = horizon_map(height_m, azimuths_deg=SKEW_DEG, stride=2, **LOOK)
    some = horizon_map(height_m, azimuths_deg=SKEW_DEG, stride=2, wanted=wanted, **LOOK)
    assert np.array_equal(some.horizon_deg[:, wanted], every.horizon_deg[:, wanted])
    assert np.isnan(some.horizon_deg[:, ~wanted]).all()
    assert not some.known_to_m[:, ~wanted].any()
    lowest = np.linspace(-5.0, 20.0, SKEW_DEG.size)
    high = horizon_map(height_m, azimuths_deg=SKEW_DEG, stride=2, lowest_deg=lowest, **LOOK)
    wanted_deg = np.fmax(every.horizon_deg, lowest[:, None, None])
    assert high.horizon_deg == pytest.approx(wanted_deg, abs=1e-5)
    open_sky = sky_openness(
        height_m, azimuths_deg=SKEW_DEG, mask_deg=5.0, stride=2, wanted=wanted, **LOOK
    ).open_share
    assert np.isnan(open_sky[~wanted]).all()
    assert np.isfinite(open_sky[wanted]).all()


def test_interrupt_is_answered_within_a_second_and_progress_told():
    """What Ctrl-C raises in the main thread, raised from the progress call; no thread works on."""
    height_m = terrain_samples.rolling(900, 900)
    view = {"azimuths_deg": EVERY_FIFTH_DEG, **LOOK}
    told: list[float] = []

    def stop(share: float) -> None:
        told.append(share)
        if share > 0.02:
            raise KeyboardInterrupt

    at = np.arange(20_000) % 900
    for work in (
        lambda ground: list(horizon_layers(ground, progress=stop, **view)),
        lambda ground: sky_openness(ground, mask_deg=0.0, progress=stop, **view),
        lambda ground: horizons_at(ground, at % ground.shape[0], at % 30, progress=stop, **view),
    ):
        with pytest.raises(KeyboardInterrupt):
            work(height_m[:40, :40])  # compiled before the clock starts
        told.clear()
        begun = time.perf_counter()
        with pytest.raises(KeyboardInterrupt):
            work(height_m)
        assert time.perf_counter() - begun < 1.0
        assert told == sorted(told)
        assert threading.active_count() < 4
    told.clear()
    layers = horizon_layers(height_m[:200, :200], progress=told.append, **view)
    assert next(layers).azimuth_deg == 0.0
    layers.close()  # nobody asks for the rest
    assert threading.active_count() < 4
    assert told[-1] == pytest.approx(1.0 / 72.0)
    list(horizon_layers(height_m[:50, :50], progress=told.append, **view))
    assert told[-1] == pytest.approx(1.0)


def test_faults_are_told():
    ground = np.zeros((5, 6))
    look = {"azimuths_deg": [0.0], **LOOK}
    with pytest.raises(PlaceError, match=r"row 5, column 0 lies outside a grid of 5 rows, 6 columns"):
        horizons_at(ground, [1, 5], [0, 0], **look)
    with pytest.raises(RangeError, match="two lists of one length"):
        horizons_at(ground, [1, 2], [0], **look)
    with pytest.raises(RangeError, match="whole numbers"):
        horizons_at(ground, [1.5], [0], **look)
    assert horizons_at(ground, [], [], **look).horizon_deg.shape == (0, 1)
    with pytest.raises(RangeError, match=r"wanted has shape \(5, 6\), but \(3, 3\)"):
        horizon_map(ground, stride=2, wanted=np.ones((5, 6), dtype=bool), **look)
    for fault, words in (
        ({"cell_size_m": 0.0}, "cell_size_m"),
        ({"eye_height_m": -1.0}, "eye_height_m"),
        ({"stride": 0}, "stride"),
        ({"azimuths_deg": [10.0, 5.0]}, "azimuths_deg must ascend"),
        ({"lowest_deg": 90.0}, "lowest_deg"),
        ({"effective_earth_radius_m": math.nan}, "effective_earth_radius_m"),
    ):
        with pytest.raises(RangeError, match=words):
            horizon_layers(ground, **{**look, **fault})
    with pytest.raises(RangeError, match="mask_deg"):
        sky_openness(ground, mask_deg=90.0, **look)
    with pytest.raises(RangeError, match="height_m"):
        sky_openness(ground[0], mask_deg=10.0, **look)
