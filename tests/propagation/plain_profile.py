"""Delta-Bullington of one path as the Recommendation writes it, and how a path is sampled: for tests.

Written from the equations of ITU-R P.1812-8 sections 4.3.1 to 4.3.4 and Attachment 1 section 5.6 alone,
in kilometres and metres above the raster's datum, without any of the sweep's shortcuts.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
RADIUS_KM = 6371.0 * 157.0 / 112.0


def sampled(height: FloatArray, rows: FloatArray, columns: FloatArray) -> FloatArray:
    """Heights at places on grid lines, linear between two cells; NaN where a cell that counts is missing."""
    rows = np.clip(rows, 0, height.shape[0] - 1)
    columns = np.clip(columns, 0, height.shape[1] - 1)
    low_row, low_column = np.floor(rows).astype(int), np.floor(columns).astype(int)
    share = np.maximum(rows - low_row, columns - low_column)
    low = height[low_row, low_column]
    high = height[np.ceil(rows).astype(int), np.ceil(columns).astype(int)]
    return np.where(share > 0.0, low + share * np.where(share > 0.0, high - low, 0.0), low)


def direct_path(base: tuple[int, int], cell: tuple[int, int]) -> tuple[FloatArray, FloatArray]:
    """Rows, columns where the path between two cells' centres crosses the grid lines of its longer axis."""
    down, right = cell[0] - base[0], cell[1] - base[1]
    steps = np.arange(max(abs(down), abs(right)) + 1)
    length = max(len(steps) - 1, 1)
    return base[0] + steps * down / length, base[1] + steps * right / length


def path_loss(
    ground: FloatArray, clutter: FloatArray | None, rows: FloatArray, columns: FloatArray, job: dict[str, Any]
) -> tuple[float, float]:
    """Loss, dB, and nu of the path over these places; NaN where it crosses what is missing."""
    bare = sampled(ground, rows, columns)
    full = bare if clutter is None else sampled(ground + clutter, rows, columns)
    if not (np.isfinite(bare).all() and np.isfinite(full[1:-1]).all()):
        return math.nan, math.nan
    d = np.hypot(rows - rows[0], columns - columns[0]) * job["cell_size_m"] / 1000.0
    a = job.get("effective_earth_radius_km", RADIUS_KM)
    return plain_loss(d, full, bare, job["tx_height_m"], job["rx_height_m"], job["frequency_ghz"], a)


def plain_loss(
    d: FloatArray, g: FloatArray, h: FloatArray, tx_m: float, rx_m: float, f: float, a: float
) -> tuple[float, float]:
    """Loss, dB, and nu: distances km, surface and ground m."""
    if d.size < 3:
        return 0.0, -math.inf
    length, ts, rs = d[-1], h[0] + tx_m, h[-1] + rx_m
    actual, nu = bullington(d, g, ts, rs, f, a)
    v1 = np.sum(np.diff(d) * (h[1:] + h[:-1]))
    v2 = np.sum(np.diff(d) * (h[1:] * (2 * d[1:] + d[:-1]) + h[:-1] * (d[1:] + 2 * d[:-1])))
    hst, hsr = (2 * v1 * length - v2) / length**2, (v2 - v1 * length) / length**2
    inner = d[1:-1]
    over = h[1:-1] - (ts * (length - inner) + rs * inner) / length
    if over.max() > 0:
        at, ar = np.max(over / inner), np.max(over / (length - inner))
        hst, hsr = hst - over.max() * at / (at + ar), hsr - over.max() * ar / (at + ar)
    te, re = ts - min(hst, h[0]), rs - min(hsr, h[-1])
    smooth, _ = bullington(d, np.zeros_like(d), te, re, f, a)
    return actual + max(spherical(length, te, re, f, a) - smooth, 0.0), nu


def bullington(d: FloatArray, g: FloatArray, ts: float, rs: float, f: float, a: float) -> tuple[float, float]:
    """Bullington's loss, dB, and its nu."""
    wavelength, c, length = 0.2998 / f, 500.0 / a, d[-1]
    inner = d[1:-1]
    raised = g[1:-1] + c * inner * (length - inner)
    stim, line = np.max((raised - ts) / inner), (rs - ts) / length
    if stim < line:
        over = raised - (ts * (length - inner) + rs * inner) / length
        nu = float(np.max(over * np.sqrt(0.002 * length / (wavelength * inner * (length - inner)))))
    else:
        srim = np.max((raised - rs) / (length - inner))
        nu = math.sqrt(0.002 * length * (stim - line) * max(srim + line, 0.0) / wavelength)
    edge = 0.0
    if nu > -0.78:
        edge = 6.9 + 20 * math.log10(math.sqrt((nu - 0.1) ** 2 + 1) + nu - 0.1)
    return edge + (1 - math.exp(-edge / 6)) * (10 + 0.02 * length), nu


def spherical(d: float, te: float, re: float, f: float, a: float) -> float:
    """Loss over the smooth earth, dB."""
    wavelength = 0.2998 / f
    if d >= math.sqrt(2 * a) * (math.sqrt(0.001 * te) + math.sqrt(0.001 * re)):
        return first_term(d, te, re, a, f)
    c, m = (te - re) / (te + re), 250 * d**2 / (a * (te + re))
    angle = math.acos(min(max(1.5 * c * math.sqrt(3 * m / (m + 1) ** 3), -1), 1))
    b = 2 * math.sqrt((m + 1) / (3 * m)) * math.cos(math.pi / 3 + angle / 3)
    d1 = d * (1 + b) / 2
    d2 = d - d1
    clear = ((te - 500 * d1**2 / a) * d2 + (re - 500 * d2**2 / a) * d1) / d
    wanted = 17.456 * math.sqrt(d1 * d2 * wavelength / d)
    if clear > wanted:
        return 0.0
    grazing = 500 * (d / (math.sqrt(te) + math.sqrt(re))) ** 2
    return (1 - clear / wanted) * max(first_term(d, te, re, grazing, f), 0.0)


def first_term(d: float, te: float, re: float, a: float, f: float) -> float:
    """First term of the residue series, vertical polarization over land, dB."""
    lossy = (18 * 0.003 / f) ** 2
    k = 0.036 * (a * f) ** (-1 / 3) * (21.0**2 + lossy) ** -0.25 * math.sqrt(22.0**2 + lossy)
    beta = (1 + 1.6 * k**2 + 0.67 * k**4) / (1 + 4.5 * k**2 + 1.53 * k**4)
    x = 21.88 * beta * (f / a**2) ** (1 / 3) * d
    distance = 11 + 10 * math.log10(x) - 17.6 * x if x >= 1.6 else -20 * math.log10(x) - 5.6488 * x**1.425

    def gain(height: float) -> float:
        b = 0.9575 * beta**2 * (f**2 / a) ** (1 / 3) * height
        if b > 2:
            g = 17.6 * math.sqrt(b - 1.1) - 5 * math.log10(b - 1.1) - 8
        else:
            g = 20 * math.log10(b + 0.1 * b**3)
        return max(g, 2 + 20 * math.log10(k))

    return -distance - gain(te) - gain(re)
