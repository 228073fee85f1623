"""One plain range check, called once at the door of a function and never in a kernel."""

from __future__ import annotations

import math

from linkplan.errors import RangeError


def require_range(
    name: str, value: float, low: float, high: float, *, source: str = "", unit: str = ""
) -> float:
    """Return `value` when low <= value <= high, else raise RangeError.

    The message names the argument, its value, the limits, their unit and the source that sets them.
    A value that is not a finite number is outside any range.
    """
    if not (math.isfinite(value) and low <= value <= high):
        suffix = f" {unit}" if unit else ""
        cited = f" ({source})" if source else ""
        raise RangeError(f"{name} = {value:g}{suffix} is outside {low:g} to {high:g}{suffix}{cited}")
    return value
