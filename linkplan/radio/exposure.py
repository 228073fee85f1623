"""How near may people come to a transmitting antenna? Power density against the limits of exposure.

The far field's formula with the antenna's greatest gain in every direction, unless a function says otherwise.
Nearer than `far_field_from_m` that formula is a guess. A distance found here keeps the stated limits and
nothing more: the licence, local codes and the maker's own distances go before it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError
from linkplan.radio.antenna import gain_dbi
from linkplan.radio.equipment import Antenna
from linkplan.ranges import require_range
from linkplan.tables.exposure import GROUPS, HEAD_HEIGHT_M, PUBLIC, REFLECTION_FACTOR, WORKER, limits_of
from linkplan.units import SPEED_OF_LIGHT_M_S

FloatArray = NDArray[np.float64]

PATTERN_STEP_DEG = 0.01


@dataclass(frozen=True)
class Radiator:
    """One antenna among several, at a place in local metres."""

    x_m: float
    y_m: float
    height_m: float
    """Above the same zero as the places that it is judged at."""
    eirp_w: float
    limit_w_m2: float
    """At its own frequency."""
    duty: float = 1.0
    """Share of the averaging time that it transmits."""


def limit_w_m2(limits: str, group: str, frequency_mhz: float) -> float:
    """Limit of power density, W/m2, averaged over the body and over the document's averaging time.

    `limits` a key of `tables.exposure.LIMITS`, `group` "public" or "worker", 30 to 6000 MHz. RangeError.
    """
    document = limits_of(limits)
    if group not in GROUPS:
        raise RangeError(f"group {group!r} is not one of {', '.join(GROUPS)}")
    low, high = document.bands[0].low_mhz, document.bands[-1].high_mhz
    require_range("frequency_mhz", frequency_mhz, low, high, unit="MHz", source=document.name)
    band = next(band for band in document.bands if frequency_mhz <= band.high_mhz)
    if group == PUBLIC:
        return band.public_w_m2 + band.public_w_m2_per_mhz * frequency_mhz
    return band.worker_w_m2 + band.worker_w_m2_per_mhz * frequency_mhz


def public_limit_w_m2(limits: str, frequency_mhz: float) -> float:
    """`limit_w_m2` for anybody."""
    return limit_w_m2(limits, PUBLIC, frequency_mhz)


def worker_limit_w_m2(limits: str, frequency_mhz: float) -> float:
    """`limit_w_m2` for people who know of the field and can leave it."""
    return limit_w_m2(limits, WORKER, frequency_mhz)


def power_density_w_m2(
    eirp_w: float, distance_m: ArrayLike, *, reflection_factor: float = REFLECTION_FACTOR, duty: float = 1.0
) -> FloatArray:
    """Power density at distances from an antenna (any shape, above 0), W/m2.

    S = reflection x duty x EIRP / (4 pi R^2). [OET 65, equations 3 and 6: their numbers second-hand and
    from memory]
    """
    _check_source(eirp_w, reflection_factor, duty)
    distance = np.asarray(distance_m, dtype=np.float64)
    if not (distance > 0.0).all():
        raise RangeError("distance_m must be above 0 m")
    return np.asarray(reflection_factor * duty * eirp_w / (4.0 * math.pi * distance**2))


def exposure_distance_m(
    eirp_w: float, limit_w_m2: float, *, reflection_factor: float = REFLECTION_FACTOR, duty: float = 1.0
) -> float:
    """Distance from an antenna within which a limit of power density may be exceeded, m.

    `eirp_w` 0 to 1e7 W, in the antenna's best direction, while transmitting; `reflection_factor` 1 (free
    space) to 4 (`FULL_REFLECTION_FACTOR`); `duty` 0 to 1, the share of the document's averaging time that
    the transmitter is keyed: less than 1 only where the equipment cannot key it longer. RangeError.
    """
    _check_source(eirp_w, reflection_factor, duty)
    require_range("limit_w_m2", limit_w_m2, 1e-6, 1e6, unit="W/m2")
    return math.sqrt(reflection_factor * duty * eirp_w / (4.0 * math.pi * limit_w_m2))


def added_distance_m(distances_m: Sequence[float]) -> float:
    """Exposure distance of several antennas at one point, from the distance of each alone, m.

    Each uses up (R_i / R)^2 of its limit at R, and the sum may reach 1: R = sqrt(sum R_i^2).
    """
    for distance in distances_m:
        require_range("distances_m", distance, 0.0, 1e6, unit="m")
    return math.hypot(*distances_m)


def exposure_share(
    radiators: Sequence[Radiator],
    x_m: ArrayLike,
    y_m: ArrayLike,
    height_m: ArrayLike,
    *,
    reflection_factor: float = REFLECTION_FACTOR,
) -> FloatArray:
    """How much of the limits several antennas use up together at places: 1 is the limit.

    The sum over the antennas of power density over limit; places broadcast, infinite at an antenna.
    """
    places = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in (x_m, y_m, height_m)))
    total = np.zeros(places[0].shape)
    for one in radiators:
        reach = exposure_distance_m(
            one.eirp_w, one.limit_w_m2, reflection_factor=reflection_factor, duty=one.duty
        )
        away = [place - at for place, at in zip(places, (one.x_m, one.y_m, one.height_m), strict=True)]
        squared = away[0] ** 2 + away[1] ** 2 + away[2] ** 2
        with np.errstate(divide="ignore"):
            total += np.where(squared > 0.0, reach**2 / squared, np.inf if reach > 0.0 else 0.0)
    return total


def ground_radius_m(
    distance_m: float, antenna_height_m: float, *, head_height_m: float = HEAD_HEIGHT_M
) -> float:
    """Radius on level ground around an antenna within which people come nearer to it than a distance, m.

    People reach from the ground to `head_height_m`: sqrt(R^2 - (h - head)^2), 0 where R is no more than
    h - head; R itself for an antenna no higher than a head. On a slope count the height over the highest
    ground around.
    """
    require_range("distance_m", distance_m, 0.0, 1e6, unit="m")
    require_range("antenna_height_m", antenna_height_m, 0.0, 1e4, unit="m")
    require_range("head_height_m", head_height_m, 0.0, 10.0, unit="m")
    over_head_m = max(antenna_height_m - head_height_m, 0.0)
    return math.sqrt(max(distance_m**2 - over_head_m**2, 0.0))


def pattern_ground_radius_m(
    antenna: Antenna,
    power_w: float,
    limit_w_m2: float,
    antenna_height_m: float,
    *,
    reflection_factor: float = REFLECTION_FACTOR,
    duty: float = 1.0,
    head_height_m: float = HEAD_HEIGHT_M,
) -> float:
    """`ground_radius_m` with the antenna's vertical pattern: at most that of its greatest gain, m.

    `power_w` enters the antenna. In each direction the limit reaches as far as the gain there lets it; the
    radius is that of the farthest such place between the ground and `head_height_m`. A pattern holds in the
    far field only: do not use this where it gives less than `far_field_from_m`.
    """
    require_range("antenna_height_m", antenna_height_m, 0.0, 1e4, unit="m")
    require_range("head_height_m", head_height_m, 0.0, 10.0, unit="m")
    peak_m = exposure_distance_m(
        power_w * 10.0 ** (antenna.gain_dbi / 10.0),
        limit_w_m2,
        reflection_factor=reflection_factor,
        duty=duty,
    )
    elevation_deg = np.linspace(-90.0, 90.0, round(180.0 / PATTERN_STEP_DEG) + 1)
    reach = peak_m * 10.0 ** ((gain_dbi(antenna, elevation_deg) - antenna.gain_dbi) / 20.0)
    sine = np.sin(np.radians(elevation_deg))
    cosine = np.maximum(np.cos(np.radians(elevation_deg)), 0.0)
    # along each ray, from where it comes into the layer of people to where it leaves it
    to_ground, to_head = -antenna_height_m, head_height_m - antenna_height_m
    with np.errstate(divide="ignore", invalid="ignore"):
        leaves = np.where(sine == 0.0, np.inf, np.maximum(to_ground / sine, to_head / sine))
        enters = np.where(sine == 0.0, 0.0, np.minimum(to_ground / sine, to_head / sine))
    passes = (leaves >= 0.0) & ((sine != 0.0) | (to_head >= 0.0)) & (reach >= enters)
    return float(np.max(np.where(passes, np.minimum(reach, leaves) * cosine, 0.0)))


def far_field_from_m(frequency_mhz: float, antenna_size_m: float) -> float:
    """Distance from which the far field's formula holds: the greater of 2 D^2/lambda and lambda/(2 pi), m.

    D is the antenna's greatest dimension. [common practice; OET 65 uses smaller ones too]
    """
    require_range("frequency_mhz", frequency_mhz, 30.0, 6000.0, unit="MHz")
    require_range("antenna_size_m", antenna_size_m, 0.0, 100.0, unit="m")
    wavelength = SPEED_OF_LIGHT_M_S / (frequency_mhz * 1e6)
    return max(2.0 * antenna_size_m**2 / wavelength, wavelength / (2.0 * math.pi))


def in_far_field(distance_m: float, frequency_mhz: float, antenna_size_m: float) -> bool:
    """Whether a distance lies where the far field's formula holds; where not, it deserves a caution."""
    return distance_m >= far_field_from_m(frequency_mhz, antenna_size_m)


def _check_source(eirp_w: float, reflection_factor: float, duty: float) -> None:
    require_range("eirp_w", eirp_w, 0.0, 1e7, unit="W")
    require_range("reflection_factor", reflection_factor, 1.0, 4.0)
    require_range("duty", duty, 0.0, 1.0)
