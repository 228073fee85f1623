"""The assignment against brute force over every choice, and its speed at the largest size."""

from __future__ import annotations

import itertools
import math
import time

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkplan.channels.assignment import STEP_DB, best_assignment, station_ids
from linkplan.channels.ratios import ENOUGH_DB, Case, Mix, judge
from linkplan.radio.interference import Emission, Protection, rejection_db


def plain_worst_db(case, mhz, slot):
    """The worst ratio of a choice, one cell and one interferer after another."""
    worst = ENOUGH_DB
    for row, base in enumerate(case.owner):
        power = 0.0
        for other in range(case.bases):
            if other != base and slot[other] == slot[base]:
                aside = rejection_db(
                    1e3 * (mhz[other] - mhz[base]), case.emission, case.emission, case.limits
                )
                power += 10 ** ((case.own_dbm[row, other] - float(aside)) / 10)
        for other, emission in enumerate(case.other_emissions):
            aside = rejection_db(
                1e3 * (case.other_mhz[other] - mhz[base]), emission, case.emission, case.limits
            )
            power += 10 ** ((case.other_dbm[row, other] - float(aside)) / 10)
        if power > 0.0:
            worst = min(worst, case.wanted_dbm[row] - 10 * math.log10(power))
    everyone = [*mhz, *case.other_mhz]
    for mix in case.mixes:
        if any(one < case.bases and slot[one] != slot[mix.victim] for one in (*mix.plus, mix.minus)):
            continue
        falls = everyone[mix.plus[0]] + everyone[mix.plus[1]] - everyone[mix.minus]
        offset = abs(1e3 * (falls - mhz[mix.victim]))
        sent, heard = 3 * case.emission.bandwidth_khz, case.emission.bandwidth_khz
        common = min(sent, heard, (sent + heard) / 2 - offset)
        if common > 0.0:
            worst = min(worst, mix.ratio_db - 10 * math.log10(common / sent))
    return worst


def brute_best_db(case, channel_mhz, allowed, slots):
    options = [
        [(k, s) for k in range(len(channel_mhz)) if allowed[base, k] for s in range(slots)]
        for base in range(case.bases)
    ]
    return max(
        (
            plain_worst_db(case, [channel_mhz[k] for k, _ in choice], [s for _, s in choice])
            for choice in itertools.product(*options)
        ),
        default=None,
    )


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    seed=st.integers(0, 2**32 - 1),
    bases=st.integers(1, 4),
    channels=st.integers(1, 5),
    slots=st.integers(1, 2),
    others=st.integers(0, 2),
    mixes=st.integers(0, 6),
)
def test_no_choice_is_better_by_brute_force(make_case, seed, bases, channels, slots, others, mixes):
    if (channels * slots) ** bases > 1300:
        slots, channels = 1, min(channels, 4)
    case = make_case(seed, bases=bases, others=others, rows_each=2, mixes=mixes)
    chance = np.random.default_rng(seed)
    channel_mhz = 461.0 + 0.0125 * chance.choice(6, channels, replace=False)
    allowed = chance.random((bases, channels)) < 0.8
    brute = brute_best_db(case, channel_mhz, allowed, slots)
    found = best_assignment(case, channel_mhz, allowed, slots)
    if brute is None:
        assert found is None
        return
    assert found is not None
    assert found.proven
    assert allowed[np.arange(bases), found.choice.channel].all()
    # what it says of its own choice is what the plain sum says of it, and no choice is better
    itself = plain_worst_db(case, channel_mhz[found.choice.channel], found.choice.slot)
    assert found.judged.worst_db == pytest.approx(itself, abs=1e-9)
    assert brute - 2 * STEP_DB <= itself <= brute + 1e-9


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32 - 1), bases=st.integers(1, 5), others=st.integers(0, 3))
def test_judgement_equals_the_plain_sum(make_case, seed, bases, others):
    case = make_case(seed, bases=bases, others=others, mixes=5)
    chance = np.random.default_rng(seed)
    mhz = 461.0 + 0.0125 * chance.integers(0, 8, bases)
    slot = chance.integers(0, 2, bases)
    assert judge(case, mhz, slot).worst_db == pytest.approx(plain_worst_db(case, mhz, slot), abs=1e-9)


def two_bases(unwanted_db):
    """Two bases, a cell each, where the other one is heard `unwanted_db` over the wanted."""
    return Case(
        owner=np.array([0, 1]),
        wanted_dbm=np.array([-90.0, -90.0]),
        own_dbm=np.array([[0.0, -90.0 + unwanted_db], [-90.0 + unwanted_db, 0.0]]),
        other_dbm=np.empty((2, 0)),
        other_mhz=np.empty(0),
        other_emissions=(),
        emission=Emission.of_spacing(12.5),
        limits=Protection.for_spacing(12.5),
        bases=2,
    )


def test_two_bases_by_hand():
    case, everything = two_bases(20.0), np.ones((2, 3), dtype=bool)
    # three channels in a row: the two outer ones, 69.734 - 20 dB; on neighbours it would be 59.734 - 20
    found = best_assignment(case, np.array([461.0, 461.0125, 461.025]), everything, 1)
    assert found is not None
    assert sorted(found.choice.channel) == [0, 2]
    assert found.judged.worst_db == pytest.approx(49.734, abs=0.001)
    # one channel: -20 dB, and nothing to be heard of each other in two time slots
    single = best_assignment(case, np.array([461.0]), everything[:, :1], 1)
    assert single is not None
    assert single.judged.worst_db == pytest.approx(-20.0, abs=1e-6)
    turns = best_assignment(case, np.array([461.0]), everything[:, :1], 2)
    assert turns is not None
    assert turns.judged.worst_db == ENOUGH_DB
    assert sorted(turns.choice.slot) == [0, 1]


