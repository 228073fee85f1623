"""The search for a browser: coverage of the winner, or of all set-ups, with every place that was tried."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.outputs import formats, style
from linkplan.outputs.files import write_file
from linkplan.outputs.formats import typeset
from linkplan.outputs.overlays import Overlay, data_uri
from linkplan.outputs.regrid import Regrid
from linkplan.outputs.shapes import ClassArea, places
from linkplan.outputs.siting_marks import GROUP, Extra, Mark
from linkplan.outputs.siting_words import clean
from linkplan.outputs.webmap import More, asset, rounded, webmap_html
from linkplan.plan.model import Plan
from linkplan.siting.results import SetUp
from linkplan.terrain.geodesy import LocalFrame

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

LISTED = 40
"""Places in the panel's list; the map has them all."""

GROUPS = {
    False: {"chosen": "Best place", "ranked": "Places that serve, ranked", "out": "Places ruled out"},
    True: {"chosen": "Set-ups", "ranked": "Places not needed", "out": "Places ruled out"},
}
"""Names of the groups of marks, without and with several set-ups."""

STROKES: dict[str, list[dict[str, Any]]] = {
    "zone": [
        {"color": "#ffffff", "weight": 5, "opacity": 0.85},
        {"color": "#000000", "weight": 2, "dashArray": "2 4"},
    ],
    "keep-out": [{"color": "#5c0a0a", "weight": 2, "fill": True, "fillColor": "url(#crossed)"}],
    "line": [
        {"color": "#ffffff", "weight": 6, "opacity": 0.9},
        {"color": "#000000", "weight": 8, "dashArray": "8 24"},
        {"color": "#000000", "weight": 2.5},
    ],
    "track": [
        {"color": "#ffffff", "weight": 4, "opacity": 0.7},
        {"color": "#5b4a33", "weight": 2, "dashArray": "9 5"},
    ],
    "fence": [
        {"color": "#ffffff", "weight": 4, "opacity": 0.7},
        {"color": "#27508a", "weight": 1.8, "dashArray": "12 4 2 4"},
    ],
    "stand": [{"color": "#ffffff", "weight": 3.5}, {"color": "#1d2530", "weight": 1.3, "dashArray": "1 3"}],
    "corridor": [{"color": "#ffffff", "weight": 4}, {"color": "#000000", "weight": 1.8}],
    "link": [
        {"color": "#ffffff", "weight": 6},
        {"color": style.BASE_FILL, "weight": 3, "dashArray": "10 5"},
    ],
}
"""How each kind of outline is drawn: strokes from below to above; kinds differ without colour too."""

HIDDEN = {"track", "fence", "stand"}
"""Kinds that are shown when asked for."""

GROUP_OF_OUTLINES = {
    "zone": "Zones",
    "keep-out": "Ground where no mast may stand",
    "line": "Overhead lines",
    "track": "Tracks",
    "fence": "Ground that can be fenced",
    "stand": "Ground where a base may stand",
    "corridor": "Line of the corridor",
    "link": "Links to repeaters",
}

SERVING_ORDER = (4, 1, 3, 0, 2)
"""Colours of the scale as set-ups take them in turn: neighbours far apart, in grey too."""


def write_siting_webmap(
    plan: Plan,
    coverage: CoverageMap,
    summary: CoverageSummary,
    areas: tuple[ClassArea, ...],
    extra: Extra,
    path: Path,
    *,
    set_ups: tuple[SetUp, ...] = (),
    serving: NDArray[np.int16] | None = None,
) -> Path:
    """Write the map; `serving`: which of the `set_ups` serves a cell, from 1. Raises OutputError."""

    def layers(placed: Regrid) -> tuple[Overlay, ...]:
        return (_serving(set_ups, serving, placed),) if serving is not None else ()

    more = More(
        answer=typeset(extra.answer),
        good=extra.good,
        list_title=extra.heading,
        css=asset("marks.css"),
        js=asset("marks.js"),
        data=_data(plan, coverage, summary, extra),
        layers=layers,
        last_class=extra.last_class,
    )
    return write_file(path, webmap_html(plan, coverage, summary, areas, more))


