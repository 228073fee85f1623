"""Horizons, roughness and smooth surface of one path, found without a look at most of its samples.

A path runs `last` steps outwards in a wedge and `slope` cells across a step. Its samples are 0 (the base)
to `last` (the rover); heights in m above the ground at the base, distances in steps. A ray that leaves an
antenna with a slope b (m per step) has the height antenna + b e + curve e^2 after e steps over the bulging
earth: a sample above it is a higher horizon, and a block whose highest cell lies below the ray's lowest
point there needs no look.

Source: ITU-R P.1812-8 (09/2025), Attachment 1, sections 5.1 to 5.6, for the bare ground.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numba import njit
from numpy.typing import NDArray

from linkplan.propagation.sweep_whole_ground import LONG, SHORT, Frame

Function = TypeVar("Function", bound=Callable[..., Any])
FloatArray = NDArray[np.float64]
SingleArray = NDArray[np.float32]


def kernel(function: Function) -> Function:
    """Compile `function` at its first call, kept on disk, without the interpreter's lock."""
    compiled: Function = njit(cache=True, nogil=True, error_model="numpy")(function)
    return compiled


def inner(function: Function) -> Function:
    """As `kernel`, for functions that only kernels call: a third of the time to compile goes without."""
    compiled: Function = njit(
        cache=True, nogil=True, error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True
    )(function)
    return compiled


class Line(NamedTuple):
    """A path within a wedge."""

    centre: float
    """Column of the base."""
    slope: float
    """Cells across for a step outwards."""
    last: int
    """Steps."""


class Ray(NamedTuple):
    """What does not change while a horizon is looked for."""

    antenna_m: float
    """Where it starts."""
    curve: float
    """Rise over the bulging earth, m per squared step: 500 / a_e with lengths in steps."""
    turn: float
    """-1 / (2 curve): times the ray's slope, the distance of its lowest point, steps."""


@inner
def height_at(height: SingleArray, line: Line, step: int) -> float:
    """Height of a sample, between two cells."""
    return between(height, step, line.centre + line.slope * step)


@inner
def between(height: SingleArray, step: int, across: float) -> float:
    """Height between two cells of a step."""
    cell = int(across)
    low: float = height[step, cell]
    high: float = height[step, cell + 1]
    return low + (across - cell) * (high - low)


