"""The mechanisms beside diffraction for one path at the median: ducting, troposcatter, and their sum.

Losses are counted from F = 92.4 + 20 log f + 20 log d, free space over the ground distance, so that most
terms are small. At 50 % of the time and of the locations the Recommendation's Fi, Esp and Lloc are 0.

Source: ITU-R P.1812-8 (09/2025), sections 4.2 to 4.8; symbols of the field's own note in the comments.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from linkplan.propagation import radio_climate
from linkplan.propagation.sweep_numba import FloatArray, inner
from linkplan.propagation.troposcatter import troposcatter_loss_db
from linkplan.tables.p1812_8 import FREE_SPACE_DB

TIME_PERCENT = 50.0
TOLERANCE_DB = 0.01
"""A correction that cannot reach this is left out."""

SEEN_BLEND = 0.5 * (1.0 + math.tanh(-2.4))
"""1 - Fj where the antennas see each other: theta = 0."""

CLEAR_DB = 12.3
"""A ray that does not clear the ground loses more than this: J(0) = 6.03 dB makes 12.37 dB."""


TABLE_COLUMNS = 7


class AtDistance(NamedTuple):
    """What depends on the distance alone and only ducting asks for. [P.1812-8, sections 3 and 4.5]"""

    log_beta0: float
    """log10 of beta0 in % at the equator."""
    log_beta0_per_degree: float
    """Its change for a degree of latitude, up to 70 degrees."""
    log_beta0_beyond_70: float
    alpha: float
    """Exponent of mu2."""
    gamma_power: float
    """1e-6 d^1.13, in Gamma."""


class Seen(NamedTuple):
    """Horizons of one path; angles in mrad, samples counted from the base."""

    trans_horizon: bool
    theta_t: float
    theta_r: float
    sample_t: int
    sample_r: int


class Air(NamedTuple):
    """What all paths of one map share."""

    tx_height_m: float
    rx_height_m: float
    cell_km: float
    radius_km: float
    """Effective earth radius a_e."""
    free_db: float
    """F at 1 km."""
    duct_db: float
    """Lba less F, its fixed part: 10.05 + Alf."""
    duct_per_mrad: float
    """gamma_d."""
    shield_per_mrad: float
    """0.264 f^(1/3) of Ast and Asr."""
    root_f: float
    scatter_db: float
    """Lbs less F at theta = 0."""
    latitude_deg: float
    """Of the base."""
    table_per_km: float
    """Rows of the table over distance in a kilometre."""


def make_air(
    *,
    tx_height_m: float,
    rx_height_m: float,
    cell_km: float,
    frequency_ghz: float,
    tx_latitude_deg: float,
    refractivity_gradient_n_units_per_km: float,
    sea_level_refractivity_n_units: float,
    table_per_km: float,
) -> Air:
    """Constants of a map. [P.1812-8, sections 3, 4.2, 4.4 and 4.5]"""
    radius_km = radio_climate.median_effective_earth_radius_km(refractivity_gradient_n_units_per_km)
    free_db = FREE_SPACE_DB + 20.0 * math.log10(frequency_ghz)
    f = frequency_ghz
    low_frequency_db = 45.375 - 137.0 * f + 92.5 * f**2 if f < 0.5 else 0.0
    scatter_at_1km_db = troposcatter_loss_db(
        1.0,
        0.0,
        frequency_ghz=frequency_ghz,
        time_percent=TIME_PERCENT,
        sea_level_refractivity_n_units=sea_level_refractivity_n_units,
    )
    return Air(
        tx_height_m=float(tx_height_m),
        rx_height_m=float(rx_height_m),
        cell_km=cell_km,
        radius_km=radius_km,
        free_db=free_db,
        duct_db=102.45 - FREE_SPACE_DB + low_frequency_db,
        duct_per_mrad=5e-5 * radius_km * math.cbrt(frequency_ghz),
        shield_per_mrad=0.264 * math.cbrt(frequency_ghz),
        root_f=math.sqrt(frequency_ghz),
        scatter_db=scatter_at_1km_db - free_db,
        latitude_deg=float(tx_latitude_deg),
        table_per_km=table_per_km,
    )


@lru_cache(maxsize=8)
def distance_table(
    longest_km: float, rows: int, latitudes_deg: tuple[float, float], nearest_km: float, farthest_km: float
) -> FloatArray:
    """Rows of 1 - Fk, least Ap and `AtDistance` at even distances from 0 to `longest_km`.

    Only those that distances from `nearest_km` to `farthest_km` lie between are filled, the rest is NaN. The
    least Ap is that within the map's latitudes (without sign) for mu2 = mu3 = 1. Kept, since it is the same
    for every mast at a place: not to be written to.
    [P.1812-8, sections 3, 4.5 and 4.7]
    """
    table = np.full((rows, TABLE_COLUMNS), np.nan)
    per_km = (rows - 1) / longest_km
    first, stop = max(int(nearest_km * per_km) - 1, 0), int(farthest_km * per_km) + 3
    for row, d in enumerate(np.linspace(0.0, longest_km, rows)[first:stop], start=first):
        at_0, at_70, beyond = (math.log10(radio_climate.beta0_percent(x, d, d)) for x in (0.0, 70.0, 90.0))
        alpha = max(-0.6 - 3.5e-9 * d**3.1 * radio_climate.inland_factor(d), -3.4)
        blend = 0.5 * (1.0 + math.tanh(1.5 * (d - 20.0) / 20.0))
        gamma_power = 1e-6 * d**1.13
        highest = max(math.log10(radio_climate.beta0_percent(x, d, d)) for x in latitudes_deg)
        least = median_time_loss_db(d, highest, gamma_power)
        table[row] = blend, least, at_0, (at_70 - at_0) / 70.0, beyond, alpha, gamma_power
    return table


@inner
def blend_and_least(table: FloatArray, place: float) -> tuple[float, float]:
    """1 - Fk and the least Ap, linear between the rows of the table."""
    row = min(int(place), table.shape[0] - 2)
    share = place - row
    return (
        table[row, 0] + share * (table[row + 1, 0] - table[row, 0]),
        table[row, 1] + share * (table[row + 1, 1] - table[row, 1]),
    )


@inner
def at_distance(table: FloatArray, place: float) -> AtDistance:
    """The rest of the table, linear between its rows."""
    row = min(int(place), table.shape[0] - 2)
    share = place - row
    return AtDistance(
        table[row, 2] + share * (table[row + 1, 2] - table[row, 2]),
        table[row, 3] + share * (table[row + 1, 3] - table[row, 3]),
        table[row, 4] + share * (table[row + 1, 4] - table[row, 4]),
        table[row, 5] + share * (table[row + 1, 5] - table[row, 5]),
        table[row, 6] + share * (table[row + 1, 6] - table[row, 6]),
    )


def median_time_loss_db(distance_km: float, log_beta: float, gamma_power: float) -> float:
    """Ap at the median, dB; it falls with beta. [P.1812-8, section 4.5: Gamma, Ap]"""
    gamma = (
        1.076
        / math.pow(2.0058 - log_beta, 1.012)
        * math.exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta**2) * gamma_power)
    )
    log_ratio = math.log10(TIME_PERCENT) - log_beta
    return -12.0 + (1.2 + 3.7e-3 * distance_km) * log_ratio + 12.0 * math.pow(10.0, log_ratio * gamma)


time_loss_db = inner(median_time_loss_db)


@inner
def log_beta0(here: AtDistance, latitude_deg: float) -> float:
    """log10 of beta0 in %. [P.1812-8, section 3]"""
    latitude = abs(latitude_deg)
    if latitude > 70.0:
        return here.log_beta0_beyond_70
    return here.log_beta0 + latitude * here.log_beta0_per_degree


@inner
def angle_mrad(slope: float) -> float:
    """1000 atan, for mostly small slopes."""
    if abs(slope) < 0.03:
        square = slope * slope
        return 1e3 * slope * (1.0 - square * (1.0 / 3.0 - square * 0.2))
    return 1e3 * math.atan(slope)


@inner
def duct_db(
    air: Air, distance_km: float, step_km: float, last: int, seen: Seen, time_loss_db: float
) -> float:
    """Lba less F with a given Ap, dB. [P.1812-8, section 4.5: Af, gamma_d theta']"""
    theta_t, theta_r = seen.theta_t, seen.theta_r
    reach_t_km, reach_r_km = step_km * seen.sample_t, step_km * (last - seen.sample_r)
    shield_t = max(theta_t - 0.1 * reach_t_km, 0.0)  # theta''
    shield_r = max(theta_r - 0.1 * reach_r_km, 0.0)
    product = (
        (reach_t_km + reach_r_km)
        / distance_km
        * (1.0 + 0.361 * shield_t * air.root_f * math.sqrt(reach_t_km))
        * (1.0 + 0.361 * shield_r * air.root_f * math.sqrt(reach_r_km))
    )
    bent = 1e3 * distance_km / air.radius_km + theta_t - shield_t + theta_r - shield_r  # theta'
    return (
        air.duct_db
        + 20.0 * math.log10(product)
        + air.shield_per_mrad * (shield_t + shield_r)
        + air.duct_per_mrad * bent
        + time_loss_db
    )


@inner
def least_duct_within_sight_db(
    air: Air, distance_km: float, theta_t: float, theta_r: float, time_loss_db: float
) -> float:
    """What `duct_db` cannot fall below wherever the horizons of a line-of-sight path are, dB.

    Their distances add up to the path's. A positive angle's part is gamma_d min(theta, 0.1 dl) + As, not
    less than 0.264 f^(1/3) theta since gamma_d > 0.264 f^(1/3).
    """
    angles = 1e3 * distance_km / air.radius_km + min(theta_t, 0.0) + min(theta_r, 0.0)
    shielded = max(theta_t, 0.0) + max(theta_r, 0.0)
    return air.duct_db + air.duct_per_mrad * angles + air.shield_per_mrad * shielded + time_loss_db


@inner
def least_duct_db(
    air: Air,
    distance_km: float,
    theta_t: float,
    theta_r: float,
    reach_t_km: float,
    reach_r_km: float,
    time_loss_db: float,
) -> float:
    """The same of a path beyond the horizon, with angles and distances that are not exceeded downwards.

    theta'' is at least theta - 0.1 d.
    """
    shield_t = max(theta_t - 0.1 * distance_km, 0.0)
    shield_r = max(theta_r - 0.1 * distance_km, 0.0)
    product = (
        (reach_t_km + reach_r_km)
        / distance_km
        * (1.0 + 0.361 * shield_t * air.root_f * math.sqrt(reach_t_km))
        * (1.0 + 0.361 * shield_r * air.root_f * math.sqrt(reach_r_km))
    )
    rest_db = least_duct_within_sight_db(air, distance_km, theta_t, theta_r, time_loss_db)
    return rest_db + 20.0 * math.log10(product)


@inner
def angle_blend(theta_mrad: float) -> float:
    """1 - Fj. [P.1812-8, section 4.7]"""
    return 1.0 if theta_mrad > 1.5 else 0.5 * (1.0 + math.tanh(2.4 * (theta_mrad - 0.3) / 0.3))


@inner
def with_ducting_db(diffraction_db: float, duct_db: float, free_db: float, blend: float) -> float:
    """Lbam less F: diffraction_db and duct_db are Lbd and Lba less F, blend (1 - Fk)(1 - Fj), dB.

    [P.1812-8, section 4.7: Lminbap, Lbda, Lbam]
    """
    high = max(duct_db, free_db)
    least = high + 2.5 * math.log1p(math.exp((min(duct_db, free_db) - high) / 2.5))
    return diffraction_db - max(diffraction_db - least, 0.0) * blend


@inner
def with_scatter_db(other_db: float, scatter_db: float) -> float:
    """Lbc, both arguments less F, dB. [P.1812-8, section 4.7]"""
    above = scatter_db - other_db
    if above > 20.0:
        return other_db
    return other_db - 5.0 * math.log10(1.0 + 10.0 ** (-0.2 * above))


@inner
def log_path_factors(
    air: Air,
    here: AtDistance,
    distance_km: float,
    base_above_m: float,
    rover_above_m: float,
    roughness_m: float,
    between_km: float,
) -> float:
    """log10(mu2 mu3): antennas over the smooth surface, hm, distance between the horizons.

    [P.1812-8, section 4.5: mu2, mu3]
    """
    root = math.sqrt(base_above_m) + math.sqrt(rover_above_m)
    ratio = 500.0 / air.radius_km * distance_km**2 / (root * root)
    result = 0.0
    if ratio > 1.0:
        result = here.alpha * math.log10(ratio)
    if roughness_m > 10.0:
        rough = 4.6e-5 * (roughness_m - 10.0) * (43.0 + 6.0 * min(between_km, 40.0))
        result -= rough * math.log10(math.e)
    return result
