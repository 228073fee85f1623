"""Where does each antenna see its horizon, and do the two see each other over the bare ground?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from linkplan.propagation.knife_edge import edge_parameters
from linkplan.propagation.profile import PathProfile
from linkplan.tables import p1812_8


@dataclass(frozen=True)
class Horizons:
    """Horizons of both antennas over the bare ground; angles above the horizontal in mrad."""

    trans_horizon: bool
    tx_elevation_mrad: float
    """theta_t."""
    rx_elevation_mrad: float
    """theta_r."""
    tx_distance_km: float
    """From the transmitter to its horizon: dlt."""
    rx_distance_km: float
    """From the receiver to its horizon: dlr."""
    tx_index: int
    """Point of the profile that is the transmitter's horizon."""
    rx_index: int
    angular_distance_mrad: float
    """Angle between the two horizon rays: theta; negative where the antennas see each other well."""


def horizons(profile: PathProfile, *, effective_earth_radius_km: float, wavelength_m: float) -> Horizons:
    """Horizon distances and elevation angles of a path with interior points.

    On a line-of-sight path both horizons are the interior point with the greatest nu.
    [P.1812-8, Attachment 1, sections 5.1-5.5]
    """
    d, h, length = profile.distance_km, profile.terrain_height_m, profile.length_km
    hts, hrs, radius = profile.tx_antenna_m, profile.rx_antenna_m, effective_earth_radius_km
    inner, rest = d[1:-1], length - d[1:-1]
    from_tx = 1e3 * np.arctan((h[1:-1] - hts) / (1e3 * inner) - inner / (2.0 * radius))
    towards_rx = 1e3 * math.atan((hrs - hts) / (1e3 * length) - length / (2.0 * radius))
    highest = float(np.max(from_tx))
    trans_horizon = highest > towards_rx
    if trans_horizon:
        from_rx = 1e3 * np.arctan((h[1:-1] - hrs) / (1e3 * rest) - rest / (2.0 * radius))
        theta_r = float(np.max(from_rx))
        tx_index = int(np.argmax(from_tx)) + 1
        rx_index = int(np.flatnonzero(from_rx == theta_r)[-1]) + 1
    else:
        theta_r = 1e3 * math.atan((hts - hrs) / (1e3 * length) - length / (2.0 * radius))
        nu = edge_parameters(
            d,
            h,
            tx_antenna_m=hts,
            rx_antenna_m=hrs,
            effective_earth_radius_km=radius,
            wavelength_m=wavelength_m,
        )
        tx_index = rx_index = int(np.argmax(nu)) + 1
    theta_t = max(highest, towards_rx)
    return Horizons(
        trans_horizon=trans_horizon,
        tx_elevation_mrad=theta_t,
        rx_elevation_mrad=theta_r,
        tx_distance_km=float(d[tx_index]),
        rx_distance_km=float(length - d[rx_index]),
        tx_index=tx_index,
        rx_index=rx_index,
        angular_distance_mrad=1e3 * length / radius + theta_t + theta_r,
    )


def radio_horizon_km(
    tx_height_m: float,
    rx_height_m: float,
    effective_earth_radius_km: float = 4.0 / 3.0 * p1812_8.EARTH_RADIUS_KM,
) -> float:
    """Greatest distance at which two antennas see each other over a smooth earth, km.

    Heights above the surface, m, at least 0. With 4/3 of the earth's radius this is the common
    4.12 (sqrt h1 + sqrt h2). [P.1812-8, section 4.3.2: d_los]
    """
    return math.sqrt(2e-3 * effective_earth_radius_km) * (math.sqrt(tx_height_m) + math.sqrt(rx_height_m))
