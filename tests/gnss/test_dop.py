"""Dilution against numpy's inverse, geometries worked by hand and the least that four satellites can give."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from linkplan.errors import RangeError
from linkplan.gnss.constellations import typical_orbits
from linkplan.gnss.dop import Dilution, dilution, unit_vectors
from linkplan.gnss.positions import satellite_positions
from linkplan.gnss.visibility import above, look


def at_once(azimuths: list[float], elevations: list[float], systems: str | None = None) -> Dilution:
    """One point, one time, all in view."""
    directions = unit_vectors(azimuths, elevations)[:, None]
    names = None if systems is None else np.array(list(systems))
    return dilution(directions, np.ones(directions.shape[:2], dtype=bool), names)


def figures(one: Dilution) -> list[float]:
    return [float(part[0]) for part in (one.gdop, one.pdop, one.hdop, one.vdop, one.tdop)]


@pytest.mark.parametrize("low_deg", [0.0, 10.0, 30.0])
def test_zenith_and_three_around(low_deg: float) -> None:
    # One overhead, three at elevation e, 120 degrees apart. East and north stand alone: 3/2 cos^2 e each, so
    # hdop^2 = 4 / (3 cos^2 e). Up and clock: [[1 + 3 s^2, 1 + 3 s], [1 + 3 s, 4]] with s = sin e, whose
    # determinant is 3 (1 - s)^2: vdop^2 = 4 / (3 (1 - s)^2), tdop^2 = (1 + 3 s^2) / (3 (1 - s)^2).
    s = math.sin(math.radians(low_deg))
    h2, v2, t2 = 4 / (3 * (1 - s * s)), 4 / (3 * (1 - s) ** 2), (1 + 3 * s * s) / (3 * (1 - s) ** 2)
    expected = [math.sqrt(one) for one in (h2 + v2 + t2, h2 + v2, h2, v2, t2)]
    assert figures(at_once([0, 0, 120, 240], [90, low_deg, low_deg, low_deg])) == pytest.approx(expected)


def test_least_of_four_satellites() -> None:
    # The corners of a regular tetrahedron, than which no four are better: the sum of outer products is 4/3 of
    # the unit matrix and that of the vectors zero, so pdop = 1.5, tdop = 0.5 and gdop = sqrt(5/2) = 1.581.
    low = -math.degrees(math.asin(1 / 3))
    found = figures(at_once([0, 0, 120, 240], [90, low, low, low]))
    assert found == pytest.approx([math.sqrt(2.5), 1.5, math.sqrt(1.5), math.sqrt(0.75), 0.5])
    # with three on the horizon instead, gdop = sqrt 3
    assert figures(at_once([0, 0, 120, 240], [90, 0, 0, 0]))[0] == pytest.approx(math.sqrt(3.0))


def by_inverse(directions: NDArray[np.float64], systems: list[str] | None) -> list[float]:
    """From the inverse of the whole normal matrix, a column for each clock."""
    names = ["one"] * len(directions) if systems is None else systems
    clocks = np.array([[float(name == other) for other in sorted(set(names))] for name in names])
    design = np.hstack((directions, clocks))
    diagonal = np.diag(np.linalg.inv(design.T @ design))
    time = min(diagonal[3:])
    place = sum(diagonal[:3])
    return [math.sqrt(one) for one in (place + time, place, sum(diagonal[:2]), diagonal[2], time)]


skies = st.lists(
    st.tuples(st.floats(0.0, 359.0), st.floats(5.0, 90.0), st.sampled_from("GREC")), min_size=4, max_size=30
)


@given(skies, st.booleans())
@settings(max_examples=150)
def test_any_sky_is_numpys_inverse(sky: list[tuple[float, float, str]], together: bool) -> None:
    systems = None if together else "".join(one[2] for one in sky)
    found = at_once([one[0] for one in sky], [one[1] for one in sky], systems)
    assert found.satellites.tolist() == [len(sky)]
    unknowns = 3 + (1 if systems is None else len(set(systems)))
    if len(sky) < unknowns:
        assert np.isnan(figures(found)).all()
        return
    directions = unit_vectors([one[0] for one in sky], [one[1] for one in sky])
    clocks = None if systems is None else list(systems)
    names = ["one"] * len(sky) if clocks is None else clocks
    design = np.hstack(
        (directions, np.array([[float(name == other) for other in sorted(set(names))] for name in names]))
    )
    if np.linalg.cond(design) < 100.0:
        assert figures(found) == pytest.approx(by_inverse(directions, clocks), rel=1e-6)
    elif np.linalg.cond(design) > 1e7:
        assert not figures(found)[1] < 1e4


def test_too_few_and_useless() -> None:
    assert np.isnan(figures(at_once([0, 120, 240], [30, 30, 30]))).all()
    # all at one elevation: the clock and the height are one
    assert np.isnan(figures(at_once([0, 50, 120, 200, 300], [40] * 5))).all()
    # all in one place
    assert np.isnan(figures(at_once([33] * 6, [44] * 6))).all()
    # all in one vertical plane
    assert np.isnan(figures(at_once([90, 90, 270, 90, 270], [10, 50, 20, 80, 60]))).all()
    # five satellites of two systems are enough, four are not; a lone one of its system gives its clock alone
    four = at_once([0, 0, 120, 240], [90, 10, 10, 10])
    five = at_once([0, 0, 120, 240, 77], [90, 10, 10, 10, 44], "GGGGE")
    assert figures(five)[1:4] == pytest.approx(figures(four)[1:4])
    assert np.isnan(figures(at_once([0, 0, 120, 240], [90, 10, 10, 10], "GGGE"))).all()
    none = dilution(np.zeros((0, 2, 3)), np.zeros((0, 2), dtype=bool))
    assert np.isnan(none.pdop).tolist() == [True, True]
    assert none.satellites.tolist() == [0, 0]


def test_many_points_and_times_are_each_alone() -> None:
    found = satellite_positions(typical_orbits(1.2e9), 1.2e9 + np.arange(0.0, 86_400.0, 7200.0))
    here = look(found.ecef_m, 47.0, 8.0, 500.0)
    directions = unit_vectors(here.azimuth_deg, here.elevation_deg)
    chance = np.random.default_rng(3)
    visible = above(here, 10.0) & (chance.random((4, 5, *here.azimuth_deg.shape)) < 0.7)
    # a satellite without a position is in no view
    directions[0, 0], visible[..., 0, 0] = np.nan, False
    for systems in (None, found.systems):
        many = dilution(directions, visible, systems)
        assert many.pdop.shape == (4, 5, 12)
        for place in np.ndindex(4, 5, 12):
            seen = visible[place[0], place[1], :, place[2]]
            names = None if systems is None else list(systems[seen])
            alone = by_inverse(directions[seen, place[2]], names)
            parts = (many.gdop, many.pdop, many.hdop, many.vdop, many.tdop)
            assert [float(part[place]) for part in parts] == pytest.approx(alone, rel=1e-9)
            assert many.satellites[place] == seen.sum()


def test_an_area_may_share_the_directions_of_its_middle() -> None:
    found = satellite_positions(typical_orbits(1.2e9), 1.2e9 + np.arange(0.0, 86_400.0, 3600.0))
    middle, edge = (look(found.ecef_m, 47.0 + off, 8.0, 500.0) for off in (0.0, 15.0 / 111.2))
    seen = above(edge, 15.0)
    shared, own = (dilution(unit_vectors(one.azimuth_deg, one.elevation_deg), seen) for one in (middle, edge))
    for name in ("gdop", "pdop", "hdop", "vdop", "tdop"):
        assert getattr(shared, name) == pytest.approx(getattr(own, name), rel=0.005)


def test_shapes_that_do_not_fit() -> None:
    for directions, visible in (((4, 2, 3), (4, 3)), ((4, 2, 3), (3, 2)), ((4, 2), (4, 2))):
        with pytest.raises(RangeError, match="do not fit"):
            dilution(np.zeros(directions), np.zeros(visible, dtype=bool))
    with pytest.raises(RangeError, match="do not fit"):
        dilution(np.zeros((4, 2, 3)), np.zeros((4, 2), dtype=bool), np.array(["G", "E"]))
