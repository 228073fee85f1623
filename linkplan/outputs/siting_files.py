"""The candidates of a search as a table and as points: CSV for spreadsheets, a GeoPackage for GIS and CAD."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkplan.outputs import siting_reasons, siting_words
from linkplan.outputs.files import write_file
from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_marks import outlines_of
from linkplan.outputs.siting_words import clean
from linkplan.outputs.vectors import table_of, write_layers
from linkplan.plan.model import Plan
from linkplan.siting.results import Judged, SitingResult
from linkplan.units import watt_from_dbm

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

FORMULA_SIGNS = ("=", "+", "-", "@")
"""What a spreadsheet takes for the beginning of a formula."""

LAYER = {
    "zone": "zones",
    "keep-out": "keep_out",
    "line": "overhead_lines",
    "fence": "fence",
    "stand": "base_ground",
    "track": "tracks",
    "corridor": "corridor",
    "link": "links",
}
"""Layer of each kind of outlines."""


def write_ranking(plan: Plan, result: SitingResult, path: Path) -> Path:
    """Every candidate, a row each: ranked ones first, then the others by number. Raises OutputError."""
    ranked = {number: rank for rank, number in enumerate(result.ranking)}
    order = sorted(result.judged, key=lambda one: (ranked.get(one.number, len(ranked)), one.number))
    show = Formats.of(plan)
    rows = [fields_of(result, one, show) for one in order]
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writerow({name: cell(name) for name in rows[0]})
    writer.writerows({name: cell(value) for name, value in row.items()} for row in rows)
    return write_file(path, text.getvalue())


def cell(value: Any) -> Any:
    """A value for a table that a spreadsheet opens: text stays text and no formula; ten figures do."""
    if isinstance(value, float):
        return float(f"{value:.10g}")
    if not isinstance(value, str):
        return "" if value is None else value
    text = "".join(sign if sign.isprintable() else " " for sign in value)
    return f"'{text}" if text.lstrip().startswith(FORMULA_SIGNS) else text


def fields_of(result: SitingResult, one: Judged, show: Formats) -> dict[str, Any]:
    """A candidate as named values in SI units; None where nothing is known."""
    candidate, outcome = one.candidate, one.outcome
    place = candidate.place
    fields: dict[str, Any] = {
        "rank": one.rank,
        "number": one.number,
        "place": clean(place.name),
        "easting": place.easting,
        "northing": place.northing,
        "known_control": int(place.known),
        "antenna_height_m": candidate.antenna_height_m,
        "antenna": siting_words.antenna_name(candidate),
        "power_w": round(float(watt_from_dbm(candidate.power_dbm)), 6),
        "accepted": int(one.accepted),
        "covered_share": None if outcome is None else outcome.covered_share,
        "weighted_share": None if outcome is None else outcome.weighted_share,
    }
    for number, name in enumerate(result.zone_names):
        key = f"zone_{number + 1}_share ({clean(name)})"
        fields[key] = None if outcome is None else outcome.zone_shares[number]
    fields |= {
        "no_data_share": None if outcome is None else outcome.no_data_share,
        "workable_share": None if outcome is None else outcome.workable_share,
        "worst_margin_db": None if outcome is None else outcome.worst_margin_db,
        "longest_baseline_m": None if outcome is None else outcome.longest_baseline_m,
        "first_in_draws": one.best_cases if one.rank is not None and result.cases else None,
        "draws": result.cases or None,
        "before_the_next_by": one.decided_by or None,
        "ruled_out_by": _joined(one, show, held=False),
        "cannot_be_judged": _joined(one, show, held=None),
    }
    return fields


def _joined(one: Judged, show: Formats, *, held: bool | None) -> str | None:
    words = [siting_reasons.finding_words(found, show) for found in one.findings if found.held is held]
    return "; ".join(words) or None


def write_candidates(plan: Plan, result: SitingResult, path: Path) -> Path:
    """Points and ground in the job's coordinates, a layer a kind. Raises OutputError."""
    from shapely import Point

    def at(one: Judged) -> BaseGeometry:
        place = one.candidate.place
        return Point(place.easting, place.northing)

    show = Formats.of(plan)
    candidates = [(fields_of(result, one, show), at(one)) for one in result.judged]
    layers = {"candidates": table_of(candidates, plan.crs)}
    if result.together is not None and result.together.set_ups:
        rows = []
        for one in result.together.set_ups:
            fields = {
                "order": one.order,
                "role": one.role,
                "place": clean(one.candidate.place.name),
                "number": one.number,
                "antenna_height_m": one.candidate.antenna_height_m,
                "power_w": round(float(watt_from_dbm(one.candidate.power_dbm)), 6),
                "covered_share": one.covered_share,
                "only_share": one.only_share,
                "check_point": clean(one.check_point) if one.check_point else None,
                "link_margin_db": one.link_margin_db,
            }
            rows.append((fields, at(result.judged[one.number - 1])))
        layers["set_ups"] = table_of(rows, plan.crs)
    layers["boundary"] = table_of([({"name": clean(plan.name)}, plan.boundary)], plan.crs)
    outlines = outlines_of(plan, result)
    for kind, layer in LAYER.items():
        some = [one for one in outlines if one[0] == kind]
        if some:
            layers[layer] = table_of([({"name": name}, shape) for _, name, shape in some], plan.crs)
    return write_layers(layers, path)
