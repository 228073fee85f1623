"""The job's boundary: polygons from a vector file or from coordinates, checked and made one."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.plan.checking import Section
from linkplan.plan.places import check_places, horizontal, read_crs, transform
from linkplan.plan.rows import FileFaults
from linkplan.plan.values import FARTHEST
from linkplan.plan.vector import Layer, LayerKeys, read_layer
from linkplan.plan.words import Report

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely import MultiPolygon, Polygon


@dataclass(frozen=True)
class AreaWords:
    """How messages speak of an area."""

    what: str
    """As the subject of a sentence, e.g. "the boundary"."""
    inside: str
    """What its polygons enclose, e.g. "the job"."""


BOUNDARY = AreaWords("the boundary", "the job")


def read_boundary(section: Section, crs: CRS | None, report: Report) -> Polygon | MultiPolygon | None:
    """The boundary in the job's coordinate system; None, with faults noted, when there is none.

    Several polygons are joined. An edge stays straight between its ends in whichever system it is
    drawn in: over 10 km that moves its middle by some 2 m, less than a map's cell.
    """
    return read_ring_or_file(section, "boundary", crs, BOUNDARY, report)


def read_ring_or_file(
    section: Section, table: str, crs: CRS | None, words: AreaWords, report: Report
) -> Polygon | MultiPolygon | None:
    """The area of a table with `coordinates` or a `file`, in the job's coordinate system, or None."""
    keys = LayerKeys(section, table)
    if section["coordinates"] is None:
        return read_area(keys, crs, words, report)
    keys.note_strays(report)
    key, raw = f"{table}.coordinates", section.raw("coordinates")
    return polygon_of(section["coordinates"], crs, FileFaults(report, key, raw), words)


def read_area(
    keys: LayerKeys, crs: CRS | None, words: AreaWords, report: Report
) -> Polygon | MultiPolygon | None:
    """The polygons of a layer as one, in the job's coordinate system; None where there are none to be had."""
    found = read_shapes(keys, crs, report, lambda layer, faults: polygons_in(layer, faults, words))
    return joined(found, crs, keys.faults(report)) if found is not None and crs is not None else None


def read_shapes(
    keys: LayerKeys,
    crs: CRS | None,
    report: Report,
    choose: Callable[[Layer, FileFaults], list[Any] | None],
) -> list[Any] | None:
    """What `choose` takes of a layer, in the job's coordinate system; None, with faults noted, where none."""
    path: Path | None = keys["file"]
    if path is None:
        return None
    faults = keys.faults(report)
    layer = read_layer(path, keys["layer"], faults, keys.path("layer"))
    shapes = choose(layer, faults) if layer is not None else None
    faults.close()
    if layer is None:
        return None
    source = layer_crs(layer, keys, report)
    return None if not shapes or crs is None or source is None else into(shapes, source, crs)


def layer_crs(layer: Layer, keys: LayerKeys, report: Report) -> CRS | None:
    """The coordinate system of a layer: the file's own, or what the table says where it has none."""
    stated = read_crs(keys["crs"], keys.path("crs"), report) if keys["crs"] else None
    if layer.crs is None:
        if not keys.stands("crs"):
            problem = "the file does not say its coordinate system"
            home = keys.table if keys.table.endswith("]") else f"[{keys.table}]"
            cure = f'add {keys.word}crs = "EPSG:..." to {home}'
            report.fault(keys.path("file"), keys.raw("file"), problem, cure)
        return stated
    if stated is not None and horizontal(stated) != horizontal(layer.crs):
        problem = f"the file itself says {layer.crs.name}"
        report.fault(keys.path("crs"), keys.raw("crs"), problem, "leave this key out, or mend the file")
    return layer.crs


def into(shapes: list[Any], source: CRS, target: CRS) -> list[Any]:
    """Shapes from one coordinate system in another."""
    import shapely

    if horizontal(source) == horizontal(target):
        return shapes
    return list(shapely.transform(shapes, lambda points: transform(points, source, target)))


def polygon_of(
    ring: tuple[tuple[float, float], ...], crs: CRS | None, faults: FileFaults, words: AreaWords
) -> Polygon | None:
    """Corners in the job's coordinate system as a polygon; None, with faults noted, where they make none."""
    import shapely

    polygon = shapely.Polygon(ring)
    problem = what_is_wrong(polygon)
    if problem:
        faults.add(problem, f"list the corners in order around {words.inside}")
    if crs is None:
        return None
    sound = check_places(np.array(ring), crs, faults.key, faults.written, faults.report)
    return polygon if sound and not problem else None


def polygons_in(layer: Layer, faults: FileFaults, words: AreaWords) -> list[Any] | None:
    """A layer's polygons; None, with faults noted, when one of its shapes will not do."""
    before = faults.count
    found = []
    for number, shape in enumerate(layer.shapes, start=1):
        if shape is None or shape.is_empty:
            faults.report.warn(faults.key, f"feature {number} has no shape and is left out")
        elif shape.geom_type not in ("Polygon", "MultiPolygon"):
            only = f"{words.what} is made of polygons only"
            cure = f"{only}; close lines into polygons, or choose another layer"
            faults.add(f"feature {number} is a {shape.geom_type}", cure)
        else:
            problem = what_is_wrong(shape)
            if problem:
                faults.add(f"feature {number} {problem}", "mend it in the program that drew it")
            found.append(shape)
    if not found and faults.count == before:
        faults.add("holds no polygon", f"draw the limit of {words.inside} as a polygon")
    return found if faults.count == before else None


def joined(polygons: list[Any], crs: CRS, faults: FileFaults) -> Polygon | MultiPolygon | None:
    """Polygons that are in `crs` already as one; None, with faults noted, where they make no sense there."""
    import shapely

    if not make_sense(polygons, crs, faults):
        return None
    joined = shapely.union_all(polygons)
    problem = what_is_wrong(joined)
    if problem:
        faults.report.fault(faults.key, faults.written, f"the joined polygons: {problem}")
        return None
    return joined


def make_sense(shapes: list[Any], crs: CRS, faults: FileFaults) -> bool:
    """Note shapes in `crs` that cannot be meant there, after they were brought into it."""
    import shapely

    points = shapely.get_coordinates(shapes)
    if np.isfinite(points).all():
        return check_places(points, crs, faults.key, faults.written, faults.report)
    problem = f"cannot be brought into {crs.name}"
    faults.report.fault(faults.key, faults.written, problem, "check job.crs and the file's own")
    return False


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
