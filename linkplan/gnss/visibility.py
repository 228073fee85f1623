"""Which satellites does a point see? Azimuth and elevation, over a mask and over a horizon.

Directions are those without any air. The horizon has one elevation for each azimuth, straight in between;
where it is unknown (NaN) no satellite counts as seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError
from linkplan.tables.constellations import WGS84_A_M, WGS84_F

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_AREA_M = 100_000.0
_SLACK_DEG = 1.5
"""A satellite stands no more than this higher from another point of an area: 100 km turn the vertical by
0.9 degrees, and the line to the satellite by less than 0.3."""


@dataclass(frozen=True)
class Look:
    """Directions from a point to satellites; arrays of one shape."""

    azimuth_deg: FloatArray
    """Clockwise from true north, 0 to below 360."""
    elevation_deg: FloatArray
    """Above the plane at right angles to the ellipsoid's normal."""
    distance_m: FloatArray


def ecef_from_geodetic(latitude_deg: ArrayLike, longitude_deg: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """Earth-fixed position (..., 3) of geodetic coordinates and ellipsoidal height (...) on WGS 84, m."""
    latitude, longitude = np.radians(latitude_deg), np.radians(longitude_deg)
    height = np.asarray(height_m, dtype=np.float64)
    squash = WGS84_F * (2.0 - WGS84_F)
    normal = WGS84_A_M / np.sqrt(1.0 - squash * np.sin(latitude) ** 2)
    level = (normal + height) * np.cos(latitude)
    return np.stack(
        np.broadcast_arrays(
            level * np.cos(longitude),
            level * np.sin(longitude),
            (normal * (1.0 - squash) + height) * np.sin(latitude),
        ),
        axis=-1,
    )


def east_north_up(latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> FloatArray:
    """Unit vectors east, north and up as rows (..., 3, 3) in the earth-fixed frame."""
    latitude, longitude = np.broadcast_arrays(np.radians(latitude_deg), np.radians(longitude_deg))
    sine, cosine, turn_sine, turn_cosine = (
        np.sin(latitude), np.cos(latitude), np.sin(longitude), np.cos(longitude)
    )  # fmt: skip
    rows = (
        (-turn_sine, turn_cosine, np.zeros_like(sine)),
        (-sine * turn_cosine, -sine * turn_sine, cosine),
        (cosine * turn_cosine, cosine * turn_sine, sine),
    )
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def look(ecef_m: FloatArray, latitude_deg: ArrayLike, longitude_deg: ArrayLike, height_m: ArrayLike) -> Look:
    """Directions from points of any shape P to satellites of any shape S: arrays P + S.

    `ecef_m` S + (3,); NaN gives NaN. RangeError for latitudes and longitudes that are none.
    """
    points = _points(latitude_deg, longitude_deg, height_m)
    flat = np.reshape(ecef_m, (-1, 3))
    local = (flat - points[0].reshape(-1, 1, 3)) @ np.swapaxes(points[1].reshape(-1, 3, 3), 1, 2)
    east, north, up = np.moveaxis(local.reshape(points[0].shape[:-1] + ecef_m.shape), -1, 0)
    level = np.hypot(east, north)
    # the remainder of a tiny negative angle is 360 itself
    azimuth = np.degrees(np.arctan2(east, north)) % 360.0 % 360.0
    return Look(azimuth, np.degrees(np.arctan2(up, level)), np.hypot(level, up))


def horizon_at(azimuth_deg: FloatArray, azimuths_deg: ArrayLike, horizon_deg: ArrayLike) -> FloatArray:
    """The horizon's elevation in directions, straight between its azimuths and round through north, degrees.

    `azimuths_deg` (A,) ascending within one turn; `horizon_deg` (A,), or (P, A) with `azimuth_deg` (P, ...).
    NaN where a neighbour is. RangeError for azimuths that do not ascend.
    """
    azimuths, horizon = np.asarray(azimuths_deg, dtype=np.float64), np.asarray(horizon_deg, dtype=np.float64)
    closed_azimuths, closed = _closed(azimuths, horizon)
    return _interpolated(azimuth_deg, closed_azimuths, closed)


def above(directions: Look, mask_deg: float, horizon: FloatArray | None = None) -> BoolArray:
    """Satellites at or over the mask and over a horizon (horizon_at of the same directions); NaN is not."""
    seen = directions.elevation_deg >= mask_deg
    return seen if horizon is None else np.asarray(seen & (directions.elevation_deg > horizon))


def visible_over_area(
    ecef_m: FloatArray,
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    height_m: FloatArray,
    mask_deg: float,
    azimuths_deg: ArrayLike | None = None,
    horizon_deg: ArrayLike | None = None,
) -> BoolArray:
    """Which of S satellites at T times are in view from each of P points: (P, S, T).

    `ecef_m` (S, T, 3); points (P,) within 100 km of the first; `azimuths_deg` (A,) and `horizon_deg` (P, A),
    or no horizon. The same as look, horizon_at and above give, without what no point can see. RangeError.
    """
    positions, axes = _points(latitude_deg, longitude_deg, height_m)
    if positions.ndim != 2 or np.max(np.linalg.norm(positions - positions[0], axis=-1)) > _AREA_M:
        raise RangeError("an area's points are one row of coordinates within 100 km of the first")
    closed = None
    if azimuths_deg is not None and horizon_deg is not None:
        closed = _closed(
            np.asarray(azimuths_deg, dtype=np.float64), np.asarray(horizon_deg, dtype=np.float64)
        )
        if closed[1].shape[:-1] != positions.shape[:1]:
            raise RangeError(f"horizon_deg has rows for {closed[1].shape[0]} points, not {len(positions)}")
    first = look(ecef_m, latitude_deg[0], longitude_deg[0], height_m[0])
    # times first, in which both this and the dilution go through it
    seen = np.zeros((ecef_m.shape[1], len(positions), ecef_m.shape[0]), dtype=bool)
    own = np.einsum("pij,pj->ip", axes, positions)
    for time in range(ecef_m.shape[1]):
        rows = np.flatnonzero(first.elevation_deg[:, time] > mask_deg - _SLACK_DEG)
        # (axis, point, satellite)
        local = np.einsum("pij,sj->ips", axes, ecef_m[rows, time], optimize=True) - own[:, :, None]
        elevation = np.degrees(np.arctan2(local[2], np.hypot(local[0], local[1])))
        here = elevation >= mask_deg
        if closed is not None:
            azimuth = np.degrees(np.arctan2(local[0], local[1])) % 360.0
            here &= elevation > _interpolated(azimuth, *closed)
        seen[time][:, rows] = here
    return np.moveaxis(seen, 0, -1)


def _points(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, height_m: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Positions and axes of points."""
    latitude, longitude = np.asarray(latitude_deg), np.asarray(longitude_deg)
    if not (np.all(np.abs(latitude) <= 90.0) and np.all(np.abs(longitude) <= 360.0)):
        raise RangeError("latitude_deg must lie in -90 to 90, longitude_deg in -360 to 360")
    return ecef_from_geodetic(latitude, longitude, height_m), east_north_up(latitude, longitude)


def _closed(azimuths: FloatArray, horizon: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The same with its last value before and its first behind."""
    wrong = azimuths.ndim != 1 or azimuths.size == 0 or horizon.shape[-1:] != azimuths.shape
    if wrong or not np.all(np.diff(azimuths) > 0.0) or azimuths[-1] - azimuths[0] >= 360.0:
        raise RangeError("azimuths_deg must ascend within one turn, with one horizon_deg each")
    turned = np.concatenate(([azimuths[-1] - 360.0], azimuths, [azimuths[0] + 360.0]))
    return turned, np.concatenate((horizon[..., -1:], horizon, horizon[..., :1]), axis=-1)


def _interpolated(azimuth_deg: FloatArray, azimuths: FloatArray, horizon: FloatArray) -> FloatArray:
    turned = (azimuth_deg - azimuths[0]) % 360.0 + azimuths[0]
    place = np.clip(np.searchsorted(azimuths, turned, side="right") - 1, 0, azimuths.size - 2)
    left, right = azimuths[place], azimuths[place + 1]
    share = (turned - left) / (right - left)
    if horizon.ndim == 1:
        low, high = horizon[place], horizon[place + 1]
    else:
        rows = np.arange(horizon.shape[0]).reshape(-1, *(1,) * (place.ndim - 1))
        low, high = horizon[rows, place], horizon[rows, place + 1]
    return np.asarray(low + share * (high - low))
