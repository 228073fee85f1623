"""A shaded relief of the local grid, for pictures only."""

from __future__ import annotations

import math

import numpy as np

from linkplan.terrain.grid import FloatArray


def hillshade(
    height_m: FloatArray, cell_size_m: float, *, azimuth_deg: float = 315.0, altitude_deg: float = 45.0
) -> FloatArray:
    """Light on the ground from a far lamp, 0 (turned away) to 1 (facing it); NaN where missing.

    The cosine of the angle between the ground's normal and the lamp (Lambert's law). `azimuth_deg` is
    clockwise from north, row 0 is the northernmost. Slopes are central differences; at the edge and
    beside missing cells they come from the one side that is known.
    """
    east = _difference(height_m, axis=1) / cell_size_m
    north = -_difference(height_m, axis=0) / cell_size_m
    azimuth, altitude = math.radians(azimuth_deg), math.radians(altitude_deg)
    light_east = math.sin(azimuth) * math.cos(altitude)
    light_north = math.cos(azimuth) * math.cos(altitude)
    facing = (-east * light_east - north * light_north + math.sin(altitude)) / np.sqrt(
        1.0 + east**2 + north**2
    )
    shade: FloatArray = np.where(np.isfinite(height_m), np.clip(facing, 0.0, 1.0), np.nan)
    return shade


def _difference(values: FloatArray, axis: int) -> FloatArray:
    """Rise per cell along an axis, from the neighbours that are known; 0 without any."""
    lines = np.moveaxis(values, axis, 0)
    before, after = np.full_like(lines, np.nan), np.full_like(lines, np.nan)
    before[1:], after[:-1] = lines[:-1], lines[1:]
    know_before, know_after = np.isfinite(before), np.isfinite(after)
    rise = np.where(know_after, after, lines) - np.where(know_before, before, lines)
    steps = know_before.astype(np.float64) + know_after
    return np.moveaxis(rise / np.maximum(steps, 1.0), 0, axis)
