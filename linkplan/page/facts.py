"""What a job is, for the page: where it lies, what may be moved, which layers and tasks there are."""

from __future__ import annotations

import math
import os
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from linkplan.outputs import style
from linkplan.outputs.formats import SHORT, Formats, crs_label
from linkplan.outputs.readout import fit
from linkplan.outputs.regrid import Regrid
from linkplan.page.jobs import OpenJob
from linkplan.page.pictures import LAYERS, NAMES, legend_of, ramp_of
from linkplan.page.placing import degrees, extent
from linkplan.page.set_up import EDITABLE, UNIT, Editable, base_body, limits, numbers_of
from linkplan.plan.model import Plan
from linkplan.terrain.geodesy import WGS84, horizontal_crs, transformer_between
from linkplan.terrain.grid import TerrainGrid
from linkplan.units import METRES_PER_UNIT
from linkplan.workable import asked

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

MOST_POINTS = 2000
"""Control points, and other places, that are sent to the browser: those nearest to the base."""


def facts_body(job: OpenJob) -> dict[str, Any]:
    """Everything that the page shows before anything is computed."""
    plan = job.plan()
    region = job.ground.region(plan)
    west, south, east, north = extent(region.grid)
    (left, right), (bottom, top) = degrees([west, east], [south, north])
    address = f"api/job/{quote(job.name)}/hillshade.png?stamp={region.stamp[:16]}-{plan.job_hash[:8]}"
    return {
        "job": job.name,
        "name": plan.name,
        "notes": plan.notes,
        "job_hash": plan.job_hash,
        "writable": os.access(job.path, os.W_OK),
        "terrain_stamp": region.stamp,
        "units": units_body(plan),
        "ground": {
            "bounds": [[float(bottom), float(left)], [float(top), float(right)]],
            "hillshade": address,
            "cell_size_m": region.grid.cell_size_m,
            "height_datum": region.grid.height_datum,
            "mercator": [west, south, east, north],
            "fits": [list(row) for row in _fits(region.grid, (west, south, east, north))],
            "digits": 6 if plan.crs.is_geographic else 1,
        },
        **_places(plan),
        "set_up": {**numbers_of(plan), "base": base_body(plan)},
        "set_up_keys": [_key_body(plan, one) for one in EDITABLE],
        "goal": {
            "chance": plan.goal.chance,
            "share": plan.goal.share,
            "baseline_limit_m": plan.goal.baseline_limit_m,
        },
        "layers": [_layer(plan, layer) for layer in LAYERS],
        "compare_layers": [_layer(plan, layer) for layer in ("served", "gain")],
        "opacity": style.OVERLAY_OPACITY,
        "prediction": style.PREDICTION,
        "cautions": list(style.CAUTIONS),
        "warnings": list(plan.warnings),
        "tasks": tasks_body(plan),
    }


def _fits(grid: TerrainGrid, box: tuple[float, float, float, float]) -> tuple[tuple[float, ...], ...]:
    """Formulas for easting, northing and local metres over the picture of the ground: `outputs.readout`."""
    import numpy as np
    from affine import Affine
    from pyproj import CRS

    west, south, east, north = box
    corner = Affine(east - west, 0.0, west, 0.0, south - north, north)
    found = fit(grid, Regrid(CRS.from_epsg(3857), corner, np.zeros((1, 1), dtype=np.int32)))
    return found.coefficients


def units_body(plan: Plan) -> dict[str, Any]:
    """How numbers are shown."""
    show = Formats.of(plan)
    return {
        "length": plan.length_unit, "length_short": SHORT[plan.length_unit],
        "metres_per_length": METRES_PER_UNIT[plan.length_unit],
        "height": plan.height_unit, "height_short": SHORT[plan.height_unit],
        "metres_per_height": METRES_PER_UNIT[plan.height_unit],
        "coordinate_short": show.coordinate_unit, "axis_names": list(show.axis_names),
        "geographic": show.geographic, "crs": crs_label(plan.crs),
    }  # fmt: skip


def _key_body(plan: Plan, one: Editable) -> dict[str, Any]:
    low, high = limits(one.job_key)
    height = one.kind == "height"
    per_unit = METRES_PER_UNIT[plan.height_unit] if height else 1.0
    now = numbers_of(plan)[one.key]
    return {
        "key": one.key, "job_key": one.job_key, "label": one.label,
        "unit": SHORT[plan.height_unit] if height else UNIT[one.kind], "per_unit": per_unit,
        "low": low, "high": high if math.isfinite(high) else None,
        "slider_low": max(low, min(one.slider_low, now)), "slider_high": min(high, max(one.slider_high, now)),
        "step": one.step * per_unit if height else one.step,
    }  # fmt: skip


