"""Interference against values worked by hand, brute enumeration, and what must hold for any radio."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.radio import interference
from linkplan.radio.interference import Emission, Protection, rejection_db, third_order_products
from linkplan.tables import protection as table

NARROW = Emission.of_spacing(12.5)
WIDE = Emission.of_spacing(25.0)
NARROW_LIMITS = Protection.for_spacing(12.5)
WIDE_LIMITS = Protection.for_spacing(25.0)


def test_table_holds_the_limits_quoted_for_it():
    # ETSI EN 300 113 and 47 CFR 90.209 as quoted from memory: nobody read them for this project
    assert (NARROW_LIMITS.co_channel_db, WIDE_LIMITS.co_channel_db) == (12.0, 8.0)
    assert (NARROW_LIMITS.adjacent_power_db, WIDE_LIMITS.adjacent_power_db) == (60.0, 70.0)
    assert (NARROW_LIMITS.adjacent_selectivity_db, WIDE_LIMITS.adjacent_selectivity_db) == (60.0, 70.0)
    assert (NARROW_LIMITS.blocking_db, NARROW_LIMITS.spurious_rejection_db) == (84.0, 70.0)
    assert (NARROW.bandwidth_khz, WIDE.bandwidth_khz) == (11.25, 20.0)


def test_same_channel_rejects_nothing():
    assert rejection_db(0.0, NARROW, NARROW, NARROW_LIMITS) == 0.0
    assert rejection_db(0.0, NARROW, WIDE, WIDE_LIMITS) == 0.0


def test_wider_signal_on_the_same_channel():
    # on-tune rejection 10 log10(Bt/Br) = 10 log10(20/11.25) = 2.499 dB (ITU-R SM.337, from memory);
    # the leak of 1e-6 + 1e-7.2 beside a share of 0.5625 changes it by 8e-6 dB
    assert rejection_db(0.0, WIDE, NARROW, NARROW_LIMITS) == pytest.approx(2.499, abs=0.001)


def test_channels_that_half_overlap():
    # centres 6.25 kHz apart, both 11.25 wide: 5.0 of 11.25 kHz in common, 10 log10(2.25) = 3.522 dB
    assert rejection_db(6.25, NARROW, NARROW, NARROW_LIMITS) == pytest.approx(3.522, abs=0.001)


def test_adjacent_channel_adds_the_transmitters_and_the_receivers_share():
    # 10^-6.0 + 10^-(60+12)/10 = 1e-6 + 6.310e-8 = 1.0631e-6 -> 59.734 dB
    assert rejection_db(12.5, NARROW, NARROW, NARROW_LIMITS) == pytest.approx(59.734, abs=0.001)
    # 10^-7.0 + 10^-7.8 = 1e-7 + 1.5849e-8 -> 69.361 dB
    assert rejection_db(25.0, WIDE, WIDE, WIDE_LIMITS) == pytest.approx(69.361, abs=0.001)


def test_farther_channels():
    # second channel: 10^-7.0 + 10^-8.2 = 1.0631e-7 -> 69.734 dB
    assert rejection_db(25.0, NARROW, NARROW, NARROW_LIMITS) == pytest.approx(69.734, abs=0.001)
    # from 1 MHz: 10^-7.0 + 10^-9.6 = 1.00251e-7 -> 69.989 dB
    assert rejection_db(1000.0, NARROW, NARROW, NARROW_LIMITS) == pytest.approx(69.989, abs=0.001)


@given(
    offsets=st.lists(st.floats(0.0, 5000.0), min_size=2, max_size=20),
    sent=st.sampled_from([6.25, 12.5, 20.0, 25.0, 50.0]),
    heard=st.sampled_from([6.25, 12.5, 20.0, 25.0, 50.0]),
    figures=st.tuples(*[st.floats(0.0, 100.0)] * 5),
)
def test_rejection_grows_with_the_offset_and_knows_no_side(offsets, sent, heard, figures):
    names = (
        "co_channel_db", "adjacent_power_db", "adjacent_selectivity_db", "spurious_rejection_db",
        "blocking_db",
    )  # fmt: skip
    limits = Protection(**dict(zip(names, figures, strict=True)))
    emissions = Emission.of_spacing(sent), Emission.of_spacing(heard)
    ordered = np.sort(np.array(offsets))
    rejected = rejection_db(ordered, *emissions, limits)
    assert (np.diff(rejected) >= -1e-9).all()
    assert (rejected >= 0.0).all()
    assert np.array_equal(rejected, rejection_db(-ordered, *emissions, limits))


@given(offset=st.floats(-60.0, 60.0), sent=st.floats(1.0, 50.0), heard=st.floats(1.0, 50.0))
def test_overlap_is_the_common_part_of_two_intervals(offset, sent, heard):
    low = max(-heard / 2, offset - sent / 2)
    high = min(heard / 2, offset + sent / 2)
    share = interference.overlap_share(offset, sent, heard)
    assert share == pytest.approx(max(high - low, 0.0) / sent, abs=1e-9)


def brute_products(frequencies):
    """Every sum of two less a third over all triples of positions, by rote."""
    found = {}
    for a, b, c in itertools.product(range(len(frequencies)), repeat=3):
        if c in (a, b):
            continue  # a signal less itself is no product
        found[(tuple(sorted((a, b))), c)] = frequencies[a] + frequencies[b] - frequencies[c]
    return found


@given(st.lists(st.integers(403_000, 473_000).map(lambda khz: khz / 1000.0), max_size=7))
def test_products_equal_brute_enumeration(frequencies):
    products = third_order_products(frequencies)
    assert len({(one.plus, one.minus) for one in products}) == len(products)
    found = {(one.plus, one.minus): one.frequency_mhz for one in products}
    wanted = brute_products(frequencies)
    assert found.keys() == wanted.keys()
    assert all(found[key] == pytest.approx(wanted[key], abs=1e-9) for key in wanted)
    n = len(frequencies)
    assert len(products) == n * (n - 1) + n * (n - 1) * (n - 2) // 2


def test_products_of_an_evenly_spaced_pair_fall_on_the_next_channels():
    products = third_order_products([461.0, 461.025])
    assert sorted(one.frequency_mhz for one in products) == pytest.approx([460.975, 461.05])


def test_receiver_intercept_gives_back_its_own_rejection():
    # S = -110, R = 65, P = 12: IIP3 = -110 + 97.5 + 6 = -6.5 dBm; two signals of -45 dBm then make
    # 3 x (-45) + 13 = -122 dBm, 12 dB below the wanted
    intercept = interference.receiver_intercept_dbm(-110.0, NARROW_LIMITS)
    assert intercept == pytest.approx(-6.5)
    assert interference.receiver_product_dbm(-45.0, -45.0, -45.0, intercept) == pytest.approx(-122.0)


def test_three_signals_mix_as_a_cubic_does():
    """Amplitudes of the lines of (cos at + cos bt + cos ct)^3, by Fourier transform."""
    count = 4096
    t = 2.0 * np.pi * np.arange(count) / count
    line = np.abs(np.fft.rfft((np.cos(200 * t) + np.cos(210 * t) + np.cos(250 * t)) ** 3)) / count
    ratio_db = 20.0 * math.log10(line[200 + 210 - 250] / line[2 * 200 - 250])
    assert pytest.approx(ratio_db, abs=1e-6) == interference.THREE_SIGNALS_DB


def test_transmitter_product_follows_the_incoming_signal():
    # at the limit's own condition: 30 dB below the carrier comes in, 40 dB below the carrier goes out
    assert interference.transmitter_product_below_carrier_db(40.0, 40.0, 30.0, NARROW_LIMITS) == 40.0
    # 65 dB between equal transmitters: 40 + 65 - 30 = 75 dB
    assert interference.transmitter_product_below_carrier_db(40.0, 40.0, 65.0, NARROW_LIMITS) == 75.0
    # a 10 dB stronger neighbour: 65 dB
    assert interference.transmitter_product_below_carrier_db(40.0, 50.0, 65.0, NARROW_LIMITS) == 65.0


def test_coupling_between_two_antennas():
    # free space at 450 MHz is 85.512 dB at 1 km (P.525), 20 dB less at 100 m; two antennas of 5 dBi
    loss = interference.antenna_coupling_loss_db(100.0, 450.0, 10.0)
    assert loss == pytest.approx(85.512 - 20.0 - 10.0, abs=0.001)
    with pytest.raises(RangeError, match="distance_m"):
        interference.antenna_coupling_loss_db(0.0, 450.0, 0.0)


def test_overload_distance_by_hand():
    # 2 W (33.01 dBm) into 2 dBi, rover 0 dBi: at -10 dBm there may be 45.01 dB of free space;
    # 85.512 - 45.01 = 40.50 dB below 1 km: 10^(-40.50/20) km = 9.44 m
    found = interference.overload_distance_m(33.0103 + 2.0, 0.0, -10.0, 450.0)
    assert found == pytest.approx(9.44, abs=0.01)
    # common practice: within some 6 m a base can overload a rover; the table's level is of that order
    # for 0.5 to 2 W
    near = interference.overload_distance_m(26.99, 0.0, table.OVERLOAD_DBM, 450.0)
    assert 3.0 < near < 10.0


@given(st.floats(-20.0, 60.0), st.floats(30.0, 3000.0))
def test_free_space_to_the_overload_distance_leaves_the_overload_level(eirp_dbm, frequency_mhz):
    from linkplan.propagation.free_space import free_space_loss_db

    distance_m = interference.overload_distance_m(eirp_dbm, -2.0, -10.0, frequency_mhz)
    level = eirp_dbm - 2.0 - free_space_loss_db(distance_m / 1e3, frequency_mhz)
    assert level == pytest.approx(-10.0, abs=1e-6)


def test_two_equal_signals_are_three_decibels_more():
    assert interference.added_dbm([-90.0, -90.0]) == pytest.approx(-86.990, abs=0.001)
    assert interference.added_dbm([np.array([-90.0, -math.inf]), -math.inf]).tolist() == [-90.0, -math.inf]
    with pytest.raises(RangeError):
        interference.added_dbm([])
