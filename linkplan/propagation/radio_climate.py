"""How does the air bend and trap the wave along this path?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.ranges import require_range
from linkplan.tables import p1812_8

FloatArray = NDArray[np.float64]

REFRACTIVITY_GRADIENT_LIMITS = (0.0, 150.0)
"""N-units/km by which refractivity falls; at 157 a ray follows the curve of the earth."""


@dataclass(frozen=True)
class ZoneLengths:
    """How a path lies over sea, coastal land and inland."""

    sea_fraction: float
    """Share of the path over sea: omega."""
    longest_land_km: float
    """Longest unbroken stretch over land, coastal or inland: dtm."""
    longest_inland_km: float
    """Longest unbroken stretch over inland: dlm."""


def median_effective_earth_radius_km(refractivity_gradient: float) -> float:
    """Effective earth radius not exceeded for half of the time, km.

    `refractivity_gradient`: fall of refractivity in the lowest kilometre, N-units/km, 0 to 150.
    Raises RangeError. [P.1812-8, section 3: k50 = 157 / (157 - DN), ae = 6371 k50]
    """
    require_range(
        "refractivity_gradient_n_units_per_km",
        refractivity_gradient,
        *REFRACTIVITY_GRADIENT_LIMITS,
        unit="N-units/km",
    )
    limit = p1812_8.REFRACTIVITY_GRADIENT_OF_EARTH
    return p1812_8.EARTH_RADIUS_KM * limit / (limit - refractivity_gradient)


def beta0_effective_earth_radius_km() -> float:
    """Effective earth radius exceeded for the time beta0, km. [P.1812-8, section 3: 3 x 6371]"""
    return p1812_8.EARTH_RADIUS_KM * p1812_8.BETA0_RADIUS_FACTOR


def zone_lengths(distance_km: FloatArray, zone: NDArray[np.int64]) -> ZoneLengths:
    """Stretches of a path over each kind of ground; a zone changes halfway between two points.

    `distance_km` (n,) ascending from 0, km; `zone` (n,) of 1 sea, 3 coastal land, 4 inland.
    [P.1812-8, section 3: omega, dtm, dlm]
    """
    land = zone != p1812_8.SEA
    length = float(distance_km[-1])
    sea = sum(_stretches_km(distance_km, ~land))
    return ZoneLengths(
        sea_fraction=sea / length,
        longest_land_km=max(_stretches_km(distance_km, land), default=0.0),
        longest_inland_km=max(_stretches_km(distance_km, zone == p1812_8.INLAND), default=0.0),
    )


def _stretches_km(distance_km: FloatArray, member: NDArray[np.bool_]) -> list[float]:
    """Lengths of the unbroken runs of `member`, each reaching halfway to its neighbours."""
    borders = np.concatenate(
        ([distance_km[0]], 0.5 * (distance_km[1:] + distance_km[:-1]), [distance_km[-1]])
    )
    turns = np.flatnonzero(np.diff(np.concatenate(([False], member, [False])).astype(np.int8)))
    return [
        float(borders[stop] - borders[start]) for start, stop in zip(turns[::2], turns[1::2], strict=True)
    ]


def beta0_percent(latitude_deg: float, longest_land_km: float, longest_inland_km: float) -> float:
    """Time for which refractivity falls by more than 100 N-units/km near the ground, %: beta0.

    `latitude_deg` of the middle of the path; stretches from `zone_lengths`.
    [P.1812-8, section 3: tau, mu1, mu4, beta0]
    """
    latitude = abs(latitude_deg)
    tau = inland_factor(longest_inland_km)
    mu1 = math.pow(
        math.pow(10.0, -longest_land_km / (16.0 - 6.6 * tau)) + math.pow(10.0, -5.0 * (0.496 + 0.354 * tau)),
        0.2,
    )
    mu1 = min(mu1, 1.0)
    if latitude <= 70.0:
        mu4 = math.pow(mu1, -0.935 + 0.0176 * latitude)
        return math.pow(10.0, -0.015 * latitude + 1.67) * mu1 * mu4
    return 4.17 * mu1 * math.pow(mu1, 0.3)


def inland_factor(longest_inland_km: float) -> float:
    """tau: 0 for no inland stretch, towards 1 for a long one. [P.1812-8, section 3]"""
    return 1.0 - math.exp(-4.12e-4 * math.pow(longest_inland_km, 2.41))


def middle_latitude_deg(
    tx_latitude_deg: float,
    tx_longitude_deg: float,
    rx_latitude_deg: float,
    rx_longitude_deg: float,
    length_km: float,
) -> float:
    """Latitude of the point half of `length_km` along the great circle from one end to the other, deg.

    On a sphere of 6371 km. [P.1812-8, section 3: phi]
    """
    lat_1, lat_2 = math.radians(tx_latitude_deg), math.radians(rx_latitude_deg)
    turn = math.radians(rx_longitude_deg - tx_longitude_deg)
    bearing = math.atan2(
        math.cos(lat_2) * math.sin(turn),
        math.cos(lat_1) * math.sin(lat_2) - math.sin(lat_1) * math.cos(lat_2) * math.cos(turn),
    )
    arc = 0.5 * length_km / p1812_8.EARTH_RADIUS_KM
    sine = math.sin(lat_1) * math.cos(arc) + math.cos(lat_1) * math.sin(arc) * math.cos(bearing)
    return math.degrees(math.asin(min(max(sine, -1.0), 1.0)))
