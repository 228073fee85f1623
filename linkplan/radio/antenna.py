"""What an antenna does in a direction: its stated gain less what the vertical pattern takes off."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError
from linkplan.radio.equipment import Antenna, VerticalPattern


def gain_dbi(antenna: Antenna, elevation_deg: ArrayLike) -> NDArray[np.float64]:
    """Gain towards elevation angles (any shape, 0 at the horizon, up positive), dBi.

    Without a pattern the stated gain holds in every direction: a note belongs beside the result
    where rovers stand steeply below the antenna.
    """
    elevation = np.asarray(elevation_deg, dtype=np.float64)
    if antenna.pattern is None:
        return np.full(elevation.shape, antenna.gain_dbi)
    relative = np.interp(elevation, antenna.pattern.elevation_deg, antenna.pattern.relative_gain_db)
    return antenna.gain_dbi + np.asarray(relative, dtype=np.float64)


def checked_pattern(elevation_deg: tuple[float, ...], relative_gain_db: tuple[float, ...]) -> VerticalPattern:
    """A vertical pattern after checking it: ascending angles in -90..90, gains at most 0 dB.

    Raises RangeError naming the first row (counted from 1) that does not serve.
    """
    if len(elevation_deg) != len(relative_gain_db) or len(elevation_deg) < 2:
        raise RangeError("a vertical pattern needs at least two rows of elevation_deg and relative_gain_db")
    for row, (angle, gain) in enumerate(zip(elevation_deg, relative_gain_db, strict=True), start=1):
        if not -90.0 <= angle <= 90.0:
            raise RangeError(f"row {row}: elevation_deg = {angle:g} is outside -90 to 90")
        if not -100.0 <= gain <= 0.0:
            raise RangeError(f"row {row}: relative_gain_db = {gain:g} is outside -100 to 0")
        if row > 1 and angle <= elevation_deg[row - 2]:
            raise RangeError(f"row {row}: elevation_deg = {angle:g} does not ascend")
    return VerticalPattern(tuple(elevation_deg), tuple(relative_gain_db))
