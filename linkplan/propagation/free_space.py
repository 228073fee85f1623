"""How much is lost over distance alone, with nothing in the way?"""

from __future__ import annotations

import math
from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.tables import p1812_8
from linkplan.units import SPEED_OF_LIGHT_M_S

FloatArray = NDArray[np.float64]


def free_space_loss_db(distance_km: ArrayLike, frequency_mhz: ArrayLike) -> FloatArray:
    """Free-space basic transmission loss between isotropic antennas, dB, with the exact speed of light.

    `distance_km` > 0, km, and `frequency_mhz` > 0, MHz, broadcast against each other. The common
    32.4 + 20 log f + 20 log d rounds the same constant (32.448) down.
    [P.525, section 2.2: L = 20 log10(4 pi d / lambda)]
    """
    distance_m = 1e3 * np.asarray(distance_km, dtype=np.float64)
    frequency_hz = 1e6 * np.asarray(frequency_mhz, dtype=np.float64)
    return np.asarray(20.0 * np.log10(4.0 * math.pi * distance_m * frequency_hz / SPEED_OF_LIGHT_M_S))


@overload
def slant_free_space_loss_db(
    distance_km: float, tx_antenna_m: float, rx_antenna_m: float, frequency_ghz: float
) -> float: ...
@overload
def slant_free_space_loss_db(
    distance_km: FloatArray,
    tx_antenna_m: float | FloatArray,
    rx_antenna_m: float | FloatArray,
    frequency_ghz: float,
) -> FloatArray: ...
def slant_free_space_loss_db(
    distance_km: float | FloatArray,
    tx_antenna_m: float | FloatArray,
    rx_antenna_m: float | FloatArray,
    frequency_ghz: float,
) -> float | FloatArray:
    """Free-space loss along the slant line between two antennas, dB, as P.1812 rounds it.

    `distance_km` along the ground, km; antennas in m above sea level; numbers, or arrays that broadcast;
    the antennas are not in one place. `frequency_ghz` > 0, GHz. [P.1812-8, section 4.2: Lbfs]
    """
    rise_km = (tx_antenna_m - rx_antenna_m) / 1000.0
    slant_db = 10.0 * np.log10(distance_km**2 + rise_km**2)
    loss = p1812_8.FREE_SPACE_DB + 20.0 * math.log10(frequency_ghz) + slant_db
    return loss if isinstance(loss, np.ndarray) else float(loss)
