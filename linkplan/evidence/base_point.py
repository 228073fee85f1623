"""Where the base says it stands, in the job's coordinates, and how far that is from where the job has it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linkplan.gnss.rtcm_bodies import ReferencePoint
from linkplan.plan.model import Plan
from linkplan.terrain.geodesy import WGS84, LocalFrame

NEAREST_EARTH_M, FARTHEST_EARTH_M = 6.33e6, 6.40e6
"""Distance from the earth's centre of any point a base can stand on: the ellipsoid's radii, 6357 and 6378 km,
with room for depths and mountains [common practice]."""
SAME_POINT_M = 0.5
"""A control point this near to where the base says it stands is taken for the one that was set."""


@dataclass(frozen=True)
class BasePoint:
    """A reference point beside the job's base."""

    number: int
    """1005 or 1006."""
    station_id: int
    latitude_deg: float
    """WGS 84, as if the stream were in it."""
    longitude_deg: float
    ellipsoidal_height_m: float
    """Of the antenna reference point."""
    antenna_height_m: float | None
    """Over the mark, as 1006 says."""
    easting: float
    """In the job's coordinate system and its unit."""
    northing: float
    easting_off: float
    """From the job's base, in the unit of the job's coordinates."""
    northing_off: float
    distance_m: float
    """True metres."""
    height_over_job_m: float | None
    """Ellipsoidal height of the mark (of the antenna, where its height is not known) less the job's ground
    height at the base; None where the job does not state one."""
    nearest_control: str | None
    """Name of a control point within half a metre."""
    path: str
    """The transformation between the stream's and the job's coordinates, as pyproj names it."""
    path_accuracy_m: float | None
    """As pyproj states it; None where it does not know."""


def on_earth(point: ReferencePoint) -> bool:
    """Whether a base can stand there at all."""
    radius_m = math.sqrt(point.x_m**2 + point.y_m**2 + point.z_m**2)
    return NEAREST_EARTH_M <= radius_m <= FARTHEST_EARTH_M


def place(point: ReferencePoint, plan: Plan) -> BasePoint | None:
    """A reference point (on_earth) in the job's coordinates; None where they cannot describe it."""
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError

    frame = LocalFrame.around(plan.crs, plan.base.easting, plan.base.northing)
    to_geographic = Transformer.from_crs(CRS.from_epsg(4978), CRS.from_epsg(4979), always_xy=True)
    to_job = Transformer.from_crs(WGS84, frame.job_crs, always_xy=True)
    longitude, latitude, height_m = to_geographic.transform(point.x_m, point.y_m, point.z_m)
    try:
        easting, northing = to_job.transform(longitude, latitude, errcheck=True)
    except ProjError:
        return None
    east_m, north_m = frame.to_local(easting, northing)
    if not all(math.isfinite(value) for value in (easting, northing, east_m, north_m, height_m)):
        return None
    ground_m = plan.base.height_m
    mark_m = height_m - (point.antenna_height_m or 0.0)
    try:
        used = to_job.get_last_used_operation()  # where several ways are known, the place decides
    except ProjError:
        used = to_job  # nothing had to be done
    return BasePoint(
        number=point.number,
        station_id=point.station_id,
        latitude_deg=latitude,
        longitude_deg=longitude,
        ellipsoidal_height_m=height_m,
        antenna_height_m=point.antenna_height_m,
        easting=easting,
        northing=northing,
        easting_off=easting - plan.base.easting,
        northing_off=northing - plan.base.northing,
        distance_m=math.hypot(east_m, north_m),
        height_over_job_m=None if ground_m is None else mark_m - ground_m,
        nearest_control=_nearest(plan, frame, east_m, north_m),
        path=used.description,
        path_accuracy_m=used.accuracy if used.accuracy is not None and used.accuracy >= 0.0 else None,
    )


def _nearest(plan: Plan, frame: LocalFrame, east_m: float, north_m: float) -> str | None:
    best, name = SAME_POINT_M, None
    for control in plan.control_points:
        x_m, y_m = frame.to_local(control.easting, control.northing)
        distance_m = math.hypot(x_m - east_m, y_m - north_m)
        if distance_m <= best:
            best, name = distance_m, control.name
    return name
