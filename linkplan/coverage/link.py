"""One link: from a base to one rover point, with its profile, its budget line by line and its chance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.calibrated import class_offset_db
from linkplan.coverage.classes import classes_for
from linkplan.coverage.link_budget import budget_lines
from linkplan.coverage.reliability import chance_of_corrections
from linkplan.coverage.results import LinkResult, Obstacle
from linkplan.coverage.site import SiteConstants, site_constants
from linkplan.coverage.summary import azimuth_deg
from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.propagation import bullington, free_space, fresnel, p1812, plane_earth
from linkplan.radio import antenna
from linkplan.tables import p1812_8
from linkplan.terrain.grid import Profile, TerrainGrid
from linkplan.terrain.profile import profile_between

FAR_FROM_COAST_KM = 500.0
"""Inland land is assumed all along, as on the map: the sea neither ducts nor smooths."""
SHORTEST_LINK_M = 1.0
"""Closer than this, two points count as the same place."""
_FEWEST_SAMPLES = 5


@dataclass(frozen=True)
class Terminal:
    """One end of a link, in the job's coordinates."""

    name: str
    easting: float
    northing: float


@dataclass(frozen=True)
class _Loss:
    model: str
    total_db: float
    free_space_db: float
    diffraction_db: float
    line_of_sight: bool
    details: dict[str, Any]


def compute_link(plan: Plan, grid: TerrainGrid, start: Terminal, end: Terminal) -> LinkResult:
    """The link from a transmitter at `start` to a rover at `end`, over the ground of `grid`.

    Raises PlaceError where an end lies off the grid, both ends coincide, or the path crosses missing
    data: such a path has no answer.
    """
    start_xy, end_xy = (_local(grid, terminal) for terminal in (start, end))
    distance_m = math.dist(start_xy, end_xy)
    if distance_m < SHORTEST_LINK_M:
        raise PlaceError(f"{start.name} and {end.name} are the same place: no path to compute")
    profile = profile_between(grid, start_xy, end_xy)
    if not profile.complete:
        hole = float(profile.distance_m[~np.isfinite(profile.height_m + profile.clutter_height_m)][0])
        raise PlaceError(
            f"the path from {start.name} to {end.name} crosses missing terrain data {hole:.0f} m from "
            f"{start.name}: no answer; supply terrain there"
        )
    constants = site_constants(plan, grid.cell_size_m)
    loss = _path_loss(plan, grid, constants, profile, (start_xy, end_xy))
    geometry = _Geometry.of(plan, profile, constants)
    gain_dbi = float(antenna.gain_dbi(plan.transmitter.antenna, geometry.elevation_deg))
    cell = grid.cell_of(*end_xy)
    class_db = float(class_offset_db(plan, grid, cell)) if cell is not None else 0.0
    losses = (loss.free_space_db, loss.diffraction_db, loss.total_db)
    lines, received = budget_lines(plan, constants, losses, gain_dbi, class_db)
    margin = received - constants.weakest.level_dbm
    chance = float(chance_of_corrections(np.asarray([margin]), constants.sigma_db)[0])
    return LinkResult(
        from_name=start.name,
        to_name=end.name,
        from_point=(start.easting, start.northing),
        to_point=(end.easting, end.northing),
        distance_m=distance_m,
        azimuth_deg=azimuth_deg(end_xy[0] - start_xy[0], end_xy[1] - start_xy[1]),
        profile=profile,
        bulge_m=geometry.bulge_m,
        ray_m=geometry.ray_m,
        fresnel_radius_m=geometry.radius_m,
        antenna_from_m=plan.base.antenna_height_m,
        antenna_to_m=plan.rover.antenna_height_m,
        frequency_mhz=plan.transmitter.frequency_mhz,
        line_of_sight=loss.line_of_sight,
        obstacle=geometry.worst_obstacle(profile),
        model=loss.model,
        loss_db=loss.total_db,
        free_space_db=loss.free_space_db,
        diffraction_db=loss.diffraction_db,
        plane_earth_db=float(
            plane_earth.plane_earth_loss_db(
                distance_m / 1e3, plan.base.antenna_height_m, plan.rover.antenna_height_m
            )
        ),
        budget=lines,
        received_dbm=received,
        weakest_usable_dbm=constants.weakest.level_dbm,
        margin_db=margin,
        sigma_db=constants.sigma_db,
        chance=chance,
        wanted_chance=plan.goal.chance,
        class_name=next(one.name for one in classes_for(plan.goal.chance) if chance >= one.chance_low),
        details=loss.details,
    )


def _local(grid: TerrainGrid, terminal: Terminal) -> tuple[float, float]:
    x_m, y_m = grid.frame.to_local(terminal.easting, terminal.northing)
    if grid.cell_of(float(x_m), float(y_m)) is None:
        raise PlaceError(
            f"{terminal.name} ({terminal.easting:.10g}, {terminal.northing:.10g}) lies outside the terrain "
            "read for this job"
        )
    return float(x_m), float(y_m)


