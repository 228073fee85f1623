"""How much room does the wave need around the straight ray?"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.units import SPEED_OF_LIGHT_M_S


def fresnel_radius_m(
    distance_1_km: ArrayLike, distance_2_km: ArrayLike, frequency_mhz: ArrayLike, *, zone: int = 1
) -> NDArray[np.float64]:
    """Radius of a Fresnel zone at a point of a path, m; 0 at its ends.

    Distances from the point to the two ends, km, at least 0 and not both 0; `frequency_mhz` > 0, MHz;
    they broadcast against each other. `zone` is 1 for the first. The practical form
    550 sqrt(n d1 d2 / ((d1 + d2) f)) is this with its constant rounded up by 0.45 %.
    [P.526-16, section 2: R_n = sqrt(n lambda d1 d2 / (d1 + d2))]
    """
    distance_1_m = 1e3 * np.asarray(distance_1_km, dtype=np.float64)
    distance_2_m = 1e3 * np.asarray(distance_2_km, dtype=np.float64)
    wavelength_m = SPEED_OF_LIGHT_M_S / (1e6 * np.asarray(frequency_mhz, dtype=np.float64))
    return np.asarray(
        np.sqrt(zone * wavelength_m * distance_1_m * distance_2_m / (distance_1_m + distance_2_m))
    )


def clearance_fraction(nu: float) -> float:
    """Clearance under the ray as a fraction of the first Fresnel radius, from the parameter nu.

    Positive where the ray clears the obstacle, negative where it is blocked.
    [P.526-16, section 4.1: nu = h sqrt(2 d / (lambda d1 d2)) = sqrt(2) h / R_1, clearance -h]
    """
    return -nu / math.sqrt(2.0)
