"""The typical constellations against what their owners publish of them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from linkplan.errors import RangeError
from linkplan.gnss.constellations import typical_orbits
from linkplan.gnss.dop import dilution, unit_vectors
from linkplan.gnss.kepler import kepler_positions
from linkplan.gnss.orbit_sets import Orbits
from linkplan.gnss.positions import satellite_positions
from linkplan.gnss.visibility import above, look
from linkplan.tables.constellations import (
    BEIDOU_INCLINED,
    BEIDOU_MEDIUM,
    CONSTELLATIONS,
    GALILEO,
    GLONASS,
    GPS,
    SYSTEMS,
    Constellation,
)

REFERENCE_S = 1.2e9
SIDEREAL_DAY_S = 86_164.0905


def period_s(one: Constellation) -> float:
    return 2.0 * math.pi * math.sqrt(one.semi_major_axis_m**3 / SYSTEMS[one.system].gravity_m3_s2)


def test_sizes_and_names() -> None:
    sizes = {letter: sum(one.size for one in several) for letter, several in CONSTELLATIONS.items()}
    # as published: 24 slots each of GPS, GLONASS and Galileo, BeiDou 24 + 3 + 3, QZSS 3 + 1
    assert sizes == {"G": 24, "R": 24, "E": 24, "C": 30, "J": 4}
    orbits = typical_orbits(REFERENCE_S, "GRECJ")
    assert len(orbits.satellites) == sum(sizes.values())
    assert orbits.kind == "typical"
    assert "typical, not for a date" in orbits.source
    assert "GB1F" in typical_orbits(REFERENCE_S, expanded=True).satellites
    assert len(typical_orbits(REFERENCE_S, "GE", expanded=True).satellites) == 27 + 24
    for letter, several in CONSTELLATIONS.items():
        assert all(one.system == letter and one.source for one in several)
    with pytest.raises(RangeError, match="no satellite system"):
        typical_orbits(REFERENCE_S, "GX")


@pytest.mark.parametrize(
    ("one", "turns", "days"),
    # published ground tracks: GPS 2 turns a sidereal day, GLONASS 17 in 8, Galileo 17 in 10, BeiDou 13 in 7
    [(GPS, 2, 1), (GLONASS, 17, 8), (GALILEO, 17, 10), (BEIDOU_MEDIUM, 13, 7), (BEIDOU_INCLINED, 1, 1)],
)
def test_ground_tracks_repeat(one: Constellation, turns: int, days: int) -> None:
    # the axis counts without the earth's flattening, which makes up for some seconds a turn
    assert period_s(one) == pytest.approx(days * SIDEREAL_DAY_S / turns, abs=6.0)


def test_gps_planes_and_greenwich() -> None:
    # sidereal time of Greenwich at 0:00 of 1 July 1993, 2375.5 days before J2000.0 [IAU 1982, leading terms]:
    # 280.46061837 - 360.98564736629 x 2375.5 = -857240.9447 = 279.055 degrees
    assert GPS.greenwich_deg == pytest.approx((280.46061837 - 360.98564736629 * 2375.5) % 360.0, abs=0.01)
    # planes 60 degrees apart; the gaps between slots come in mirrored pairs, A with F, B with E, C with D
    nodes = [plane.node_deg for plane in GPS.planes]
    assert np.diff(np.unwrap(nodes, period=360.0)) == pytest.approx([60.0] * 5)
    gaps = []
    for plane in GPS.planes:
        around = sorted(plane.latitude_arguments_deg)
        gaps.append(np.sort(np.diff([*around, around[0] + 360.0])))
    for one, other in ((0, 5), (1, 4), (2, 3)):
        assert gaps[one] == pytest.approx(gaps[other], abs=0.1)


def test_walker_24_3_1() -> None:
    # 24 satellites, 3 planes, phase 1: 45 degrees apart in a plane, from plane to plane 360 / 24 = 15 more
    for one in (GLONASS, GALILEO, BEIDOU_MEDIUM):
        arguments = np.array([plane.latitude_arguments_deg for plane in one.planes])
        assert np.diff(arguments, axis=1) % 360.0 == pytest.approx(45.0)
        assert np.diff(arguments, axis=0) % 360.0 == pytest.approx(15.0)
        assert np.diff([plane.node_deg for plane in one.planes]) % 360.0 == pytest.approx(120.0)


def test_synchronous_satellites_stay_over_their_places() -> None:
    orbits = typical_orbits(REFERENCE_S, "CJ")
    times = REFERENCE_S + np.arange(0.0, SIDEREAL_DAY_S, 600.0)
    places = {"CG1": 80.0, "CG2": 110.5, "CG3": 140.0, "JG1": 127.0}
    crossings = {"CI1": 118.0, "CI2": 118.0, "CI3": 118.0, "JQ1": 135.0, "JQ2": 135.0, "JQ3": 135.0}
    for one in orbits.kepler:
        x, y, z = kepler_positions([one], 0, times).T
        longitude = np.degrees(np.arctan2(y, x))
        if one.satellite in places:
            assert longitude == pytest.approx(places[one.satellite], abs=0.01)
            assert z == pytest.approx(0.0, abs=1.0)
        elif one.satellite in crossings:
            # a figure of eight around the place, half the time north of the equator or more
            assert longitude.min() < crossings[one.satellite] < longitude.max()
            assert longitude.mean() == pytest.approx(crossings[one.satellite], abs=1.0)
            assert np.degrees(np.arctan2(z, np.hypot(x, y))).max() == pytest.approx(
                math.degrees(one.inclination_rad), abs=0.5
            )
            assert (z > 0.0).mean() > 0.49
    quasi = next(one for one in orbits.kepler if one.satellite == "JQ1")
    north = kepler_positions([quasi], 0, times)[:, 2] > 0.0
    assert north.mean() > 0.54


def share_of_good_geometry(orbits: Orbits) -> float:
    """Of the globe and a day: PDOP 6 or less over a mask of 5 degrees."""
    found = satellite_positions(orbits, REFERENCE_S + np.arange(0.0, 86_400.0, 900.0))
    good = []
    # places that stand for equal areas
    for latitude in np.degrees(np.arcsin(np.linspace(-0.95, 0.95, 10))):
        for longitude in range(0, 360, 60):
            here = look(found.ecef_m, float(latitude), float(longitude), 0.0)
            pdop = dilution(unit_vectors(here.azimuth_deg, here.elevation_deg), above(here, 5.0)).pdop
            good.append(pdop <= 6.0)
    return float(np.mean(good))


def test_gps_gives_the_geometry_that_its_standard_promises() -> None:
    # "PDOP of 6 or less, 98 % global average" over a mask of 5 degrees [SPS PS, section 3.8, from memory]
    orbits = typical_orbits(REFERENCE_S, "G")
    assert share_of_good_geometry(orbits) > 0.98
    # it takes the standard's spacing, not just 24 satellites: with slots at half the angles it is not reached
    bunched = tuple(replace(one, mean_anomaly_rad=one.mean_anomaly_rad / 2.0) for one in orbits.kepler)
    assert share_of_good_geometry(replace(orbits, kepler=bunched)) < 0.9


def test_another_date_gives_the_same_sky() -> None:
    hours = np.arange(0.0, 86_400.0, 3600.0)
    one, other = (
        satellite_positions(typical_orbits(start, "GRECJ"), start + hours).ecef_m for start in (1.2e9, 1.45e9)
    )
    assert one == pytest.approx(other, abs=1e-3)