@inner
def horizon_from_base(
    height: SingleArray,
    short_high: SingleArray,
    long_high: SingleArray,
    line: Line,
    ray: Ray,
    floor: float,
    hint: int,
) -> tuple[float, int]:
    """Slope of the steepest ray to samples 1..last-1 and that sample; `floor` and 0 if none exceeds it.

    `hint`: a sample that may well be the horizon.
    """
    last = line.last
    best = floor
    found = 0
    slope = slope_to(height, line, ray, hint, hint)
    if slope > best:
        best = slope
        found = hint
    for begin in range(0, last, LONG):
        end = min(begin + LONG, last)
        if _hidden(long_high, begin // LONG, line, ray, best, max(begin, 1), end, max(begin, 1), end - 1):
            continue
        for first in range(begin, end, SHORT):
            near = max(first, 1)
            stop = min(first + SHORT, end)
            if _hidden(short_high, first // SHORT, line, ray, best, near, stop, near, stop - 1):
                continue
            for step in range(near, stop):
                rise = rise_to(height, line, ray, step, step)
                if rise > best * step:
                    best = rise / step
                    found = step
    return best, found


@inner
def horizon_from_rover(
    height: SingleArray,
    short_high: SingleArray,
    long_high: SingleArray,
    line: Line,
    ray: Ray,
    hint: int,
    other_hint: int,
) -> tuple[float, int]:
    """Slope of the steepest ray from the rover back to samples 1..last-1, and that sample."""
    last = line.last
    best = slope_to(height, line, ray, other_hint, last - other_hint)
    found = other_hint
    slope = slope_to(height, line, ray, hint, last - hint)
    if slope > best:
        best = slope
        found = hint
    for begin in range(((last - 1) // LONG) * LONG, -1, -LONG):
        end = min(begin + LONG, last)
        far = last - max(begin, 1)
        if _hidden(long_high, begin // LONG, line, ray, best, max(begin, 1), end, last - end + 1, far):
            continue
        for first in range(((end - 1) // SHORT) * SHORT, begin - 1, -SHORT):
            low = max(first, 1)
            stop = min(first + SHORT, end)
            if _hidden(short_high, first // SHORT, line, ray, best, low, stop, last - stop + 1, last - low):
                continue
            for step in range(stop - 1, low - 1, -1):
                rise = rise_to(height, line, ray, step, last - step)
                if rise > best * (last - step):
                    best = rise / (last - step)
                    found = step
    return best, found


@inner
def steps_hidden_at_base(short_high: SingleArray, line: Line, ray: Ray, best: float) -> int:
    """Steps from the base within which nothing rises to a ray of slope `best`; 0 if something may."""
    return SHORT - 1 if _hidden(short_high, 0, line, ray, best, 1, SHORT, 1, SHORT - 1) else 0


@inner
def steps_hidden_at_rover(short_high: SingleArray, line: Line, ray: Ray, best: float) -> int:
    """The same from the rover, 8 to 15 steps or 0; for paths of 16 steps and more."""
    last = line.last
    middle = ((last - 1) // SHORT) * SHORT
    begin = middle - SHORT
    low = max(begin, 1)
    if _hidden(short_high, middle // SHORT, line, ray, best, middle, last, 1, last - middle) and _hidden(
        short_high, begin // SHORT, line, ray, best, low, middle, last - middle + 1, last - low
    ):
        return last - low
    return 0


@inner
def rise_to(height: SingleArray, line: Line, ray: Ray, step: int, away: int) -> float:
    """Height of a sample over the antenna, less the bulge, `away` steps from it, m."""
    return height_at(height, line, step) - ray.antenna_m - ray.curve * away * away


@inner
def slope_to(height: SingleArray, line: Line, ray: Ray, step: int, away: int) -> float:
    """Slope of the ray to a sample `away` steps from the antenna, m per step."""
    return rise_to(height, line, ray, step, away) / away


@inner
def _hidden(
    highest: SingleArray,
    block: int,
    line: Line,
    ray: Ray,
    best: float,
    first: int,
    stop: int,
    near: float,
    far: float,
) -> bool:
    """Whether samples first..stop-1, `near` to `far` steps away, all lie below a ray of slope `best`."""
    away = min(max(best * ray.turn, near), far)  # where the ray is lowest
    lowest = ray.antenna_m + away * (best + ray.curve * away)
    top: float = highest[block, first_cell(line, first, stop)]
    return top <= lowest


@inner
def first_cell(line: Line, first: int, stop: int) -> int:
    """The lowest cell across that samples first..stop-1 read."""
    return int(line.centre + line.slope * (first if line.slope >= 0.0 else stop - 1))


@inner
def highest_over_line(
    height: SingleArray,
    short_high: SingleArray,
    line: Line,
    first: int,
    stop: int,
    start_m: float,
    rise: float,
    floor: float,
) -> float:
    """Greatest height of samples first..stop over start + rise * step, or `floor` if none exceeds it."""
    best = floor
    for begin in range((first // SHORT) * SHORT, stop + 1, SHORT):
        low = max(begin, first)
        high = min(begin + SHORT, stop + 1)
        top = short_high[begin // SHORT, first_cell(line, low, high)]
        if top <= best + start_m + min(rise * low, rise * (high - 1)):
            continue
        for step in range(low, high):
            best = max(best, height_at(height, line, step) - start_m - rise * step)
    return best


@inner
def least_clear(height: SingleArray, line: Line, base_m: float, rover_m: float, curve: float) -> int:
    """The sample of 1..last-1 with the greatest nu, for antennas at these heights that see each other.

    No sample lies over the ray, so the greatest nu is the smallest square of clearance^2 / (d1 d2).
    """
    rise = (rover_m - base_m) / line.last
    least, over = math.inf, 1.0
    found = 1
    for step in range(1, line.last):
        rest = line.last - step
        product = float(step * rest)
        clearance = base_m + rise * step - curve * product - height_at(height, line, step)
        square = clearance * clearance
        if square * over < least * product:
            least, over = square, product
            found = step
    return found


@inner
def radial_sums(height: SingleArray, frame: Frame, first: int, stop: int, sums: FloatArray) -> None:
    """sums[k - first, 0, i] = sum of h_s, [1, i] = sum of s h_s over s = 1..i-1, for radials first..stop.

    Sums change so little between two radials that they are taken linear there.
    """
    edge = height.shape[1] - 2
    for k in range(first, stop + 1):
        slope = k / frame.reach
        plain = 0.0
        weighted = 0.0
        for step in range(frame.last + 1):
            sums[k - first, 0, step] = plain
            sums[k - first, 1, step] = weighted
            across = min(max(frame.centre + slope * step, 0.0), edge)
            value = between(height, step, across)
            plain += value
            weighted += value * step


@inner
def smooth_ends(last: int, plain: float, weighted: float, end_m: float) -> tuple[float, float]:
    """Least-squares heights of the ground at both ends: h_st, h_sr. [Attachment 1, section 5.6.1]

    Sums over s = 1..last-1 of h_s and s h_s; the ground at the base is 0, at the rover `end_m`.
    """
    v1 = 2.0 * plain + end_m
    v2 = 6.0 * weighted + (3.0 * last - 1.0) * end_m
    square = float(last) * last
    return (2.0 * v1 * last - v2) / square, (v2 - v1 * last) / square
