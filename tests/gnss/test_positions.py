"""Satellite positions against other programs and integrators, and what they broadcast two hours later."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from linkplan.errors import RangeError
from linkplan.gnss.glonass_orbit import LIMIT_S, PULL_S, glonass_positions
from linkplan.gnss.kepler import eccentric_anomaly_rad, kepler_positions
from linkplan.gnss.orbit_sets import NAVIGATION, KeplerSet, Orbits, StateSet, join
from linkplan.gnss.positions import satellite_positions
from linkplan.tables.constellations import SYSTEMS
from tests.gnss.orbit_samples import DATA, NEAR_S, sample

REFERENCES = json.loads((DATA / "reference_positions.json").read_text())
BROADCAST = "broadcast_2018-06-19.rnx.gz"
HOUR = 3600.0
Array = NDArray[np.float64]


def position(one: KeplerSet | StateSet, gps_s: float) -> Array:
    if isinstance(one, KeplerSet):
        return kepler_positions([one], 0, gps_s)
    return glonass_positions([one], 0, gps_s)


def test_positions_are_those_of_other_programs() -> None:
    seen: dict[tuple[str, str], float] = {}
    for row in REFERENCES:
        orbits = sample(row["file"])
        found = [
            one
            for one in (*orbits.kepler, *orbits.states)
            if one.satellite == row["satellite"]
            and one.reference_s == pytest.approx(row["reference_s"], abs=1e-3)
        ]
        assert found, row
        time_s = row["reference_s"] + row["since_s"]
        best = min(float(np.linalg.norm(position(one, time_s) - row["ecef_m"])) for one in found)
        # states are integrated in other steps there
        assert best < (0.02 if row["satellite"][0] == "R" else 0.001), row
        key = row["library"], row["satellite"][0]
        seen[key] = max(best, seen.get(key, 0.0))
    assert {system for _, system in seen} == set("GRECJ")
    assert {library for library, _ in seen} == {"sidereon 3.0.4", "Orekit 13.1.9"}


def test_each_set_goes_on_as_the_next_one_says() -> None:
    # A control segment fits each set anew: two neighbours share nothing but the satellite. Halfway they agree
    # to metres, which any wrong sign, constant or frame would turn into kilometres.
    orbits = sample(BROADCAST)
    far: dict[str, list[float]] = {}
    for sets, longest in ((orbits.kepler, 7300.0), (orbits.states, 1900.0)):
        ordered = sorted(sets, key=lambda one: (one.satellite, one.reference_s))
        for one, other in itertools.pairwise(ordered):
            gap = other.reference_s - one.reference_s
            if one.satellite == other.satellite and 0.0 < gap <= longest and one.healthy and other.healthy:
                middle = one.reference_s + gap / 2.0
                system = one.satellite[0] + ("geo" if isinstance(one, KeplerSet) and one.tilted else "")
                far.setdefault(system, []).append(
                    float(np.linalg.norm(position(one, middle) - position(other, middle)))
                )
    assert {system: len(pairs) > 5 for system, pairs in far.items()} == dict.fromkeys(
        ("G", "E", "C", "Cgeo", "R"), True
    )
    for pairs in far.values():
        assert max(pairs) < 10.0
        assert float(np.median(pairs)) < 1.5


def test_a_geostationary_satellite_stays_where_it_is() -> None:
    # C05 stands over 58.75 E, as announced; in its tilted frame alone it would wander by degrees
    sets = [one for one in sample(BROADCAST).kepler if one.satellite == "C05"]
    times = sets[0].reference_s + np.arange(0.0, 86_400.0, HOUR)
    x, y, z = kepler_positions([sets[0]], 0, times).T
    assert np.degrees(np.arctan2(y, x)) == pytest.approx(58.75, abs=0.3)
    assert np.abs(np.degrees(np.arctan2(z, np.hypot(x, y)))) == pytest.approx(0.0, abs=2.5)
    assert np.hypot(np.hypot(x, y), z) == pytest.approx(42_164e3, abs=40e3)


@given(st.floats(-20.0, 20.0), st.floats(0.0, 0.9))
@settings(max_examples=200)
def test_keplers_equation(mean: float, eccentricity: float) -> None:
    found = eccentric_anomaly_rad(np.array([mean]), np.array([eccentricity]))[0]
    back = found - eccentricity * math.sin(found)
    assert math.remainder(back - mean, 2.0 * math.pi) == pytest.approx(0.0, abs=1e-11)


elements = st.builds(
    lambda system, e, i, node, perigee, mean: KeplerSet(
        f"{system}01", NEAR_S, True, 5153.7, e, i, node, perigee, mean
    ),
    st.sampled_from("GECJ"),
    st.floats(0.0, 0.4),
    st.floats(0.0, 3.1),
    *[st.floats(-3.1, 3.1)] * 3,
)


@given(elements, st.floats(-43_200.0, 43_200.0))
@settings(max_examples=25, deadline=None)
def test_bare_elements_move_as_two_bodies_do(one: KeplerSet, since_s: float) -> None:
    # energy and angular momentum at the start as the elements have them, then Newton's law alone in another
    # integrator, in a frame that does not turn
    gravity, turn = SYSTEMS[one.satellite[0]].gravity_m3_s2, SYSTEMS[one.satellite[0]].earth_rate_rad_s

    def inertial(time_s: float) -> Array:
        x, y, z = kepler_positions([one], 0, NEAR_S + time_s)
        angle = turn * time_s
        return np.array(
            [x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle), z]
        )

    step = 1.0
    speed = (8.0 * (inertial(step) - inertial(-step)) - (inertial(2 * step) - inertial(-2 * step))) / (
        12.0 * step
    )
    axis = one.root_semi_major_axis**2
    start = inertial(0.0)
    energy = speed @ speed / 2.0 - gravity / np.linalg.norm(start)
    assert energy == pytest.approx(-gravity / (2.0 * axis), rel=1e-8)
    momentum = np.linalg.norm(np.cross(start, speed))
    assert momentum == pytest.approx(math.sqrt(gravity * axis * (1.0 - one.eccentricity**2)), rel=1e-8)

    def newton(_: float, state: Array) -> Array:
        return np.concatenate((state[3:], -gravity * state[:3] / np.linalg.norm(state[:3]) ** 3))

    path = solve_ivp(
        newton, (0.0, since_s), np.concatenate((start, speed)), method="DOP853", rtol=1e-12, atol=1e-5
    )
    # 12 hours on, an error of 10 micrometres a second in the differences is some metres along the track
    assert inertial(since_s) == pytest.approx(path.y[:3, -1], abs=20.0)


@pytest.mark.parametrize("since_s", [-PULL_S, -900.0, 900.0, PULL_S, 6 * HOUR, 24 * HOUR])
def test_glonass_against_another_integrator_in_a_frame_that_does_not_turn(since_s: float) -> None:
    # the same forces where there is no Coriolis force: gravity and J2 along the earth's axis, constants of
    # PZ-90.02; the pull of sun and moon turns with the earth as broadcast, for an hour
    gravity, radius, j2 = 398600.4418e9, 6378136.0, 1082.6257e-6
    turn = 7.292115e-5
    one = next(one for one in sample(BROADCAST).states if one.healthy)

    def turned(vector: Array, time_s: float) -> Array:
        sine, cosine = math.sin(turn * time_s), math.cos(turn * time_s)
        return np.array(
            [vector[0] * cosine - vector[1] * sine, vector[0] * sine + vector[1] * cosine, vector[2]]
        )

    def forces(time_s: float, state: Array) -> Array:
        place = state[:3]
        r = float(np.linalg.norm(place))
        ratio = (place[2] / r) ** 2
        factor = -gravity / r**3
        oblate = 1.5 * j2 * (radius / r) ** 2
        pull = factor * place * (1.0 + oblate * (np.array([1.0, 1.0, 3.0]) - 5.0 * ratio))
        if abs(time_s) <= PULL_S:
            pull = pull + turned(np.array(one.acceleration_m_s2), time_s)
        return np.concatenate((state[3:], pull))

    place = np.array(one.position_m)
    state = np.concatenate((place, np.array(one.velocity_m_s) + np.cross([0.0, 0.0, turn], place)))
    first = math.copysign(min(abs(since_s), PULL_S), since_s)
    for start, end in ((0.0, first), (first, since_s)):
        if start != end:
            # the pull ends within the first stretch
            path = solve_ivp(
                forces, (start, end), state, method="DOP853", rtol=1e-12, atol=1e-6, max_step=300.0
            )
            state = path.y[:, -1]
    theirs = turned(state[:3], -since_s)
    ours = glonass_positions([one], 0, one.reference_s + since_s)
    assert ours == pytest.approx(theirs, abs=0.05 if abs(since_s) <= PULL_S else 3.0)


def test_glonass_drifts_as_the_module_says() -> None:
    # what a state of the morning says of the evening, against the evening's own: 1 to 4 km after 20 hours
    far: dict[str, float] = {}
    for other in sample(BROADCAST).states:
        for one in sample(BROADCAST).states:
            hours = (other.reference_s - one.reference_s) / HOUR
            same = one.satellite == other.satellite and one.healthy and other.healthy
            if same and 19.0 < hours < 21.0 and one.satellite not in far:
                place = position(one, other.reference_s)
                far[one.satellite] = float(np.linalg.norm(place - other.position_m))
    assert len(far) >= 4
    assert 100.0 < max(far.values()) < 5000.0


def test_many_times_at_once_are_each_time_alone() -> None:
    states = [one for one in sample(BROADCAST).states if one.healthy][:3]
    times = states[0].reference_s + np.array([[-5000.0, 0.0, 119.9, 7300.0], [120.0, 86_399.0, 1.0, -1.0]])
    which = np.array([[0, 1, 2, 0], [2, 1, 0, 0]])
    together = glonass_positions(states, which, times)
    for place in np.ndindex(which.shape):
        assert together[place] == pytest.approx(position(states[which[place]], times[place]), abs=1e-6)


def test_the_nearest_set_counts_and_its_age_is_told() -> None:
    old, new = (replace(sample(BROADCAST).kepler[0], reference_s=NEAR_S + hours * HOUR) for hours in (0, 2))
    orbits = Orbits("made", NAVIGATION, (new, old))
    times = NEAR_S + np.array([9 * HOUR, 1.1 * HOUR, 0.9 * HOUR, -HOUR])
    found = satellite_positions(orbits, times)
    assert found.satellites == (old.satellite,)
    assert found.age_s[0] == pytest.approx([7 * HOUR, -0.9 * HOUR, 0.9 * HOUR, -HOUR])
    for number, one in enumerate((new, new, old, old)):
        assert found.ecef_m[0, number] == pytest.approx(kepler_positions([one], 0, times[number]), abs=1e-6)
    assert found.usable.all()


def test_health_is_that_of_the_set_in_time() -> None:
    one = sample(BROADCAST).kepler[0]
    sets = (
        replace(one, reference_s=NEAR_S),
        replace(one, reference_s=NEAR_S + 4 * HOUR, healthy=False),
        # two messages of one time that disagree, in either order
        replace(one, reference_s=NEAR_S + 8 * HOUR, healthy=False),
        replace(one, reference_s=NEAR_S + 8 * HOUR, cuc_rad=1e-6),
        replace(one, reference_s=NEAR_S + 12 * HOUR, cuc_rad=1e-6),
        replace(one, reference_s=NEAR_S + 12 * HOUR, healthy=False),
    )
    found = satellite_positions(Orbits("made", NAVIGATION, sets), NEAR_S + np.arange(0.0, 13.0, 4.0) * HOUR)
    assert found.usable.tolist() == [[True, False, False, False]]
    assert np.isfinite(found.ecef_m).all()


def test_a_day_of_all_systems() -> None:
    orbits = sample(BROADCAST)
    times = NEAR_S + np.arange(0.0, 86_400.0, 900.0)
    found = satellite_positions(orbits, times)
    assert found.ecef_m.shape == (len(orbits.satellites), 96, 3)
    assert set(found.systems) == set("GREC")
    radius = np.linalg.norm(found.ecef_m, axis=-1)
    # E14 came into an orbit of its own: perigee 23 300 km from the centre
    assert radius.min() > 23.3e6
    assert radius.max() < 43.0e6
    usable = dict(zip(found.satellites, found.usable, strict=True))
    for unhealthy in ("G04", "R26", "E14"):
        assert not usable[unhealthy].any()
    assert usable["G01"].all()
    # C14 was set healthy that night: its set of 0:00:14 still says no, that of 1:00:14 says yes
    assert usable["C14"].tolist() == [False] * 3 + [True] * 93


def test_glonass_far_from_any_state_has_no_position() -> None:
    one = next(one for one in sample(BROADCAST).states if one.healthy)
    orbits = Orbits("made", NAVIGATION, (), (one,))
    found = satellite_positions(orbits, one.reference_s + np.array([-LIMIT_S, LIMIT_S + 1.0]))
    assert np.isfinite(found.ecef_m[0]).all(axis=-1).tolist() == [True, False]
    assert found.usable.tolist() == [[True, False]]


def test_files_are_joined_and_times_checked() -> None:
    both = join((sample(BROADCAST), sample("made_version_4.rnx"), sample("made.alm")))
    assert both.kind == "several"
    assert "J01" in both.satellites
    assert join((sample(BROADCAST), sample(BROADCAST))).kepler == sample(BROADCAST).kepler
    for wrong in ([-1.0], [math.nan], [[NEAR_S]], [1e11]):
        with pytest.raises(RangeError, match="gps_s"):
            satellite_positions(both, wrong)
