"""Which places, masts, antennas and powers are compared, and on which points of the job."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place, Siting
from linkplan.siting.results import Candidate
from linkplan.terrain.geodesy import LocalFrame
from linkplan.units import METRES_PER_UNIT

MOST_PLACES = 20_000
"""A finer grid than this is a slip of the pen: days of work."""

POINTS_OF_ONE = 800
POINTS_OF_SEVERAL = 12_000
"""Points of the job on which draws of the prediction error, or several set-ups together, are judged."""

FloatArray = NDArray[np.float64]


def siting_of(plan: Plan) -> Siting:
    """What the job says about siting; PlaceError where it says nothing."""
    if plan.siting is None:
        raise PlaceError(
            f"{plan.file}: there is no [siting]; add it with the places to compare, for instance "
            "control_points = true"
        )
    return plan.siting


def all_places(plan: Plan) -> tuple[Place, ...]:
    """Named places first, then those of the grid; a grid's point on a named place is left out."""
    siting = siting_of(plan)
    named = siting.places
    if siting.grid_area is None or siting.grid_spacing_m is None:
        return named
    spacing = siting.grid_spacing_m / METRES_PER_UNIT[plan.length_unit]
    frame = centre_frame(plan)
    x_m, y_m = _lattice(frame.geometry_to_local(siting.grid_area), siting.grid_spacing_m, MOST_PLACES)
    if x_m.size + len(named) > MOST_PLACES:
        raise PlaceError(
            f"{plan.file}: siting.grid_spacing = {spacing:g} gives {x_m.size:,} places (at "
            f"most {MOST_PLACES:,} make sense); set it wider"
        )
    if x_m.size == 0:
        raise PlaceError(
            f"{plan.file}: siting.grid_spacing = {spacing:g} lays no place on the ground of "
            "siting.grid_file; set it closer"
        )
    # a centimetre: nobody sets a mast up more finely, and the coordinates go into the job file
    digits = 7 if frame.job_crs.is_geographic else 2
    easting, northing = (np.round(part, digits) for part in frame.to_job(x_m, y_m))
    known_x, known_y = frame.to_local(
        np.array([place.easting for place in named]), np.array([place.northing for place in named])
    )
    apart = np.ones(x_m.size, dtype=bool)
    for x, y in zip(known_x, known_y, strict=True):
        apart &= np.hypot(x_m - x, y_m - y) > 1.0
    width = len(str(x_m.size))
    taken = {place.name for place in named}
    grid: list[Place] = []
    for number in np.nonzero(apart)[0]:
        name = f"G{len(grid) + 1:0{width}d}"
        while name in taken:
            name = f"grid {name}"
        grid.append(Place(name, float(easting[number]), float(northing[number]), None, known=False))
    return named + tuple(grid)


def all_candidates(plan: Plan, places: Sequence[Place]) -> tuple[Candidate, ...]:
    """Every place with every mast, antenna and power: powers vary fastest, places slowest."""
    siting = siting_of(plan)
    return tuple(
        Candidate(place, height_m, antenna, power_dbm)
        for place in places
        for height_m in siting.antenna_heights_m
        for antenna in siting.antennas
        for power_dbm in siting.powers_dbm
    )


def centre_frame(plan: Plan) -> LocalFrame:
    """Local metres around the middle of the job."""
    middle = plan.boundary.representative_point()
    return LocalFrame.around(plan.crs, middle.x, middle.y)


def job_points(plan: Plan, most: int) -> FloatArray:
    """At most `most` points spread evenly over the job, (n, 2) in job coordinates; at least one, and beyond
    these one in each zone, and in the ground outside of all zones, that would else hold none."""
    frame = centre_frame(plan)
    area = frame.geometry_to_local(plan.boundary)
    step_m = math.sqrt(area.area / most)
    x_m, y_m = _lattice(area, step_m, most)
    while x_m.size > most:
        step_m *= 1.02
        x_m, y_m = _lattice(area, step_m, most)
    if x_m.size == 0:
        x_m, y_m = np.zeros(1), np.zeros(1)
    return _with_zones(plan, np.column_stack(frame.to_job(x_m, y_m)))


def _with_zones(plan: Plan, points: FloatArray) -> FloatArray:
    """The points, and one in each part of the job with a weight of its own that holds none of them."""
    import shapely

    zones = [zone.area for zone in plan.siting.zones] if plan.siting is not None else []
    if not zones:
        return points
    parts = [*zones, shapely.difference(plan.boundary, shapely.union_all(zones))]
    missed = [
        part.representative_point()
        for part in parts
        if part.area > 0.0 and not shapely.contains_xy(part, points[:, 0], points[:, 1]).any()
    ]
    return np.vstack([points, *(np.array([[one.x, one.y]]) for one in missed)])


def _lattice(area: object, step_m: float, most: int) -> tuple[FloatArray, FloatArray]:
    """Points of a square lattice inside an area; the corner lies at (0, 0)."""
    import shapely

    west, south, east, north = shapely.bounds(area)
    columns = np.arange(math.ceil(west / step_m), math.floor(east / step_m) + 1)
    rows = np.arange(math.ceil(south / step_m), math.floor(north / step_m) + 1)
    if columns.size * rows.size > 400 * most:
        # far too many even for a thin shape: the caller widens the step or refuses
        return np.zeros(most + 1), np.zeros(most + 1)
    x_m, y_m = (part.ravel().astype(np.float64) * step_m for part in np.meshgrid(columns, rows[::-1]))
    shapely.prepare(area)
    inside = shapely.contains_xy(area, x_m, y_m)
    return x_m[inside], y_m[inside]


@dataclass(frozen=True)
class CheckPoints:
    """Points that two neighbouring set-ups must both see, so that one can be checked against the other."""

    names: tuple[str, ...]
    positions: FloatArray
    """(n, 2), job coordinates."""


def check_points(plan: Plan) -> CheckPoints:
    """The job's control points, and along a corridor a point every so often."""
    siting = siting_of(plan)
    names = [point.name for point in plan.control_points]
    positions = [(point.easting, point.northing) for point in plan.control_points]
    if siting.corridor is not None:
        frame = centre_frame(plan)
        line = frame.geometry_to_local(siting.corridor)
        count = max(1, round(line.length / siting.check_spacing_m))
        for number in range(count + 1):
            point = line.interpolate(number / count, normalized=True)
            easting, northing = frame.to_job(point.x, point.y)
            names.append(f"{line.length * number / count / 1000.0:.2f} km along the line")
            positions.append((float(easting), float(northing)))
    return CheckPoints(tuple(names), np.array(positions, dtype=np.float64).reshape(-1, 2))
