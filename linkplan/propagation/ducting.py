"""What do layers of air carry far beyond the horizon at small percentages of time?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from linkplan.propagation.horizons import Horizons
from linkplan.propagation.profile import PathProfile
from linkplan.propagation.radio_climate import ZoneLengths, inland_factor
from linkplan.propagation.smooth_earth import SmoothSurface


@dataclass(frozen=True)
class Ducting:
    """Loss by ducting and layer reflection, and what it was made of."""

    loss_db: float
    """Lba."""
    tx_effective_height_m: float
    """Antenna over the smooth surface of the ducting model: hte."""
    rx_effective_height_m: float
    terrain_roughness_m: float
    """Highest ground over that surface between the two horizons: hm."""
    coupling_loss_db: float
    """Fixed coupling between the antennas and the layer: Af."""
    angular_loss_db: float
    """Loss that grows with the angular distance: gamma_d theta'."""
    time_loss_db: float
    """Loss that depends on the percentage of time: Ap."""
    beta_percent: float
    """Time for which the layer exists, corrected for the path: beta."""


def ducting_loss(
    profile: PathProfile,
    smooth: SmoothSurface,
    seen: Horizons,
    zones: ZoneLengths,
    *,
    effective_earth_radius_km: float,
    beta0_percent: float,
    frequency_ghz: float,
    time_percent: float,
    tx_to_coast_km: float,
    rx_to_coast_km: float,
) -> Ducting:
    """Basic loss by ducting and layer reflection not exceeded for a percentage of time.

    Distances to the coast along the path, km. [P.1812-8, section 4.5: Lba = Af + Ad(p)]
    """
    hte = profile.tx_antenna_m - smooth.ducting_tx_m
    hre = profile.rx_antenna_m - smooth.ducting_rx_m
    roughness = _roughness_m(profile, smooth, seen)
    reach_km = seen.tx_distance_km + seen.rx_distance_km
    coupling = (
        102.45
        + 20.0 * math.log10(frequency_ghz)
        + 20.0 * math.log10(reach_km)
        + _low_frequency_db(frequency_ghz)
        + _site_shielding_db(seen.tx_elevation_mrad, seen.tx_distance_km, frequency_ghz)
        + _site_shielding_db(seen.rx_elevation_mrad, seen.rx_distance_km, frequency_ghz)
        + _coupling_at_coast_db(tx_to_coast_km, seen.tx_distance_km, profile.tx_antenna_m, zones.sea_fraction)
        + _coupling_at_coast_db(rx_to_coast_km, seen.rx_distance_km, profile.rx_antenna_m, zones.sea_fraction)
    )
    angular = (
        5e-5
        * effective_earth_radius_km
        * math.cbrt(frequency_ghz)
        * _angle_mrad(profile.length_km, seen, effective_earth_radius_km)
    )
    beta = (
        beta0_percent
        * _geometry_factor(profile.length_km, hte, hre, zones.longest_inland_km, effective_earth_radius_km)
        * _roughness_factor(roughness, profile.length_km - reach_km)
    )
    time_loss = _time_loss_db(profile.length_km, beta, time_percent)
    return Ducting(
        loss_db=coupling + angular + time_loss,
        tx_effective_height_m=hte,
        rx_effective_height_m=hre,
        terrain_roughness_m=roughness,
        coupling_loss_db=coupling,
        angular_loss_db=angular,
        time_loss_db=time_loss,
        beta_percent=beta,
    )


def _roughness_m(profile: PathProfile, smooth: SmoothSurface, seen: Horizons) -> float:
    """hm, m. [P.1812-8, Attachment 1, section 5.6.4]"""
    between = slice(min(seen.tx_index, seen.rx_index), max(seen.tx_index, seen.rx_index) + 1)
    slope = (smooth.ducting_rx_m - smooth.ducting_tx_m) / profile.length_km
    surface = smooth.ducting_tx_m + slope * profile.distance_km[between]
    return float((profile.terrain_height_m[between] - surface).max())


def _low_frequency_db(frequency_ghz: float) -> float:
    """Alf: ducts hold long waves badly. [P.1812-8, section 4.5]"""
    return 45.375 - 137.0 * frequency_ghz + 92.5 * frequency_ghz**2 if frequency_ghz < 0.5 else 0.0


def _site_shielding_db(elevation_mrad: float, horizon_km: float, frequency_ghz: float) -> float:
    """Ast, Asr: diffraction at a site shielded by its own horizon. [P.1812-8, section 4.5]"""
    above_mrad = elevation_mrad - 0.1 * horizon_km
    if above_mrad <= 0.0:
        return 0.0
    return 20.0 * math.log10(
        1.0 + 0.361 * above_mrad * math.sqrt(frequency_ghz * horizon_km)
    ) + 0.264 * above_mrad * math.cbrt(frequency_ghz)


def _coupling_at_coast_db(coast_km: float, horizon_km: float, antenna_m: float, sea_fraction: float) -> float:
    """Act, Acr: a duct over the sea begins near the antenna. [P.1812-8, section 4.5]"""
    if sea_fraction < 0.75 or coast_km > horizon_km or coast_km > 5.0:
        return 0.0
    return -3.0 * math.exp(-0.25 * coast_km**2) * (1.0 + math.tanh(0.07 * (50.0 - antenna_m)))


def _angle_mrad(length_km: float, seen: Horizons, radius_km: float) -> float:
    """Angular distance with each horizon angle held down: theta'. [P.1812-8, section 4.5]"""
    return (
        1e3 * length_km / radius_km
        + min(seen.tx_elevation_mrad, 0.1 * seen.tx_distance_km)
        + min(seen.rx_elevation_mrad, 0.1 * seen.rx_distance_km)
    )


def _geometry_factor(
    length_km: float, hte: float, hre: float, longest_inland_km: float, radius_km: float
) -> float:
    """mu2. [P.1812-8, section 4.5]"""
    alpha = max(-0.6 - 3.5e-9 * math.pow(length_km, 3.1) * inland_factor(longest_inland_km), -3.4)
    ratio = 500.0 / radius_km * length_km**2 / (math.sqrt(hte) + math.sqrt(hre)) ** 2
    return min(math.pow(ratio, alpha), 1.0)


def _roughness_factor(roughness_m: float, between_horizons_km: float) -> float:
    """mu3. [P.1812-8, section 4.5]"""
    if roughness_m <= 10.0:
        return 1.0
    return math.exp(-4.6e-5 * (roughness_m - 10.0) * (43.0 + 6.0 * min(between_horizons_km, 40.0)))


def _time_loss_db(length_km: float, beta: float, time_percent: float) -> float:
    """Ap. [P.1812-8, section 4.5: Gamma, A(p)]"""
    log_beta = math.log10(beta)
    gamma = (
        1.076
        / math.pow(2.0058 - log_beta, 1.012)
        * math.exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta**2) * 1e-6 * math.pow(length_km, 1.13))
    )
    ratio = time_percent / beta
    return -12.0 + (1.2 + 3.7e-3 * length_km) * math.log10(ratio) + 12.0 * math.pow(ratio, gamma)
