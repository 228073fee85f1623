"""What P.1812 is asked: the numbers of one link and the ground under it, checked at the door."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError
from linkplan.propagation.profile import (
    PathProfile,
    finite_array,
    path_profile,
    require_antenna_height,
    require_polarization,
)
from linkplan.ranges import require_range
from linkplan.tables import p1812_8

LEAST_POINTS = 5
"""A path of fewer points has too little ground to fit a surface to."""


@dataclass(frozen=True)
class LinkInputs:
    """Everything but the ground. Raises RangeError for a number outside its range."""

    frequency_ghz: float
    time_percent: float
    location_percent: float
    tx_height_m: float
    rx_height_m: float
    polarization: str
    tx_latitude_deg: float
    tx_longitude_deg: float
    rx_latitude_deg: float
    rx_longitude_deg: float
    refractivity_gradient_n_units_per_km: float
    sea_level_refractivity_n_units: float
    tx_to_coast_km: float
    rx_to_coast_km: float
    location_sigma_db: float

    def __post_init__(self) -> None:
        source = p1812_8.SOURCE
        limits = (
            ("frequency_ghz", *p1812_8.FREQUENCY_GHZ, "GHz", source),
            ("time_percent", *p1812_8.TIME_PERCENT, "%", source),
            ("location_percent", *p1812_8.LOCATION_PERCENT, "%", source),
            ("tx_latitude_deg", -90.0, 90.0, "degrees", ""),
            ("rx_latitude_deg", -90.0, 90.0, "degrees", ""),
            ("tx_longitude_deg", -180.0, 360.0, "degrees", ""),
            ("rx_longitude_deg", -180.0, 360.0, "degrees", ""),
            # The last three are linkplan's own limits of what can be meant.
            ("sea_level_refractivity_n_units", 200.0, 500.0, "N-units", ""),
            ("tx_to_coast_km", 0.0, 20_000.0, "km", ""),
            ("rx_to_coast_km", 0.0, 20_000.0, "km", ""),
            ("location_sigma_db", 0.0, 50.0, "dB", ""),
        )
        for name, low, high, unit, cited in limits:
            require_range(name, getattr(self, name), low, high, unit=unit, source=cited)
        require_antenna_height("tx_height_m", self.tx_height_m)
        require_antenna_height("rx_height_m", self.rx_height_m)
        require_polarization(self.polarization)

    @property
    def wavelength_m(self) -> float:
        """Wavelength as the Recommendation rounds it, m."""
        return p1812_8.WAVELENGTH_M_GHZ / self.frequency_ghz


def checked_profile(
    distance_km: ArrayLike, terrain_height_m: ArrayLike, clutter_height_m: ArrayLike, link: LinkInputs
) -> PathProfile:
    """Profile of a path, of at least 5 points and 0.25 to 3000 km. Raises RangeError."""
    distance = finite_array("distance_km", distance_km)
    terrain = finite_array("terrain_height_m", terrain_height_m, like=distance)
    clutter = finite_array("clutter_height_m", clutter_height_m, like=distance)
    if (clutter < 0.0).any():
        first = int(np.argmax(clutter < 0.0))
        raise RangeError(f"clutter_height_m: value {first} is {clutter[first]:g} m; it must be at least 0")
    profile = path_profile(
        distance,
        terrain + clutter,
        terrain,
        tx_height_m=link.tx_height_m,
        rx_height_m=link.rx_height_m,
        least_points=LEAST_POINTS,
    )
    require_range(
        "distance_km[-1], the length of the path,",
        profile.length_km,
        *p1812_8.PATH_LENGTH_KM,
        unit="km",
        source=p1812_8.SOURCE,
    )
    return profile


def checked_zone(radio_climatic_zone: ArrayLike, distance_km: NDArray[np.float64]) -> NDArray[np.int64]:
    """Zone of every point, from an array or from one value for all. Raises RangeError."""
    if np.ndim(radio_climatic_zone) == 0:
        radio_climatic_zone = np.full(distance_km.size, radio_climatic_zone)
    zone = finite_array("radio_climatic_zone", radio_climatic_zone, like=distance_km)
    known = np.isin(zone, p1812_8.RADIO_CLIMATIC_ZONES)
    if not known.all():
        first = int(np.argmin(known))
        raise RangeError(
            f"radio_climatic_zone: value {first} is {zone[first]:g}; "
            f"it must be 1 (sea), 3 (coastal land) or 4 (inland) ({p1812_8.SOURCE})"
        )
    return zone.astype(np.int64)
