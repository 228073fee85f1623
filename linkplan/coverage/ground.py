"""The ground of a job, read for one base."""

from __future__ import annotations

import math

from linkplan.coverage.link import Terminal
from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.terrain.dem import FARTHEST_M, load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid


def base_terminal(plan: Plan) -> Terminal:
    """The base as an end of a link."""
    return Terminal(plan.base.name, plan.base.easting, plan.base.northing)


def job_grid(plan: Plan, *further: Terminal, origin: Terminal | None = None) -> TerrainGrid:
    """The ground of a job around its base, or around `origin`, with any further places on it."""
    from shapely import MultiPoint, union_all

    centre = origin or base_terminal(plan)
    frame = LocalFrame.around(plan.crs, centre.easting, centre.northing)
    area = frame.geometry_to_local(plan.boundary)
    if further:
        places = [frame.to_local(place.easting, place.northing) for place in further]
        for place, (x_m, y_m) in zip(further, places, strict=True):
            _require_near(place, math.hypot(x_m, y_m), centre)
        area = union_all([area, MultiPoint(places).buffer(1.0)])
    return load_terrain(plan.terrain, plan.clutter, frame=frame, area=area)


def _require_near(place: Terminal, distance_m: float, centre: Terminal) -> None:
    if not distance_m <= FARTHEST_M:
        far = f"{distance_m / 1000.0:.0f} km" if math.isfinite(distance_m) else "endlessly far"
        raise PlaceError(
            f"{place.name} lies {far} from {centre.name} (at most {FARTHEST_M / 1000.0:.0f} km makes sense "
            "here); check its coordinates"
        )
