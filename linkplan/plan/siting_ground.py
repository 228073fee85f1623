"""The ground that siting looks at: zones that count more, what rules a place out, the line of a corridor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from linkplan.plan.boundary import AreaWords, make_sense, read_area, read_ring_or_file, read_shapes
from linkplan.plan.checking import Section
from linkplan.plan.rows import FileFaults
from linkplan.plan.siting_model import MACHINES, OverheadLine, SitingRules, Zone
from linkplan.plan.sky_model import Accuracy
from linkplan.plan.values import FARTHEST
from linkplan.plan.vector import Layer, LayerKeys
from linkplan.plan.words import NOTHING, Report
from linkplan.tables.overhead_lines import HIGHEST_KV

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely import LineString, MultiLineString, MultiPolygon, Polygon

SHARE_OUTSIDE = 0.001
"""What reaches over the boundary by a smaller share of itself was drawn along it."""

_ZONE = AreaWords("the zone", "the zone")
_KEEP_OUT = AreaWords("ground to keep off", "the ground to keep off")
_FENCED = AreaWords("ground that can be fenced", "the ground that can be fenced")


@dataclass(frozen=True)
class KnownElsewhere:
    """What other sections say that siting goes by."""

    accuracy: Accuracy | None
    """None where it is faulty."""
    arp_height_m: float | None
    """Of the base's GNSS antenna, as [occupation] measures it, or None."""


def read_zones(
    section: Section,
    goal_share: float | None,
    boundary: Polygon | MultiPolygon | None,
    crs: CRS | None,
    report: Report,
) -> tuple[Zone, ...]:
    """The zones, cut off at the boundary; faults are noted, and what has one is left out."""
    zones = []
    names = NameList(report)
    for number, entry in enumerate(section["zones"] or (), start=1):
        where = f"siting.zones[{number}]"
        names.add(where, entry)
        if "share" in entry.present and not entry["must"]:
            problem = "goes with must = true, as the share of the zone that must have corrections"
            report.fault(f"{where}.share", entry.raw("share"), problem, "add must = true, or leave it out")
        if entry["must"] and entry["weight"] == 0.0 and section["set_ups"] != "one":
            problem = "the zone is a must, and several set-ups are chosen by what has a weight"
            report.fault(f"{where}.weight", entry.raw("weight"), problem, "give it a weight above 0")
        _check_relies(entry, where, report)
        area = read_ring_or_file(entry, where, crs, _ZONE, report)
        if area is not None and boundary is not None:
            area = _inside(area, boundary, entry, where, report)
        if area is None or None in (entry["name"], entry["weight"]):
            continue
        share = entry["share"] or goal_share
        must_share = share if entry["must"] else None
        tolerance_mm: float | None = entry["tolerance_mm"]
        tolerance_m = None if tolerance_mm is None else tolerance_mm / 1000.0
        relies, speed_km_h = entry["relies"] or "", entry["speed_km_h"]
        zones.append(Zone(entry["name"], area, entry["weight"], must_share, tolerance_m, relies, speed_km_h))
    if boundary is not None and not report.faults:
        _see_that_something_counts(zones, boundary, report)
    return tuple(zones)


def _check_relies(entry: Section, where: str, report: Report) -> None:
    """Faults where a speed stands without those who have it, or machines without their speed."""
    if "speed_km_h" in entry.present and "relies" not in entry.present:
        problem = "is the speed of those who rely on corrections in the zone, and nobody does"
        cure = 'add relies = "machines" or relies = "people", or leave it out'
        report.fault(f"{where}.speed_km_h", entry.raw("speed_km_h"), problem, cure)
    if entry["relies"] == MACHINES and "speed_km_h" not in entry.present:
        problem = "missing: how long machines go without corrections follows from their speed"
        report.fault(f"{where}.speed_km_h", NOTHING, problem, "add it, such as speed_km_h = 6")


