"""`sweep_final` once more for a whole radial, in single precision, as arithmetic that vectorises.

The same equations in an order that takes one loop without branches: logarithms and powers of two are short
polynomials, and the two cubics are solved by a fixed number of Newton's steps from the side where they
cannot overshoot. Within 0.001 dB of `sweep_final.delta_bullington_db` (tests measure it).

Lengths are counted in steps along the radial; `f` marks what must stay single.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from linkplan.propagation.sweep_final import NU_CLEAR, Link
from linkplan.propagation.sweep_numba import SingleArray, inner, lanes, single_bits, single_from_bits

f = np.float32
n = np.int32

LANES = 16
"""Samples that the widest vectors hold; the final stage is given a multiple of it."""


class Steps(NamedTuple):
    """Constants of one radial with lengths in steps, single precision."""

    bulge: np.float32
    """m per squared step."""
    nu_scale: np.float32
    """0.002 / (wavelength step)."""
    step_km: np.float32
    horizon: np.float32
    """sqrt(2 a_e) for heights in m: steps per square root of a metre."""
    required: np.float32
    """17.456 sqrt(wavelength), clearance wanted over a smooth earth per square root of a step, m."""
    radius_km: np.float32
    frequency_root: np.float32
    """Cube root of the frequency in GHz."""
    admittance: np.float32
    nu_clear: np.float32


@lanes
def root(x: np.float32) -> np.float32:
    """Square root."""
    return f(math.sqrt(x))


@lanes
def log2(x: np.float32) -> np.float32:
    """Binary logarithm of a positive normal number."""
    bits = single_bits(x) - n(0x3F3504F3)
    exponent = bits >> n(23)
    mantissa = single_from_bits((bits & n(0x007FFFFF)) + n(0x3F3504F3))
    t = (mantissa - f(1.0)) / (mantissa + f(1.0))
    t2 = t * t
    series = f(2.8853901) + t2 * (f(0.96179669) + t2 * (f(0.57707802) + t2 * f(0.41219859)))
    return f(exponent) + t * series


@lanes
def exp2(x: np.float32) -> np.float32:
    """Two to the power x, 0 < result: x is held above -126."""
    held = x if x > f(-126.0) else f(-126.0)
    whole = (held + f(12582912.0)) - f(12582912.0)
    t = (held - whole) * f(0.69314718)
    series = f(1.0) + t * (
        f(1.0)
        + t
        * (f(0.5) + t * (f(0.16666667) + t * (f(0.041666668) + t * (f(0.0083333338) + t * f(0.0013888889)))))
    )
    return series * single_from_bits((n(whole) + n(127)) << n(23))


@lanes
def bullington(nu: np.float32, distance_km: np.float32, nu_clear: np.float32) -> np.float32:
    """Bullington loss for this nu, dB."""
    x = (nu if nu > nu_clear else nu_clear) - f(0.1)
    octaves = log2(root(x * x + f(1.0)) + x)
    edge = f(6.9) + f(6.0205999) * octaves
    rest = exp2(edge * f(-0.24044917))  # exp(-J/6)
    loss = edge + (f(1.0) - rest) * (f(10.0) + f(0.02) * distance_km)
    return loss if nu > nu_clear else f(0.0)


@lanes
def height_gain(b: np.float32, floor_db: np.float32) -> np.float32:
    """G(Y) from B = beta Y, dB."""
    far = b > f(2.0)
    x = b - f(1.1) if far else b + f(0.1) * b * b * b
    octaves = log2(x)
    gain = f(17.6) * root(x) - f(1.50515) * octaves - f(8.0) if far else f(6.0205999) * octaves
    return gain if gain > floor_db else floor_db


@lanes
def first_term(
    distance_km: np.float32, te: np.float32, re: np.float32, radius_km: np.float32, s: Steps
) -> np.float32:
    """Diffraction over the smooth earth by its first term, dB."""
    third = f(1.0 / 3.0)
    radius_octaves = log2(radius_km)
    k = s.admittance * exp2(-third * radius_octaves)
    k2 = k * k
    beta = (f(1.0) + k2 * (f(1.6) + f(0.67) * k2)) / (f(1.0) + k2 * (f(4.5) + f(1.53) * k2))
    radius_root = exp2(-third * radius_octaves)
    x = f(21.88) * beta * s.frequency_root * radius_root * radius_root * distance_km
    per_m = f(0.9575) * beta * beta * s.frequency_root * s.frequency_root * radius_root
    octaves = log2(x)
    far = x >= f(1.6)
    near = f(-6.0205999) * octaves - f(5.6488) * exp2(f(1.425) * octaves)
    fx = f(11.0) + f(3.0103) * octaves - f(17.6) * x if far else near
    floor_db = f(2.0) + f(6.0205999) * log2(k)
    return -fx - height_gain(per_m * te, floor_db) - height_gain(per_m * re, floor_db)


@lanes
def near_step(y: np.float32, m: np.float32, wanted: np.float32) -> np.float32:
    """One of Newton's steps towards y(1 - 2m + 3m y - m y^2) = wanted."""
    value = y * (f(1.0) - m * (f(2.0) - y * (f(3.0) - y))) - wanted
    return y - value / (f(1.0) - m * (f(2.0) - y * (f(6.0) - f(3.0) * y)))


