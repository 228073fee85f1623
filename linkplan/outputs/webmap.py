"""The map for a browser, one file that works without any network: Leaflet, pictures and data inside.

Text from the job reaches the page in two ways only, escaped in the page's frame and as JSON that the
script turns into text nodes, so that a name can never become markup, script or a template.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan import __version__
from linkplan.coverage.results import CoverageMap, CoverageSummary, Gap
from linkplan.outputs import formats, readout, style
from linkplan.outputs.calibration_words import calibration_line
from linkplan.outputs.contours import contour_lines
from linkplan.outputs.files import write_file
from linkplan.outputs.formats import Formats, grouped, typeset
from linkplan.outputs.leaflet import leaflet
from linkplan.outputs.overlays import Overlay, hillshade_picture, overlays
from linkplan.outputs.regrid import Regrid, onto, transformer
from linkplan.outputs.shapes import ClassArea, drawn_boundary, limit_on_map_m, places
from linkplan.outputs.text import answer_line, gaps_title
from linkplan.outputs.workable_looks import work_overlays
from linkplan.outputs.workable_words import Work, work_line, work_remarks
from linkplan.plan.model import Plan
from linkplan.terrain.grid import TerrainGrid
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

MOST_PIXELS = 1200
"""Longer side of the pictures; larger maps show every second (third...) cell, the GeoTIFF has them all."""
CONTOUR_UNITS = 8191
"""Steps into which the longer side of the map is divided for the corners of contours."""


@dataclass(frozen=True)
class More:
    """What a question beyond coverage adds to the page, or says in its place."""

    answer: str
    good: bool
    list_title: str
    css: str
    js: str
    """Functions that the page's script calls where `data` asks for them."""
    data: dict[str, Any]
    """Goes over what the script is told of the job."""
    layers: Callable[[Regrid], tuple[Overlay, ...]]
    last_class: str = ""
    """What the last class of chance means beside its own words."""


def write_webmap(
    plan: Plan,
    coverage: CoverageMap,
    summary: CoverageSummary,
    areas: tuple[ClassArea, ...],
    path: Path,
    work: Work | None = None,
) -> Path:
    """Write the map; `areas` are the exact class areas, `work` where work can go on. Raises OutputError."""
    return write_file(path, webmap_html(plan, coverage, summary, areas, work=work))


def webmap_html(
    plan: Plan,
    coverage: CoverageMap,
    summary: CoverageSummary,
    areas: tuple[ClassArea, ...],
    more: More | None = None,
    work: Work | None = None,
) -> str:
    """The whole page; the same result gives the same text."""
    from pyproj import CRS

    from linkplan.outputs.webmap_frame import render

    placed = onto(coverage.grid, CRS.from_epsg(3857), most_pixels=MOST_PIXELS)
    layers = overlays(coverage, summary, placed)
    if work is not None:
        layers = (*layers, *work_overlays(work, coverage.grid, placed))
    if more:
        layers = (_noted(layers[0], more.last_class), *layers[1:], *more.layers(placed))
    show = Formats.of(plan)
    data = _data(plan, coverage, summary, areas, layers, placed) | (more.data if more else {})
    corners = _corners(placed)
    software = leaflet()
    pixel_m = placed.transform.a * placed.crs.axis_info[0].unit_conversion_factor
    page = Page(
        title=plan.name,
        covered=more.good if more else _reached(summary, work),
        answer=more.answer if more else _answer(summary, work),
        prediction=style.PREDICTION,
        gaps_title=more.list_title if more else gaps_title(summary),
        about=(*_about_work(plan, work), *_about(plan, coverage, show, pixel_m)),
        credit=f"linkplan {__version__}, map software Leaflet {software.version}",
        leaflet_css=software.style,
        leaflet_js=software.script,
        leaflet_licence=software.licence,
        leaflet_version=software.version,
        css=f"body {{ font-family: {style.FONT_STACK}; }}\n{asset('common.css')}{asset('map.css')}"
        + (more.css if more else ""),
        js=asset("labels.js") + asset("map.js") + (more.js if more else ""),
        data=script_json(data),
    )
    return render(page, hillshade_picture(coverage, placed), layers, corners)


@dataclass(frozen=True)
class Page:
    """Everything of the page but the folium map itself."""

    title: str
    covered: bool
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
    boundary = grid.frame.geometry_to_geographic(drawn_boundary(plan, grid))
    unknown = next((area.outline for area in areas if area.index == 0), None)
    west, south, east, north = boundary.bounds
    rim = [[pair[1], pair[0]] for pair in _corners(placed)]
    base = grid.frame.to_geographic(0.0, 0.0)
    view = [[min(west, base[0]), min(south, base[1])], [max(east, base[0]), max(north, base[1])]]
    return {
        "view": rounded(view),
        "rim": rounded(rim),
        "mercator": [round(edge, 3) for edge in placed.bounds],
        "boundary": polygons(boundary),
        "unknown": polygons(grid.frame.geometry_to_geographic(unknown)) if unknown is not None else [],
        "places": _places(plan, coverage, summary, show),
        "limit": _limit(coverage, summary, show),
        "contours": _contours(grid, placed, show),
        "contour": style.CONTOUR,
        "layers": [layer.described() for layer in layers],
        "fits": [list(row) for row in readout.fit(grid, placed).coefficients],
        "axes": list(show.axis_names),
        "digits": 6 if show.geographic else 1,
        "wgs84": show.wgs84,
        "metric": show.metric,
        "metres_per_unit": METRES_PER_UNIT[show.length_unit],
        "opacity": style.OVERLAY_OPACITY,
    }


