"""How far may the signal differ from place to place within a small area?"""

from __future__ import annotations

import math

from linkplan.ranges import require_range
from linkplan.tables import p1812_8


def inverse_complementary_normal(probability: float) -> float:
    """Value of a standard normal variable that is exceeded with a probability, by P.1812's rule.

    Probabilities below 1e-6 and above 1 - 1e-6 are taken as those limits, as the source says. The rule
    is within 4.6e-4 of the exact value. [P.1812-8, Attachment 2]
    """
    x = min(max(probability, p1812_8.NORMAL_LIMIT), 1.0 - p1812_8.NORMAL_LIMIT)
    if x > 0.5:
        return -inverse_complementary_normal(1.0 - x)
    c0, c1, c2 = p1812_8.NORMAL_C
    d0, d1, d2, d3 = p1812_8.NORMAL_D
    t = math.sqrt(-2.0 * math.log(x))
    return t - ((c2 * t + c1) * t + c0) / (((d3 * t + d2) * t + d1) * t + d0)


def location_sigma_db(frequency_ghz: float, square_width_m: float) -> float:
    """Standard deviation of the field over a square of the ground, outdoors below the clutter, dB.

    `frequency_ghz` 0.03 to 6 GHz; `square_width_m` the side of the square that one prediction stands
    for, at most 1000 m (the values that this was checked with start at 50 m). Raises RangeError.
    [P.1812-8, section 4.8: (0.52 + 0.024 f) w^0.28]
    """
    require_range("frequency_ghz", frequency_ghz, *p1812_8.FREQUENCY_GHZ, unit="GHz", source=p1812_8.SOURCE)
    require_range("square_width_m", square_width_m, 0.0, 1000.0, unit="m", source="P.1812-8, section 4.8")
    base, per_ghz, exponent = p1812_8.LOCATION_SIGMA
    return (base + per_ghz * frequency_ghz) * math.pow(square_width_m, exponent)


def location_height_factor(rx_height_m: float, clutter_height_m: float) -> float:
    """Share of the location variability left at a height: 1 below the clutter, 0 from 10 m over it.

    Both in m above ground, at least 0; linear in between. Raises RangeError.
    [P.1812-8, section 4.10]
    """
    require_range("rx_height_m", rx_height_m, 0.0, p1812_8.ANTENNA_HEIGHT_MAX_M, unit="m", source="P.1812-8")
    require_range("clutter_height_m", clutter_height_m, 0.0, math.inf, unit="m")
    above = (rx_height_m - clutter_height_m) / p1812_8.LOCATION_FADE_HEIGHT_M
    return 1.0 - min(max(above, 0.0), 1.0)


def location_loss_db(location_percent: float, sigma_db: float) -> float:
    """Loss to add to the median so that it is not exceeded at a percentage of locations, dB.

    Positive above 50 %. [P.1812-8, section 4.8: Lloc = -I(pL / 100) sigma]
    """
    return -inverse_complementary_normal(location_percent / 100.0) * sigma_db