def _see_that_something_counts(zones: list[Zone], boundary: Polygon | MultiPolygon, report: Report) -> None:
    """A fault where the whole job has the weight 0: no place would be better than another."""
    import shapely

    if not zones or any(zone.weight > 0.0 for zone in zones):
        return
    rest = shapely.difference(boundary, shapely.union_all([zone.area for zone in zones]))
    if rest.area < SHARE_OUTSIDE * boundary.area:
        problem = "zones of weight 0 take up the whole job, so that nothing of it counts"
        cure = "give one of them a weight above 0, or make it smaller"
        report.fault("siting.zones", NOTHING, problem, cure)


class NameList:
    """The names of a list's entries, each of which is to be there once."""

    def __init__(self, report: Report) -> None:
        self._report = report
        self._taken: dict[str, str] = {}

    def add(self, where: str, entry: Section) -> None:
        """Take the entry's name; a fault where it is taken already."""
        name = entry["name"]
        if name in self._taken:
            problem = f"the name is taken by {self._taken[name]}"
            self._report.fault(f"{where}.name", name, problem, "give every entry a name of its own")
        elif name is not None:
            self._taken[name] = where


def _inside(
    area: Polygon | MultiPolygon,
    boundary: Polygon | MultiPolygon,
    entry: Section,
    where: str,
    report: Report,
) -> Polygon | MultiPolygon | None:
    """What of a zone lies inside the boundary; None, with a fault noted, where nothing does."""
    import shapely

    key = "file" if "file" in entry.present else "coordinates"
    parts = shapely.get_parts(shapely.intersection(area, boundary))
    inside = shapely.union_all([part for part in parts if part.geom_type == "Polygon"])
    if inside.is_empty:
        problem = "the zone lies outside the boundary altogether"
        report.fault(f"{where}.{key}", entry.raw(key), problem, "check both, and job.crs")
        return None
    outside = 1.0 - inside.area / area.area
    if outside >= SHARE_OUTSIDE:
        report.warn(
            f"{where}.{key}", f"{outside:.1%} of the zone lies outside the boundary and does not count"
        )
    return inside


def read_rules(
    section: Section,
    sections: Mapping[str, Section | None],
    known: KnownElsewhere,
    crs: CRS | None,
    report: Report,
) -> SitingRules | None:
    """What rules a place out; None where anything of the job is faulty. Faults of these keys are noted."""
    keep_out = read_area(LayerKeys(section, "siting", "keep_out_"), crs, _KEEP_OUT, report)
    lines = _overhead_lines(section, crs, report)
    fenced = read_area(LayerKeys(section, "siting", "fence_"), crs, _FENCED, report)
    tracks = read_lines(LayerKeys(section, "siting", "track_"), crs, report)
    if report.faults or known.accuracy is None:
        return None
    sheet, sky = sections["settings"] or Section({}), sections["sky"] or Section({})
    return SitingRules(
        known_control=section["known_control"],
        keep_out=keep_out,
        lines=lines,
        fall_factor=section["fall_factor"],
        fenced=fenced,
        fence_radius_m=section["fence_radius"],
        exposure_limits=section["exposure_limits"],
        elevation_mask_deg=_first(
            section["elevation_mask_deg"],
            sheet["elevation_mask_deg"],
            sky["elevation_mask_deg"],
            SitingRules.elevation_mask_deg,
        ),
        sky_blocked_share=section["sky_blocked_share"],
        gnss_antenna_height_m=_first(
            section["gnss_antenna_height"],
            sheet["base_antenna_height"],
            known.arp_height_m,
            SitingRules.gnss_antenna_height_m,
        ),
        tracks=tracks,
        track_distance_m=section["track_distance"],
        tolerance_m=known.accuracy.tolerance_m,
        accuracy_m=known.accuracy.horizontal_m,
        accuracy_ppm=known.accuracy.horizontal_ppm,
    )


def _first(*values: float | None) -> float:
    """The first that is stated."""
    return next(value for value in values if value is not None)


