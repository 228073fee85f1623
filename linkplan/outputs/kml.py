"""Coverage for a phone: a KML 2.2 document with the classes, gaps, base, control points and boundary.

Outlines are rounded off by at most a cell and coordinates kept to 1e-6 of a degree, so that the file stays
small; nothing in it is fetched from elsewhere. [OGC 07-147r2, KML 2.2]
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from linkplan.coverage.results import CoverageMap, CoverageSummary, Gap
from linkplan.outputs import formats, style
from linkplan.outputs.files import write_file
from linkplan.outputs.formats import Formats
from linkplan.outputs.shapes import ClassArea, Place, drawn_boundary, places
from linkplan.outputs.text import answer_line
from linkplan.plan.model import Plan

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

NAMESPACE = "http://www.opengis.net/kml/2.2"


def write_kml(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, areas: tuple[ClassArea, ...], path: Path
) -> Path:
    """Write the document. Raises OutputError."""
    return write_file(path, kml_bytes(plan, coverage, summary, areas))


def kml_bytes(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, areas: tuple[ClassArea, ...]
) -> bytes:
    """The document as UTF-8."""
    frame = coverage.grid.frame
    root = ET.Element("kml", xmlns=NAMESPACE)
    document = _child(root, "Document")
    _child(document, "name", plan.name)
    _child(document, "description", f"{answer_line(summary)} {style.PREDICTION}")
    _styles(document, areas)
    folder = _folder(document, "Coverage")
    show = Formats.of(plan)
    for area in areas:
        _area(folder, area, frame.geometry_to_geographic(area.outline), show)
    boundary = frame.geometry_to_geographic(drawn_boundary(plan, coverage.grid))
    mark = _placemark(_folder(document, "Job"), "Boundary", "boundary", plan.name)
    _polygons(mark, boundary)
    _points(document, places(plan, coverage.grid, summary), coverage, summary, show)
    ET.indent(root, " ")
    return (
        ET.tostring(root, encoding="unicode")
        .join(('<?xml version="1.0" encoding="UTF-8"?>\n', "\n"))
        .encode()
    )


def _styles(document: ET.Element, areas: tuple[ClassArea, ...]) -> None:
    for area in areas:
        one = _child(document, "Style", id=f"class-{area.index}")
        line = _child(one, "LineStyle")
        _child(line, "color", _colour(area.rgb or style.HATCH_RGB, 0.9))
        _child(line, "width", "1")
        fill = _child(one, "PolyStyle")
        _child(fill, "color", _colour(area.rgb or style.HATCH_RGB, 0.55 if area.rgb else 0.15))
    boundary = _child(document, "Style", id="boundary")
    line = _child(boundary, "LineStyle")
    _child(line, "color", "ff000000")
    _child(line, "width", "3")
    _child(_child(boundary, "PolyStyle"), "fill", "0")
    for kind, colour, scale in (
        ("base", "ff6c00d6", "1.3"),
        ("control", "ffffffff", "0.8"),
        ("gap", "ff000000", "0.9"),
    ):
        icon = _child(_child(document, "Style", id=kind), "IconStyle")
        _child(icon, "color", colour)
        _child(icon, "scale", scale)


def _area(folder: ET.Element, area: ClassArea, outline: BaseGeometry, show: Formats) -> None:
    name = f"{area.index} {area.name}" if area.index else area.name
    mark = _placemark(folder, name, f"class-{area.index}", area.meaning)
    data = _child(mark, "ExtendedData")
    chance = (
        formats.chance_range(area.chance_low, area.chance_high)
        if area.chance_low is not None and area.chance_high is not None
        else "unknown"
    )
    for key, value in (("class", str(area.index)), ("chance", chance), ("area", show.area(area.area_m2))):
        _child(_child(data, "Data", name=key), "value", value)
    _polygons(mark, outline)


def _points(
    document: ET.Element,
    found: tuple[Place, ...],
    coverage: CoverageMap,
    summary: CoverageSummary,
    show: Formats,
) -> None:
    frame = coverage.grid.frame
    gaps = {str(gap.number): gap for gap in summary.gaps}
    for kind, title in (("base", "Base"), ("control", "Control points"), ("gap", "Gaps")):
        chosen = [place for place in found if place.kind == kind]
        folder = _folder(document, title) if chosen else document
        for place in chosen:
            name = f"Gap {place.name}" if kind == "gap" else place.name
            note = _gap_note(gaps[place.name], show) if kind == "gap" else place.note
            mark = _placemark(
                folder, name, kind, f"{show.position(place.easting, place.northing)}. {note}".strip()
            )
            longitude, latitude = frame.to_geographic(place.x_m, place.y_m)
            _child(_child(mark, "Point"), "coordinates", f"{longitude:.7f},{latitude:.7f}")


def _gap_note(gap: Gap, show: Formats) -> str:
    margin = "unknown" if gap.worst_margin_db is None else formats.decibels(gap.worst_margin_db, signed=True)
    return (
        f"{gap.kind}: {show.area(gap.area_m2)}, {show.distance(gap.distance_m)} from the base at "
        f"{formats.azimuth(gap.azimuth_deg)}, worst margin {margin}"
    )


def _polygons(mark: ET.Element, geometry: BaseGeometry) -> None:
    parts = [part for part in getattr(geometry, "geoms", [geometry]) if not part.is_empty]
    holder = _child(mark, "MultiGeometry") if len(parts) != 1 else mark
    for part in parts:
        _polygon(holder, part)


def _polygon(holder: ET.Element, part: Polygon) -> None:
    polygon = _child(holder, "Polygon")
    for tag, ring in [
        ("outerBoundaryIs", part.exterior),
        *(("innerBoundaryIs", ring) for ring in part.interiors),
    ]:
        text = " ".join(f"{x:.6f},{y:.6f}" for x, y in ring.coords)
        _child(_child(_child(polygon, tag), "LinearRing"), "coordinates", text)


def _folder(parent: ET.Element, name: str) -> ET.Element:
    folder = _child(parent, "Folder")
    _child(folder, "name", name)
    return folder


def _placemark(folder: ET.Element, name: str, style_id: str, description: str) -> ET.Element:
    mark = _child(folder, "Placemark")
    _child(mark, "name", name)
    if description:
        _child(mark, "description", _as_text(description))
    _child(mark, "styleUrl", f"#{style_id}")
    return mark


def _as_text(description: str) -> str:
    """Descriptions are shown as HTML by some phones: what looks like markup is escaped once more."""
    return description.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _child(parent: ET.Element, tag: str, text: str = "", **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, tag, attributes)
    if text:
        child.text = _printable(text)
    return child


def _printable(text: str) -> str:
    """Without the characters that XML 1.0 forbids [W3C Recommendation, 5th edition, production 2, Char]."""
    return re.sub("[^\t\n\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "", text)


def _colour(rgb: style.Rgb, opacity: float) -> str:
    """KML's order: opacity, blue, green, red."""
    red, green, blue = rgb
    return f"{round(255 * opacity):02x}{blue:02x}{green:02x}{red:02x}"
