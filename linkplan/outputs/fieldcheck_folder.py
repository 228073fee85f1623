"""The output folder of a field check: summary, figure, maps, samples for GIS, the whole result."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.fieldcheck.check import FieldAnswer
from linkplan.outputs import canvas, fieldcheck_words
from linkplan.outputs.encode import to_jsonable
from linkplan.outputs.fieldcheck_figures import reliability_figure
from linkplan.outputs.fieldcheck_map import write_field_figure, write_field_webmap
from linkplan.outputs.fieldcheck_marks import NAMES, kinds_of
from linkplan.outputs.fieldcheck_text import fieldcheck_text
from linkplan.outputs.files import Written, write_file
from linkplan.outputs.siting_words import clean
from linkplan.outputs.vectors import table_of, write_layers

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


def fieldcheck_object(answer: FieldAnswer) -> dict[str, Any]:
    """The result for programs: the sentence, whether it is a yes, then the figures; SI units in the names."""
    samples = answer.samples
    return {
        "answer": fieldcheck_words.answer_line(answer),
        "holds": answer.holds,
        "verdict": to_jsonable(answer.verdict),
        "calibration_judged": to_jsonable(answer.plan.calibration),
        "options": to_jsonable(answer.options),
        "samples": len(samples),
        "sources": to_jsonable(samples.sources),
        "in_time_share": to_jsonable(answer.in_time_share),
        "scores": to_jsonable(answer.scores),
        "wrong_places": to_jsonable(answer.wrong),
        "other_bases": to_jsonable(answer.other_bases),
        "learned": to_jsonable(answer.learned),
        "calibration_learned": to_jsonable(answer.calibration),
        "covered_share_judged": answer.summary.covered_share,
        "covered_share_learned": answer.covered_share,
        "notes": list(answer.notes),
    }


def write_fieldcheck(answer: FieldAnswer, folder: Path) -> list[Written]:
    """Everything into an existing folder. Raises OutputError."""
    text = json.dumps(fieldcheck_object(answer), indent=2, ensure_ascii=False, allow_nan=False)
    return [
        Written(
            write_field_webmap(answer, folder / "map.html"),
            "The map for a browser: where it was wrong, and where another base was used.",
        ),
        Written(
            write_field_figure(answer, folder / "map.png"), "The same for paper, readable in black and white."
        ),
        *_reliability(answer, folder),
        Written(
            _write_samples(answer, folder / "samples.gpkg"),
            "For GIS and CAD, in the job's coordinates: samples, wrong places, other bases.",
        ),
        Written(
            write_file(folder / "summary.txt", fieldcheck_text(answer) + "\n"),
            "The answer as the terminal shows it.",
        ),
        Written(
            write_file(folder / "fieldcheck.json", text + "\n"),
            "The whole result for programs, SI units in the names.",
        ),
    ]


def _reliability(answer: FieldAnswer, folder: Path) -> list[Written]:
    """Nothing where there is nothing to draw."""
    if not (answer.scores.outcomes or answer.scores.levels):
        return []
    with canvas.house_style():
        figure = reliability_figure(answer)
        png = canvas.save(figure, folder / "reliability.png")
        svg = canvas.save(figure, folder / "reliability.svg")
    what = "Predicted chance against observed share, with intervals; measured against predicted levels."
    return [Written(png, what), Written(svg, "The same as a drawing.")]


def _write_samples(answer: FieldAnswer, path: Path) -> Path:
    from shapely import Point

    plan, frame = answer.plan, answer.coverage.grid.frame
    layers = {"samples": table_of(_sample_rows(answer), plan.crs)} if len(answer.samples) else {}
    wrong: list[tuple[dict[str, Any], BaseGeometry]] = [
        (
            {
                "number": one.number,
                "kind": one.kind,
                "samples": one.samples,
                "predicted_share": one.predicted_share,
                "observed_share": one.observed_share,
                "level_error_db": one.level_error_db,
            },
            Point(one.easting, one.northing),
        )
        for one in answer.wrong
    ]
    others = [
        (
            {
                "station": clean(spot.station),
                "epochs": spot.epochs,
                "file": fieldcheck_words.short_name(answer.samples.sources[spot.source]),
            },
            Point(*frame.to_job(spot.x_m, spot.y_m)),
        )
        for spot in answer.samples.other_bases
    ]
    for name, rows in (("wrong_places", wrong), ("other_bases", others)):
        if rows:
            layers[name] = table_of(rows, plan.crs)
    layers["boundary"] = table_of([({"name": clean(plan.name)}, plan.boundary)], plan.crs)
    return write_layers(layers, path)


def _sample_rows(answer: FieldAnswer) -> list[tuple[dict[str, Any], BaseGeometry]]:
    from shapely import points

    samples, predicted = answer.samples, answer.predicted
    names = [fieldcheck_words.short_name(one) for one in samples.sources]
    places = points(*answer.coverage.grid.frame.to_job(samples.x_m, samples.y_m))
    kinds = kinds_of(answer).tolist()
    columns = {
        "level_dbm": samples.level_dbm,
        "predicted_dbm": predicted.received_dbm,
        "chance": predicted.chance,
        "margin_db": predicted.margin_db,
        "distance_m": predicted.distance_m,
    }
    outcomes = {"in_time": samples.outcome, "arrived": samples.arrived}
    rows = []
    for at, place in enumerate(places.tolist()):
        fields: dict[str, Any] = {"file": names[samples.source[at]], "time_utc": _time(samples.utc_s[at])}
        fields |= {key: None if value[at] < 0 else int(value[at]) for key, value in outcomes.items()}
        fields |= {
            key: round(float(value[at]), 3) if np.isfinite(value[at]) else None
            for key, value in columns.items()
        }
        fields["what"] = NAMES.get(kinds[at], "")
        rows.append((fields, place))
    return rows


def _time(utc_s: float) -> str | None:
    return f"{datetime.fromtimestamp(utc_s, UTC):%Y-%m-%dT%H:%M:%SZ}" if np.isfinite(utc_s) else None
