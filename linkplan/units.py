"""Exact constants and conversions: lengths, decibels, power.

Pure arithmetic on floats or numpy arrays; no ranges are checked here.
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])

SPEED_OF_LIGHT_M_S = 299_792_458.0
"""Speed of light in vacuum, exact [SI brochure, 9th ed., section 2.2]."""

BOLTZMANN_J_K = 1.380649e-23
"""Boltzmann constant, exact [SI brochure, 9th ed., section 2.2]."""

REFERENCE_TEMPERATURE_K = 290.0
"""Noise reference temperature T0 [ITU-R P.372, section 2]."""

METRES_PER_UNIT = {
    "metre": 1.0,
    "foot": 0.3048,
    "us-survey-foot": 1200.0 / 3937.0,
}
"""Length units of a job file: international foot exact (1959), US survey foot exact (1893)."""

HALF_WAVE_DIPOLE_DBI = 2.15
"""Gain of a half-wave dipole: 0 dBd in dBi [common convention, 10 log10 1.64]."""


def dbm_from_watt(power_w: Number) -> Number:
    """Power in dBm from watts (power_w > 0)."""
    power_dbm: Number = 10.0 * np.log10(power_w) + 30.0
    return power_dbm


def watt_from_dbm(power_dbm: Number) -> Number:
    """Power in watts from dBm."""
    power_w: Number = 10.0 ** ((power_dbm - 30.0) / 10.0)
    return power_w


def dbi_from_dbd(gain_dbd: float) -> float:
    """Antenna gain over an isotropic radiator from gain over a half-wave dipole."""
    return gain_dbd + HALF_WAVE_DIPOLE_DBI


def wavelength_m(frequency_ghz: float) -> float:
    """Wavelength in vacuum, m."""
    return SPEED_OF_LIGHT_M_S / (frequency_ghz * 1e9)


def power_ratio(level_db: float) -> float:
    """Power ratio of a level in dB."""
    return float(10.0 ** (level_db / 10.0))


def level_db(ratio: float) -> float:
    """Level in dB of a power ratio (ratio > 0)."""
    return 10.0 * math.log10(ratio)
