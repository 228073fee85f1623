"""Dilution of precision: what the satellites' geometry makes of an error of one metre in each range.

The unknowns are the place and either one clock, or one for each satellite system, whose offset against the
others is then estimated too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError

FloatArray = NDArray[np.float64]

_SINGULAR = 1e-12
"""Least determinant of the place's normal matrix against the cube of its mean diagonal: a PDOP of 10^5."""
_ONE_PLACE = 1e-9
_CHUNK_NUMBERS = 1 << 22


@dataclass(frozen=True)
class Dilution:
    """Arrays of one shape; NaN where satellites are fewer than unknowns, or stand in one line or cone."""

    gdop: FloatArray
    """Place and time: gdop^2 = pdop^2 + tdop^2."""
    pdop: FloatArray
    hdop: FloatArray
    vdop: FloatArray
    tdop: FloatArray
    """In metres. With a clock for each system: of the one known best."""
    satellites: NDArray[np.intp]
    """In view."""


def unit_vectors(azimuth_deg: ArrayLike, elevation_deg: ArrayLike) -> FloatArray:
    """Unit vectors (..., 3) east, north, up."""
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    level = np.cos(elevation)
    return np.stack(
        np.broadcast_arrays(level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)), axis=-1
    )


def dilution(
    directions: FloatArray, visible: NDArray[np.bool_], systems: NDArray[np.str_] | None = None
) -> Dilution:
    """Dilution at T times, for one point or many.

    `directions` (S, T, 3), east, north, up; `visible` (..., S, T), False for satellites that are not usable.
    `systems` (S,), any names: a clock for each; None: one clock for all. Result (..., T).
    The points of an area may share the directions of its middle: 15 km turn them by 0.1 degrees, which
    changes no figure by 0.5 %. RangeError where shapes do not fit.
    """
    shape = visible.shape
    if directions.shape != (*shape[-2:], 3) or (systems is not None and systems.shape != shape[-2:-1]):
        raise RangeError(f"directions {directions.shape} do not fit visible {shape}, or systems do not")
    seen = np.moveaxis(visible.reshape(math.prod(shape[:-2]), *shape[-2:]), -1, 0)
    # a satellite out of view may have no direction
    known = np.moveaxis(np.where(np.isnan(directions), 0.0, directions), 1, 0)
    groups = [np.arange(shape[-2])]
    if systems is not None:
        groups = [np.flatnonzero(systems == one) for one in np.unique(systems)]
    points, times = seen.shape[1], seen.shape[0]
    parts = np.empty((6, points, times))
    chunk = max(1, _CHUNK_NUMBERS // max(1, points * shape[-2]))
    for start in range(0, times, chunk):
        piece = slice(start, start + chunk)
        parts[:, :, piece] = np.moveaxis(_chunk(known[piece], seen[piece], groups), 1, 2)
    result = parts.reshape(6, *shape[:-2], times)
    gdop, pdop, hdop, vdop, tdop, count = result
    return Dilution(gdop, pdop, hdop, vdop, tdop, count.astype(np.intp))


def _chunk(directions: FloatArray, seen: NDArray[np.bool_], groups: list[NDArray[np.intp]]) -> FloatArray:
    """The five figures and the count, (6, T, P), of directions (T, S, 3) and views (T, P, S)."""
    shape = seen.shape[:2]
    normal = np.zeros((*shape, 6))
    count, unknowns = np.zeros(shape), np.full(shape, 3.0)
    clocks: list[tuple[FloatArray, FloatArray]] = []
    for group in groups:
        one = directions[:, group]
        terms = np.concatenate((np.ones_like(one[..., :1]), one, _products(one)), axis=-1)
        sums = (seen[:, :, group] if len(groups) > 1 else seen).astype(np.float64) @ terms
        number = sums[..., 0]
        mean = sums[..., 1:4] / np.maximum(number, 1.0)[..., None]
        # the clock is eliminated: what remains are the directions less their mean
        normal += sums[..., 4:] - number[..., None] * _products(mean)
        count += number
        unknowns += number > 0.0
        clocks.append((number, mean))
    inverse = _inverse(normal)
    # satellites that all stand in one place leave nothing but rounding
    inverse[(count < unknowns) | (normal[..., [0, 3, 5]].sum(axis=-1) < _ONE_PLACE * count)] = np.nan
    ee, nn, uu = inverse[..., 0], inverse[..., 3], inverse[..., 5]
    time = np.full(shape, np.inf)
    for number, mean in clocks:
        share = np.where(number > 0.0, 1.0 / np.maximum(number, 1.0), np.inf)
        time = np.minimum(time, share + _form(inverse, mean))
    squares = np.stack((ee + nn + uu + time, ee + nn + uu, ee + nn, uu, time))
    return np.concatenate((np.sqrt(squares), count[None]))


def _products(vector: FloatArray) -> FloatArray:
    """The six different products of a vector's parts: ee en eu nn nu uu."""
    east, north, up = np.moveaxis(vector, -1, 0)
    return np.stack((east * east, east * north, east * up, north * north, north * up, up * up), axis=-1)


def _inverse(matrix: FloatArray) -> FloatArray:
    """Inverse of symmetric 3 x 3 matrices, as their six parts; NaN where there is none."""
    a, b, c, d, e, f = np.moveaxis(matrix, -1, 0)
    cofactors = (d * f - e * e, c * e - b * f, b * e - c * d, a * f - c * c, b * c - a * e, a * d - b * b)
    determinant = a * cofactors[0] + b * cofactors[1] + c * cofactors[2]
    flat = determinant <= _SINGULAR * ((a + d + f) / 3.0) ** 3
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.stack(cofactors, axis=-1) / np.where(flat, np.nan, determinant)[..., None])


def _form(inverse: FloatArray, vector: FloatArray) -> FloatArray:
    """Vector times symmetric matrix times vector."""
    ee, en, eu, nn, nu, uu = np.moveaxis(inverse, -1, 0)
    east, north, up = np.moveaxis(vector, -1, 0)
    mixed = east * north * en + east * up * eu + north * up * nu
    return np.asarray(east * east * ee + north * north * nn + up * up * uu + 2.0 * mixed)
