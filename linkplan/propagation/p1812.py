"""What is lost between two antennas over real terrain? The whole of Recommendation ITU-R P.1812-8.

Each mechanism has a module of its own; here they are computed in the order of the Recommendation.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.propagation import radio_climate
from linkplan.propagation.bullington import DeltaBullington, delta_bullington_of_profile
from linkplan.propagation.ducting import Ducting, ducting_loss
from linkplan.propagation.free_space import slant_free_space_loss_db
from linkplan.propagation.horizons import Horizons, horizons
from linkplan.propagation.line_of_sight import multipath_focusing_db
from linkplan.propagation.p1812_combination import combine, time_interpolation
from linkplan.propagation.p1812_inputs import LinkInputs, checked_profile, checked_zone
from linkplan.propagation.p1812_result import P1812Result
from linkplan.propagation.profile import PathProfile
from linkplan.propagation.radio_climate import ZoneLengths, zone_lengths
from linkplan.propagation.smooth_earth import SmoothSurface, smooth_surface
from linkplan.propagation.troposcatter import troposcatter_loss_db
from linkplan.propagation.variability import location_loss_db
from linkplan.tables import p1812_8

__all__ = ["P1812Result", "basic_transmission_loss"]


@dataclass(frozen=True)
class _Geometry:
    """The path and what follows from it before any loss is computed."""

    profile: PathProfile
    zones: ZoneLengths
    smooth: SmoothSurface
    seen: Horizons
    rx_at_sea: bool
    middle_latitude_deg: float
    beta0_percent: float
    median_radius_km: float
    beta0_radius_km: float


def basic_transmission_loss(
    distance_km: ArrayLike,
    terrain_height_m: ArrayLike,
    clutter_height_m: ArrayLike,
    *,
    radio_climatic_zone: ArrayLike,
    frequency_ghz: float,
    time_percent: float,
    location_percent: float,
    tx_height_m: float,
    rx_height_m: float,
    polarization: str,
    tx_latitude_deg: float,
    tx_longitude_deg: float,
    rx_latitude_deg: float,
    rx_longitude_deg: float,
    refractivity_gradient_n_units_per_km: float,
    sea_level_refractivity_n_units: float,
    tx_to_coast_km: float,
    rx_to_coast_km: float,
    location_sigma_db: float = 0.0,
) -> P1812Result:
    """Basic transmission loss not exceeded for percentages of time and locations, with all it came from.

    Arrays (n,), n at least 5: `distance_km` strictly ascending from 0 at the transmitter, the last 0.25
    to 3000 km; `terrain_height_m` above sea level; `clutter_height_m` above ground, at least 0 (at the
    two ends it is not used); `radio_climatic_zone` 1 sea, 3 coastal land, 4 inland, an array or one for
    all. `frequency_ghz` 0.03 to 6; `time_percent` 1 to 50; `location_percent` 1 to 99; antenna heights
    above ground, above 0 to 3000 m; `polarization` "horizontal" or "vertical"; coast distances along
    the path, km (500 where far). Raises RangeError that names argument, value, limits and source.
    [P.1812-8, sections 3 to 4.8 and Attachment 1]
    """
    link = LinkInputs(
        frequency_ghz=float(frequency_ghz),
        time_percent=float(time_percent),
        location_percent=float(location_percent),
        tx_height_m=float(tx_height_m),
        rx_height_m=float(rx_height_m),
        polarization=polarization,
        tx_latitude_deg=float(tx_latitude_deg),
        tx_longitude_deg=float(tx_longitude_deg),
        rx_latitude_deg=float(rx_latitude_deg),
        rx_longitude_deg=float(rx_longitude_deg),
        refractivity_gradient_n_units_per_km=float(refractivity_gradient_n_units_per_km),
        sea_level_refractivity_n_units=float(sea_level_refractivity_n_units),
        tx_to_coast_km=float(tx_to_coast_km),
        rx_to_coast_km=float(rx_to_coast_km),
        location_sigma_db=float(location_sigma_db),
    )
    profile = checked_profile(distance_km, terrain_height_m, clutter_height_m, link)
    zone = checked_zone(radio_climatic_zone, profile.distance_km)
    return _loss(link, _geometry(link, profile, zone))


def _geometry(link: LinkInputs, profile: PathProfile, zone: NDArray[np.int64]) -> _Geometry:
    """Climate, horizons and smooth surface of a path. [P.1812-8, section 3 and Attachment 1]"""
    zones = zone_lengths(profile.distance_km, zone)
    latitude = radio_climate.middle_latitude_deg(
        link.tx_latitude_deg,
        link.tx_longitude_deg,
        link.rx_latitude_deg,
        link.rx_longitude_deg,
        profile.length_km,
    )
    median_radius = radio_climate.median_effective_earth_radius_km(link.refractivity_gradient_n_units_per_km)
    return _Geometry(
        profile=profile,
        zones=zones,
        smooth=smooth_surface(profile),
        seen=horizons(profile, effective_earth_radius_km=median_radius, wavelength_m=link.wavelength_m),
        rx_at_sea=bool(zone[-1] == p1812_8.SEA),
        middle_latitude_deg=latitude,
        beta0_percent=radio_climate.beta0_percent(latitude, zones.longest_land_km, zones.longest_inland_km),
        median_radius_km=median_radius,
        beta0_radius_km=radio_climate.beta0_effective_earth_radius_km(),
    )


def _loss(link: LinkInputs, path: _Geometry) -> P1812Result:
    """Every mechanism and their sum. [P.1812-8, sections 4.2 to 4.8]"""
    profile, seen = path.profile, path.seen
    length_km, p, beta0 = profile.length_km, link.time_percent, path.beta0_percent
    reach_km = seen.tx_distance_km, seen.rx_distance_km
    free_space_db = slant_free_space_loss_db(
        length_km, profile.tx_antenna_m, profile.rx_antenna_m, link.frequency_ghz
    )
    los_p_db = free_space_db + multipath_focusing_db(*reach_km, p)
    los_beta0_db = free_space_db + multipath_focusing_db(*reach_km, beta0)
    median = _diffraction(link, path, path.median_radius_km)
    rare = _diffraction(link, path, path.beta0_radius_km)
    weight = time_interpolation(p, beta0)
    time_p_db = median.diffraction_db + weight * (rare.diffraction_db - median.diffraction_db)
    scatter_db = troposcatter_loss_db(
        length_km,
        seen.angular_distance_mrad,
        frequency_ghz=link.frequency_ghz,
        time_percent=p,
        sea_level_refractivity_n_units=link.sea_level_refractivity_n_units,
    )
    duct = _ducting(link, path)
    together = combine(
        length_km=length_km,
        angular_distance_mrad=seen.angular_distance_mrad,
        sea_fraction=path.zones.sea_fraction,
        time_percent=p,
        beta0_percent=beta0,
        free_space_db=free_space_db,
        los_time_p_db=los_p_db,
        los_time_beta0_db=los_beta0_db,
        diffraction_median_db=median.diffraction_db,
        diffraction_time_p_db=time_p_db,
        anomalous_db=duct.loss_db,
        troposcatter_db=scatter_db,
    )
    spread_db = 0.0 if path.rx_at_sea else location_loss_db(link.location_percent, link.location_sigma_db)
    loss_db = max(los_p_db, together.combined_db + spread_db)
    return P1812Result(
        basic_transmission_loss_db=loss_db,
        field_strength_1kw_dbuv_m=_field_strength(link.frequency_ghz, loss_db),
        free_space_db=free_space_db,
        los_time_p_db=los_p_db,
        los_time_beta0_db=los_beta0_db,
        diffraction_time_p_db=time_p_db,
        time_interpolation=weight,
        troposcatter_db=scatter_db,
        location_loss_db=spread_db,
        **asdict(together),
        **_link_values(link),
        **_geometry_values(path),
        **_diffraction_values(median, rare),
        **_ducting_values(duct),
    )


def _diffraction(link: LinkInputs, path: _Geometry, radius_km: float) -> DeltaBullington:
    """Delta-Bullington loss at one effective earth radius. [P.1812-8, section 4.3.4]"""
    return delta_bullington_of_profile(
        path.profile,
        path.smooth,
        frequency_ghz=link.frequency_ghz,
        effective_earth_radius_km=radius_km,
        polarization=link.polarization,
        sea_fraction=path.zones.sea_fraction,
        wavelength_m=link.wavelength_m,
    )


def _ducting(link: LinkInputs, path: _Geometry) -> Ducting:
    """Ducting and layer reflection. [P.1812-8, section 4.5]"""
    return ducting_loss(
        path.profile,
        path.smooth,
        path.seen,
        path.zones,
        effective_earth_radius_km=path.median_radius_km,
        beta0_percent=path.beta0_percent,
        frequency_ghz=link.frequency_ghz,
        time_percent=link.time_percent,
        tx_to_coast_km=link.tx_to_coast_km,
        rx_to_coast_km=link.rx_to_coast_km,
    )


def _field_strength(frequency_ghz: float, loss_db: float) -> float:
    """Field strength for 1 kW e.r.p., dB(uV/m). [P.1812-8, section 4.11]"""
    return p1812_8.FIELD_STRENGTH_1KW_DB + 20.0 * math.log10(frequency_ghz) - loss_db


def _link_values(link: LinkInputs) -> dict[str, Any]:
    return {
        "frequency_ghz": link.frequency_ghz,
        "time_percent": link.time_percent,
        "location_percent": link.location_percent,
        "polarization": link.polarization,
        "tx_height_m": link.tx_height_m,
        "rx_height_m": link.rx_height_m,
        "location_sigma_db": link.location_sigma_db,
    }


def _geometry_values(path: _Geometry) -> dict[str, Any]:
    return {
        "distance_km": path.profile.length_km,
        "path_middle_latitude_deg": path.middle_latitude_deg,
        "sea_fraction": path.zones.sea_fraction,
        "longest_land_km": path.zones.longest_land_km,
        "longest_inland_km": path.zones.longest_inland_km,
        "beta0_percent": path.beta0_percent,
        "median_effective_earth_radius_km": path.median_radius_km,
        "beta0_effective_earth_radius_km": path.beta0_radius_km,
        "trans_horizon": path.seen.trans_horizon,
        "tx_horizon_elevation_mrad": path.seen.tx_elevation_mrad,
        "rx_horizon_elevation_mrad": path.seen.rx_elevation_mrad,
        "tx_horizon_distance_km": path.seen.tx_distance_km,
        "rx_horizon_distance_km": path.seen.rx_distance_km,
        "path_angular_distance_mrad": path.seen.angular_distance_mrad,
        "smooth_earth_tx_m": path.smooth.fit_tx_m,
        "smooth_earth_rx_m": path.smooth.fit_rx_m,
    }


def _diffraction_values(median: DeltaBullington, rare: DeltaBullington) -> dict[str, Any]:
    return {
        "line_of_sight": median.line_of_sight,
        "nu": median.nu,
        "tx_height_above_smooth_surface_m": median.tx_height_above_smooth_surface_m,
        "rx_height_above_smooth_surface_m": median.rx_height_above_smooth_surface_m,
        "bullington_actual_median_db": median.bullington_actual_db,
        "bullington_smooth_median_db": median.bullington_smooth_db,
        "spherical_earth_median_db": median.spherical_earth_db,
        "diffraction_median_db": median.diffraction_db,
        "bullington_actual_db": rare.bullington_actual_db,
        "bullington_smooth_db": rare.bullington_smooth_db,
        "spherical_earth_db": rare.spherical_earth_db,
        "diffraction_beta0_db": rare.diffraction_db,
    }


def _ducting_values(duct: Ducting) -> dict[str, Any]:
    return {
        "anomalous_db": duct.loss_db,
        "anomalous_coupling_db": duct.coupling_loss_db,
        "anomalous_angular_db": duct.angular_loss_db,
        "anomalous_time_db": duct.time_loss_db,
        "anomalous_beta_percent": duct.beta_percent,
        "tx_effective_height_m": duct.tx_effective_height_m,
        "rx_effective_height_m": duct.rx_effective_height_m,
        "terrain_roughness_m": duct.terrain_roughness_m,
    }
