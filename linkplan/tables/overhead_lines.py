"""Clearances to keep from overhead lines: 29 CFR 1926.1408, table A [29 CFR 1926.1408].

Written for cranes, taken for masts as common practice. Nominal voltage, alternating current; each clearance
holds up to and including its voltage. Nothing here replaces the line's owner, who is asked before anything
tall is raised near a line.
"""

from __future__ import annotations

import math

from linkplan.errors import RangeError
from linkplan.units import METRES_PER_UNIT

SOURCE = "29 CFR 1926.1408, table A"

CLEARANCE_FT = (
    (50.0, 10.0),
    (200.0, 15.0),
    (350.0, 20.0),
    (500.0, 25.0),
    (750.0, 35.0),
    (1000.0, 45.0),
)
"""Highest voltage in kV, and the least clearance in feet up to there."""

HIGHEST_KV = CLEARANCE_FT[-1][0]

UNKNOWN_VOLTAGE_CLEARANCE_M = CLEARANCE_FT[-1][1] * METRES_PER_UNIT["foot"]
"""Where nobody states the voltage: the table's largest, some 13.7 m. Our choice, no rule of the source."""

UNKNOWN_VOLTAGE_WORDS = (
    f"the line's voltage is not stated: the largest clearance of {SOURCE} is taken; ask the line's owner"
)


def clearance_m(voltage_kv: float) -> float:
    """Least clearance from a line of a nominal voltage (0 to 1000 kV), m: feet of the table, exactly.

    RangeError above 1000 kV, where the line's owner sets it, and for what is no voltage.
    """
    if not (math.isfinite(voltage_kv) and voltage_kv >= 0.0):
        raise RangeError(f"voltage_kv = {voltage_kv:g} is no voltage: give the line's nominal one in kV")
    for highest_kv, clearance_ft in CLEARANCE_FT:
        if voltage_kv <= highest_kv:
            return clearance_ft * METRES_PER_UNIT["foot"]
    raise RangeError(
        f"voltage_kv = {voltage_kv:g} kV is above {HIGHEST_KV:g} kV, where the line's owner sets the "
        f"clearance ({SOURCE}): ask for it and state the clearance itself"
    )
