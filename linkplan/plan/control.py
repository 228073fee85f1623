"""The job's control points: named points from a CSV or a vector file."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.plan.boundary import into, layer_crs
from linkplan.plan.checking import Section
from linkplan.plan.keys import HIGHEST_GROUND_M, LOWEST_GROUND_M
from linkplan.plan.model import ControlPoint
from linkplan.plan.places import check_places
from linkplan.plan.rows import FileFaults, read_rows
from linkplan.plan.values import FARTHEST
from linkplan.plan.vector import LayerKeys, read_layer
from linkplan.plan.words import Report, quoted

if TYPE_CHECKING:
    from pyproj import CRS

CSV_SUFFIXES = (".csv", ".txt")


def read_control(
    section: Section, crs: CRS | None, height_factor: float | None, report: Report
) -> tuple[ControlPoint, ...] | None:
    """All control points in the job's coordinate system; None, with faults noted, when they cannot be had."""
    return read_points(LayerKeys(section, "control"), crs, height_factor, report)


def read_points(
    keys: LayerKeys, crs: CRS | None, height_factor: float | None, report: Report, unnamed: str = ""
) -> tuple[ControlPoint, ...] | None:
    """All points of a CSV or vector file in the job's coordinate system; None, with faults noted, where none.

    A CSV's coordinates are in the job's system; a vector file's are brought into it. Heights are in the
    job's height unit. Points of a vector file that have no name are called `unnamed` and their number in the
    file ("P1"), or are faults where `unnamed` is "".
    """
    path: Path | None = keys["file"]
    if path is None:
        return None
    faults = keys.faults(report)
    before = len(report.faults)
    if path.suffix.lower() in CSV_SUFFIXES:
        for extra in ("crs", "layer"):
            if keys.stands(extra):
                problem = "a CSV has no layer, and its coordinates are in job.crs"
                report.fault(keys.path(extra), keys.raw(extra), problem, "leave it out")
        points = _from_csv(path, height_factor or 1.0, faults)
    else:
        points = _from_vector(path, keys, crs, height_factor or 1.0, faults, unnamed)
    sound = [point for _, point in points]
    _note_twins(points, faults)
    if not sound and len(report.faults) == before:
        faults.add("holds no point")
    faults.close()
    if crs is not None and len(report.faults) == before:
        places = np.array([[point.easting, point.northing] for point in sound])
        check_places(places, crs, faults.key, faults.written, report)
    return tuple(sound) if len(report.faults) == before else None


def _from_csv(path: Path, height_factor: float, faults: FileFaults) -> list[tuple[str, ControlPoint]]:
    points = []
    for row in read_rows(path, ("name", "easting", "northing"), ("height", "code"), faults):
        where = f"row {row.line}"
        name = row.cells["name"]
        if not name:
            faults.add(f"{where}, column name is empty", "give every point a name")
        easting, northing = row.number("easting", faults), row.number("northing", faults)
        written = row.cells.get("height", "")
        height = row.number("height", faults) if written else None
        if not _height_sound(height, height_factor, where, faults) or not name:
            continue
        if easting is None or northing is None:
            continue
        if max(abs(easting), abs(northing)) > FARTHEST:
            faults.add(f"{where}: {easting:g}, {northing:g} are no possible coordinates")
            continue
        height_m = None if height is None else height * height_factor
        points.append((where, ControlPoint(name, easting, northing, height_m, row.cells.get("code", ""))))
    return points


def _from_vector(
    path: Path, keys: LayerKeys, crs: CRS | None, height_factor: float, faults: FileFaults, unnamed: str
) -> list[tuple[str, ControlPoint]]:
    layer = read_layer(path, keys["layer"], faults, keys.path("layer"))
    if layer is None:
        return []
    source = layer_crs(layer, keys, faults.report)
    if "name" not in layer.columns and not unnamed:
        there = ", ".join(layer.columns) or "none"
        faults.add(f"no attribute name among its attributes ({there})", "name, height and code are read")
        return []
    shapes = layer.shapes
    if source is not None and crs is not None:
        shapes = into(shapes, source, crs)
    points = []
    for index, shape in enumerate(shapes):
        where = f"feature {index + 1}"
        name = _text(layer.columns["name"][index]) if "name" in layer.columns else ""
        if not name and unnamed:
            name = f"{unnamed}{index + 1}"
        elif not name:
            faults.add(f"{where}: its name is empty", "give every point a name")
        if shape is None or shape.geom_type != "Point" or shape.is_empty:
            kind = "has no shape" if shape is None or shape.is_empty else f"is a {shape.geom_type}"
            faults.add(f"{where} {kind}", "single points are wanted")
            continue
        height, sound = _attribute_height(layer.columns, index, where, faults)
        if not (sound and name and _height_sound(height, height_factor, where, faults)):
            continue
        if not max(abs(shape.x), abs(shape.y)) <= FARTHEST:  # so too for what is not finite
            faults.add(f"{where} has no possible coordinates in job.crs")
            continue
        height_m = None if height is None else height * height_factor
        code = _text(layer.columns["code"][index]) if "code" in layer.columns else ""
        points.append((where, ControlPoint(name, shape.x, shape.y, height_m, code)))
    return points


def _attribute_height(
    columns: dict[str, list[Any]], index: int, where: str, faults: FileFaults
) -> tuple[float | None, bool]:
    """The feature's height, and whether it is sound; an empty attribute is no height."""
    value = columns["height"][index] if "height" in columns else None
    if value is None or value == "" or (isinstance(value, float) and math.isnan(value)):
        return None, True
    try:
        height = float(value)
    except (TypeError, ValueError):
        height = math.nan
    if math.isfinite(height):
        return height, True
    faults.add(f"{where}: its height {quoted(str(value)[:40])} is not a number", "write a plain number")
    return None, False


def _height_sound(height: float | None, factor: float, where: str, faults: FileFaults) -> bool:
    if height is None or LOWEST_GROUND_M <= height * factor <= HIGHEST_GROUND_M:
        return True
    cure = f"{LOWEST_GROUND_M:.0f} to {HIGHEST_GROUND_M:.0f} m is possible; heights are in units.height"
    faults.add(f"{where}: height {height:g} is impossible", cure)
    return False


def _text(value: Any) -> str:
    """An attribute as text; numbers that name points lose the decimals that a file format adds."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value).strip()


def _note_twins(points: list[tuple[str, ControlPoint]], faults: FileFaults) -> None:
    first: dict[str, str] = {}
    for where, point in points:
        if point.name in first:
            problem = f"{where}: the name {quoted(point.name)} is taken by {first[point.name]}"
            faults.add(problem, "give every point a name of its own")
        first.setdefault(point.name, where)
