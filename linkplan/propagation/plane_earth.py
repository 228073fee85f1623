"""What would the link lose over flat, smooth, reflecting ground? A line to hold the prediction against."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.units import SPEED_OF_LIGHT_M_S


def plane_earth_loss_db(
    distance_km: ArrayLike, tx_height_m: ArrayLike, rx_height_m: ArrayLike
) -> NDArray[np.float64]:
    """Loss over a flat, perfectly reflecting earth far beyond the break distance, dB.

    `distance_km` > 0, km; antenna heights above ground > 0, m; all broadcast. Short of the break
    distance the formula falls below free space and says nothing.
    [common practice; textbooks give 120 + 40 log d_km - 20 log(h1 h2)]
    """
    distance_m = 1e3 * np.asarray(distance_km, dtype=np.float64)
    product_m2 = np.asarray(tx_height_m, dtype=np.float64) * np.asarray(rx_height_m, dtype=np.float64)
    return np.asarray(40.0 * np.log10(distance_m) - 20.0 * np.log10(product_m2))


def break_distance_km(tx_height_m: float, rx_height_m: float, frequency_mhz: float) -> float:
    """Distance where the plane-earth loss equals the free-space loss, km: 4 pi h1 h2 / lambda.

    Another convention, 4 h1 h2 / lambda (the last maximum of the two-ray pattern), is shorter by pi.
    [common practice]
    """
    wavelength = SPEED_OF_LIGHT_M_S / (frequency_mhz * 1e6)
    return 4.0 * math.pi * tx_height_m * rx_height_m / wavelength / 1000.0