def _path_loss(
    plan: Plan,
    grid: TerrainGrid,
    constants: SiteConstants,
    profile: Profile,
    ends: tuple[tuple[float, float], tuple[float, float]],
) -> _Loss:
    """The whole of P.1812-8 where the path is long enough for it, else free space and diffraction."""
    distance_km = profile.distance_m / 1e3
    tx_height_m, rx_height_m = plan.base.antenna_height_m, plan.rover.antenna_height_m
    diffraction = bullington.delta_bullington(
        distance_km,
        profile.height_m + profile.clutter_height_m,
        profile.height_m,
        tx_height_m=tx_height_m,
        rx_height_m=rx_height_m,
        frequency_ghz=constants.frequency_ghz,
        effective_earth_radius_km=constants.effective_earth_radius_km,
    )
    if distance_km[-1] < p1812_8.PATH_LENGTH_KM[0] or distance_km.size < _FEWEST_SAMPLES:
        free = free_space.slant_free_space_loss_db(
            float(distance_km[-1]),
            float(profile.height_m[0]) + tx_height_m,
            float(profile.height_m[-1]) + rx_height_m,
            constants.frequency_ghz,
        )
        return _Loss(
            "free space and diffraction (P.1812-8 starts at 0.25 km)",
            free + diffraction.diffraction_db,
            free,
            diffraction.diffraction_db,
            diffraction.line_of_sight,
            {},
        )
    (tx_lon, tx_lat), (rx_lon, rx_lat) = (grid.frame.to_geographic(*end) for end in ends)
    whole = p1812.basic_transmission_loss(
        distance_km,
        profile.height_m,
        profile.clutter_height_m,
        radio_climatic_zone=np.full(distance_km.size, p1812_8.INLAND),
        frequency_ghz=constants.frequency_ghz,
        time_percent=50.0,
        location_percent=50.0,
        tx_height_m=tx_height_m,
        rx_height_m=rx_height_m,
        polarization=plan.transmitter.polarization,
        tx_latitude_deg=float(tx_lat),
        tx_longitude_deg=float(tx_lon),
        rx_latitude_deg=float(rx_lat),
        rx_longitude_deg=float(rx_lon),
        refractivity_gradient_n_units_per_km=plan.environment.refractivity_gradient_n_units_per_km,
        sea_level_refractivity_n_units=plan.environment.sea_level_refractivity_n_units,
        tx_to_coast_km=FAR_FROM_COAST_KM,
        rx_to_coast_km=FAR_FROM_COAST_KM,
    )
    return _Loss(
        "P.1812-8, median of time and locations",
        whole.basic_transmission_loss_db,
        whole.free_space_db,
        whole.diffraction_median_db,
        diffraction.line_of_sight,
        whole.to_dict(),
    )


@dataclass(frozen=True)
class _Geometry:
    """The straight ray over the bulging earth."""

    bulge_m: NDArray[np.float64]
    ray_m: NDArray[np.float64]
    radius_m: NDArray[np.float64]
    elevation_deg: float

    @classmethod
    def of(cls, plan: Plan, profile: Profile, constants: SiteConstants) -> _Geometry:
        d1 = profile.distance_m
        length = float(d1[-1])
        start = float(profile.height_m[0]) + plan.base.antenna_height_m
        end = float(profile.height_m[-1]) + plan.rover.antenna_height_m
        radius_m = constants.effective_earth_radius_km * 1e3
        return cls(
            bulge_m=d1 * (length - d1) / (2.0 * radius_m),
            ray_m=start + (end - start) * d1 / length,
            radius_m=fresnel.fresnel_radius_m(d1 / 1e3, (length - d1) / 1e3, constants.frequency_ghz * 1e3),
            elevation_deg=float(np.degrees(np.arctan((end - start) / length - length / (2.0 * radius_m)))),
        )

    def worst_obstacle(self, profile: Profile) -> Obstacle | None:
        """The interior point with the smallest clearance as a fraction of the Fresnel radius."""
        if profile.distance_m.size < 3:
            return None
        inner = slice(1, -1)
        top = profile.height_m + profile.clutter_height_m + self.bulge_m
        clearance = (self.ray_m - top)[inner]
        worst = int(np.argmin(clearance / self.radius_m[inner])) + 1
        return Obstacle(
            distance_m=float(profile.distance_m[worst]),
            ground_m=float(profile.height_m[worst]),
            clutter_m=float(profile.clutter_height_m[worst]),
            clearance_m=float(clearance[worst - 1]),
            fresnel_radius_m=float(self.radius_m[worst]),
            clearance_fraction=float(clearance[worst - 1] / self.radius_m[worst]),
        )
