"""Delta-Bullington of one straight path, plainly: every maximum is a loop over all its samples.

The reference inside the sweep: it serves small maps whole, and measures on larger ones what is lost by
not aiming a radial at every cell. Samples are evenly spaced, sample 0 at the base and the last one at the
receiver; lengths are counted in steps.

Source: ITU-R P.1812-8 (09/2025), section 4.3 and Attachment 1; equations as in its open reference
implementation.
"""

from __future__ import annotations

import math

import numpy as np

from linkplan.propagation.sweep_final import NU_FLOOR, Link, delta_bullington_db
from linkplan.propagation.sweep_geometry import quadrant_towards, sample_radial
from linkplan.propagation.sweep_numba import FloatArray, IntArray, SingleArray, inner, kernel, reduction
from linkplan.propagation.sweep_wanted import BoolArray


@reduction
def steepest(height: FloatArray, inverse: FloatArray, last: int, origin: float, bulge: float) -> float:
    """Greatest (height_i - origin)/i - bulge i over the interior samples."""
    slope = -math.inf
    for i in range(1, last):
        slope = max(slope, (height[i] - origin) * inverse[i] - bulge * i)
    return slope


@reduction
def steepest_back(height: FloatArray, inverse: FloatArray, last: int, origin: float, bulge: float) -> float:
    """The same from the receiver: greatest (height_i - origin)/(last - i) - bulge (last - i)."""
    slope = -math.inf
    for i in range(1, last):
        slope = max(slope, (height[i] - origin) * inverse[last - i] - bulge * (last - i))
    return slope


@reduction
def smallest_gap(
    height: FloatArray, inverse: FloatArray, last: int, t: float, line: float, bulge: float
) -> float:
    """Smallest (depth under the ray)^2 d/(d_1 d_2) of a line-of-sight path; nu^2 grows with it."""
    gap = math.inf
    for i in range(1, last):
        below = t + line * i - height[i] - bulge * i * (last - i)
        gap = min(gap, below * below * (inverse[i] + inverse[last - i]))
    return gap


@reduction
def highest_over(height: FloatArray, last: int, slope: float) -> float:
    """Greatest height_i - slope i over the interior samples."""
    highest = -math.inf
    for i in range(1, last):
        highest = max(highest, height[i] - slope * i)
    return highest


@reduction
def moments(height: FloatArray, last: int) -> tuple[float, float]:
    """Sums of height_i and of i height_i over the interior samples."""
    total = 0.0
    moment = 0.0
    for i in range(1, last):
        total += height[i]
        moment += height[i] * i
    return total, moment


@inner
def bullington_nu(
    surface: FloatArray, inverse: FloatArray, last: int, t: float, r: float, bulge: float, nu_scale: float
) -> float:
    """nu of the Bullington point, or of the deciding obstacle of a line-of-sight path."""
    line = (r - t) / last
    slope_t = steepest(surface, inverse, last, t, bulge) + bulge * last
    if slope_t < line:
        return -math.sqrt(nu_scale * smallest_gap(surface, inverse, last, t, line, bulge))
    slope_r = steepest_back(surface, inverse, last, r, bulge) + bulge * last
    # The Bullington point put into nu: no 0/0 where the ray grazes.
    return math.sqrt(max(nu_scale * last * (slope_t - line) * (slope_r + line), 0.0))


@inner
def smooth_heights(
    ground: FloatArray, inverse: FloatArray, last: int, t: float, r: float
) -> tuple[float, float]:
    """Antenna heights above the smooth earth for diffraction, m [Attachment 1, section 5.6]."""
    total, moment = moments(ground, last)
    v1 = 2.0 * total + ground[0] + ground[last]
    v2 = 6.0 * moment + (3.0 * last - 1.0) * ground[last] + ground[0]
    smooth_t = (2.0 * v1 * last - v2) / last / last
    smooth_r = (v2 - v1 * last) / last / last
    line = (r - t) / last
    ahead = steepest(ground, inverse, last, t, 0.0) - line
    if ahead > 0.0:
        back = steepest_back(ground, inverse, last, r, 0.0) + line
        if back > 0.0:  # both are, but for rounding where the ground just touches the ray
            part = (highest_over(ground, last, line) - t) / (ahead + back)
            smooth_t -= part * ahead
            smooth_r -= part * back
    return t - min(smooth_t, ground[0]), r - min(smooth_r, ground[last])


@inner
def profile_loss(
    ground: FloatArray, surface: FloatArray, inverse: FloatArray, last: int, step_km: float, link: Link
) -> tuple[float, float]:
    """Delta-Bullington loss, dB, and nu (at least NU_FLOOR) of a path; NaN where a sample is missing.

    ground and surface (ground with clutter; its two end samples are not looked at), m; inverse[i] = 1/i.
    """
    missing = not (math.isfinite(ground[0]) and math.isfinite(ground[last]))
    for i in range(1, last):
        missing |= not (math.isfinite(ground[i]) and math.isfinite(surface[i]))
    if missing:
        return math.nan, math.nan
    if last < 2:  # nothing between two neighbouring cells
        return 0.0, NU_FLOOR
    t = ground[0] + link.tx_height_m
    r = ground[last] + link.rx_height_m
    bulge = link.bulge * step_km * step_km
    nu = bullington_nu(surface, inverse, last, t, r, bulge, link.nu_scale / step_km)
    height_t, height_r = smooth_heights(ground, inverse, last, t, r)
    return delta_bullington_db(nu, height_t, height_r, last, step_km, link), max(nu, NU_FLOOR)


