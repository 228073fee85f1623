"""Where a station stands: coordinates, or a control point by its name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linkplan.plan.checking import Section
from linkplan.plan.model import ControlPoint
from linkplan.plan.places import check_places
from linkplan.plan.words import Report, choose

if TYPE_CHECKING:
    from pyproj import CRS


@dataclass(frozen=True)
class Ground:
    """What places are looked up and judged in."""

    control: Section | None
    points: tuple[ControlPoint, ...] | None
    crs: CRS | None


@dataclass(frozen=True)
class Stand:
    """A place in the job's coordinates, with its ground height as the job states it."""

    name: str
    """The control point's, or "" when given by coordinates."""
    easting: float
    northing: float
    height_m: float | None


def read_stand(section: Section, where: str, ground: Ground, report: Report) -> Stand | None:
    """The place that the keys `point` or `position`, and `height`, of a table say; None with faults noted.

    `where` is the table's own path in the file, e.g. "bases[2]".
    """
    if {"point", "position"} <= section.present:
        return None  # noted already: one excludes the other
    if section["point"] is not None:
        point = _control_point(section, where, ground, report)
        if point is None:
            return None
        if point.height_m is not None and "height" in section.present:
            problem = f"the control point {point.name} has a height already"
            report.fault(f"{where}.height", section.raw("height"), problem, "keep one of the two")
        height_m = section["height"] if point.height_m is None else point.height_m
        return Stand(point.name, point.easting, point.northing, height_m)
    if section["position"] is None:
        return None
    easting, northing = section["position"]
    place, raw = np.array([[easting, northing]]), section.raw("position")
    if ground.crs is not None and not check_places(place, ground.crs, f"{where}.position", raw, report):
        return None
    return Stand("", easting, northing, section["height"])


def _control_point(section: Section, where: str, ground: Ground, report: Report) -> ControlPoint | None:
    wanted, key = section["point"], f"{where}.point"
    if ground.control is None:
        cure = f'add [control] with file = "control.csv", or give {where}.position'
        report.fault(key, section.raw("point"), "there is no [control] to find this point in", cure)
        return None
    if ground.points is None:
        return None
    by_name = {point.name: point for point in ground.points}
    if wanted not in by_name:
        cure = choose(wanted, tuple(by_name))
        report.fault(key, section.raw("point"), "no control point of this name", cure)
    return by_name.get(wanted)
