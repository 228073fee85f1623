"""The job's boundary: polygons from a vector file or from coordinates, checked and made one."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.plan.checking import Section
from linkplan.plan.places import check_places, horizontal, read_crs, transform
from linkplan.plan.rows import FileFaults
from linkplan.plan.values import FARTHEST
from linkplan.plan.vector import Layer, read_layer
from linkplan.plan.words import Report

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely import MultiPolygon, Polygon


def read_boundary(section: Section, crs: CRS | None, report: Report) -> Polygon | MultiPolygon | None:
    """The boundary in the job's coordinate system; None, with faults noted, when there is none.

    Several polygons are joined. An edge stays straight between its ends in whichever system it is
    drawn in: over 10 km that moves its middle by some 2 m, less than a map's cell.
    """
    if section["coordinates"] is not None:
        return _from_coordinates(section, crs, report)
    path: Path | None = section["file"]
    if path is None:
        return None
    faults = FileFaults(report, "boundary.file", section.raw("file"))
    layer = read_layer(path, section["layer"], faults, "boundary.layer")
    polygons = polygons_in(layer, faults) if layer is not None else None
    faults.close()
    if layer is None:
        return None
    source = layer_crs(layer, section, "boundary", report)
    if not polygons or crs is None or source is None:
        return None
    return joined(into(polygons, source, crs), crs, faults)


def layer_crs(layer: Layer, section: Section, table: str, report: Report) -> CRS | None:
    """The coordinate system of a layer: the file's own, or what the table says where it has none."""
    stated = read_crs(section["crs"], f"{table}.crs", report) if section["crs"] else None
    if layer.crs is None:
        if "crs" not in section.present:
            problem = "the file does not say its coordinate system"
            cure = f'add crs = "EPSG:..." to [{table}]'
            report.fault(f"{table}.file", section.raw("file"), problem, cure)
        return stated
    if stated is not None and horizontal(stated) != horizontal(layer.crs):
        problem = f"the file itself says {layer.crs.name}"
        report.fault(f"{table}.crs", section.raw("crs"), problem, "leave this key out, or mend the file")
    return layer.crs


def into(shapes: list[Any], source: CRS, target: CRS) -> list[Any]:
    """Shapes from one coordinate system in another."""
    import shapely

    if horizontal(source) == horizontal(target):
        return shapes
    return list(shapely.transform(shapes, lambda points: transform(points, source, target)))


def _from_coordinates(section: Section, crs: CRS | None, report: Report) -> Polygon | None:
    import shapely

    ring = section["coordinates"]
    raw = section.raw("coordinates")
    if "layer" in section.present or "crs" in section.present:
        extra = "layer" if "layer" in section.present else "crs"
        report.fault(f"boundary.{extra}", section.raw(extra), "goes with boundary.file only", "leave it out")
    polygon = shapely.Polygon(ring)
    problem = what_is_wrong(polygon)
    if problem:
        report.fault("boundary.coordinates", raw, problem, "list the corners in order around the job")
    if crs is None:
        return None
    sound = check_places(np.array(ring), crs, "boundary.coordinates", raw, report)
    return polygon if sound and not problem else None


def polygons_in(layer: Layer, faults: FileFaults) -> list[Any] | None:
    """A layer's polygons; None, with faults noted, when one of its shapes will not do."""
    before = faults.count
    found = []
    for number, shape in enumerate(layer.shapes, start=1):
        if shape is None or shape.is_empty:
            faults.report.warn(faults.key, f"feature {number} has no shape and is left out")
        elif shape.geom_type not in ("Polygon", "MultiPolygon"):
            cure = "the boundary is made of polygons only; close lines into polygons, or choose another layer"
            faults.add(f"feature {number} is a {shape.geom_type}", cure)
        else:
            problem = what_is_wrong(shape)
            if problem:
                faults.add(f"feature {number} {problem}", "mend it in the program that drew it")
            found.append(shape)
    if not found and faults.count == before:
        faults.add("holds no polygon", "draw the limit of the job as a polygon")
    return found if faults.count == before else None


def joined(polygons: list[Any], crs: CRS, faults: FileFaults) -> Polygon | MultiPolygon | None:
    """Polygons that are in `crs` already as one; None, with faults noted, where they make no sense there."""
    import shapely

    points = shapely.get_coordinates(polygons)
    if not np.isfinite(points).all():
        faults.report.fault(
            faults.key,
            faults.written,
            f"cannot be brought into {crs.name}",
            "check job.crs and the file's own",
        )
        return None
    if not check_places(points, crs, faults.key, faults.written, faults.report):
        return None
    joined = shapely.union_all(polygons)
    problem = what_is_wrong(joined)
    if problem:
        faults.report.fault(faults.key, faults.written, f"the joined polygons: {problem}")
        return None
    return joined


def what_is_wrong(shape: Any) -> str:
    """What keeps a polygon from being a boundary, in words with the place, or ""."""
    import shapely

    if shape.is_empty:
        return "is empty"
    if not (np.abs(shapely.get_coordinates(shape)) <= FARTHEST).all():  # holds for what is not finite too
        return "has a corner that is no possible coordinate"
    if shape.convex_hull.area == 0.0:
        return "has no area: its corners lie on one line"
    reason = str(shapely.is_valid_reason(shape))
    if reason != "Valid Geometry":
        found = re.fullmatch(r"(.*?)\s*\[(\S+) (\S+)\]", reason)
        words, place = (found[1], f" at {found[2]}, {found[3]}") if found else (reason, "")
        fixed = {"Self-intersection": "crosses itself", "Ring Self-intersection": "touches itself"}
        return f"{fixed.get(words, 'is not sound: ' + words.lower())}{place}"
    return ""
