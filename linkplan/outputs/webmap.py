"""The map for a browser, one file that works without any network: Leaflet, pictures and data inside.

Text from the job reaches the page in two ways only, escaped in the page's frame and as JSON that the
script turns into text nodes, so that a name can never become markup, script or a template.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan import __version__
from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.outputs import formats, readout, style
from linkplan.outputs.files import write_file
from linkplan.outputs.formats import Formats, geographic_position, typeset
from linkplan.outputs.leaflet import leaflet
from linkplan.outputs.overlays import Overlay, hillshade_picture, overlays
from linkplan.outputs.regrid import Regrid, onto, transformer
from linkplan.outputs.shapes import ClassArea, Place, places
from linkplan.outputs.text import answer_line
from linkplan.plan.model import Plan
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

MOST_PIXELS = 1200
"""Longer side of the pictures; larger maps show every second (third...) cell, the GeoTIFF has them all."""


def write_webmap(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, areas: tuple[ClassArea, ...], path: Path
) -> Path:
    """Write the map; `areas` are the exact class areas. Raises OutputError."""
    return write_file(path, webmap_html(plan, coverage, summary, areas))


def webmap_html(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, areas: tuple[ClassArea, ...]
) -> str:
    """The whole page; the same result gives the same text."""
    from pyproj import CRS

    from linkplan.outputs.webmap_frame import render

    placed = onto(coverage.grid, CRS.from_epsg(3857), most_pixels=MOST_PIXELS)
    layers = overlays(coverage, summary, placed)
    show = Formats.of(plan)
    data = _data(plan, coverage, summary, areas, layers, placed)
    corners = _corners(placed)
    software = leaflet()
    page = Page(
        title=plan.name,
        answer=answer_line(summary),
        prediction=style.PREDICTION,
        gaps_title=f"Gaps: {summary.gap_count}" if summary.gap_count else "No gaps",
        about=_about(
            plan, coverage, show, placed.transform.a * placed.crs.axis_info[0].unit_conversion_factor
        ),
        credit=f"linkplan {__version__}, map software Leaflet {software.version}",
        leaflet_css=software.style,
        leaflet_js=software.script,
        leaflet_licence=software.licence,
        leaflet_version=software.version,
        css=f"body {{ font-family: {style.FONT_STACK}; }}\n{asset('common.css')}{asset('map.css')}",
        js=asset("map.js"),
        data=script_json(data),
    )
    return render(page, hillshade_picture(coverage, placed), layers, corners)


@dataclass(frozen=True)
class Page:
    """Everything of the page but the folium map itself."""

    title: str
    answer: str
    prediction: str
    gaps_title: str
    about: tuple[str, ...]
    credit: str
    leaflet_css: str
    leaflet_js: str
    leaflet_licence: str
    leaflet_version: str
    css: str
    js: str
    data: str


def asset(name: str) -> str:
    """A style or script of this package."""
    return (resources.files("linkplan.outputs") / "assets" / name).read_text(encoding="utf-8")


def script_json(data: Any) -> str:
    """JSON that can stand inside a script element: no sign of it can end the element or start a comment."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _data(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, areas: tuple[ClassArea, ...],
    layers: tuple[Overlay, ...], placed: Regrid,
) -> dict[str, Any]:  # fmt: skip
    grid, show = coverage.grid, Formats.of(plan)
    boundary = grid.frame.geometry_to_geographic(grid.frame.geometry_to_local(plan.boundary))
    unknown = next((area.outline for area in areas if area.index == 0), None)
    west, south, east, north = boundary.union(boundary.centroid).bounds
    rim = [[pair[1], pair[0]] for pair in _corners(placed)]
    base = grid.frame.to_geographic(0.0, 0.0)
    view = [[min(west, base[0]), min(south, base[1])], [max(east, base[0]), max(north, base[1])]]
    return {
        "view": _rounded(view),
        "rim": _rounded(rim),
        "mercator": [round(edge, 3) for edge in placed.bounds],
        "boundary": _polygons(boundary),
        "unknown": _polygons(grid.frame.geometry_to_geographic(unknown)) if unknown is not None else [],
        "places": [_place(place, plan, coverage, summary, show) for place in places(plan, grid, summary)],
        "layers": [layer.described() for layer in layers],
        "fits": [list(row) for row in readout.fit(grid, placed).coefficients],
        "axes": list(show.axis_names),
        "digits": 6 if show.geographic else 1,
        "metric": show.metric,
        "metres_per_unit": METRES_PER_UNIT[show.length_unit],
        "opacity": style.OVERLAY_OPACITY,
    }


