"""How much do the obstacles of a path take away? Bullington's construction, corrected for a smooth earth.

Not exceeded for half of the time, this and free space are what the map shows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.propagation.fresnel import clearance_fraction
from linkplan.propagation.knife_edge import edge_parameters, knife_edge_loss_db
from linkplan.propagation.profile import PathProfile, path_profile, require_polarization
from linkplan.propagation.smooth_earth import SmoothSurface, smooth_surface
from linkplan.propagation.spherical_earth import spherical_earth_loss_db
from linkplan.ranges import require_range
from linkplan.tables import p1812_8

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Bullington:
    """One equivalent edge for a whole profile."""

    loss_db: float
    nu: float
    """Parameter of the equivalent edge; -inf for a path without interior points."""
    line_of_sight: bool


@dataclass(frozen=True)
class DeltaBullington:
    """Diffraction over one path for one effective earth radius."""

    diffraction_db: float
    """The answer: actual Bullington + max(spherical earth - smooth Bullington, 0)."""
    bullington_actual_db: float
    bullington_smooth_db: float
    spherical_earth_db: float
    tx_height_above_smooth_surface_m: float
    rx_height_above_smooth_surface_m: float
    line_of_sight: bool
    """Whether the ray clears ground, clutter and the bulge of the earth."""
    nu: float
    """Of the actual profile's equivalent edge; -inf without interior points."""
    effective_earth_radius_km: float

    @property
    def fresnel_clearance(self) -> float:
        """Clearance at the equivalent edge over the first Fresnel radius; negative where blocked."""
        return clearance_fraction(self.nu)

    def to_dict(self) -> dict[str, float | bool | None]:
        """The result as a mapping that JSON can hold; what is not finite becomes None."""
        values = {**self.__dict__, "fresnel_clearance": self.fresnel_clearance}
        return {key: value if math.isfinite(value) else None for key, value in values.items()}


def bullington(
    distance_km: FloatArray,
    height_m: FloatArray,
    *,
    tx_antenna_m: float,
    rx_antenna_m: float,
    effective_earth_radius_km: float,
    wavelength_m: float,
) -> Bullington:
    """Loss of the one edge that stands for all obstacles of a profile.

    `distance_km` (n,) ascending from 0, km; `height_m` (n,) and both antennas in m above sea level; the
    two end heights are not used. [P.1812-8, section 4.3.1; P.526-16, section 4.5.1]
    """
    if distance_km.size < 3:
        return Bullington(loss_db=0.0, nu=-math.inf, line_of_sight=True)
    length = float(distance_km[-1])
    d = distance_km[1:-1]
    rest = length - d
    raised = height_m[1:-1] + 500.0 / effective_earth_radius_km * d * rest
    slope_from_tx = float(np.max((raised - tx_antenna_m) / d))
    slope_of_ray = (rx_antenna_m - tx_antenna_m) / length
    line_of_sight = slope_from_tx < slope_of_ray
    if line_of_sight:
        nu = float(
            np.max(
                edge_parameters(
                    distance_km,
                    height_m,
                    tx_antenna_m=tx_antenna_m,
                    rx_antenna_m=rx_antenna_m,
                    effective_earth_radius_km=effective_earth_radius_km,
                    wavelength_m=wavelength_m,
                )
            )
        )
    else:
        slope_from_rx = float(np.max((raised - rx_antenna_m) / rest))
        # The same nu as that of the point where the two rays meet, without its 0/0 at exact grazing.
        angle_tx = slope_from_tx - slope_of_ray
        angle_rx = max(slope_from_rx + slope_of_ray, 0.0)
        nu = math.sqrt(0.002 * length * angle_tx * angle_rx / wavelength_m)
    edge_db = float(knife_edge_loss_db(nu))
    loss = edge_db + (1.0 - math.exp(-edge_db / 6.0)) * (10.0 + 0.02 * length)
    return Bullington(loss_db=loss, nu=nu, line_of_sight=line_of_sight)


