"""Where could rovers work with a base at a place? Corrections, baseline and common satellites at points.

What a rover sees of the sky does not depend on the base: it is worked out once. What the base sees follows
from its own horizon.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.ground import job_grid
from linkplan.coverage.reliability import margin_for_chance_db
from linkplan.coverage.site import site_constants
from linkplan.errors import PlaceError
from linkplan.gnss.baseline import baseline_limit_m
from linkplan.gnss.dop import dilution, unit_vectors
from linkplan.gnss.visibility import look, visible_over_area
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place
from linkplan.siting.evaluate import plan_at
from linkplan.siting.places import FloatArray, centre_frame, siting_of
from linkplan.siting.zones import point_masks, point_weights
from linkplan.sky.day import ROVER_AZIMUTHS_DEG, day_positions, rover_horizons, wishes_of
from linkplan.sky.view import base_view, system_days
from linkplan.terrain.grid import BoolArray, TerrainGrid
from linkplan.terrain.horizon import HorizonProfile


class RoversSky:
    """The satellites that rovers see at the job's points over the working day."""

    def __init__(self, plan: Plan, points: FloatArray, places: Sequence[Place]) -> None:
        """`points` (n, 2) in job coordinates; the ground is read around the first place that has some."""
        self._plan = plan
        self._points = points
        self._frame = centre_frame(plan)
        self._masks = point_masks(plan, points)
        self._weight = point_weights(plan, self._masks, len(points))
        self._wishes = wishes_of(plan)
        self._positions = day_positions(plan)
        grid = _ground(plan, places)
        x_m, y_m = grid.frame.to_local(points[:, 0], points[:, 1])
        rows = np.clip(np.rint(grid.base_row - y_m / grid.cell_size_m), 0, grid.shape[0] - 1).astype(np.intp)
        columns = np.clip(np.rint(grid.base_column + x_m / grid.cell_size_m), 0, grid.shape[1] - 1).astype(
            np.intp
        )
        horizons, _ = rover_horizons(plan, grid, rows, columns)
        longitude, latitude = grid.frame.to_geographic(x_m, y_m)
        ground = grid.height_m[rows, columns]
        height = np.where(np.isnan(ground), 0.0, ground) + self._wishes.rover_gnss_height_m
        usable = self._positions.usable
        self._kept = usable.any(axis=1)
        self._seen = visible_over_area(
            self._positions.ecef_m[self._kept],
            np.asarray(latitude),
            np.asarray(longitude),
            height,
            self._wishes.rover_elevation_mask_deg,
            ROVER_AZIMUTHS_DEG,
            horizons,
        )
        middle = len(points) // 2
        directions = look(
            self._positions.ecef_m[self._kept], latitude[middle], longitude[middle], height[middle]
        )
        self._vectors = unit_vectors(directions.azimuth_deg, directions.elevation_deg)

    def suffices(self, place: Place, antenna_m: float, horizon: HorizonProfile) -> BoolArray:
        """(n,): with a base at a place, its GNSS antenna at the height `antenna_m`, the baseline is short
        enough, there are enough common satellites for the wanted share of the day, and the base is not
        silent."""
        x_m, y_m = self._frame.to_local(place.easting, place.northing)
        longitude, latitude = self._frame.to_geographic(x_m, y_m)
        at = float(latitude), float(longitude), antenna_m
        wishes, positions = self._wishes, self._positions
        azimuth, elevation, visible = base_view(positions, at, horizon, wishes.elevation_mask_deg)
        _, together = system_days(
            positions,
            azimuth,
            elevation,
            visible,
            least_satellites=wishes.least_satellites,
            greatest_pdop=wishes.greatest_pdop,
        )
        common = self._seen & visible[self._kept][None]
        found = dilution(self._vectors, common, positions.systems[self._kept])
        enough = (found.satellites >= wishes.least_common) & (found.pdop <= wishes.rover_greatest_pdop)
        enough &= ~together.held_back[None, :]
        return np.asarray(enough.mean(axis=1) >= wishes.workable_share - 1e-9) & self._near(x_m, y_m)

    def _near(self, x_m: float, y_m: float) -> BoolArray:
        """Points within the job's baseline limit of a place, and within that of each zone's tolerance."""
        at_x, at_y = self._frame.to_local(self._points[:, 0], self._points[:, 1])
        distance = np.hypot(at_x - x_m, at_y - y_m)
        limit, accuracy = self._plan.goal.baseline_limit_m, self._plan.accuracy
        near = np.ones(distance.shape, dtype=bool) if limit is None else distance <= limit
        for zone, mask in zip(siting_of(self._plan).zones, self._masks, strict=True):
            if zone.tolerance_m is not None:
                own = baseline_limit_m(zone.tolerance_m, accuracy.horizontal_m, accuracy.horizontal_ppm)
                near &= ~mask | (distance <= own)
        return near

    def workable_share(
        self, margin_db: NDArray[np.float32], cell_size_m: float, suffices: BoolArray
    ) -> float:
        """Weighted share of the points with the wanted chance that `suffices` allows; unknown never is."""
        sigma_db = site_constants(self._plan, cell_size_m).sigma_db
        needed = margin_for_chance_db(self._plan.goal.chance, sigma_db)
        works = (margin_db >= np.float32(needed)) & suffices
        return float(self._weight[works].sum() / self._weight.sum())


def _ground(plan: Plan, places: Sequence[Place]) -> TerrainGrid:
    reason: PlaceError | None = None
    for place in places:
        try:
            return job_grid(plan_at(plan, place, plan.base.antenna_height_m))
        except PlaceError as error:
            reason = reason or error
    raise reason or PlaceError("there is no place to read the ground around")
