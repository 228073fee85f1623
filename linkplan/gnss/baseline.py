"""How far from its base may a rover work? Accuracy of single-base RTK over the length of the baseline."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import RangeError
from linkplan.ranges import require_range

HORIZONTAL_CONSTANT_M = 0.008
"""What a receiver's data sheet states for horizontal accuracy, usually [common practice]."""

VERTICAL_CONSTANT_M = 0.015
"""The same for height [common practice]."""

PPM = 1.0
"""Millimetres for each kilometre of baseline, for both [common practice]."""


Length = TypeVar("Length", float, NDArray[np.float64])


def accuracy_m(baseline_m: Length, constant_m: float = HORIZONTAL_CONSTANT_M, ppm: float = PPM) -> Length:
    """Accuracy to expect of single-base RTK at a distance from its base, m: constant + ppm x baseline.

    As data sheets state it: a standard deviation under an open sky in quiet conditions [common practice].
    An error of the base's own position comes on top. `baseline_m`, one or an array, 0 to 200 km;
    `constant_m` 0 to 10, `ppm` 0 to 1000. RangeError.
    """
    for end in (np.min(baseline_m, initial=0.0), np.max(baseline_m, initial=0.0)):
        require_range("baseline_m", float(end), 0.0, 200_000.0, unit="m")
    _check(constant_m, ppm)
    return constant_m + ppm * 1e-6 * baseline_m


def baseline_limit_m(
    tolerance_m: float, constant_m: float = HORIZONTAL_CONSTANT_M, ppm: float = PPM
) -> float:
    """Longest baseline whose accuracy is within a tolerance, m; infinite where distance costs nothing.

    `tolerance_m` in the same sense as the constant: a tolerance for twice the standard deviation is halved
    first. RangeError where it is smaller than the constant, which no baseline is short enough for.
    """
    require_range("tolerance_m", tolerance_m, 0.0, 1000.0, unit="m")
    _check(constant_m, ppm)
    if tolerance_m < constant_m:
        raise RangeError(
            f"tolerance_m = {tolerance_m:g} m is below the {constant_m:g} m that the receivers have at any "
            "distance: no baseline is short enough"
        )
    return (tolerance_m - constant_m) / (ppm * 1e-6) if ppm > 0.0 else math.inf


def _check(constant_m: float, ppm: float) -> None:
    require_range("constant_m", constant_m, 0.0, 10.0, unit="m")
    require_range("ppm", ppm, 0.0, 1000.0)
