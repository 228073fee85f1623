"""What does a clear path lose, with focusing and multipath at small percentages of time?"""

from __future__ import annotations

import math


def multipath_focusing_db(
    tx_horizon_distance_km: float, rx_horizon_distance_km: float, time_percent: float
) -> float:
    """Correction of free-space loss for a percentage of time, dB; 0 at 50 %, negative below.

    Horizon distances in km, `time_percent` above 0. [P.1812-8, section 4.2: Esp, and Esb with beta0]
    """
    reach_km = tx_horizon_distance_km + rx_horizon_distance_km
    return 2.6 * (1.0 - math.exp(-0.1 * reach_km)) * math.log10(time_percent / 50.0)