@lanes
def spherical(i: np.float32, te: np.float32, re: np.float32, s: Steps) -> np.float32:
    """Diffraction loss over the smooth earth, dB."""
    low = te if te < re else re
    total = te + re
    m = f(0.5) * s.bulge * i * i / total
    # b = 1 - y with y(1 - 2m + 3m y - m y^2) = 2 low/total, from the side of the lower antenna.
    wanted = f(2.0) * low / total
    y = near_step(near_step(near_step(f(1.0), m, wanted), m, wanted), m, wanted)
    y = near_step(near_step(near_step(y, m, wanted), m, wanted), m, wanted)
    near = f(0.5) * y
    far = f(1.0) - near
    clearance = low * far + (total - low) * near - s.bulge * i * i * near * far
    required = s.required * root(near * far * i)
    roots = root(te) + root(re)
    beyond = i >= s.horizon * roots
    d = i * s.step_km
    grazing = d / roots
    radius = s.radius_km if beyond else f(500.0) * grazing * grazing
    first = first_term(d, te, re, radius, s)
    first = first if first > f(0.0) else f(0.0)
    part = f(1.0) if beyond else f(1.0) - clearance / required
    return first * part if part > f(0.0) else f(0.0)


@lanes
def flat_slope(i: np.float32, height: np.float32, s: Steps) -> np.float32:
    """Steepest slope to a sample of the bulge, less its part c i."""
    last = i - f(1.0)
    nearest = root(height / s.bulge)
    j = f(n(nearest if nearest < last else last))
    j = j if j > f(1.0) else f(1.0)
    after = j + f(1.0)
    after = after if after < last else last
    first = -s.bulge * j - height / j
    second = -s.bulge * after - height / after
    return first if first > second else second


@lanes
def clear_step(x: np.float32, m: np.float32, low: np.float32, total: np.float32) -> np.float32:
    """One of Newton's steps towards the share x where nu is largest over the bulge alone."""
    value = m * x * (f(1.0) - x) * (f(1.0) - f(2.0) * x) + low - total * x
    return x - value / (m * (f(1.0) - f(6.0) * x * (f(1.0) - x)) - total)


@lanes
def flat_clear_nu(i: np.float32, te: np.float32, re: np.float32, s: Steps) -> np.float32:
    """Largest nu over the bulge alone where the ray clears it, from the side of the lower antenna."""
    low = te if te < re else re
    total = te + re
    m = s.bulge * i * i
    x = clear_step(clear_step(f(0.5), m, low, total), m, low, total)
    x = clear_step(clear_step(clear_step(x, m, low, total), m, low, total), m, low, total)
    last = i - f(1.0)
    j = f(n(x * i))
    j = j if j < last else last
    j = j if j > f(1.0) else f(1.0)
    after = j + f(1.0)
    after = after if after < last else last
    high = total - low
    product = j * (i - j)
    first = root(s.nu_scale * i * product) * (s.bulge - (low * (i - j) + high * j) / (i * product))
    product = after * (i - after)
    rest = low * (i - after) + high * after
    second = root(s.nu_scale * i * product) * (s.bulge - rest / (i * product))
    return first if first > second else second


@lanes
def flat_nu(i: np.float32, te: np.float32, re: np.float32, s: Steps) -> np.float32:
    """nu of the profile with zero heights."""
    line = (re - te) / i
    slope_t = flat_slope(i, te, s) + s.bulge * i - line
    slope_r = flat_slope(i, re, s) + s.bulge * i + line
    product = slope_t * slope_r
    beyond = root(s.nu_scale * i * (product if product > f(0.0) else f(0.0)))
    clear = flat_clear_nu(i, te, re, s)
    return clear if slope_t < f(0.0) else beyond


@lanes
def final_stage(terms: SingleArray, count: int, s: Steps) -> None:
    """Loss, dB, of `count` samples of a radial into terms[4]; terms[0..3]: nu, h_te, h_re, number.

    Products and sums fuse as the compiler likes: with a multiple of `LANES` in the same way for all samples.
    """
    for j in range(count):
        te = terms[1, j]
        re = terms[2, j]
        i = terms[3, j]
        d = i * s.step_km
        excess = spherical(i, te, re, s) - bullington(flat_nu(i, te, re, s), d, s.nu_clear)
        terms[4, j] = bullington(terms[0, j], d, s.nu_clear) + (excess if excess > f(0.0) else f(0.0))


@inner
def steps_of(link: Link, step_km: float) -> Steps:
    """The constants of `link` for a radial with this step."""
    return Steps(
        f(link.bulge * step_km**2),
        f(link.nu_scale / step_km),
        f(step_km),
        f(math.sqrt(2.0 * link.earth_radius_km * 0.001) / step_km),
        f(17.456 * math.sqrt(link.wavelength_m * step_km)),
        f(link.earth_radius_km),
        f(math.pow(link.frequency_ghz, 1.0 / 3.0)),
        f(link.admittance),
        f(NU_CLEAR),
    )
