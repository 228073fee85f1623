"""Delta-Bullington of one straight path, plainly: every maximum is a loop over all its samples.

The reference inside the sweep: it serves small maps whole, and measures on larger ones what is lost by
not aiming a radial at every cell.

Source: ITU-R P.1812-8 (09/2025), section 4.3 and Attachment 1; equations as in its open reference
implementation. Samples are evenly spaced; sample 0 is the base, the last one the receiver.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from linkplan.propagation.sweep_final import NU_FLOOR, Link, delta_bullington_db
from linkplan.propagation.sweep_numba import FloatArray, kernel


@kernel
def between(low: float, high: float, share: float) -> float:
    """Linear interpolation that does not look at a neighbour it does not need."""
    if share <= 0.0:
        return low
    return low + share * (high - low)


@kernel
def sample_line(
    height: FloatArray, row: int, column: int, down: int, right: int, last: int, out: FloatArray
) -> None:
    """Heights at points 0..last of the straight line from a cell towards (row + down, column + right).

    The line is sampled where it crosses the rows or columns (whichever it crosses more of), so that each
    point lies between two cells. Beyond the raster its border is repeated.
    """
    rows, columns = height.shape
    reach = max(abs(down), abs(right))
    if abs(down) == reach:
        step = 1 if down > 0 else -1
        for i in range(last + 1):
            across = column + i * right / reach  # exact at cell centres
            low = min(max(math.floor(across), 0), columns - 1)
            high = min(low + 1, columns - 1)
            at = row + i * step
            out[i] = between(height[at, low], height[at, high], across - low)
    else:
        step = 1 if right > 0 else -1
        for i in range(last + 1):
            across = row + i * down / reach
            low = min(max(math.floor(across), 0), rows - 1)
            high = min(low + 1, rows - 1)
            at = column + i * step
            out[i] = between(height[low, at], height[high, at], across - low)


@kernel
def bullington_nu(surface: FloatArray, t: float, r: float, last: int, step_km: float, link: Link) -> float:
    """nu of the Bullington point, or of the deciding obstacle of a line-of-sight path.

    surface holds ground and clutter of samples 0..last, t and r are the antennas' heights in its datum.
    """
    c = link.bulge
    d = last * step_km
    line = (r - t) / d
    slope_t = -math.inf
    for i in range(1, last):
        di = i * step_km
        slope_t = max(slope_t, (surface[i] - t) / di - c * di)
    slope_t += c * d
    if slope_t < line:
        nu = -math.inf
        for i in range(1, last):
            di = i * step_km
            above = surface[i] + c * di * (d - di) - t - line * di
            nu = max(nu, above * math.sqrt(link.nu_scale * d / (di * (d - di))))
        return nu
    slope_r = -math.inf
    for i in range(1, last):
        di = (last - i) * step_km
        slope_r = max(slope_r, (surface[i] - r) / di - c * di)
    slope_r += c * d
    # The Bullington point put into nu: no 0/0 where the ray grazes.
    return math.sqrt(max(link.nu_scale * d * (slope_t - line) * (slope_r + line), 0.0))


@kernel
def smooth_heights(ground: FloatArray, t: float, r: float, last: int) -> tuple[float, float]:
    """Antenna heights above the smooth earth for diffraction, m [Attachment 1, section 5.6]."""
    sum_1 = 0.0
    sum_2 = 0.0
    for i in range(1, last + 1):
        sum_1 += ground[i] + ground[i - 1]
        sum_2 += ground[i] * (3 * i - 1) + ground[i - 1] * (3 * i - 2)
    smooth_t = 2.0 * sum_1 / last - sum_2 / last / last
    smooth_r = sum_2 / last / last - sum_1 / last
    line = (r - t) / last
    highest = -math.inf
    slope_t = -math.inf
    slope_r = -math.inf
    for i in range(1, last):
        obstruction = ground[i] - t - line * i
        highest = max(highest, obstruction)
        slope_t = max(slope_t, obstruction / i)
        slope_r = max(slope_r, obstruction / (last - i))
    if highest > 0.0:
        smooth_t -= highest * slope_t / (slope_t + slope_r)
        smooth_r -= highest * slope_r / (slope_t + slope_r)
    return t - min(smooth_t, ground[0]), r - min(smooth_r, ground[last])


@kernel
def profile_loss(
    ground: FloatArray, surface: FloatArray, last: int, step_km: float, link: Link
) -> tuple[float, float]:
    """Delta-Bullington loss, dB, and nu of a path over samples 0..last; NaN where a sample is missing.

    surface is ground and clutter; its two end samples are not looked at.
    """
    total = ground[0] + ground[last]
    for i in range(1, last):
        total += ground[i] + surface[i]
    if not math.isfinite(total):
        return math.nan, math.nan
    if last < 2:  # nothing between two neighbouring cells
        return 0.0, NU_FLOOR
    t = ground[0] + link.tx_height_m
    r = ground[last] + link.rx_height_m
    nu = bullington_nu(surface, t, r, last, step_km, link)
    effective_t, effective_r = smooth_heights(ground, t, r, last)
    return delta_bullington_db(nu, effective_t, effective_r, last, step_km, link), nu


@kernel
def line_loss(
    ground: FloatArray,
    surface: FloatArray,
    row: int,
    column: int,
    down: int,
    right: int,
    last: int,
    cell_km: float,
    link: Link,
    scratch: FloatArray,
) -> tuple[float, float]:
    """Loss, dB, and nu at point `last` of a line from cell (row, column), as `sample_line` samples it."""
    if last == 0:
        return (0.0, NU_FLOOR) if math.isfinite(ground[row, column]) else (math.nan, math.nan)
    reach = max(abs(down), abs(right))
    step_km = cell_km * math.sqrt(down * down + right * right) / reach
    sample_line(ground, row, column, down, right, last, scratch[0])
    sample_line(surface, row, column, down, right, last, scratch[1])
    return profile_loss(scratch[0], scratch[1], last, step_km, link)


def scratch_for(shape: tuple[int, int]) -> FloatArray:
    """Working memory for `line_loss` on a raster of this shape."""
    return np.empty((2, max(shape) + 1))


@kernel
def cell_rows(
    ground: FloatArray,
    surface: FloatArray,
    row: int,
    column: int,
    cell_km: float,
    link: Link,
    first: int,
    stop: int,
    scratch: FloatArray,
    loss: FloatArray,
    nu: NDArray[np.float32],
) -> None:
    """Fill rows first..stop-1 of loss (dB) and nu, one exact path to each cell's centre."""
    for i in range(first, stop):
        for j in range(ground.shape[1]):
            down = i - row
            right = j - column
            last = max(abs(down), abs(right))
            loss[i, j], nu[i, j] = line_loss(
                ground, surface, row, column, down, right, last, cell_km, link, scratch
            )
