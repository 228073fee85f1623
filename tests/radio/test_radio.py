"""Receivers, antennas and the sums of a budget against values worked outside this project."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.radio import budget
from linkplan.radio.antenna import checked_pattern, gain_dbi
from linkplan.radio.equipment import Antenna, Feeder, Receiver, Transmitter, VerticalPattern
from linkplan.radio.receiver import thermal_noise_dbm, weakest_usable
from linkplan.units import dbi_from_dbd, dbm_from_watt, watt_from_dbm


def receiver(**changes: object) -> Receiver:
    values: dict[str, object] = {
        "antenna": Antenna(2.0),
        "feeder": Feeder(0.5),
        "noise_bandwidth_khz": 12.5,
        "noise_figure_db": 7.0,
        "noise_figure_assumed": False,
        "sensitivity_dbm": -110.0,
    }
    return Receiver(**{**values, **changes})  # type: ignore[arg-type]


def test_thermal_noise_of_a_narrow_channel() -> None:
    # -174 dBm/Hz at 290 K is the value of every radio handbook; exactly -173.975 with the SI constant
    assert thermal_noise_dbm(0.001) == pytest.approx(-173.975, abs=0.001)
    # 12.5 kHz: -173.975 + 40.969
    assert thermal_noise_dbm(12.5) == pytest.approx(-133.006, abs=0.001)


def test_data_sheet_decides_in_a_quiet_place() -> None:
    level = weakest_usable(receiver(), external_noise_figure_db=-20.0)
    assert level.level_dbm == -110.0
    assert level.noise_rise_db == 0.0
    assert level.decided_by == "data sheet"


def test_noise_of_a_city_raises_the_level() -> None:
    # Fa 11.67 dB (P.372 business area, 450 MHz): fa = 14.69; NF 7 dB: fr = 5.012
    # f = fa + fr - 1 = 18.70; rise = 10 log10(18.70 / 5.012) = 5.72 dB (worked by hand)
    level = weakest_usable(receiver(), external_noise_figure_db=11.67)
    assert level.noise_rise_db == pytest.approx(5.72, abs=0.005)
    assert level.level_dbm == pytest.approx(-104.28, abs=0.005)
    assert level.decided_by == "data sheet and site noise"


def test_computed_level_where_no_data_sheet_is_given() -> None:
    # kTB -133.006 + NF 7 + 16 dB needed; Fa 0 dB means f = fr: no rise
    level = weakest_usable(receiver(sensitivity_dbm=None, required_snr_db=16.0), 0.0)
    assert level.level_dbm == pytest.approx(-110.006, abs=0.001)
    assert level.decided_by == "noise and modulation"


@given(
    outside=st.floats(-40, 60),
    sensitivity=st.floats(-130, -80),
    snr=st.floats(3, 30),
    figure=st.floats(0, 20),
)
def test_the_worse_of_both_decides(outside: float, sensitivity: float, snr: float, figure: float) -> None:
    both = weakest_usable(
        receiver(sensitivity_dbm=sensitivity, required_snr_db=snr, noise_figure_db=figure), outside
    )
    sheet = weakest_usable(receiver(sensitivity_dbm=sensitivity, noise_figure_db=figure), outside)
    noise = weakest_usable(
        receiver(sensitivity_dbm=None, required_snr_db=snr, noise_figure_db=figure), outside
    )
    assert both.level_dbm == max(sheet.level_dbm, noise.level_dbm)
    assert sheet.level_dbm >= sensitivity


def test_a_receiver_that_says_nothing_is_refused() -> None:
    with pytest.raises(RangeError, match="sensitivity"):
        weakest_usable(receiver(sensitivity_dbm=None), 0.0)


def test_power_and_gain_units() -> None:
    # 1 W is 30 dBm by definition; 35 W: 10 log10 35000 = 45.441 dBm
    assert dbm_from_watt(1.0) == pytest.approx(30.0)
    assert dbm_from_watt(35.0) == pytest.approx(45.4407, abs=1e-4)
    assert watt_from_dbm(33.0) == pytest.approx(1.99526, abs=1e-5)
    # a half-wave dipole has a gain of 1.64 over isotropic [47 CFR 2.1 gives ERP and EIRP that ratio]
    assert 10 ** (dbi_from_dbd(0.0) / 10) == pytest.approx(1.64, abs=0.001)


def test_eirp_and_received_level() -> None:
    transmitter = Transmitter(dbm_from_watt(35.0), 450.0, 12.5, Feeder(2.0), Antenna(5.0))
    # 45.441 - 2 + 5
    assert budget.peak_eirp_dbm(transmitter) == pytest.approx(48.441, abs=0.001)
    assert budget.receive_gain_db(receiver(body_loss_db=3.0)) == pytest.approx(2.0 - 0.5 - 3.0)
    assert budget.received_dbm(48.0, 120.0, -1.5) == pytest.approx(-73.5)


def test_pattern_takes_off_what_it_says() -> None:
    antenna = Antenna(5.0, VerticalPattern((-90.0, -20.0, 0.0, 90.0), (-30.0, -10.0, 0.0, -30.0)))
    assert gain_dbi(antenna, [0.0, -10.0, -20.0]).tolist() == pytest.approx([5.0, 0.0, -5.0])
    assert gain_dbi(Antenna(5.0), np.asarray([[-45.0, 0.0]])).tolist() == [[5.0, 5.0]]


@pytest.mark.parametrize(
    ("angles", "gains", "words"),
    [
        ((0.0,), (0.0,), "at least two"),
        ((0.0, 0.0), (0.0, -1.0), "row 2: elevation_deg = 0 does not ascend"),
        ((-91.0, 0.0), (0.0, 0.0), "row 1: elevation_deg = -91"),
        ((-90.0, 0.0), (0.0, 0.5), "row 2: relative_gain_db = 0.5"),
        ((-90.0, 0.0), (0.0, math.nan), "row 2: relative_gain_db = nan"),
    ],
)
def test_bad_patterns_name_the_row(angles: tuple[float, ...], gains: tuple[float, ...], words: str) -> None:
    with pytest.raises(RangeError, match=words):
        checked_pattern(angles, gains)


def test_a_good_pattern_passes() -> None:
    assert checked_pattern((-90.0, 0.0), (-20.0, 0.0)).relative_gain_db == (-20.0, 0.0)