def _layer(plan: Plan, layer: str) -> dict[str, Any]:
    why_not = ""
    if layer == "workable" and not asked(plan):
        why_not = "the job asks for corrections alone: it has no [sky], tolerance or baseline limit"
    ramp, ticks = ramp_of(layer)
    return {
        "key": layer, "name": NAMES[layer], "available": not why_not, "why_not": why_not,
        "slow": layer == "openness" or (layer == "workable" and plan.sky is not None),
        "legend": list(legend_of(layer, plan.goal.chance)), "ramp": ramp, "ticks": ticks,
    }  # fmt: skip


def tasks_body(plan: Plan) -> dict[str, Any]:
    """Which questions can be asked of a job, and why the others cannot."""
    from linkplan.errors import PlaceError
    from linkplan.siting.places import all_places

    places, siting = 0, ""
    if plan.siting is None:
        siting = "the job has no [siting] that names places to compare"
    else:
        try:
            places = len(all_places(plan))
        except PlaceError as error:
            siting = str(error).rpartition("/")[2]
    no_stream = "" if plan.corrections is not None else "the job does not say what the base sends"
    return {
        "siting": {"available": not siting, "why_not": siting, "places": places,
                   "mode": plan.siting.mode if plan.siting is not None else ""},
        "airtime": {"available": True, "why_not": no_stream},
        "channels": {"available": True, "why_not": ""},
        "safety": {"available": True, "why_not": ""},
        "agree": {"available": True, "why_not": ""},
        "log": {"available": True, "why_not": ""},
        "capture": {"available": True, "why_not": ""},
        "export": {"available": True, "why_not": ""},
    }  # fmt: skip


def _places(plan: Plan) -> dict[str, Any]:
    """Areas, lines and points of the job in WGS 84."""
    siting = plan.siting
    west, south, east, north = moved(plan, plan.boundary).bounds
    zones = siting.zones if siting is not None else ()
    places = [one for one in (siting.places if siting is not None else ()) if not one.known]
    rules = siting.rules if siting is not None else None
    return {
        "boundary": moved(plan, plan.boundary).__geo_interface__,
        "boundary_bounds": [[south, west], [north, east]],
        "zones": [
            {
                "name": zone.name, "geometry": _shape(plan, zone.area), "weight": zone.weight,
                "must_share": zone.must_share, "tolerance_m": zone.tolerance_m, "relies": zone.relies,
                "speed_km_h": zone.speed_km_h,
            }
            for zone in zones
        ],
        "lines": _lines(plan),
        "keep_out": None if rules is None or rules.keep_out is None else _shape(plan, rules.keep_out),
        "corridor": None if siting is None or siting.corridor is None else _shape(plan, siting.corridor),
        "control_points": _points(plan, [(one.name, one) for one in plan.control_points]),
        "control_points_total": len(plan.control_points),
        "places": _points(plan, [(one.name, one) for one in places]),
    }  # fmt: skip


def _lines(plan: Plan) -> list[dict[str, Any]]:
    from linkplan.coverage.mast_room import line_clearance_m

    found, show = [], Formats.of(plan)
    for line in plan.siting.rules.lines if plan.siting is not None else ():
        clearance, basis = line_clearance_m(line)
        found.append(
            {
                "name": line.name, "geometry": _shape(plan, line.shape), "voltage_kv": line.voltage_kv,
                "clearance_m": clearance, "clearance_basis": basis,
                "clearance_words": f"keep {show.height(clearance)} away; the line's owner decides",
            }
        )  # fmt: skip
    return found


def _points(plan: Plan, named: list[tuple[str, Any]]) -> list[dict[str, Any]]:
    """The nearest to the base, in the job's order."""
    import numpy as np

    if not named:
        return []
    easting = np.array([one.easting for _, one in named], dtype=np.float64)
    northing = np.array([one.northing for _, one in named], dtype=np.float64)
    far = np.hypot(easting - plan.base.easting, northing - plan.base.northing)
    chosen = np.sort(np.argsort(far, kind="stable")[:MOST_POINTS])
    longitude, latitude = transformer_between(horizontal_crs(plan.crs), WGS84).transform(easting, northing)
    return [
        {
            "name": named[at][0], "code": getattr(named[at][1], "code", ""), "easting": float(easting[at]),
            "northing": float(northing[at]), "height_m": named[at][1].height_m,
            "longitude": float(longitude[at]), "latitude": float(latitude[at]),
        }
        for at in chosen
        if math.isfinite(longitude[at]) and math.isfinite(latitude[at])
    ]  # fmt: skip


def _shape(plan: Plan, geometry: BaseGeometry) -> Any:
    return moved(plan, geometry).__geo_interface__


def moved(plan: Plan, geometry: BaseGeometry) -> BaseGeometry:
    """A shape of the job in WGS 84."""
    import numpy as np
    import shapely

    to_wgs84 = transformer_between(horizontal_crs(plan.crs), WGS84)
    return shapely.transform(
        geometry, lambda points: np.column_stack(to_wgs84.transform(points[:, 0], points[:, 1]))
    )
