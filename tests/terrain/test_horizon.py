"""The terrain's horizon against a plain search on the sphere, closed forms and what must stay unknown."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import PlaceError, RangeError
from linkplan.terrain.horizon import (
    EFFECTIVE_EARTH_RADIUS_M,
    HorizonProfile,
    blocked_share,
    combined,
    horizon_deg,
    open_sky_share,
    unknown_share,
    with_obstructions,
)
from tests.propagation import terrain_samples

FLAT_EARTH_M = 1e15
EVERY_FIFTH_DEG = np.arange(0.0, 360.0, 5.0)


def look(height_m, row, column, azimuths_deg, *, eye_height_m=2.0, cell_size_m=10.0, **more):
    return horizon_deg(
        np.asarray(height_m),
        cell_size_m=cell_size_m,
        row=row,
        column=column,
        eye_height_m=eye_height_m,
        azimuths_deg=azimuths_deg,
        **more,
    )


def profile(horizon, known_to_m=5000.0):
    """A horizon given outright, at evenly spaced azimuths."""
    horizon = np.asarray(horizon, dtype=np.float64)
    azimuths = np.arange(horizon.size) * 360.0 / horizon.size
    known = np.broadcast_to(np.asarray(known_to_m, dtype=np.float64), horizon.shape)
    return HorizonProfile(azimuths, horizon, np.full(horizon.shape, 1000.0), known)


def between(height_m, row, column):
    """Bilinear, one point, by the four corners; a corner without weight does not count."""
    top, left = math.floor(row), math.floor(column)
    total = 0.0
    for r, row_weight in ((top, 1.0 - (row - top)), (top + 1, row - top)):
        for c, column_weight in ((left, 1.0 - (column - left)), (left + 1, column - left)):
            if row_weight * column_weight > 0.0:
                total += row_weight * column_weight * height_m[r, c]
    return total


def on_a_line(position):
    return float(round(position)) if abs(position - round(position)) < 1e-9 else position


def searched(height_m, row, column, azimuth_deg, eye_height_m, cell_size_m, radius_m):
    """Horizon and known distance by going from crossing to crossing; angles between points of a circle."""
    rows, columns = height_m.shape
    down, right = -math.cos(math.radians(azimuth_deg)), math.sin(math.radians(azimuth_deg))
    crossings = []
    for line, component, count in ((row, down, rows), (column, right, columns)):
        if abs(component) > 1e-12:
            crossings += [(whole - line) / component for whole in range(count)]
    eye_m = between(height_m, row, column) + eye_height_m
    highest, known_to, unknown_at = -math.inf, 0.0, math.inf
    for far in sorted(far for far in crossings if far > 1e-9):
        r, c = on_a_line(row + far * down), on_a_line(column + far * right)
        if not (0.0 <= r <= rows - 1 and 0.0 <= c <= columns - 1):
            break
        ground_m = between(height_m, r, c)
        if not math.isfinite(ground_m):
            unknown_at = min(unknown_at, far)
            continue
        if far < unknown_at - 1e-9:
            known_to = far * cell_size_m
        theta = far * cell_size_m / radius_m
        out = radius_m + ground_m - eye_m
        highest = max(highest, math.atan2(out * math.cos(theta) - radius_m, out * math.sin(theta)))
    return (math.degrees(highest) if math.isfinite(highest) else math.nan), known_to


@st.composite
def places(draw):
    """Terrain of every kind with holes, and a point at a cell's centre or between."""
    rows, columns = draw(st.tuples(st.integers(1, 24), st.integers(1, 24)))
    seed = draw(st.integers(0, 10_000))
    height_m = draw(st.sampled_from(terrain_samples.KINDS))(rows, columns, seed)
    holes = draw(st.sampled_from([0.0, 0.0, 0.02, 0.15]))
    height_m[np.random.default_rng(seed).random(height_m.shape) < holes] = np.nan
    whole = draw(st.booleans())
    row, column = (
        float(draw(st.integers(0, last)))
        if whole
        else draw(st.floats(0.0, last).map(lambda at: round(at, 3)))
        for last in (rows - 1, columns - 1)
    )
    return height_m, row, column


