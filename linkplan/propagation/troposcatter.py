"""What does scattering in the air carry beyond the horizon?"""

from __future__ import annotations

import math


def troposcatter_loss_db(
    distance_km: float,
    angular_distance_mrad: float,
    *,
    frequency_ghz: float,
    time_percent: float,
    sea_level_refractivity_n_units: float,
) -> float:
    """Basic loss by tropospheric scatter not exceeded for a percentage of time, dB.

    `distance_km` km, `angular_distance_mrad` theta of the horizons, mrad; `time_percent` up to 50.
    [P.1812-8, section 4.4: Lbs, Lf]
    """
    frequency_term = 25.0 * math.log10(frequency_ghz) - 2.5 * math.log10(frequency_ghz / 2.0) ** 2
    return (
        190.1
        + frequency_term
        + 20.0 * math.log10(distance_km)
        + 0.573 * angular_distance_mrad
        - 0.15 * sea_level_refractivity_n_units
        - 10.125 * math.pow(math.log10(50.0 / time_percent), 0.7)
    )
