"""Earth-fixed positions from Keplerian elements, almanac or ephemeris [IS-GPS-200, table 20-IV].

GPS, QZSS, Galileo and BeiDou use one form with constants of their own (tables/constellations.py); the
geostationary satellites of BeiDou stand in a tilted frame besides [BDS ICD]. The systems' frames agree to
centimetres and are taken as one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.gnss.orbit_sets import KeplerSet
from linkplan.tables.constellations import BEIDOU_TILT_DEG, SYSTEMS

FloatArray = NDArray[np.float64]

_NUMBERS = tuple(one.name for one in fields(KeplerSet) if one.name not in ("satellite", "healthy", "tilted"))
_SOLVED_RAD = 1e-13
_MOST_STEPS = 30


def eccentric_anomaly_rad(mean_anomaly_rad: FloatArray, eccentricity: FloatArray) -> FloatArray:
    """Solves Kepler's equation E - e sin E = M by Newton's steps, for 0 <= e <= 0.9, to 1e-13 radians."""
    mean = np.remainder(mean_anomaly_rad + math.pi, 2.0 * math.pi) - math.pi
    # a start from which the steps never overshoot, for any eccentricity below 1
    anomaly = mean + eccentricity * np.sign(mean) * np.minimum(1.0, np.abs(mean) / (1.0 - eccentricity))
    for _ in range(_MOST_STEPS):
        step = (anomaly - eccentricity * np.sin(anomaly) - mean) / (1.0 - eccentricity * np.cos(anomaly))
        anomaly = anomaly - step
        if not np.any(np.abs(step) > _SOLVED_RAD):
            break
    return np.asarray(anomaly)


def kepler_positions(sets: Sequence[KeplerSet], which: ArrayLike, gps_s: ArrayLike) -> FloatArray:
    """Positions in the earth-fixed frame at the instant itself, m.

    `which` (...) index into `sets`, `gps_s` (...) GPS seconds, broadcast against each other; result (..., 3).
    """
    index = np.asarray(which, dtype=np.intp)
    columns = {
        name: np.array([getattr(one, name) for one in sets], dtype=np.float64)[index] for name in _NUMBERS
    }
    columns["gravity"] = np.array([SYSTEMS[one.satellite[0]].gravity_m3_s2 for one in sets])[index]
    columns["turn"] = np.array([SYSTEMS[one.satellite[0]].earth_rate_rad_s for one in sets])[index]
    tilted = np.array([one.tilted for one in sets], dtype=bool)[index]
    since_s = np.asarray(gps_s, dtype=np.float64) - columns["reference_s"]
    radius, latitude_argument, inclination = _in_plane(columns, since_s)
    # the node stays behind the turning earth, except in the frame of the geostationary satellites
    rate = columns["node_rate_rad_s"] - np.where(tilted, 0.0, columns["turn"])
    position = _turned(radius, latitude_argument, inclination, columns["node_rad"] + rate * since_s)
    return _untilted(position, columns["turn"] * since_s, tilted) if tilted.any() else position


def _in_plane(
    columns: dict[str, FloatArray], since_s: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Radius in m, corrected argument of latitude and inclination in radians."""
    axis_0 = columns["root_semi_major_axis"] ** 2
    motion = np.sqrt(columns["gravity"] / axis_0**3) + columns["motion_offset_rad_s"]
    # the half: the offset's rate counts from the reference time, and the mean anomaly is its integral
    motion = motion + 0.5 * columns["motion_offset_rate_rad_s2"] * since_s
    eccentricity = columns["eccentricity"]
    anomaly = eccentric_anomaly_rad(columns["mean_anomaly_rad"] + motion * since_s, eccentricity)
    true_anomaly = np.arctan2(
        np.sqrt(1.0 - eccentricity**2) * np.sin(anomaly), np.cos(anomaly) - eccentricity
    )
    angle = true_anomaly + columns["perigee_rad"]
    sine, cosine = np.sin(2.0 * angle), np.cos(2.0 * angle)
    axis = axis_0 + columns["axis_rate_m_s"] * since_s
    radius = axis * (1.0 - eccentricity * np.cos(anomaly))
    radius = radius + columns["crs_m"] * sine + columns["crc_m"] * cosine
    inclination = columns["inclination_rad"] + columns["inclination_rate_rad_s"] * since_s
    inclination = inclination + columns["cis_rad"] * sine + columns["cic_rad"] * cosine
    return radius, angle + columns["cus_rad"] * sine + columns["cuc_rad"] * cosine, inclination


def _turned(radius: FloatArray, angle: FloatArray, inclination: FloatArray, node: FloatArray) -> FloatArray:
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    level = y * np.cos(inclination)
    return np.stack(
        (
            x * np.cos(node) - level * np.sin(node),
            x * np.sin(node) + level * np.cos(node),
            y * np.sin(inclination),
        ),
        axis=-1,
    )


def _untilted(position: FloatArray, turned_rad: FloatArray, tilted: NDArray[np.bool_]) -> FloatArray:
    """Rz(turned) Rx(-5 degrees) of the positions that need it."""
    tilt = math.radians(BEIDOU_TILT_DEG)
    x, y, z = np.moveaxis(position, -1, 0)
    level = y * math.cos(tilt) + z * math.sin(tilt)
    height = z * math.cos(tilt) - y * math.sin(tilt)
    sine, cosine = np.sin(turned_rad), np.cos(turned_rad)
    upright = np.stack((x * cosine + level * sine, level * cosine - x * sine, height), axis=-1)
    return np.asarray(np.where(tilted[..., None], upright, position))