@settings(max_examples=80, deadline=None)
@given(
    places(),
    st.sampled_from([0.5, 2.0, 30.0]),
    st.sampled_from([10.0, 30.0, 90.0]),
    st.sampled_from([EFFECTIVE_EARTH_RADIUS_M, 6_371_000.0, 8_500_000.0]),
    st.integers(0, 44),
)
def test_horizon_equals_a_plain_search(place, eye_height_m, cell_size_m, radius_m, first_deg):
    height_m, row, column = place
    azimuths = np.arange(first_deg, 360.0, 45.0 if first_deg == 0 else 37.7)
    found = look(
        height_m, row, column, azimuths, eye_height_m=eye_height_m, cell_size_m=cell_size_m,
        effective_earth_radius_m=radius_m,
    )  # fmt: skip
    for number, azimuth in enumerate(azimuths):
        if math.isfinite(between(height_m, row, column)):
            wanted = searched(height_m, row, column, azimuth, eye_height_m, cell_size_m, radius_m)
        else:
            wanted = math.nan, 0.0
        assert found.horizon_deg[number] == pytest.approx(wanted[0], abs=0.001, nan_ok=True)
        assert found.known_to_m[number] == pytest.approx(wanted[1], abs=1e-6)
        assert math.isfinite(found.distance_m[number]) == math.isfinite(wanted[0])


def test_curve_of_the_earth_is_close_to_the_sphere_in_mountains():
    # ground 1 km above and below the eye, at angles up to 63 degrees: what the docstring claims
    worst = 0.0
    for rise_m in (-1000.0, -100.0, 100.0, 1000.0):
        for far in (5, 10, 30, 100, 300):
            height_m = np.zeros((1, far + 1))
            height_m[0, far] = rise_m
            height_m[0, 1:far] = -9000.0
            found = look(height_m, 0, 0, [90.0], eye_height_m=0.0, cell_size_m=100.0).horizon_deg[0]
            wanted, _ = searched(height_m, 0, 0, 90.0, 0.0, 100.0, EFFECTIVE_EARTH_RADIUS_M)
            worst = max(worst, abs(found - wanted))
    assert worst < 0.005


def test_flat_sea_dips_by_the_root_of_2h_over_r():
    # k = 0.13: R = 6371/0.87 km = 7 322 989 m. Eye 10 m: dip sqrt(20/7322989) = 1.65260e-3 rad =
    # 0.094687 degrees, at sqrt(20 x 7322989) = 12 102 m; without air sqrt(20/6371000) = 0.101517 degrees
    sea = np.zeros((1, 400))
    found = look(sea, 0, 0, [90.0], eye_height_m=10.0, cell_size_m=50.0)
    assert found.horizon_deg[0] == pytest.approx(-0.094687, abs=1e-5)
    assert found.distance_m[0] == pytest.approx(12_102.0, abs=50.0)
    bare = look(sea, 0, 0, [90.0], eye_height_m=10.0, cell_size_m=50.0, effective_earth_radius_m=6_371_000.0)
    assert bare.horizon_deg[0] == pytest.approx(-0.101517, abs=1e-5)


def test_wall_at_a_known_distance():
    # a wall 30 m high one cell wide, 200 m north of an eye at 2 m: arctan((28 - curve) / (200/cos az));
    # the curve, d^2/2R, is 3 mm at 212 m: 0.0007 degrees
    height_m = np.zeros((61, 61))
    height_m[10] = 30.0
    azimuths = [0.0, 5.0, 17.0, 33.0, 45.0, 315.0, 340.0]
    found = look(height_m, 30, 30, azimuths, effective_earth_radius_m=FLAT_EARTH_M)
    for number, azimuth in enumerate(azimuths):
        distance_m = 200.0 / math.cos(math.radians(azimuth))
        assert found.distance_m[number] == pytest.approx(distance_m, abs=1e-6)
        assert found.horizon_deg[number] == pytest.approx(
            math.degrees(math.atan(28.0 / distance_m)), abs=1e-9
        )
    # by hand: arctan(0.14) = 7.9696 degrees; away from the wall the flat ground's far end, 300 m off:
    # -arctan(2/300) = -0.38196
    assert found.horizon_deg[0] == pytest.approx(7.9696, abs=1e-4)
    south = look(height_m, 30, 30, [180.0], effective_earth_radius_m=FLAT_EARTH_M)
    assert south.horizon_deg[0] == pytest.approx(-0.38196, abs=1e-4)
    assert south.known_to_m[0] == pytest.approx(300.0)


