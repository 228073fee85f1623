"""Horizons, roughness and smooth surface of one path, found without a look at most of its samples.

A path runs `last` steps outwards in a wedge and `slope` cells across a step. Its samples are 0 (the base)
to `last` (the rover); heights in m above the ground at the base, distances in steps. A ray that leaves an
antenna with a slope b (m per step) has the height antenna + b e + curve e^2 after e steps over the bulging
earth: a sample above it is a higher horizon, and where the highest cell of a block of steps lies below the
ray's lowest point none of its samples needs a look. The highest cells are those of a sector, a few cells
wide, whose paths share them: `tops` holds them for each step, then for each 8 and each 64 steps.

Source: ITU-R P.1812-8 (09/2025), Attachment 1, sections 5.1 to 5.6, for the bare ground.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from linkplan.propagation.sweep_numba import FloatArray, SingleArray, inner
from linkplan.propagation.sweep_whole_ground import Frame

SHORT, LONG = 8, 64
"""Steps in a block of the finer and of the coarser tops."""


class Line(NamedTuple):
    """A path within a wedge."""

    centre: float
    """Column of the base."""
    slope: float
    """Cells across for a step outwards."""
    last: int
    """Steps."""
    short: int
    """Where the tops of 8 steps begin."""
    long: int
    """Where those of 64 steps begin."""


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


def tops_size(last: int) -> int:
    """Length of `tops` for paths of up to `last` steps."""
    return last + 1 + last // SHORT + 1 + last // LONG + 1


@inner
def fill_tops(height: SingleArray, frame: Frame, first: int, stop: int, tops: SingleArray) -> None:
    """The highest cells that paths between radials first and stop read. See the head of this file."""
    count = frame.last + 1
    short, long = count, count + frame.last // SHORT + 1
    for at in range(short, tops.size):
        tops[at] = -math.inf
    edge = height.shape[1] - 1
    for step in range(height.shape[0]):
        low = int(max(frame.centre + first / frame.reach * step, 0.0))
        high = min(int(max(frame.centre + stop / frame.reach * step, 0.0)) + 1, edge)
        top = height[step, min(low, edge)]
        for cell in range(low + 1, high + 1):
            top = max(top, height[step, cell])
        tops[step] = top
        tops[short + step // SHORT] = max(tops[short + step // SHORT], top)
        tops[long + step // LONG] = max(tops[long + step // LONG], top)


@inner
def horizon_from_base(
    height: SingleArray, tops: SingleArray, line: Line, ray: Ray, floor: float, hint: int
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
        if hidden(tops, line.long + begin // LONG, ray, best, max(begin, 1), end - 1):
            continue
        for first in range(begin, end, SHORT):
            near = max(first, 1)
            stop = min(first + SHORT, end)
            if hidden(tops, line.short + first // SHORT, ray, best, near, stop - 1):
                continue
            for step in range(near, stop):
                if tops[step] > height_of(ray, best, step):
                    slope = slope_to(height, line, ray, step, step)
                    if slope > best:
                        best = slope
                        found = step
    return best, found


@inner
def horizon_from_rover(
    height: SingleArray, tops: SingleArray, line: Line, ray: Ray, hint: int, other_hint: int
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
        if hidden(tops, line.long + begin // LONG, ray, best, last - end + 1, last - max(begin, 1)):
            continue
        for first in range(((end - 1) // SHORT) * SHORT, begin - 1, -SHORT):
            low = max(first, 1)
            stop = min(first + SHORT, end)
            if hidden(tops, line.short + first // SHORT, ray, best, last - stop + 1, last - low):
                continue
            for step in range(stop - 1, low - 1, -1):
                if tops[step] > height_of(ray, best, last - step):
                    slope = slope_to(height, line, ray, step, last - step)
                    if slope > best:
                        best = slope
                        found = step
    return best, found


@inner
def steps_hidden_at_base(tops: SingleArray, line: Line, ray: Ray, best: float) -> int:
    """Steps from the base within which nothing rises to a ray of slope `best`; 0 if something may."""
    return SHORT - 1 if hidden(tops, line.short, ray, best, 1, SHORT - 1) else 0


@inner
def steps_hidden_at_rover(tops: SingleArray, line: Line, ray: Ray, best: float) -> int:
    """The same from the rover, 8 to 15 steps or 0; for paths of 16 steps and more."""
    last = line.last
    block = (last - 1) // SHORT
    middle = block * SHORT
    low = max(middle - SHORT, 1)
    at = line.short + block
    if hidden(tops, at, ray, best, 1, last - middle) and hidden(
        tops, at - 1, ray, best, last - middle + 1, last - low
    ):
        return last - low
    return 0


@inner
def slope_to(height: SingleArray, line: Line, ray: Ray, step: int, away: int) -> float:
    """Slope of the ray to a sample `away` steps from the antenna, m per step."""
    return (height_at(height, line, step) - ray.antenna_m) / away - ray.curve * away


@inner
def height_of(ray: Ray, slope: float, away: float) -> float:
    """Height of a ray of this slope `away` steps from its antenna, m."""
    return ray.antenna_m + away * (slope + ray.curve * away)


@inner
def hidden(tops: SingleArray, at: int, ray: Ray, best: float, near: float, far: float) -> bool:
    """Whether the block at this place of `tops`, `near` to `far` steps away, lies below a ray."""
    lowest = height_of(ray, best, min(max(best * ray.turn, near), far))
    top: float = tops[at]
    return top <= lowest


@inner
def highest_over_line(
    height: SingleArray,
    tops: SingleArray,
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
        top = tops[line.short + begin // SHORT]
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
def radial_sums(
    height: SingleArray, frame: Frame, first: int, stop: int, last: int, sums: FloatArray
) -> None:
    """sums[k - first, 0, i] = sum of h_s, [1, i] = sum of s h_s over s = 1..i-1, for radials first..stop
    and i up to `last`.

    Sums change so little between two radials that they are taken linear there.
    """
    edge = height.shape[1] - 2
    for k in range(first, stop + 1):
        slope = k / frame.reach
        plain = 0.0
        weighted = 0.0
        for step in range(last + 1):
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
