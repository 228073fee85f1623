"""Coordinate systems, and whether coordinates make sense in them.

Coordinates are always easting (or longitude) first. A system made of a horizontal and a vertical part
is judged by its horizontal part.
"""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkplan.plan.words import Report

if TYPE_CHECKING:
    from pyproj import CRS

FAR_BASE_M = 100_000.0
"""A base farther than this from its job is surely a slip; corrections by UHF reach a tenth of it."""

USE_MARGIN_DEG = 0.25
"""A job at a zone's edge may reach over it by this much, some 25 km, without a word."""

_UNIT_WORDS = {"metre": "metres", "foot": "feet", "US survey foot": "US survey feet"}

CRS_CURE = 'write an EPSG code such as "EPSG:32611" (UTM zone 11 north)'


def read_crs(text: str, key: str, report: Report) -> CRS | None:
    """The coordinate system that `text` names, when points on the ground can be given in it."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about old ways of writing a system that still work
            crs = CRS.from_user_input(text)
    except (CRSError, ValueError):
        report.fault(key, text, "no coordinate system of this name is known", CRS_CURE)
        return None
    flat = horizontal(crs)
    if not (flat.is_projected or flat.is_geographic):
        problem = f"{crs.type_name} is no system of easting and northing or of longitude and latitude"
        report.fault(key, text, problem, CRS_CURE)
        return None
    return crs


def horizontal(crs: CRS) -> CRS:
    """The horizontal part of a coordinate system."""
    flat = crs.sub_crs_list[0] if crs.is_compound and crs.sub_crs_list else crs
    return flat.to_2d()


def transform(points: NDArray[np.float64], source: CRS, target: CRS) -> NDArray[np.float64]:
    """Points (n, 2), x first, from one system into another; not finite where that is impossible."""
    from pyproj import Transformer
    from pyproj.exceptions import ProjError

    try:
        between = Transformer.from_crs(horizontal(source), horizontal(target), always_xy=True)
    except ProjError:  # systems of different celestial bodies
        return np.full_like(points, np.inf)
    return np.column_stack(between.transform(points[:, 0], points[:, 1]))


def check_places(points: NDArray[np.float64], crs: CRS, key: str, value: Any, report: Report) -> bool:
    """Note points (n, 2) that cannot be meant in `crs` (a fault) or lie outside its use (a warning)."""
    flat = horizontal(crs)
    if flat.is_geographic:
        return _check_degrees(points, flat, key, value, report)
    # Only a registered system: a crew's own grid may well have its origin on the site.
    if flat.area_of_use is not None and bool(
        (np.abs(points) <= (180.0, 90.0)).all() and np.abs(points).max() > 0
    ):
        unit = _UNIT_WORDS.get(flat.axis_info[0].unit_name, flat.axis_info[0].unit_name)
        problem = f"looks like degrees, but the job's coordinates are in {unit} ({flat.name})"
        report.fault(key, value, problem, "give easting and northing of job.crs")
        return False
    degrees = _degrees(points, flat)
    if not np.isfinite(degrees).all():
        problem = f"lies outside what {flat.name} can express"
        report.fault(key, value, problem, "check the numbers, their order and job.crs")
        return False
    _warn_outside_use(points, degrees, flat, key, report)
    return True


def check_distance(line: NDArray[np.float64], crs: CRS, report: Report) -> None:
    """Warn when a base, first of the two points (2, 2), stands absurdly far from its job, the second."""
    from pyproj import Geod

    (lon, lat), (to_lon, to_lat) = _degrees(line, horizontal(crs))
    distance_m = Geod(ellps="GRS80").inv(lon, lat, to_lon, to_lat)[2]
    if distance_m > FAR_BASE_M:
        distance_km = distance_m / 1000.0
        report.warn("base", f"stands {distance_km:.0f} km from the job's boundary; check both and job.crs")


def _check_degrees(points: NDArray[np.float64], crs: CRS, key: str, value: Any, report: Report) -> bool:
    if (np.abs(points) <= (180.0, 90.0)).all():
        _warn_outside_use(points, points, crs, key, report)
        return True
    if (np.abs(points) <= (360.0, 90.0)).all():
        report.fault(
            key, value, "longitude beyond 180 degrees", "write longitudes west of Greenwich negative"
        )
    elif (np.abs(points[:, ::-1]) <= (180.0, 90.0)).all():
        report.fault(key, value, "latitude beyond 90 degrees", "write longitude first, then latitude")
    else:
        problem = f"not degrees, but the job's coordinates are in degrees ({crs.name})"
        report.fault(key, value, problem, "give longitude and latitude, or set job.crs to the system meant")
    return False


def _degrees(points: NDArray[np.float64], crs: CRS) -> NDArray[np.float64]:
    import pyproj

    return transform(points, crs, pyproj.CRS.from_epsg(4326))


def _inside_use(degrees: NDArray[np.float64], crs: CRS) -> NDArray[np.bool_]:
    area = crs.area_of_use
    if area is None:
        return np.ones(len(degrees), dtype=bool)
    lon, lat = degrees[:, 0], degrees[:, 1]
    after_west, before_east = lon >= area.west - USE_MARGIN_DEG, lon <= area.east + USE_MARGIN_DEG
    # Where west is the greater number the area lies across the 180th meridian.
    within = after_west & before_east if area.west <= area.east else after_west | before_east
    return np.asarray(within & (lat >= area.south - USE_MARGIN_DEG) & (lat <= area.north + USE_MARGIN_DEG))


def _warn_outside_use(
    points: NDArray[np.float64], degrees: NDArray[np.float64], crs: CRS, key: str, report: Report
) -> None:
    outside = ~_inside_use(degrees, crs)
    if not outside.any():
        return
    lon, lat = degrees[outside][0]
    swapped = _degrees(points[:, ::-1], crs)
    hint = (
        "easting and northing may be the wrong way round"
        if np.isfinite(swapped).all() and _inside_use(swapped, crs).all()
        else "check the coordinates and job.crs"
    )
    place = f"longitude {lon:.4f}, latitude {lat:.4f}"
    report.warn(key, f"lies outside the area for which {crs.name} is made ({place}); {hint}")
