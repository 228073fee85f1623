"""One path as checked arrays: what every mechanism of a path computation reads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError
from linkplan.ranges import require_range
from linkplan.tables import p1812_8

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class PathProfile:
    """Heights along a path with an antenna at each end. Arrays (n,); heights in m above sea level."""

    distance_km: FloatArray
    """From the transmitter, ascending from 0."""
    terrain_height_m: FloatArray
    """Bare ground."""
    surface_height_m: FloatArray
    """Ground and what stands on it; bare ground at both ends, where the antennas stand clear."""
    tx_antenna_m: float
    """Height of the transmitting antenna above sea level."""
    rx_antenna_m: float
    """Height of the receiving antenna above sea level."""

    @property
    def length_km(self) -> float:
        """Distance between the two ends."""
        return float(self.distance_km[-1])


def path_profile(
    distance_km: ArrayLike,
    surface_height_m: ArrayLike,
    terrain_height_m: ArrayLike,
    *,
    tx_height_m: float,
    rx_height_m: float,
    least_points: int,
) -> PathProfile:
    """Checked profile of a path.

    Arrays (n,), n at least `least_points`; distances in km, strictly ascending from 0; heights in m
    above sea level; antenna heights above ground, above 0 to 3000 m. The surface at the two end points
    is not used. Raises RangeError that names the argument and what is wrong with it.
    """
    distance = finite_array("distance_km", distance_km)
    if distance.size < least_points:
        raise RangeError(f"distance_km has {distance.size} points; at least {least_points} are needed")
    if distance[0] != 0.0:
        raise RangeError(f"distance_km starts at {distance[0]:g} km; it must start at 0, the transmitter")
    steps = np.diff(distance)
    if not (steps > 0.0).all():
        first = int(np.argmax(steps <= 0.0)) + 1
        raise RangeError(
            f"distance_km is not ascending: value {first} ({distance[first]:g} km) does not exceed "
            f"the one before it ({distance[first - 1]:g} km)"
        )
    terrain = finite_array("terrain_height_m", terrain_height_m, like=distance)
    surface = finite_array("surface_height_m", surface_height_m, like=distance).copy()
    surface[0], surface[-1] = terrain[0], terrain[-1]
    require_antenna_height("tx_height_m", tx_height_m)
    require_antenna_height("rx_height_m", rx_height_m)
    return PathProfile(
        distance_km=distance,
        terrain_height_m=terrain,
        surface_height_m=surface,
        tx_antenna_m=float(terrain[0]) + float(tx_height_m),
        rx_antenna_m=float(terrain[-1]) + float(rx_height_m),
    )


def finite_array(name: str, values: ArrayLike, *, like: FloatArray | None = None) -> FloatArray:
    """`values` as a one-dimensional array of finite numbers, as long as `like`; else RangeError."""
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise RangeError(f"{name} is not a list of numbers") from None
    if array.ndim != 1:
        raise RangeError(f"{name} has {array.ndim} dimensions; a list of numbers is needed")
    if like is not None and array.size != like.size:
        raise RangeError(f"{name} has {array.size} values but distance_km has {like.size}")
    bad = ~np.isfinite(array)
    if bad.any():
        first = int(np.argmax(bad))
        raise RangeError(
            f"{name} has {int(bad.sum())} missing or infinite value(s), the first at index {first}"
        )
    return array


def require_antenna_height(name: str, height_m: float) -> None:
    """Raise RangeError unless 0 < height <= 3000 m above ground."""
    if height_m == 0.0:
        raise RangeError(
            f"{name} = 0 m is outside above 0 to {p1812_8.ANTENNA_HEIGHT_MAX_M:g} m ({p1812_8.SOURCE})"
        )
    require_range(name, height_m, 0.0, p1812_8.ANTENNA_HEIGHT_MAX_M, unit="m", source=p1812_8.SOURCE)


def require_polarization(polarization: str) -> None:
    """Raise RangeError unless "horizontal" or "vertical"."""
    if polarization not in ("horizontal", "vertical"):
        raise RangeError(f"polarization = {polarization!r} is not 'horizontal' or 'vertical'")
