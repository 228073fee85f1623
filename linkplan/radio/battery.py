"""How long the battery feeds the base."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.errors import RangeError
from linkplan.radio.stream import Supply
from linkplan.ranges import require_range


@dataclass(frozen=True)
class BatteryLife:
    """Hours at a duty cycle."""

    duty_cycle: float
    mean_current_a: float
    usable_ah: float
    hours: float
    hours_keyed: float
    """If the transmitter were keyed all the time: the least that the battery gives."""


def battery_life(supply: Supply, duty_cycle: float) -> BatteryLife:
    """Hours that a battery lasts: usable charge over mean current.

    mean current = duty x transmit + (1 - duty) x receive + other, duty cycle 0 to 1. Cold, age and a high
    current shrink a battery's capacity: that is for `usable_share` to say. Raises RangeError.
    """
    require_range("duty_cycle", duty_cycle, 0.0, 1.0)
    require_range("capacity_ah", supply.capacity_ah, 0.01, 100_000.0, unit="Ah")
    require_range("transmit_a", supply.transmit_a, 0.001, 1000.0, unit="A")
    require_range("receive_a", supply.receive_a, 0.0, 1000.0, unit="A")
    require_range("other_a", supply.other_a, 0.0, 1000.0, unit="A")
    require_range("usable_share", supply.usable_share, 0.01, 1.0)
    usable_ah = supply.capacity_ah * supply.usable_share
    mean_a = duty_cycle * supply.transmit_a + (1.0 - duty_cycle) * supply.receive_a + supply.other_a
    if mean_a <= 0.0:
        raise RangeError(
            "mean current = 0 A: the transmitter is never keyed, and nothing else draws a current"
        )
    always_a = supply.transmit_a + supply.other_a
    return BatteryLife(duty_cycle, mean_a, usable_ah, usable_ah / mean_a, usable_ah / always_a)
