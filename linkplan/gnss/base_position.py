"""What does a wrong base position do to the job, and do two occupations of one point agree?

A base sends its own error on: every coordinate is shifted by the whole of it, and each baseline is stretched
and turned a little, because the lines to the satellites start from the wrong place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np

from linkplan.errors import RangeError
from linkplan.gnss.antenna_height import Confusion
from linkplan.ranges import require_range
from linkplan.tables.base_position import (
    AVERAGED_95_M,
    KNOWN_95_M,
    LONGEST_AVERAGE_S,
    SATELLITE_HEIGHT_M,
)

Origin = Literal["known", "averaged"]
"""A point of the job's control; or a mean of positions without corrections."""
ORIGINS: tuple[Origin, ...] = get_args(Origin)

SAME_HEIGHT_M = 0.003
"""A difference this near to a confusion's is taken for it; of a great one, within a quarter of it."""
QUIET_M = 0.1
"""Two occupations less sure of their height than this say nothing about differences that they allow."""


@dataclass(frozen=True)
class PositionError:
    """What 95 of 100 positions come within of the truth, m [common practice]."""

    horizontal_m: float
    vertical_m: float

    @property
    def spatial_m(self) -> float:
        """Both together."""
        return math.hypot(self.horizontal_m, self.vertical_m)


@dataclass(frozen=True)
class BaseErrorEffect:
    """What an error of the base's position does."""

    shift_horizontal_m: float
    """Of every coordinate of the job."""
    shift_vertical_m: float
    ppm: float
    """Of each baseline, in length and direction."""
    baseline_m: float
    distortion_m: float
    """Of a baseline of this length, beyond the shift."""


@dataclass(frozen=True)
class TwoOccupations:
    """Two positions of one point, the second less the first."""

    horizontal_m: float
    vertical_m: float | None
    """None where one of them has no height."""
    allowed_horizontal_m: float
    """Root of the sum of the squares of both errors, 95 %."""
    allowed_vertical_m: float
    horizontal_agrees: bool
    vertical_agrees: bool | None
    hints: tuple[Confusion, ...] = ()
    """Ways to enter the antenna height wrongly that would explain a difference in height alone."""


def position_error(origin: Origin, averaging_s: float | None = None) -> PositionError:
    """How sure a base's coordinates are [common practice]; `averaging_s`, 1 s to a week, with "averaged".

    Between the table's lines straight over the logarithm of time; beyond its last one no better: errors of
    orbits, clocks and air change over hours and do not average out. RangeError.
    """
    if origin == "known":
        return PositionError(*KNOWN_95_M)
    if averaging_s is None:
        raise RangeError("an averaged position needs its seconds of averaging")
    require_range("averaging_s", averaging_s, AVERAGED_95_M[0][0], LONGEST_AVERAGE_S, unit="s")
    seconds, *columns = np.array(AVERAGED_95_M).T
    horizontal_m, vertical_m = (
        float(np.interp(math.log(averaging_s), np.log(seconds), column)) for column in columns
    )
    return PositionError(horizontal_m, vertical_m)


def distortion_ppm(error_m: float) -> float:
    """What a base that is wrong by so much (0 to 100 km) does to each baseline, ppm: error over 20 200 km.

    10 m make 0.5 ppm [common practice]. A rough upper figure: solved by double differences under random skies
    the middle case has half of it, and one in twenty slightly more (tests). RangeError.
    """
    require_range("error_m", error_m, 0.0, 100_000.0, unit="m")
    return 1e6 * error_m / SATELLITE_HEIGHT_M


def effect_of(error: PositionError, baseline_m: float) -> BaseErrorEffect:
    """What such an error does to a job whose longest baseline is so long (0 to 10 000 km). RangeError."""
    require_range("baseline_m", baseline_m, 0.0, 1e7, unit="m")
    ppm = distortion_ppm(error.spatial_m)
    return BaseErrorEffect(error.horizontal_m, error.vertical_m, ppm, baseline_m, 1e-6 * ppm * baseline_m)


def compare_occupations(
    east_m: float,
    north_m: float,
    up_m: float | None,
    first: PositionError,
    second: PositionError,
    confusions: Sequence[Confusion] = (),
) -> TwoOccupations:
    """Hold a second position of a point, given as its difference from the first, against what both allow.

    `confusions` of the antenna height (antenna_height.confusions) are looked through for one that explains
    the difference in height where the horizontal one is allowed. The closest comes first.
    """
    for name, value in (("east_m", east_m), ("north_m", north_m), ("up_m", up_m or 0.0)):
        require_range(name, value, -1e7, 1e7, unit="m")
    horizontal_m = math.hypot(east_m, north_m)
    allowed_horizontal_m = math.hypot(first.horizontal_m, second.horizontal_m)
    allowed_vertical_m = math.hypot(first.vertical_m, second.vertical_m)
    found = TwoOccupations(
        horizontal_m,
        up_m,
        allowed_horizontal_m,
        allowed_vertical_m,
        horizontal_m <= allowed_horizontal_m,
        None if up_m is None else abs(up_m) <= allowed_vertical_m,
    )
    telling = found.vertical_agrees is False or allowed_vertical_m <= QUIET_M
    if up_m is None or not found.horizontal_agrees or not telling:
        return found
    gaps = {one: abs(abs(up_m) - abs(one.error_m)) for one in confusions}
    hints = [one for one, gap in gaps.items() if gap <= _near(one, allowed_vertical_m) < abs(one.error_m)]
    return replace(found, hints=tuple(sorted(hints, key=gaps.__getitem__)))


def _near(one: Confusion, allowed_m: float) -> float:
    """How near to a confusion's error a difference must be to be taken for it, m."""
    return max(SAME_HEIGHT_M, min(allowed_m, abs(one.error_m) / 4.0))