def _data(plan: Plan, coverage: CoverageMap, summary: CoverageSummary, extra: Extra) -> dict[str, Any]:
    """What goes over the coverage map's own data."""
    frame = coverage.grid.frame
    others = [
        _control(place.name, place.note, frame, place.x_m, place.y_m, plan)
        for place in places(plan, coverage.grid, summary)
        if place.kind == "control" and not extra.at(place.x_m, place.y_m)
    ]
    marks = [
        _mark(mark, frame, extra.counted, listed=number < LISTED) for number, mark in enumerate(extra.marks)
    ]
    names = GROUPS[extra.several]
    present = {GROUP[mark.kind] for mark in extra.marks}
    return {
        "places": marks + others,
        "groups": [
            [key, name, next(mark.kind for mark in extra.marks if GROUP[mark.kind] == key)]
            for key, name in names.items()
            if key in present
        ],
        "outlines": [
            {
                "name": GROUP_OF_OUTLINES[kind],
                "strokes": STROKES[kind],
                "hidden": kind in HIDDEN,
                "shapes": [_shape(one.name, frame.geometry_to_geographic(one.shape)) for one in some],
            }
            for kind, some in groupby(extra.outlines, key=lambda one: one.kind)
        ],
        "several": extra.several,
        "view": rounded(_view(plan, coverage, extra)),
    }


def _mark(mark: Mark, frame: LocalFrame, counted: str, *, listed: bool) -> dict[str, Any]:
    found: dict[str, Any] = {
        "kind": GROUP[mark.kind],
        "sign": mark.kind,
        "number": mark.number,
        "order": mark.order,
        "label": mark.name,
        "title": mark.title,
        "at": rounded([frame.to_geographic(mark.x_m, mark.y_m)])[0],
        "lines": [typeset(line) for line in mark.lines],
    }
    if listed and mark.row is not None:
        found["listed"] = [*(typeset(part) for part in mark.row), counted]
    return found


def _control(name: str, note: str, frame: LocalFrame, x_m: float, y_m: float, plan: Plan) -> dict[str, Any]:
    """A control point that is no candidate."""
    at = frame.to_geographic(x_m, y_m)
    show = formats.Formats.of(plan)
    easting, northing = (float(value) for value in frame.to_job(x_m, y_m))
    where = show.positions(easting, northing, *at)
    lines = [*([clean(note)] if note else []), *where]
    return {
        "kind": "control",
        "label": clean(name),
        "title": clean(name),
        "at": rounded([at])[0],
        "lines": [typeset(line) for line in lines],
    }


def _shape(name: str, geometry: BaseGeometry) -> dict[str, Any]:
    """Polygons as rings, lines as one ring each."""
    import shapely

    flat = [part for part in shapely.get_parts(geometry).tolist() if not part.is_empty]
    closed = any(part.geom_type == "Polygon" for part in flat)
    parts = [
        [rounded(ring.coords) for ring in (part.exterior, *part.interiors)]
        if part.geom_type == "Polygon"
        else [rounded(part.coords)]
        for part in flat
        if (part.geom_type == "Polygon") == closed
    ]
    return {"name": name, "closed": closed, "parts": parts}


def _view(plan: Plan, coverage: CoverageMap, extra: Extra) -> list[list[float]]:
    """South-west and north-east corner (longitude, latitude) of the job with the places on its map."""
    grid = coverage.grid
    west, south, east, north = grid.extent_m
    on = [mark for mark in extra.marks if west < mark.x_m < east and south < mark.y_m < north]
    bounds = grid.frame.geometry_to_local(plan.boundary).bounds
    x = [bounds[0], bounds[2], *(mark.x_m for mark in on)]
    y = [bounds[1], bounds[3], *(mark.y_m for mark in on)]
    corners = [grid.frame.to_geographic(min(x), min(y)), grid.frame.to_geographic(max(x), max(y))]
    return [[float(value) for value in corner] for corner in corners]


def _serving(set_ups: tuple[SetUp, ...], serving: NDArray[np.int16] | None, placed: Regrid) -> Overlay:
    """Which set-up serves a cell best: five colours in turn, a shade apart so that each tells its number."""
    assert serving is not None
    colours: list[style.Rgb] = []
    legend = []
    for at, one in enumerate(set_ups):
        turn, which = divmod(at, len(SERVING_ORDER))
        red, green, blue = style.VIRIDIS[SERVING_ORDER[which]]
        colours.append((red, green, min(blue + turn, 255)))
        seen = style.on_ground(colours[-1])
        legend.append(
            {
                "name": clean(one.candidate.place.name),
                "number": str(one.order),
                "note": f"{formats.percent(one.covered_share)} of the job by itself",
                "colour": style.hex_of(seen),
                "ink": style.ink_on(seen),
            }
        )
    legend.append({"name": "none", "note": "No set-up is known to serve here within the baseline limit."})
    words = [f"served best by set-up {one.order}" for one in set_ups]
    index = placed.look_up(serving.astype(np.uint8), 0)
    values = {",".join(map(str, rgb)): word for rgb, word in zip(colours, words, strict=True)}
    return Overlay("serving", "Which set-up serves", data_uri(index, colours), tuple(legend), values)
