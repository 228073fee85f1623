"""From the deciding nu and the antennas' heights above the smooth earth to the loss of one path.

Scalar, double precision, in the order of the Recommendation. The Bullington part of the smooth profile
with zero heights is not sampled: its extremes are known, so only the samples beside them are looked at.

Source: ITU-R P.1812-8 (09/2025), section 4.3 (the same method as ITU-R P.526-16 section 4.5); equations
as in its open reference implementation. c = 500/a_e turns km^2 into the height of the earth's bulge in m.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from linkplan.propagation.sweep_numba import inner
from linkplan.tables.p1812_8 import LAND_GROUND, WAVELENGTH_M_GHZ

NU_CLEAR = -0.78
"""Below this nu a knife edge costs nothing [P.526-16 section 4.1]."""

NU_FLOOR = -math.sqrt(2.0)
"""nu of a clearance of one first Fresnel radius: no smaller nu is told apart."""


class Link(NamedTuple):
    """What all paths of one map share, ready for the kernels."""

    tx_height_m: float
    """Base antenna above ground."""
    rx_height_m: float
    """Rover antenna above ground."""
    bulge: float
    """c = 500 / a_e, m per km^2."""
    nu_scale: float
    """0.002 / wavelength: nu = height sqrt(nu_scale d / (d1 d2)) with heights in m, distances in km."""
    wavelength_m: float
    frequency_ghz: float
    earth_radius_km: float
    """Effective, a_e."""
    admittance: float
    """K of the first-term method for a_e = 1 km, vertical polarization; K = admittance a_e^(-1/3)."""


def make_link(
    tx_height_m: float, rx_height_m: float, frequency_ghz: float, effective_earth_radius_km: float
) -> Link:
    """Constants of a map, vertical polarization over land [P.1812-8 section 4.3.3, K_H and K_V]."""
    permittivity = LAND_GROUND.relative_permittivity
    loss_term = 18.0 * LAND_GROUND.conductivity_s_m / frequency_ghz
    horizontal = 0.036 * frequency_ghz ** (-1 / 3) * ((permittivity - 1) ** 2 + loss_term**2) ** -0.25
    wavelength_m = WAVELENGTH_M_GHZ / frequency_ghz
    return Link(
        tx_height_m=float(tx_height_m),
        rx_height_m=float(rx_height_m),
        bulge=500.0 / effective_earth_radius_km,
        nu_scale=0.002 / wavelength_m,
        wavelength_m=wavelength_m,
        frequency_ghz=float(frequency_ghz),
        earth_radius_km=float(effective_earth_radius_km),
        admittance=horizontal * math.sqrt(permittivity**2 + loss_term**2),
    )


@inner
def knife_edge_db(nu: float) -> float:
    """J(nu), dB [P.526-16 section 4.1]."""
    if nu <= NU_CLEAR:
        return 0.0
    x = nu - 0.1
    return 6.9 + 20.0 * math.log10(math.sqrt(x * x + 1.0) + x)


@inner
def bullington_db(nu: float, distance_km: float) -> float:
    """Bullington loss of a profile whose equivalent edge has this nu, dB."""
    edge = knife_edge_db(nu)
    return edge + (1.0 - math.exp(-edge / 6.0)) * (10.0 + 0.02 * distance_km)


@inner
def height_gain_db(height_term: float, floor_db: float) -> float:
    """G(Y) of the first term, with height_term B = beta Y, dB."""
    if height_term > 2.0:
        x = height_term - 1.1
        gain = 17.6 * math.sqrt(x) - 5.0 * math.log10(x) - 8.0
    else:
        gain = 20.0 * math.log10(height_term + 0.1 * height_term**3)
    return max(gain, floor_db)


@inner
def first_term_db(
    distance_km: float, height_t_m: float, height_r_m: float, radius_km: float, link: Link
) -> float:
    """Diffraction over the smooth earth by its first term, dB; negative where there is none."""
    k = link.admittance * radius_km ** (-1.0 / 3.0)
    k2 = k * k
    beta = (1.0 + 1.6 * k2 + 0.67 * k2 * k2) / (1.0 + 4.5 * k2 + 1.53 * k2 * k2)
    f = link.frequency_ghz
    x = 21.88 * beta * (f / radius_km**2) ** (1.0 / 3.0) * distance_km
    y_per_m = 0.9575 * beta * (f * f / radius_km) ** (1.0 / 3.0)
    near = -20.0 * math.log10(x) - 5.6488 * math.pow(x, 1.425)
    fx = 11.0 + 10.0 * math.log10(x) - 17.6 * x if x >= 1.6 else near
    floor_db = 2.0 + 20.0 * math.log10(k)
    gain_t = height_gain_db(beta * y_per_m * height_t_m, floor_db)
    gain_r = height_gain_db(beta * y_per_m * height_r_m, floor_db)
    return -fx - gain_t - gain_r


@inner
def spherical_earth_db(distance_km: float, height_t_m: float, height_r_m: float, link: Link) -> float:
    """Diffraction loss over the smooth earth, heights above it, dB, never negative."""
    d = distance_km
    a = link.earth_radius_km
    c = link.bulge
    roots = math.sqrt(0.001 * height_t_m) + math.sqrt(0.001 * height_r_m)
    if d >= math.sqrt(2.0 * a) * roots:
        return max(first_term_db(d, height_t_m, height_r_m, a, link), 0.0)
    total = height_t_m + height_r_m
    asymmetry = (height_t_m - height_r_m) / total
    m = 0.5 * c * d * d / total
    argument = 1.5 * asymmetry * math.sqrt(3.0 * m / (m + 1.0) ** 3)
    angle = math.acos(min(max(argument, -1.0), 1.0))
    b = 2.0 * math.sqrt((m + 1.0) / (3.0 * m)) * math.cos(math.pi / 3.0 + angle / 3.0)
    d1 = 0.5 * d * (1.0 + b)
    d2 = d - d1
    clearance = ((height_t_m - c * d1 * d1) * d2 + (height_r_m - c * d2 * d2) * d1) / d
    required = 17.456 * math.sqrt(d1 * d2 * link.wavelength_m / d)
    if clearance > required:
        return 0.0
    radius_km = 500.0 * (d / (math.sqrt(height_t_m) + math.sqrt(height_r_m))) ** 2
    first = first_term_db(d, height_t_m, height_r_m, radius_km, link)
    return (1.0 - clearance / required) * max(first, 0.0)


@inner
def flat_slope(height_m: float, last: int, step_km: float, bulge: float) -> float:
    """Steepest slope from an antenna to a sample of the bulge, less its part c d, m/km."""
    nearest = math.sqrt(height_m / bulge) / step_km
    low = min(max(math.floor(nearest), 1.0), last - 1.0)
    high = min(low + 1.0, last - 1.0)
    slope_low = -bulge * low * step_km - height_m / (low * step_km)
    slope_high = -bulge * high * step_km - height_m / (high * step_km)
    return max(slope_low, slope_high)


@inner
def flat_clear_nu(height_t_m: float, height_r_m: float, last: int, step_km: float, link: Link) -> float:
    """Largest nu of a line-of-sight path over the bulge alone.

    With x the share of the path, nu grows with M sqrt(x(1-x)) - te sqrt((1-x)/x) - re sqrt(x/(1-x)),
    M = c d^2, which has one maximum, where M x(1-x)(1-2x) + te(1-x) - re x = 0. Newton's steps from
    x = 1/2 approach it from one side, since the cubic bends one way between.
    """
    d = last * step_km
    m = link.bulge * d * d
    total = height_t_m + height_r_m
    x = 0.5
    for _ in range(50):
        value = m * x * (1.0 - x) * (1.0 - 2.0 * x) + height_t_m - total * x
        step = value / (m * (1.0 - 6.0 * x * (1.0 - x)) - total)
        x -= step
        if abs(step) * last < 1e-3:
            break
    low = min(max(math.floor(x * last), 1.0), last - 1.0)
    high = min(low + 1.0, last - 1.0)
    best = -math.inf
    for sample in (low, high):
        x = sample / last
        above = m * x * (1.0 - x) - height_t_m * (1.0 - x) - height_r_m * x
        best = max(best, above * math.sqrt(link.nu_scale / (d * x * (1.0 - x))))
    return best


@inner
def flat_nu(height_t_m: float, height_r_m: float, last: int, step_km: float, link: Link) -> float:
    """nu of the profile with zero heights, sampled at `last` steps, antennas at these heights."""
    d = last * step_km
    line = (height_r_m - height_t_m) / d
    slope_t = flat_slope(height_t_m, last, step_km, link.bulge) + link.bulge * d
    if slope_t < line:
        return flat_clear_nu(height_t_m, height_r_m, last, step_km, link)
    slope_r = flat_slope(height_r_m, last, step_km, link.bulge) + link.bulge * d
    return math.sqrt(max(link.nu_scale * d * (slope_t - line) * (slope_r + line), 0.0))


@inner
def delta_bullington_db(
    nu: float, height_t_m: float, height_r_m: float, last: int, step_km: float, link: Link
) -> float:
    """Loss of a path of `last` steps: nu of its own profile, antenna heights above the smooth earth."""
    d = last * step_km
    excess = spherical_earth_db(d, height_t_m, height_r_m, link)
    if excess > 0.0:
        nu_smooth = flat_nu(height_t_m, height_r_m, last, step_km, link)
        excess = max(excess - bullington_db(nu_smooth, d), 0.0)
    return bullington_db(nu, d) + excess