def test_wishes_are_kept_where_they_cost_nothing():
    case, channels = two_bases(-10.0), np.array([461.0, 461.025, 461.05, 461.075])
    found = best_assignment(case, channels, np.ones((2, 4), dtype=bool), 1, wishes=[(3, None), (1, None)])
    assert found is not None
    assert found.choice.channel.tolist() == [3, 1]
    # both wish for the same channel: one of them moves, two channels off or more
    both = best_assignment(case, channels, np.ones((2, 4), dtype=bool), 1, wishes=[(2, None), (2, None)])
    assert both is not None
    assert both.choice.channel.tolist().count(2) == 1
    assert both.judged.worst_db == ENOUGH_DB


def test_third_order_products_are_kept_out_of_a_channel():
    """Three bases at one place on an even raster: 2a - b falls on the third unless channels are uneven."""
    case = two_bases(-40.0)
    three = Case(
        owner=np.array([0, 1, 2]),
        wanted_dbm=np.full(3, -70.0),
        own_dbm=np.full((3, 3), -70.0),
        other_dbm=np.empty((3, 0)),
        other_mhz=np.empty(0),
        other_emissions=(),
        emission=case.emission,
        limits=case.limits,
        bases=3,
        mixes=tuple(
            Mix((a, a), b, c, 20.0) for a, b, c in itertools.permutations(range(3))
        ),
    )  # fmt: skip
    channels = np.array([461.0, 461.1, 461.2, 461.4])
    found = best_assignment(three, channels, np.ones((3, 4), dtype=bool), 1)
    assert found is not None
    # 0, 1, 2 would mix onto one another, and so would 0, 2, 4 tenths; 0, 1, 4 and 1, 2, 4 do not
    chosen = sorted(round(10 * (mhz - 461.0)) for mhz in channels[found.choice.channel])
    assert chosen in ([0, 1, 4], [1, 2, 4])
    assert found.judged.worst_db > 50.0


def test_no_allowed_channel_is_no_assignment():
    allowed = np.array([[True, True], [False, False]])
    assert best_assignment(two_bases(0.0), np.array([461.0, 461.1]), allowed, 1) is None


def spread_out(seed, others, side_km, bases=12, rows_each=30):
    """Bases of 10 W EIRP at random in a square, rovers to 4 km, loss with the distance's power of 3.8."""
    chance = np.random.default_rng(seed)
    base_km = chance.uniform(0.0, side_km, (bases, 2))
    other_km = chance.uniform(-side_km, 2.0 * side_km, (others, 2))
    owner = np.repeat(np.arange(bases), rows_each)
    away_km, angle = chance.uniform(0.2, 4.0, owner.size), chance.uniform(0.0, 2.0 * np.pi, owner.size)
    rover_km = base_km[owner] + away_km[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])

    def level(from_km, eirp_dbm):
        distance_km = np.maximum(np.linalg.norm(rover_km[:, None] - from_km[None], axis=2), 0.05)
        return eirp_dbm - 85.5 - 38.0 * np.log10(distance_km) + chance.normal(0.0, 6.0, distance_km.shape)

    own = level(base_km, 40.0)
    return Case(
        owner=owner,
        wanted_dbm=own[np.arange(owner.size), owner],
        own_dbm=own,
        other_dbm=level(other_km, 50.0),
        other_mhz=461.0 + 0.0125 * chance.integers(0, 20, others),
        other_emissions=(Emission.of_spacing(12.5),) * others,
        emission=Emission.of_spacing(12.5),
        limits=Protection.for_spacing(12.5),
        bases=bases,
    )


@pytest.mark.parametrize("others", [0, 4])
@pytest.mark.parametrize("side_km", [5.0, 15.0])
def test_twelve_bases_on_twenty_channels_take_seconds(others, side_km):
    case = spread_out(1, others, side_km)
    begun = time.process_time()
    found = best_assignment(case, 461.0 + 0.0125 * np.arange(20), np.ones((12, 20), dtype=bool), 1)
    took_s = time.process_time() - begun
    assert found is not None
    assert found.proven
    assert took_s < 10.0, f"{took_s:.1f} s of computing"
    mhz = 461.0 + 0.0125 * found.choice.channel
    assert found.judged.worst_db == pytest.approx(plain_worst_db(case, mhz, found.choice.slot), abs=1e-9)


def test_when_time_is_over_the_answer_says_so(make_case):
    case = make_case(7, bases=12, rows_each=30)
    found = best_assignment(
        case, 461.0 + 0.0125 * np.arange(20), np.ones((12, 20), dtype=bool), 1, time_limit_s=0.5
    )
    assert found is not None
    assert not found.proven


@given(
    wished=st.lists(st.one_of(st.none(), st.integers(0, 30)), max_size=12),
    taken=st.frozensets(st.integers(0, 30), max_size=10),
)
def test_station_ids_are_ones_own(wished, taken):
    given_ids = station_ids(wished, taken)
    assert len(given_ids) == len(wished)
    assert len(set(given_ids)) == len(given_ids)
    assert not set(given_ids) & taken
    assert all(0 <= one <= 4095 for one in given_ids)
    for wish, one in zip(wished, given_ids, strict=True):
        if wish is not None and wish not in taken and wished.count(wish) == 1:
            assert one == wish