def _overhead_lines(section: Section, crs: CRS | None, report: Report) -> tuple[OverheadLine, ...]:
    found = []
    names = NameList(report)
    for number, entry in enumerate(section["lines"] or (), start=1):
        where = f"siting.lines[{number}]"
        names.add(where, entry)
        voltage_kv = entry["voltage_kv"]
        if voltage_kv is not None and voltage_kv > HIGHEST_KV and "clearance" not in entry.present:
            problem = f"missing: above {HIGHEST_KV:g} kV there is no usual one"
            cure = "ask the line's owner and add it, such as clearance = 20"
            report.fault(f"{where}.clearance", NOTHING, problem, cure)
        shape = read_lines(LayerKeys(entry, where), crs, report)
        if shape is not None and entry["name"] is not None:
            found.append(OverheadLine(entry["name"], shape, voltage_kv, entry["clearance"]))
    return tuple(found)


def read_lines(keys: LayerKeys, crs: CRS | None, report: Report) -> MultiLineString | None:
    """The lines of a layer in the job's coordinate system; None, with faults noted, where there are none."""
    import shapely

    parts = read_shapes(keys, crs, report, _lines_in)
    if not parts or crs is None or not make_sense(parts, crs, keys.faults(report)):
        return None
    return shapely.MultiLineString(list(shapely.get_parts(parts)))


def _lines_in(layer: Layer, faults: FileFaults) -> list[Any] | None:
    """A layer's lines; None, with faults noted, when one of its shapes will not do."""
    import numpy as np
    import shapely

    before = faults.count
    found = []
    for number, shape in enumerate(layer.shapes, start=1):
        if shape is None or shape.is_empty:
            faults.report.warn(faults.key, f"feature {number} has no shape and is left out")
        elif shape.geom_type not in ("LineString", "MultiLineString"):
            faults.add(f"feature {number} is a {shape.geom_type}", "lines are wanted; choose another layer")
        elif not (np.abs(shapely.get_coordinates(shape)) <= FARTHEST).all():  # so too for what is not finite
            faults.add(f"feature {number} has a point that is no possible coordinate")
        elif not all(part.length > 0.0 for part in shapely.get_parts(shape)):
            faults.add(f"feature {number} has no length", "mend it in the program that drew it")
        else:
            found.append(shape)
    if not found and faults.count == before:
        faults.add("holds no line", "draw it as a line")
    return found if faults.count == before else None


def read_corridor(
    section: Section, boundary: Polygon | MultiPolygon | None, crs: CRS | None, report: Report
) -> LineString | None:
    """The centre line of a corridor in one piece; None, with faults noted, where there is none."""
    import shapely

    keys = LayerKeys(section, "siting", "corridor_")
    if section["set_ups"] == "corridor" and not keys.stands("file"):
        cure = 'add it, such as corridor_file = "corridor.gpkg", or choose other set_ups'
        problem = 'missing: set_ups = "corridor" needs the line along which the base moves'
        report.fault(keys.path("file"), NOTHING, problem, cure)
    lines = read_lines(keys, crs, report)
    if lines is None:
        return None
    # A stretch that stands there twice would be walked there and back.
    once = {line.normalize().wkb: line for line in lines.geoms}
    whole = shapely.line_merge(shapely.MultiLineString(list(once.values())))
    faults = keys.faults(report)
    if whole.geom_type != "LineString":
        problem = f"its lines do not join end to end into one line, but make {len(whole.geoms)} pieces"
        faults.add(problem, "snap their ends together, and take branches away, in the program that drew it")
        return None
    if boundary is not None and not whole.intersects(boundary):
        faults.add("the corridor lies outside the boundary altogether", "check both, and job.crs")
    elif boundary is not None:
        outside = float(whole.difference(boundary).length / whole.length)
        if outside >= SHARE_OUTSIDE:
            report.warn(faults.key, f"{outside:.1%} of the corridor lies outside the boundary")
    return whole