@inner
def line_loss(
    ground: FloatArray,
    surface: FloatArray,
    shape: tuple[int, int],
    row: int,
    column: int,
    side: int,
    reach: int,
    k: int,
    last: int,
    cell_km: float,
    link: Link,
    scratch: FloatArray,
) -> tuple[float, float]:
    """Loss, dB, and nu at step `last` of the radial through (reach, k) of the quadrant on this side.

    ground and surface are flat; surface is empty where there is no clutter. scratch is `scratch_for`.
    """
    q = quadrant_towards(shape[0], shape[1], row, column, side)
    if last == 0:
        return (0.0, NU_FLOOR) if math.isfinite(ground[q.start]) else (math.nan, math.nan)
    bare = scratch[0]
    full = scratch[1] if surface.size else bare
    sample_radial(ground, q, reach, k, last, bare)
    if surface.size:
        sample_radial(surface, q, reach, k, last, full)
    step_km = cell_km * math.sqrt(reach * reach + k * k) / reach
    return profile_loss(bare, full, scratch[2], last, step_km, link)


def scratch_for(shape: tuple[int, int]) -> FloatArray:
    """Working memory for `line_loss` on a raster of this shape; the third row holds 1/i."""
    scratch = np.zeros((3, max(shape) + 1))
    scratch[2, 1:] = 1.0 / np.arange(1, max(shape) + 1)
    return scratch


@kernel
def losses_between(
    ground: FloatArray,
    surface: FloatArray,
    shape: tuple[int, int],
    row: int,
    column: int,
    target: IntArray,
    cell_km: float,
    link: Link,
    scratch: FloatArray,
    out: FloatArray,
) -> None:
    """Loss at places between radials, one row of `target` each: side, step along, step across, reach.

    Taken from the two radials beside the place, as the sweep does, into out (dB). With reach = step along
    one radial goes through the place itself.
    """
    for n in range(target.shape[0]):
        side, i, j, reach = target[n]
        k = (j * reach) // i
        share = (j * reach - k * i) / i
        loss, _ = line_loss(ground, surface, shape, row, column, side, reach, k, i, cell_km, link, scratch)
        if share > 0.0:
            beside, _ = line_loss(
                ground, surface, shape, row, column, side, reach, k + 1, i, cell_km, link, scratch
            )
            loss += share * (beside - loss)
        out[n] = loss


@kernel
def cell_rows(
    ground: FloatArray,
    surface: FloatArray,
    shape: tuple[int, int],
    row: int,
    column: int,
    first: int,
    stop: int,
    begin: int,
    end: int,
    wanted: BoolArray,
    cell_km: float,
    link: Link,
    scratch: FloatArray,
    loss: FloatArray,
    clearance: SingleArray,
) -> None:
    """Loss, dB, and clearance of cells of rows first..stop-1, each by the path to its own centre.

    Columns begin..end-1, and of those the wanted cells; all where `wanted` is empty.
    """
    for i in range(first, stop):
        for j in range(begin, end):
            if wanted.size > 0 and not wanted[i * shape[1] + j]:
                continue
            down = i - row
            right = j - column
            if abs(down) >= abs(right):
                side, last, k = (0 if down > 0 else 1), abs(down), right
            else:
                side, last, k = (2 if right > 0 else 3), abs(right), down
            at = i * shape[1] + j
            loss[at], nu = line_loss(
                ground, surface, shape, row, column, side, last, k, last, cell_km, link, scratch
            )
            clearance[at] = nu * -math.sqrt(0.5)


@kernel
def stand_out(
    height: FloatArray, shape: tuple[int, int], lag: int, first: int, stop: int, out: FloatArray
) -> None:
    """How far cells of rows first..stop-1 stand out of the line between cells `lag` to either side.

    Along rows and along columns, nothing missing; into out: the largest square, m^2, the sum of squares
    and their number.
    """
    rows, columns = shape
    out[:] = 0.0
    for i in range(first, stop):
        line = height[i * columns : (i + 1) * columns]
        if columns > 2 * lag:
            add_off_line(line[lag : columns - lag], line[: columns - 2 * lag], line[2 * lag :], out)
        if lag <= i < rows - lag:
            above = height[(i - lag) * columns : (i - lag + 1) * columns]
            below = height[(i + lag) * columns : (i + lag + 1) * columns]
            add_off_line(line, above, below, out)


@reduction
def add_off_line(middle: FloatArray, before: FloatArray, after: FloatArray, out: FloatArray) -> None:
    """Gather (middle - mean of before and after)^2 into out: largest, sum, number."""
    largest = 0.0
    total = 0.0
    for j in range(middle.size):
        off = middle[j] - 0.5 * (before[j] + after[j])
        square = off * off
        largest = largest if largest > square else square
        total += square
    out[0] = max(out[0], largest)
    out[1] += total
    out[2] += middle.size