def _place(
    place: Place, plan: Plan, coverage: CoverageMap, summary: CoverageSummary, show: Formats
) -> dict[str, Any]:
    longitude, latitude = coverage.grid.frame.to_geographic(place.x_m, place.y_m)
    position = [show.position(place.easting, place.northing), geographic_position(longitude, latitude)]
    if place.kind == "gap":
        gap = next(one for one in summary.gaps if str(one.number) == place.name)
        margin = (
            "margin unknown"
            if gap.worst_margin_db is None
            else f"worst margin {formats.decibels(gap.worst_margin_db, signed=True)}"
        )
        title, label = f"Gap {gap.number} ({gap.kind})", f"G{gap.number}"
        at = f"{show.distance(gap.distance_m)} at {formats.azimuth(gap.azimuth_deg)} from the base"
        lines = [f"{gap.kind}, {show.area(gap.area_m2)}", at, margin, *position]
    elif place.kind == "base":
        title, label = f"Base {place.name}", place.name
        lines = [f"radio antenna {show.height(plan.base.antenna_height_m)} above ground", *position]
    else:
        title, label = place.name, place.name
        lines = [line for line in (place.note, *position) if line]
    return {
        "kind": place.kind, "label": label, "title": title, "lines": [typeset(line) for line in lines],
        "at": _rounded([[longitude, latitude]])[0],
    }  # fmt: skip


def _about(plan: Plan, coverage: CoverageMap, show: Formats, pixel_m: float) -> tuple[str, ...]:
    """`pixel_m` is the size of the picture's pixels on the ground."""
    grid = coverage.grid
    pixels = (
        "each cell is shown"
        if pixel_m < 1.5 * grid.cell_size_m
        else f"the picture shows one cell in every {show.distance(pixel_m)}, the GeoTIFF has them all"
    )
    return (
        f"Model: {style.MODEL}.",
        f"A cell is computed for a rover antenna {show.height(plan.rover.antenna_height_m)} above ground and "
        f"measures {show.distance(grid.cell_size_m)}; {pixels}.",
        f"Prediction spread (standard deviation): {formats.decibels(coverage.sigma_db)}. "
        f"Weakest usable level: {typeset(formats.decibels(coverage.weakest_usable_dbm, 'dBm'))}.",
        f"Coordinates: {show.crs_name}, then WGS 84 latitude and longitude.",
        f"Heights above: {grid.height_datum}. Azimuths are from true north.",
    )


def _corners(placed: Regrid) -> list[list[float]]:
    """South-west and north-east corner as latitude, longitude."""
    west, south, east, north = placed.bounds
    longitude, latitude = transformer("EPSG:3857", "EPSG:4326").transform([west, east], [south, north])
    return [[latitude[0], longitude[0]], [latitude[1], longitude[1]]]


def _mercator_scale(corners: list[list[float]]) -> float:
    """Metres on the ground for a metre of Web Mercator in the middle of the map."""
    return math.cos(math.radians((corners[0][0] + corners[1][0]) / 2.0))


def _polygons(geometry: BaseGeometry) -> list[list[list[list[float]]]]:
    """Polygons as rings of longitude, latitude, to 1e-6 of a degree."""
    return [
        [_rounded(ring.coords) for ring in (part.exterior, *part.interiors)]
        for part in getattr(geometry, "geoms", [geometry])
    ]


def _rounded(pairs: Any) -> list[list[float]]:
    rounded: list[list[float]] = np.round(np.asarray(pairs, dtype=float)[:, :2], 6).tolist()
    return rounded