def _noted(layer: Overlay, words: str) -> Overlay:
    """The layer of classes with more words at the last class, which stands before "no data"."""
    *before, last, unknown = layer.legend
    note = " ".join(part for part in (last["note"], words) if part)
    return replace(layer, legend=(*before, {**last, "note": note}, unknown))


def _limit(coverage: CoverageMap, summary: CoverageSummary, show: Formats) -> dict[str, Any] | None:
    """The circle of the baseline limit as a ring of longitudes and latitudes."""
    limit_m = limit_on_map_m(coverage, summary)
    if limit_m is None:
        return None
    turn = np.linspace(0.0, 2.0 * np.pi, 181)
    ring = coverage.grid.frame.to_geographic(limit_m * np.cos(turn), limit_m * np.sin(turn))
    return {"name": f"Baseline limit, {show.distance(limit_m)}", "ring": rounded(np.column_stack(ring))}


def _contours(grid: TerrainGrid, placed: Regrid, show: Formats) -> dict[str, Any] | None:
    """Lines as whole numbers: the first corner, then steps, CONTOUR_UNITS over the picture's longer side."""
    found = contour_lines(grid, show.height_unit)
    if found is None:
        return None
    step_m, lines = found
    move = transformer(grid.frame.local_crs.to_wkt(), placed.crs.to_wkt())
    west, south, east, north = placed.bounds
    size = max(east - west, north - south) / CONTOUR_UNITS
    coded = []
    for line in lines:
        x, y = move.transform(line.points[:, 0], line.points[:, 1])
        whole = np.rint(np.column_stack([(x - west) / size, (y - south) / size])).astype(int)
        steps = np.diff(whole, axis=0, prepend=0)
        keep = (steps != 0).any(axis=1)
        keep[0] = True
        number = grouped(line.height_m / METRES_PER_UNIT[show.height_unit]) if line.numbered else ""
        coded.append([number, steps[keep].ravel().tolist()])
    every = show.height(step_m, 0 if step_m >= 1.0 else 2)
    return {"name": f"Contours every {every}", "size": size, "lines": coded}


def _places(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, show: Formats
) -> list[dict[str, Any]]:
    gaps = {str(gap.number): gap for gap in summary.gaps}
    unit, areas = show.area_column([gap.area_m2 for gap in summary.gaps])
    shown = dict(zip(gaps, areas, strict=True))
    found = []
    for place in places(plan, coverage.grid, summary):
        at = coverage.grid.frame.to_geographic(place.x_m, place.y_m)
        if place.kind == "gap":
            gap = gaps[place.name]
            title, label = f"Gap {gap.number} ({gap.kind})", f"G{gap.number}"
            lines = _gap_lines(gap, f"{shown[place.name]} {unit}", show)
        elif place.kind == "base":
            title, label = f"Base {place.name}", place.name
            lines = [f"radio antenna {show.height(plan.base.antenna_height_m)} above ground"]
        else:
            title, label, lines = place.name, place.name, [place.note] if place.note else []
        lines += show.positions(place.easting, place.northing, *at)
        found.append(
            {"kind": place.kind, "label": label, "title": title, "at": rounded([at])[0],
             "lines": [typeset(line) for line in lines]}
        )  # fmt: skip
    return found


def _gap_lines(gap: Gap, area: str, show: Formats) -> list[str]:
    margin = "unknown" if gap.worst_margin_db is None else formats.decibels(gap.worst_margin_db, signed=True)
    return [
        f"{gap.kind}, {area}",
        f"{show.distance(gap.distance_m)} at {formats.azimuth(gap.azimuth_deg)} from the base",
        f"worst margin {margin}",
    ]


def _reached(summary: CoverageSummary, work: Work | None) -> bool:
    return work.reached if work is not None and work.decides else summary.all_covered


def _answer(summary: CoverageSummary, work: Work | None) -> str:
    return answer_line(summary) + (f" {typeset(work_line(work))}" if work is not None else "")


def _about_work(plan: Plan, work: Work | None) -> tuple[str, ...]:
    return () if work is None else tuple(map(typeset, work_remarks(plan, work)))


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
        *([calibration_line(plan)] if plan.calibration is not None else []),
        f"Prediction spread (standard deviation): {formats.decibels(coverage.sigma_db)}. "
        f"Weakest usable level: {typeset(formats.decibels(coverage.weakest_usable_dbm, 'dBm'))}.",
        f"Coordinates: {show.crs_name}{'' if show.wgs84 else ', then WGS 84 latitude and longitude'}.",
        f"Heights above: {grid.height_datum}. Azimuths are from true north.",
    )


def _corners(placed: Regrid) -> list[list[float]]:
    """South-west and north-east corner as latitude, longitude."""
    west, south, east, north = placed.bounds
    longitude, latitude = transformer("EPSG:3857", "EPSG:4326").transform([west, east], [south, north])
    return [[latitude[0], longitude[0]], [latitude[1], longitude[1]]]


def polygons(geometry: BaseGeometry) -> list[list[list[list[float]]]]:
    """Polygons as rings of longitude, latitude, to 1e-6 of a degree."""
    return [
        [rounded(ring.coords) for ring in (part.exterior, *part.interiors)]
        for part in getattr(geometry, "geoms", [geometry])
    ]


def rounded(pairs: Any) -> list[list[float]]:
    """Pairs of longitude and latitude to 1e-6 of a degree."""
    found: list[list[float]] = np.round(np.asarray(pairs, dtype=float)[:, :2], 6).tolist()
    return found
