"""Diffraction for a percentage of time, and how P.1812 puts the mechanisms of a path together."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linkplan.propagation.variability import inverse_complementary_normal


@dataclass(frozen=True)
class Combination:
    """The mechanisms put together, dB unless said otherwise; symbols in the field's note."""

    median_los_with_diffraction_db: float
    """Lbd50."""
    time_p_los_with_diffraction_db: float
    """Lbd."""
    notional_minimum_los_db: float
    """Lminb0p."""
    notional_minimum_anomalous_db: float
    """Lminbap."""
    distance_blend: float
    """Fk, 0 to 1."""
    angle_blend: float
    """Fj, 0 to 1."""
    diffraction_and_anomalous_db: float
    """Lbda."""
    modified_diffraction_and_anomalous_db: float
    """Lbam."""
    combined_db: float
    """Lbc."""


def time_interpolation(time_percent: float, beta0_percent: float) -> float:
    """Weight between the median (0) and the time beta0 (1), both in %: Fi.

    [P.1812-8, section 4.3.5]
    """
    if time_percent >= 50.0:
        return 0.0
    if time_percent <= beta0_percent:
        return 1.0
    return inverse_complementary_normal(time_percent / 100.0) / inverse_complementary_normal(
        beta0_percent / 100.0
    )


def combine(
    *,
    length_km: float,
    angular_distance_mrad: float,
    sea_fraction: float,
    time_percent: float,
    beta0_percent: float,
    free_space_db: float,
    los_time_p_db: float,
    los_time_beta0_db: float,
    diffraction_median_db: float,
    diffraction_time_p_db: float,
    anomalous_db: float,
    troposcatter_db: float,
) -> Combination:
    """Basic loss from all mechanisms, before the variation between locations.

    Losses in dB, angle in mrad, lengths in km. [P.1812-8, sections 4.3.5, 4.6 and 4.7]
    """
    angle_blend = 1.0 - 0.5 * (1.0 + math.tanh(2.4 * (angular_distance_mrad - 0.3) / 0.3))
    distance_blend = 1.0 - 0.5 * (1.0 + math.tanh(1.5 * (length_km - 20.0) / 20.0))

    median_db = free_space_db + diffraction_median_db
    time_p_db = los_time_p_db + diffraction_time_p_db
    over_land_db = (1.0 - sea_fraction) * diffraction_time_p_db
    if time_percent < beta0_percent:
        minimum_los_db = los_time_p_db + over_land_db
    else:
        weight = time_interpolation(time_percent, beta0_percent)
        minimum_los_db = median_db + (los_time_beta0_db + over_land_db - median_db) * weight

    minimum_anomalous_db = _log_sum(anomalous_db, los_time_p_db, scale=2.5)
    blended_db = time_p_db
    if minimum_anomalous_db <= time_p_db:
        blended_db = minimum_anomalous_db + (time_p_db - minimum_anomalous_db) * distance_blend
    modified_db = blended_db + (minimum_los_db - blended_db) * angle_blend
    combined_db = _log_sum(troposcatter_db, modified_db, scale=-5.0 / math.log(10.0))
    return Combination(
        median_los_with_diffraction_db=median_db,
        time_p_los_with_diffraction_db=time_p_db,
        notional_minimum_los_db=minimum_los_db,
        notional_minimum_anomalous_db=minimum_anomalous_db,
        distance_blend=distance_blend,
        angle_blend=angle_blend,
        diffraction_and_anomalous_db=blended_db,
        modified_diffraction_and_anomalous_db=modified_db,
        combined_db=combined_db,
    )


def _log_sum(first_db: float, second_db: float, *, scale: float) -> float:
    """scale * ln(exp(first / scale) + exp(second / scale)), written so that great losses do not overflow.

    With scale 2.5 this is Lminbap; with -5 / ln 10 it is -5 log(10^(-0.2 a) + 10^(-0.2 b)), Lbc.
    """
    larger, smaller = sorted((first_db / scale, second_db / scale), reverse=True)
    return scale * (larger + math.log1p(math.exp(smaller - larger)))
