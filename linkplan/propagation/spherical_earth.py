"""How much does the curve of a smooth earth take away?"""

from __future__ import annotations

import math
from functools import partial

from linkplan.tables.p1812_8 import LAND_GROUND, SEA_GROUND, Ground


def spherical_earth_loss_db(
    distance_km: float,
    tx_height_m: float,
    rx_height_m: float,
    *,
    effective_earth_radius_km: float,
    frequency_ghz: float,
    wavelength_m: float,
    polarization: str,
    sea_fraction: float,
) -> float:
    """Diffraction loss over a smooth spherical earth, dB; 0 where the ray clears it well enough.

    Antenna heights above the smooth surface, m, above 0; `sea_fraction` 0 to 1.
    [P.1812-8, section 4.3.2; P.526-16, section 3.2]
    """
    a, d = effective_earth_radius_km, distance_km
    first_term = partial(
        first_term_loss_db,
        d,
        tx_height_m,
        rx_height_m,
        frequency_ghz=frequency_ghz,
        polarization=polarization,
        sea_fraction=sea_fraction,
    )
    horizon_km = math.sqrt(2.0 * a) * (math.sqrt(0.001 * tx_height_m) + math.sqrt(0.001 * rx_height_m))
    if d >= horizon_km:
        return first_term(radius_km=a)
    clearance, d1 = smallest_clearance(d, tx_height_m, rx_height_m, effective_earth_radius_km=a)
    needed = 17.456 * math.sqrt(d1 * (d - d1) * wavelength_m / d)
    if clearance > needed:
        return 0.0
    # Radius at which this path would be at grazing.
    grazing_radius = 500.0 * (d / (math.sqrt(tx_height_m) + math.sqrt(rx_height_m))) ** 2
    return (1.0 - clearance / needed) * max(first_term(radius_km=grazing_radius), 0.0)


def smallest_clearance(
    distance_km: float, tx_height_m: float, rx_height_m: float, *, effective_earth_radius_km: float
) -> tuple[float, float]:
    """Smallest clearance of the ray over the smooth earth, m, and its distance from the transmitter, km.

    [P.1812-8, section 4.3.2: h_se, d_se1]
    """
    d, both = distance_km, tx_height_m + rx_height_m
    c = (tx_height_m - rx_height_m) / both
    m = 250.0 * d**2 / (effective_earth_radius_km * both)
    # The argument reaches +-1 at m = 0.5 when one height vanishes; rounding must not push it beyond.
    angle = math.acos(min(max(1.5 * c * math.sqrt(3.0 * m / (m + 1.0) ** 3), -1.0), 1.0))
    b = 2.0 * math.sqrt((m + 1.0) / (3.0 * m)) * math.cos(math.pi / 3.0 + angle / 3.0)
    d1 = 0.5 * d * (1.0 + b)
    d2 = d - d1
    over_tx = tx_height_m - 500.0 * d1**2 / effective_earth_radius_km
    over_rx = rx_height_m - 500.0 * d2**2 / effective_earth_radius_km
    return (over_tx * d2 + over_rx * d1) / d, d1


def first_term_loss_db(
    distance_km: float,
    tx_height_m: float,
    rx_height_m: float,
    *,
    radius_km: float,
    frequency_ghz: float,
    polarization: str,
    sea_fraction: float,
) -> float:
    """First term of the residue series over land and sea, weighed by the share of sea, dB; may be negative.

    [P.1812-8, section 4.3.3: Ldft]
    """
    land, sea = (
        _first_term_db(distance_km, tx_height_m, rx_height_m, radius_km, frequency_ghz, polarization, ground)
        for ground in (LAND_GROUND, SEA_GROUND)
    )
    return sea_fraction * sea + (1.0 - sea_fraction) * land


def surface_admittance(radius_km: float, frequency_ghz: float, polarization: str, ground: Ground) -> float:
    """Normalised surface admittance K. [P.1812-8, section 4.3.3: K_H, K_V]"""
    loss_term = (18.0 * ground.conductivity_s_m / frequency_ghz) ** 2
    permittivity = ground.relative_permittivity
    horizontal = (
        0.036
        * math.pow(radius_km * frequency_ghz, -1.0 / 3.0)
        * math.pow((permittivity - 1.0) ** 2 + loss_term, -0.25)
    )
    if polarization == "horizontal":
        return horizontal
    return horizontal * math.sqrt(permittivity**2 + loss_term)


def _first_term_db(
    distance_km: float,
    tx_height_m: float,
    rx_height_m: float,
    radius_km: float,
    frequency_ghz: float,
    polarization: str,
    ground: Ground,
) -> float:
    """First term over one kind of ground, dB: -F(X) - G(Y_t) - G(Y_r). [P.1812-8, section 4.3.3]"""
    k = surface_admittance(radius_km, frequency_ghz, polarization, ground)
    k2, k4 = k**2, k**4
    beta = (1.0 + 1.6 * k2 + 0.67 * k4) / (1.0 + 4.5 * k2 + 1.53 * k4)
    x = 21.88 * beta * math.cbrt(frequency_ghz / radius_km**2) * distance_km
    per_metre = 0.9575 * beta * math.cbrt(frequency_ghz**2 / radius_km)
    # beta stands in Y and once more in B = beta Y.
    return (
        -_distance_term_db(x)
        - _height_gain_db(beta * per_metre * tx_height_m, k)
        - _height_gain_db(beta * per_metre * rx_height_m, k)
    )


def _distance_term_db(x: float) -> float:
    """F(X), dB. [P.1812-8, section 4.3.3]"""
    if x >= 1.6:
        return 11.0 + 10.0 * math.log10(x) - 17.6 * x
    return -20.0 * math.log10(x) - 5.6488 * math.pow(x, 1.425)


def _height_gain_db(b: float, k: float) -> float:
    """G(Y) from B = beta Y, dB, never below 2 + 20 log K. [P.1812-8, section 4.3.3]"""
    if b > 2.0:
        gain = 17.6 * math.sqrt(b - 1.1) - 5.0 * math.log10(b - 1.1) - 8.0
    else:
        gain = 20.0 * math.log10(b + 0.1 * b**3)
    return max(gain, 2.0 + 20.0 * math.log10(k))