def test_cone_beside_the_ray():
    """A cone of height H and slope s, its axis D away and p beside the ray: seen from the ground, the ray's
    slope k touches the hyperbola H - s sqrt(p^2 + (t - t0)^2) where H - k t0 = p sqrt(s^2 - k^2)."""
    peak_m, slope, away_m = 60.0, 0.8, 100.0
    east = np.arange(-150.0, 151.0)
    from_axis = np.hypot(east[None, :] - away_m, east[:, None])
    height_m = np.maximum(peak_m - slope * from_axis, 0.0)
    azimuths = np.array([60.0, 72.0, 85.0, 90.0, 101.0, 115.0])
    found = look(
        height_m, 150, 150, azimuths, eye_height_m=0.0, cell_size_m=1.0, effective_earth_radius_m=FLAT_EARTH_M
    )
    turn = np.radians(azimuths - 90.0)
    foot_m, beside_m = away_m * np.cos(turn), np.abs(away_m * np.sin(turn))
    steepest = (peak_m * foot_m - beside_m * math.sqrt((slope * away_m) ** 2 - peak_m**2)) / away_m**2
    assert found.horizon_deg == pytest.approx(np.degrees(np.arctan(steepest)), abs=0.03)
    # straight at it, by hand: arctan(60/100) = 30.9638 degrees, at 100 m
    assert found.horizon_deg[3] == pytest.approx(30.9638, abs=1e-4)
    assert found.distance_m[3] == pytest.approx(100.0)


def test_plane_rises_with_its_slope_in_each_direction():
    # 0.3 m up per metre north, 0.1 east; from the ground itself every direction has its own slope,
    # wherever the point stands in its cell
    north, east = -10.0 * np.arange(40.0)[:, None], 10.0 * np.arange(50.0)[None, :]
    plane = 0.3 * north + 0.1 * east
    angle = np.radians(EVERY_FIFTH_DEG)
    wanted = np.degrees(np.arctan(0.3 * np.cos(angle) + 0.1 * np.sin(angle)))
    for row, column in ((20, 25), (20.37, 24.9)):
        found = look(
            plane, row, column, EVERY_FIFTH_DEG, eye_height_m=0.0, effective_earth_radius_m=FLAT_EARTH_M
        )
        assert found.horizon_deg == pytest.approx(wanted, abs=1e-6)


def test_unknown_ground_is_never_open_sky():
    height_m = np.zeros((21, 21))
    height_m[10, 14] = np.nan  # 40 m east
    height_m[0, 10] = 50.0  # 100 m north, behind nothing
    height_m[6, 6] = np.nan  # 40 m north-west on the diagonal: 56.6 m
    found = look(height_m, 10, 10, [0.0, 90.0, 180.0, 315.0])
    assert found.known_to_m == pytest.approx([100.0, 30.0, 100.0, 30.0 * math.sqrt(2.0)])
    # ground known to stand up behind a hole still counts
    height_m[3, 10] = np.nan
    behind = look(height_m, 10, 10, [0.0])
    assert behind.known_to_m[0] == pytest.approx(60.0)
    assert behind.horizon_deg[0] == pytest.approx(math.degrees(math.atan(0.48)), abs=1e-3)
    # at the grid's edge there is nothing to know outwards
    edge = look(height_m, 0, 5, [0.0, 180.0])
    assert np.isnan(edge.horizon_deg[0])
    assert edge.known_to_m[0] == 0.0
    assert edge.known_to_m[1] == pytest.approx(200.0)
    # a point on unknown ground knows nothing
    nowhere = look(height_m, 10, 14, EVERY_FIFTH_DEG)
    assert np.isnan(nowhere.horizon_deg).all()
    assert np.isnan(nowhere.distance_m).all()
    assert not nowhere.known_to_m.any()
    assert blocked_share(nowhere, 10.0) == 0.0
    assert unknown_share(nowhere, 10.0, 0.0) == pytest.approx(1.0)
    assert open_sky_share(nowhere, 10.0) == 0.0


