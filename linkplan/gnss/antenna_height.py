"""What does a tape to the GNSS antenna mean? Readings to its measuring mark and its reference point (ARP).

The measuring mark stands `radius_m` beside the antenna's axis (0 on it) and `mark_above_arp_m` above the ARP
(negative below it), both from the antenna's own drawing. Heights count from the point on the ground. A tape
in the slope, the axis and the radius make a right-angled triangle [hand geometry].
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from linkplan.errors import RangeError
from linkplan.ranges import require_range

Method = Literal["vertical", "slant", "arp"]
"""Straight up to the measuring mark's height; in the slope to the mark itself; straight up to the ARP."""
METHODS: tuple[Method, ...] = get_args(Method)

LONGEST_READING_M = 50.0
WIDEST_RADIUS_M = 1.0
FARTHEST_MARK_M = 1.0
"""Plausibility limits: a choke ring measures some 0.2 m from its axis to its edge [common practice]."""
_ROUNDING_M = 1e-9


@dataclass(frozen=True)
class Confusion:
    """One way to enter a sound reading wrongly."""

    measured: Method
    """How it was measured ..."""
    entered: Method | None
    """... and as what it was entered; None: not at all, the height left at zero."""
    error_m: float
    """By how much the ARP then comes out too high, negative too low. With the base on its known point every
    height of the day is off by as much, in the same direction."""


def arp_height_m(
    reading_m: float, method: Method, radius_m: float = 0.0, mark_above_arp_m: float = 0.0
) -> float:
    """Height of the ARP above the point on the ground, m, from a reading.

    slant: sqrt(reading^2 - radius^2) - mark above ARP; vertical: reading - mark above ARP; arp: the reading.
    `reading_m` above 0 (arp: 0 or more) to 50, `radius_m` 0 to 1, `mark_above_arp_m` -1 to 1. RangeError also
    for a slant no longer than the radius, and for a reading that puts the ARP below the ground.
    """
    _check_mark(radius_m, mark_above_arp_m)
    require_range("antenna height reading", reading_m, 0.0, LONGEST_READING_M, unit="m")
    if method == "arp":
        return reading_m
    if method == "slant" and reading_m <= radius_m:
        raise RangeError(
            f"a slant of {reading_m:g} m is not longer than the antenna's radius, {radius_m:g} m: impossible"
        )
    mark_m = math.sqrt(reading_m**2 - radius_m**2) if method == "slant" else reading_m
    arp_m = mark_m - mark_above_arp_m
    if mark_m <= 0.0 or arp_m < -_ROUNDING_M:
        raise RangeError(
            f"{method} {reading_m:g} m to a mark {mark_above_arp_m:g} m above the antenna's reference point "
            "puts that point below the ground: impossible"
        )
    return max(arp_m, 0.0)


def reading_m(arp_m: float, method: Method, radius_m: float = 0.0, mark_above_arp_m: float = 0.0) -> float:
    """What a tape reads where the ARP stands so high, m: the way back of arp_height_m.

    `arp_m` 0 to 50. RangeError also where the mark would lie below the ground.
    """
    _check_mark(radius_m, mark_above_arp_m)
    require_range("height of the antenna's reference point", arp_m, 0.0, LONGEST_READING_M, unit="m")
    if method == "arp":
        return arp_m
    mark_m = arp_m + mark_above_arp_m
    if mark_m <= 0.0:
        raise RangeError(
            f"a measuring mark {mark_above_arp_m:g} m above a reference point {arp_m:g} m high is not above "
            "the ground: nothing to measure"
        )
    return math.hypot(mark_m, radius_m) if method == "slant" else mark_m


def all_readings(
    reading: float, method: Method, radius_m: float | None = None, mark_above_arp_m: float | None = None
) -> dict[Method, float]:
    """What a tape reads by each way for which the antenna's data are known, m, given one reading; that first.

    Left out is a mark that does not stand above the ground. RangeError for an impossible reading.
    """
    arp_m = arp_height_m(reading, method, radius_m or 0.0, mark_above_arp_m or 0.0)
    found = {method: reading}
    for other in METHODS:
        if other == method or None in _needed(other, radius_m, mark_above_arp_m):
            continue
        try:
            found[other] = reading_m(arp_m, other, radius_m or 0.0, mark_above_arp_m or 0.0)
        except RangeError:
            continue
    return found


def _needed(
    method: Method, radius_m: float | None, mark_above_arp_m: float | None
) -> tuple[float | None, ...]:
    """The antenna's data that a way of measuring needs."""
    return {"vertical": (mark_above_arp_m,), "slant": (radius_m, mark_above_arp_m), "arp": ()}[method]


def mounted_height_m(arp_m: float, above_arp_m: float) -> float:
    """Height of what stands on the same mast, m, such as the radio antenna's or the phase centre's.

    `above_arp_m` -50 to 50, negative below the ARP; how far beside it does not count. RangeError where it
    would lie below the ground.
    """
    require_range("antenna height", arp_m, 0.0, LONGEST_READING_M, unit="m")
    require_range(
        "height above the reference point", above_arp_m, -LONGEST_READING_M, LONGEST_READING_M, unit="m"
    )
    height_m = arp_m + above_arp_m
    if height_m < -_ROUNDING_M:
        raise RangeError(
            f"{-above_arp_m:g} m below what stands {arp_m:g} m high lies below the ground: impossible"
        )
    return max(height_m, 0.0)


def arp_of_mounted_m(height_m: float, above_arp_m: float) -> float:
    """Height of the ARP where something mounted so far above it stands so high, m: the way back."""
    return mounted_height_m(height_m, -above_arp_m)


def slant_as_vertical_m(slant_m: float, radius_m: float) -> float:
    """How much too high the antenna comes out where a slant reading is entered as vertical, m."""
    return slant_m - arp_height_m(slant_m, "slant", radius_m)


def confusions(
    reading: float, method: Method, radius_m: float | None = None, mark_above_arp_m: float | None = None
) -> tuple[Confusion, ...]:
    """What comes of entering a reading (m) as something else, the greatest error first.

    Only what the antenna's data, where known, allow to compute; impossible entries, which a receiver would
    refuse, and those without any effect are left out. RangeError for an impossible reading.
    """
    right_m = arp_height_m(reading, method, radius_m or 0.0, mark_above_arp_m or 0.0)
    found = [Confusion(method, None, -right_m)]
    for other in METHODS:
        if other == method or None in _needed(other, radius_m, mark_above_arp_m):
            continue
        try:
            wrong_m = arp_height_m(reading, other, radius_m or 0.0, mark_above_arp_m or 0.0)
        except RangeError:
            continue
        found.append(Confusion(method, other, wrong_m - right_m))
    sound = [one for one in found if abs(one.error_m) > _ROUNDING_M]
    return tuple(sorted(sound, key=lambda one: -abs(one.error_m)))


def _check_mark(radius_m: float, mark_above_arp_m: float) -> None:
    require_range("antenna radius", radius_m, 0.0, WIDEST_RADIUS_M, unit="m")
    require_range(
        "mark above the reference point", mark_above_arp_m, -FARTHEST_MARK_M, FARTHEST_MARK_M, unit="m"
    )
