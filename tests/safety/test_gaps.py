"""Gaps in guidance on maps drawn by hand, the way through a piece against every pair of its cells."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from linkplan.coverage.classes import classes_for
from linkplan.coverage.results import CoverageMap
from linkplan.plan.safety import SafetyWishes
from linkplan.plan.siting_model import Siting, SitingRules, Zone
from linkplan.safety.gaps import guidance_zones, longest_way_m
from linkplan.terrain.grid import TerrainGrid
from tests.safety.test_field import FRAME, plan_of

CELL = 10.0


def coverage_of(picture: str) -> CoverageMap:
    """ "." has the wanted chance, "x" has not, "?" is unknown; the base on the first row's first cell."""
    rows = picture.split()
    index = np.array([[{".": 1, "x": 3, "?": 0}[letter] for letter in row] for row in rows], dtype=np.uint8)
    blank = np.full(index.shape, np.nan, dtype=np.float32)
    grid = TerrainGrid(FRAME, CELL, 0, 0, np.zeros(index.shape), None, "invented", CELL)
    maps = dict.fromkeys(
        ("loss_db", "received_dbm", "margin_db", "chance", "line_of_sight", "fresnel_clearance"), blank
    )
    inside = np.ones(index.shape, dtype=bool)
    return CoverageMap(
        grid,
        classes_for(0.95),
        **maps,
        class_index=index,
        inside=inside,
        weakest_usable_dbm=-110.0,
        sigma_db=6.0,
    )


def zones_of(
    picture: str, rows: slice = slice(None), speed: float | None = 3.6, relies="machines", age_s=10.0
):
    """The zone over whole rows of the map; 3.6 km/h is 1 m/s."""
    coverage = coverage_of(picture)
    height, width = coverage.grid.shape
    first, last, _ = rows.indices(height)
    area = box(-CELL, (0.6 - last) * CELL, (width + 1) * CELL, (0.4 - first) * CELL)
    zone = Zone("strip", FRAME.geometry_to_job(area), 1.0, None, None, relies, speed)
    plan = plan_of(siting=siting_of(zone), safety=SafetyWishes(age_limit_s=age_s))
    return guidance_zones(plan, coverage)


def siting_of(*zones: Zone, rules: SitingRules | None = None) -> Siting:
    return Siting(
        (),
        None,
        None,
        (5.0,),
        (40.0,),
        (),
        (),
        zones,
        rules or SitingRules(),
        "one",
        None,
        None,
        500.0,
        False,
        10.0,
        0,
        1,
    )


def test_gaps_of_a_strip_by_hand():
    # weak and unknown ground that touch, by a corner too, are one gap; the row above is not of the zone
    (zone,) = zones_of(
        """
        xxxxxxxxxx
        .xx?...x..
        ....?.....
        ..........
        """,
        slice(1, 4),
    )
    assert (zone.area_m2, zone.gap_count) == (3000.0, 2)
    assert (zone.gap_share, zone.unknown_share) == pytest.approx((5 / 30, 2 / 30))
    first, second = zone.gaps
    # three cells in a row and one at their corner: from corner to corner 40 m and 20 m, at 1 m/s
    assert first.way_m == pytest.approx(math.sqrt(2000.0))
    assert first.seconds == pytest.approx(first.way_m)
    assert (first.area_m2, first.unknown_share, first.too_long) == (400.0, 0.5, True)
    # a lone cell: its diagonal
    assert second.way_m == pytest.approx(math.sqrt(200.0))
    assert not zone.held
    # the middle of the first gap is the cell in column 2 of row 1: 20 m east, 10 m south of the base
    assert first.distance_m == pytest.approx(math.hypot(20.0, 10.0))
    assert first.azimuth_deg == pytest.approx(180.0 - math.degrees(math.atan(2.0)))
    assert FRAME.to_local(first.easting, first.northing) == pytest.approx((20.0, -10.0), abs=1e-3)
    assert sorted(np.unique(zone.gap_number)) == [0, 1, 2]
    assert (zone.gap_number == 1).sum() == 4
    assert zone.gap_number[0].max() == 0


