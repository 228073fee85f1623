"""How much does one sharp edge take away?"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

NU_OF_NO_LOSS = -0.78
"""At and below this nu the rule says 0 dB [P.526-16, section 4.1]."""


def knife_edge_loss_db(nu: ArrayLike) -> FloatArray:
    """Loss over a single knife edge, dB, by the rule J(nu); 0 at and below nu = -0.78.

    `nu` of any shape; -inf (nothing there) gives 0. The rule is an approximation: against the exact
    Fresnel integral it is up to 0.123 dB off between -0.78 and 20, and it leaves out the ripple
    below -0.78, where the edge may take 1.1 dB or give 1.4 dB.
    [P.526-16, section 4.1, equation for J(nu)]
    """
    # Held at the limit first, so that the branch not taken never sees a root of a huge number.
    x = np.maximum(np.asarray(nu, dtype=np.float64), NU_OF_NO_LOSS) - 0.1
    loss = 6.9 + 20.0 * np.log10(np.sqrt(x * x + 1.0) + x)
    return np.where(np.asarray(nu) > NU_OF_NO_LOSS, loss, 0.0)


def edge_parameters(
    distance_km: FloatArray,
    height_m: FloatArray,
    *,
    tx_antenna_m: float,
    rx_antenna_m: float,
    effective_earth_radius_km: float,
    wavelength_m: float,
) -> FloatArray:
    """Parameter nu of every interior point of a path, taken as a knife edge of its own; shape (n - 2,).

    `distance_km` (n,) from the transmitter at 0 to the receiver, km; `height_m` (n,) and the antennas
    in m above sea level. The earth's bulge is added to the heights.
    [P.1812-8, section 4.3.1: nu of the line-of-sight case; P.526-16, section 4.5.1]
    """
    length_km = distance_km[-1]
    d = distance_km[1:-1]
    rest = length_km - d
    bulge_m = 500.0 / effective_earth_radius_km * d * rest
    ray_m = (tx_antenna_m * rest + rx_antenna_m * d) / length_km
    return np.asarray(
        (height_m[1:-1] + bulge_m - ray_m) * np.sqrt(0.002 * length_km / (wavelength_m * d * rest))
    )