def test_a_neighbour_without_weight_does_not_count():
    height_m = np.full((21, 21), np.nan)
    height_m[10] = 0.0
    height_m[:, 10] = 0.0
    np.fill_diagonal(height_m, 0.0)
    found = look(height_m, 10, 10, [0.0, 90.0, 135.0, 180.0, 270.0, 315.0])
    assert found.known_to_m == pytest.approx([100.0, 100.0, 100.0 * math.sqrt(2.0)] * 2, abs=1e-6)


def test_a_ray_may_leave_the_grid_just_beside_a_line():
    # nearly along the row: the next row's line is met 1.146 cells on, 0.00001 cells outside the last column
    azimuth = 90.001
    far = 2e-5 / -math.cos(math.radians(azimuth))
    height_m = np.zeros((10, 10))
    found = look(height_m, 5.0 - 2e-5, 9.0 - far * math.sin(math.radians(azimuth)) + 1e-5, [azimuth])
    assert found.known_to_m[0] == pytest.approx(10.0 * far, abs=0.001)


def test_near_and_far_grids_are_one_horizon():
    # fine: 10 m cells, 200 m around; coarse: 100 m cells, 3 km around, with a ridge 2 km east
    near = look(np.full((41, 41), 7.0), 20, 20, [0.0, 90.0], eye_height_m=2.0)
    coarse = np.zeros((61, 61))
    coarse[:, 50] = 309.0
    coarse[30, 31] = 500.0  # within the fine grid, where that one knows better
    far = look(coarse, 30, 30, [0.0, 90.0], cell_size_m=100.0, ground_m=7.0, beyond_m=near.known_to_m)
    both = combined(near, far)
    # 309 - 9 = 300 m over 2000 m, less 2000/2R = 0.000137: arctan(0.149863) = 8.5232 degrees
    assert both.horizon_deg[1] == pytest.approx(8.5232, abs=1e-4)
    assert both.distance_m[1] == pytest.approx(2000.0)
    assert both.known_to_m == pytest.approx([3000.0, 3000.0])
    # northwards the flat fine ground, 200 m: 2/200 below the eye; the coarse sea, 9 m below at 3000 m:
    # 0.003 + 0.000205: the higher is that
    assert both.horizon_deg[0] == pytest.approx(-math.degrees(math.atan(0.003205)), abs=1e-4)
    # a far horizon that begins beyond a gap does not make the gap known
    gap = look(coarse, 30, 30, [0.0, 90.0], cell_size_m=100.0, ground_m=7.0, beyond_m=[200.0, 900.0])
    assert combined(near, gap).known_to_m == pytest.approx([3000.0, 200.0])
    assert combined(near, gap).horizon_deg == pytest.approx(both.horizon_deg)
    with pytest.raises(RangeError, match="same azimuths"):
        combined(near, look(coarse, 30, 30, [0.0, 91.0]))


def test_shares_by_hand():
    # a quarter of the directions at 30 degrees, another at 5, the rest at -1; mask 10:
    # (1 - 0.5)/(1 - 0.173648) = 0.605069; open 0.75 + 0.25 x 0.605069 = 0.901267
    horizon = profile([30.0] * 9 + [5.0] * 9 + [-1.0] * 18)
    assert blocked_share(horizon, 10.0) == pytest.approx(0.25)
    assert blocked_share(horizon, 0.0) == pytest.approx(0.5)
    assert open_sky_share(horizon, 10.0) == pytest.approx(0.901267, abs=1e-6)
    # mask 0: 1 - sin 5 = 0.912844: 0.5 + 0.25 x 0.912844 + 0.25 x 0.5
    assert open_sky_share(horizon, 0.0) == pytest.approx(0.853211, abs=1e-6)
    # a hemisphere above 30 degrees all around is half of it; right overhead nothing is left
    assert open_sky_share(profile([30.0] * 8), 0.0) == pytest.approx(0.5)
    assert open_sky_share(profile([90.0] * 8), 10.0) == pytest.approx(0.0, abs=1e-12)
    # uneven azimuths: 0, 90, 180 stand for 135, 90 and 135 degrees
    uneven = HorizonProfile(np.array([0.0, 90.0, 180.0]), np.array([20.0, 0, 0]), np.ones(3), np.ones(3))
    assert blocked_share(uneven, 10.0) == pytest.approx(135.0 / 360.0)