def delta_bullington(
    distance_km: ArrayLike,
    surface_height_m: ArrayLike,
    terrain_height_m: ArrayLike,
    *,
    tx_height_m: float,
    rx_height_m: float,
    frequency_ghz: float,
    effective_earth_radius_km: float,
    polarization: str = "vertical",
    sea_fraction: float = 0.0,
    wavelength_constant_m_ghz: float = p1812_8.WAVELENGTH_M_GHZ,
) -> DeltaBullington:
    """Delta-Bullington diffraction loss of one path.

    Arrays (n,), n at least 2: distances in km, strictly ascending from 0 at the transmitter;
    `surface_height_m` ground with what stands on it, m above sea level (its two end points are not used:
    the antennas stand clear of clutter); `terrain_height_m` bare ground. Antenna heights above ground,
    above 0 to 3000 m; frequency 0.03 to 6 GHz; `sea_fraction` 0 to 1. A path without interior points
    has no diffraction. Raises RangeError. [P.1812-8, sections 4.3.1-4.3.4; P.526-16, section 4.5.2]
    """
    require_range("frequency_ghz", frequency_ghz, *p1812_8.FREQUENCY_GHZ, unit="GHz", source=p1812_8.SOURCE)
    require_range("effective_earth_radius_km", effective_earth_radius_km, 1000.0, 1e9, unit="km")
    require_range("sea_fraction", sea_fraction, 0.0, 1.0)
    require_range("wavelength_constant_m_ghz", wavelength_constant_m_ghz, 0.299, 0.301, unit="m GHz")
    require_polarization(polarization)
    profile = path_profile(
        distance_km,
        surface_height_m,
        terrain_height_m,
        tx_height_m=tx_height_m,
        rx_height_m=rx_height_m,
        least_points=2,
    )
    if profile.distance_km.size < 3:
        return _no_interior(float(tx_height_m), float(rx_height_m), float(effective_earth_radius_km))
    return delta_bullington_of_profile(
        profile,
        smooth_surface(profile),
        frequency_ghz=float(frequency_ghz),
        effective_earth_radius_km=float(effective_earth_radius_km),
        polarization=polarization,
        sea_fraction=float(sea_fraction),
        wavelength_m=float(wavelength_constant_m_ghz) / float(frequency_ghz),
    )


def delta_bullington_of_profile(
    profile: PathProfile,
    smooth: SmoothSurface,
    *,
    frequency_ghz: float,
    effective_earth_radius_km: float,
    polarization: str,
    sea_fraction: float,
    wavelength_m: float,
) -> DeltaBullington:
    """Delta-Bullington loss of a checked profile with interior points. See `delta_bullington`."""
    radius = effective_earth_radius_km
    actual = bullington(
        profile.distance_km,
        profile.surface_height_m,
        tx_antenna_m=profile.tx_antenna_m,
        rx_antenna_m=profile.rx_antenna_m,
        effective_earth_radius_km=radius,
        wavelength_m=wavelength_m,
    )
    tx_over_smooth = profile.tx_antenna_m - smooth.diffraction_tx_m
    rx_over_smooth = profile.rx_antenna_m - smooth.diffraction_rx_m
    smooth_edge = bullington(
        profile.distance_km,
        np.zeros_like(profile.distance_km),
        tx_antenna_m=tx_over_smooth,
        rx_antenna_m=rx_over_smooth,
        effective_earth_radius_km=radius,
        wavelength_m=wavelength_m,
    )
    spherical_db = spherical_earth_loss_db(
        profile.length_km,
        tx_over_smooth,
        rx_over_smooth,
        effective_earth_radius_km=radius,
        frequency_ghz=frequency_ghz,
        wavelength_m=wavelength_m,
        polarization=polarization,
        sea_fraction=sea_fraction,
    )
    return DeltaBullington(
        diffraction_db=actual.loss_db + max(spherical_db - smooth_edge.loss_db, 0.0),
        bullington_actual_db=actual.loss_db,
        bullington_smooth_db=smooth_edge.loss_db,
        spherical_earth_db=spherical_db,
        tx_height_above_smooth_surface_m=tx_over_smooth,
        rx_height_above_smooth_surface_m=rx_over_smooth,
        line_of_sight=actual.line_of_sight,
        nu=actual.nu,
        effective_earth_radius_km=radius,
    )


def _no_interior(tx_height_m: float, rx_height_m: float, radius_km: float) -> DeltaBullington:
    """The answer between two neighbouring points: nothing stands between them."""
    return DeltaBullington(
        diffraction_db=0.0,
        bullington_actual_db=0.0,
        bullington_smooth_db=0.0,
        spherical_earth_db=0.0,
        tx_height_above_smooth_surface_m=tx_height_m,
        rx_height_above_smooth_surface_m=rx_height_m,
        line_of_sight=True,
        nu=-math.inf,
        effective_earth_radius_km=radius_km,
    )