def test_faster_or_more_patient_machines_bear_the_same_gap():
    picture = ".xxx. ....."
    (zone,) = zones_of(picture, age_s=31.7)
    assert zone.held
    assert not zones_of(picture, age_s=31.5)[0].held
    assert zones_of(picture, speed=36.0)[0].gaps[0].seconds == pytest.approx(3.162, abs=1e-3)


def test_unknown_ground_alone_is_a_gap():
    (zone,) = zones_of("????? ?????")
    assert (zone.held, zone.gap_share, zone.unknown_share) == (False, 1.0, 1.0)


def test_people_walk_where_nobody_says_how_fast():
    (zone,) = zones_of(".xxx.", speed=None, relies="people")
    assert (zone.speed_km_h, zone.speed_assumed) == (5.0, True)
    assert zone.gaps[0].seconds == pytest.approx(math.sqrt(1000.0) / (5.0 / 3.6))
    assert zone.what_to_do.hazard == "people"
    assert zones_of(".....", relies="") == ()


def test_no_gap_is_held_and_a_zone_narrower_than_a_cell_is_not_passed_over():
    (zone,) = zones_of("..... .....")
    assert (zone.held, zone.gaps, zone.gap_count) == (True, (), 0)
    coverage = coverage_of("..... .xxx.")
    thin = FRAME.geometry_to_job(box(1.0, -12.0, 34.0, -11.0))  # between the centres of two rows
    plan = plan_of(siting=siting_of(Zone("kerb", thin, 1.0, None, None, "machines", 3.6)))
    (zone,) = guidance_zones(plan, coverage)
    assert (zone.gap_count, zone.held) == (1, False)


def test_only_the_longest_are_listed_and_the_longest_is_among_them():
    # 30 lone cells, and a thin long gap beside a fat one with more cells
    lone = ".x" * 30
    picture = "\n".join([lone, "." * 60, "xxx" + "." * 57, "xxx" + "." * 57, "xxx....xxxxxxxx" + "." * 45])
    (zone,) = zones_of(picture)
    assert zone.gap_count == 32
    assert len(zone.gaps) == 12
    ways = [gap.way_m for gap in zone.gaps]
    assert ways[0] == pytest.approx(math.hypot(80.0, 10.0))
    assert ways[1] == pytest.approx(math.hypot(30.0, 30.0))
    assert ways == sorted(ways, reverse=True)


def test_a_winding_gap_is_as_long_as_its_way():
    picture = np.array([[1, 0, 0, 0, 1], [1, 0, 0, 0, 1], [1, 0, 0, 0, 1], [1, 1, 1, 1, 1]])
    rows, columns = np.nonzero(picture)
    # down 2 steps, a corner, right 2 steps, a corner, up 2: 6 + 2 sqrt(2) = 8.828, and a cell for both ends
    assert longest_way_m(rows, columns, 10.0) == pytest.approx(10.0 * (7.0 + 2.0 * math.sqrt(2.0)))


def pieces():
    """A connected piece of a few cells: steps of a walk."""
    return st.lists(st.tuples(st.integers(-1, 1), st.integers(-1, 1)), min_size=0, max_size=25)


@settings(max_examples=80)
@given(pieces())
def test_the_way_lies_between_straight_across_and_the_farthest_pair(steps):
    cells = {(0, 0)}
    at = (0, 0)
    for step in steps:
        at = (at[0] + step[0], at[1] + step[1])
        cells.add(at)
    rows, columns = (np.array(values) for values in zip(*sorted(cells), strict=True))
    # every pair by itself: Floyd and Warshall's recurrence over cells that touch
    away = np.hypot(rows[:, None] - rows[None], columns[:, None] - columns[None])
    ways = np.where(away < 1.5, away, np.inf)
    for middle in range(rows.size):
        ways = np.minimum(ways, ways[:, middle, None] + ways[None, middle])
    corners = [(r + i, c + j) for r, c in cells for i in (0, 1) for j in (0, 1)]
    straight = max(math.dist(one, other) for one in corners for other in corners)
    found = longest_way_m(rows, columns, 1.0)
    assert found >= straight - 1e-9
    assert found <= max(straight, ways.max() + 1.0) + 1e-9
    assert found >= 0.9 * max(straight, ways.max() + 1.0)


def test_a_job_without_zones_has_no_gaps_in_them():
    assert guidance_zones(plan_of(), coverage_of("xx")) == ()