def test_shares_where_the_ground_is_not_known_far_enough():
    # of four directions one is blocked within 500 m, one is open and known to 500 m, two to 5 km
    horizon = profile([20.0, 3.0, 3.0, 12.0], known_to_m=[500.0, 500.0, 5000.0, 5000.0])
    assert blocked_share(horizon, 10.0) == 0.5
    assert unknown_share(horizon, 10.0, 2000.0) == 0.25
    assert unknown_share(horizon, 10.0, 100.0) == 0.0
    assert open_sky_share(horizon, 10.0, reach_m=2000.0) <= 0.5
    assert open_sky_share(horizon, 10.0) > 0.5


def test_obstructions_are_linear_in_between_and_across_north():
    horizon = profile([5.0] * 36)
    # 340 degrees: 2; 20 degrees: 10; between, over north: 10 degrees is 30/40 of the way, 8 degrees
    found = with_obstructions(horizon, [20.0, 60.0, 340.0], [10.0, 0.0, 2.0])
    assert found.horizon_deg[[0, 1, 2, 3, 34]] == pytest.approx([6.0, 8.0, 10.0, 7.5, 5.0])
    assert np.isnan(found.distance_m[1])
    assert found.distance_m[34] == 1000.0
    assert (found.known_to_m == horizon.known_to_m).all()


def test_obstructions_with_steps_and_alone():
    flat = profile([0.0] * 36)
    # a house from 90 to 120 degrees
    house = with_obstructions(flat, [90.0, 90.0, 120.0, 120.0], [0.0, 25.0, 25.0, 0.0])
    wanted = np.where((flat.azimuths_deg >= 90.0) & (flat.azimuths_deg <= 120.0), 25.0, 0.0)
    assert house.horizon_deg == pytest.approx(wanted)
    # given from 0 to 360: the higher of both counts at north, neither spills over to the other side
    turned = with_obstructions(flat, [0.0, 10.0, 350.0, 360.0], [0.0, 0.0, 30.0, 30.0])
    assert turned.horizon_deg[[0, 1, 35]] == pytest.approx([30.0, 0.0, 30.0])
    assert with_obstructions(flat, [123.0], [12.0]).horizon_deg == pytest.approx([12.0] * 36)
    # where the terrain is unknown the obstruction stands, and the ground stays unknown
    blind = replace(flat, horizon_deg=np.full(36, np.nan), known_to_m=np.zeros(36))
    seen = with_obstructions(blind, [0.0], [4.0])
    assert seen.horizon_deg == pytest.approx([4.0] * 36)
    assert open_sky_share(seen, 10.0) == 0.0
    assert unknown_share(seen, 10.0, 0.0) == pytest.approx(1.0)


def test_faults_are_told():
    height_m = np.zeros((5, 6))
    with pytest.raises(PlaceError, match="outside a grid of 5 rows, 6 columns"):
        look(height_m, 5, 0, [0.0])
    for azimuths in ([], [10.0, 5.0], [-1.0], [360.0], [math.nan], [0.0, math.nan, 5.0]):
        with pytest.raises(RangeError, match="azimuths_deg"):
            look(height_m, 2, 2, azimuths)
    with pytest.raises(RangeError, match="cell_size_m"):
        look(height_m, 2, 2, [0.0], cell_size_m=0.0)
    horizon = profile([0.0] * 8)
    with pytest.raises(RangeError, match="obstruction 2 = 5 degrees does not ascend"):
        with_obstructions(horizon, [10.0, 5.0], [1.0, 1.0])
    with pytest.raises(RangeError, match="elevation of obstruction 1"):
        with_obstructions(horizon, [10.0], [91.0])
    with pytest.raises(RangeError, match="pairs"):
        with_obstructions(horizon, [], [])
    with pytest.raises(RangeError, match="mask_deg"):
        open_sky_share(horizon, 90.0)
