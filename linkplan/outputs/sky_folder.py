"""The output folder of a sky: page, figures, map, table of times, the whole result and the summary."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path
from typing import Any

import numpy as np

from linkplan.outputs import canvas
from linkplan.outputs import sky_words as words
from linkplan.outputs.encode import to_jsonable
from linkplan.outputs.files import Written, write_file
from linkplan.outputs.sky_map import sky_map
from linkplan.outputs.sky_page import sky_html
from linkplan.outputs.sky_plot import sky_plot
from linkplan.outputs.sky_text import sky_text
from linkplan.outputs.sky_timeline import timeline
from linkplan.sky.results import Stretch, SystemDay, WorkingDay
from linkplan.study import SkyStudy
from linkplan.workable import tolerance_limits


def sky_object(sky: SkyStudy) -> dict[str, Any]:
    """The result for programs: the sentence, whether it is a yes, then the figures; SI units in the names."""
    base, rovers, day = sky.base, sky.rovers, sky.base.day
    return {
        "answer": words.answer_line(sky),
        "reached": sky.reached,
        "typical_not_for_a_date": base.orbits.typical,
        "working_hours": {**_stretch(words.whole_day(day)), "time_zone": day.time_zone, "step_s": day.step_s},
        "gate": {
            "least_satellites": base.least_satellites,
            "greatest_pdop": base.greatest_pdop,
            "elevation_mask_deg": base.mask_deg,
        },
        "systems": [_system(one, day) for one in base.systems],
        "together": _system(base.together, day),
        "held_back": [_stretch(one) for one in day.stretches(base.together.held_back)],
        "horizon": {
            "unknown_share": base.unknown_share,
            "azimuths_deg": to_jsonable(base.horizon.azimuths_deg, arrays=True),
            "horizon_deg": to_jsonable(base.horizon.horizon_deg, arrays=True),
        },
        "rovers": {
            "places": int(rovers.rows.size),
            "least_common": rovers.least_common,
            "greatest_pdop": rovers.greatest_pdop,
            "wanted_share_of_the_time": rovers.wanted_share,
            "suffices_share": rovers.suffices_share,
            "all_day_share": rovers.all_day_share,
            "worst_utc": _utc(day, rovers.worst_time),
            "worst_local": day.local[rovers.worst_time].isoformat(),
            "enough_at_worst_share": rovers.enough_at_worst_share,
            "fewest_common_at_worst": sky.fewest_common_at_worst,
            "fewest_common": sky.fewest_common,
            "unknown_ground_share": sky.unknown_ground_share,
        },
        "wanted_share": sky.plan.goal.share,
        "orbits": to_jsonable(base.orbits),
        "accuracy": to_jsonable(sky.plan.accuracy),
        "baseline_limits": [to_jsonable(one) for one in tolerance_limits(sky.plan)],
        "base_position": words.position_lines(sky.plan),
    }


def sky_csv(sky: SkyStudy) -> str:
    """A row a time: UTC, local, satellites of each system and together, dilutions, 1 where held back."""
    base, day = sky.base, sky.base.day
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    names = [one.name for one in base.systems]
    writer.writerow(["utc", "local", *names, "together", "pdop", "hdop", "vdop", "held_back"])
    together = base.together
    for at in range(len(day.utc)):
        counts = [int(one.satellites[at]) for one in (*base.systems, together)]
        dops = [_number(float(values[at])) for values in (together.pdop, together.hdop, together.vdop)]
        times = [_utc(day, at), day.local[at].isoformat()]
        writer.writerow([*times, *counts, *dops, int(together.held_back[at])])
    return out.getvalue()


def write_sky(sky: SkyStudy, folder: Path) -> list[Written]:
    """Everything into an existing folder. Raises OutputError."""
    text = json.dumps(sky_object(sky), indent=2, ensure_ascii=False, allow_nan=False)
    pictures = _pictures(sky)
    figures = [Written(write_file(folder / name, pictures[name]), what) for name, what in _FIGURES.items()]
    rest = [
        Written(
            write_file(folder / "sky.csv", sky_csv(sky)),
            "A row a time: satellites of each system, PDOP, HDOP, VDOP, held back or not.",
        ),
        Written(
            write_file(folder / "summary.txt", sky_text(sky) + "\n"), "The answer as the terminal shows it."
        ),
        Written(
            write_file(folder / "sky.json", text + "\n"), "The result for programs, SI units in the names."
        ),
    ]
    files = [*figures, *rest]
    page = sky_html(sky, pictures["skyplot.svg"], pictures["timeline.svg"], pictures["map.png"], files)
    return [Written(write_file(folder / "sky.html", page), "Start here: all of it on one page."), *files]


_FIGURES = {
    "skyplot.png": "The base's sky: real horizon, obstructions, tracks of the satellites by system.",
    "skyplot.svg": "The same as a drawing.",
    "timeline.png": "Satellites in view and PDOP over the working day, held-back hours shaded.",
    "map.png": "Rovers: satellites in common with the base at the worst time; open sky.",
}


def _pictures(sky: SkyStudy) -> dict[str, bytes]:
    with canvas.house_style():
        dials, day, rovers = sky_plot(sky), timeline(sky), sky_map(sky)
        return {
            "skyplot.png": canvas.png_bytes(dials),
            "skyplot.svg": canvas.svg_bytes(dials),
            "timeline.png": canvas.png_bytes(day),
            "timeline.svg": canvas.svg_bytes(day),
            "map.png": canvas.png_bytes(rovers),
        }


def _system(one: SystemDay, day: WorkingDay) -> dict[str, Any]:
    return {
        "name": one.name,
        "fewest": one.fewest,
        "most": one.most,
        "worst_pdop": one.worst_pdop,
        "worst_hdop": one.worst_hdop,
        "worst_vdop": one.worst_vdop,
        "held_share": one.held_share,
        "held_hours": day.hours_of(one.held_back),
    }


def _stretch(one: Stretch) -> dict[str, Any]:
    return {
        "start_utc": f"{one.start_utc:%Y-%m-%dT%H:%M:%SZ}",
        "end_utc": f"{one.end_utc:%Y-%m-%dT%H:%M:%SZ}",
        "start_local": one.start_local.isoformat(),
        "end_local": one.end_local.isoformat(),
        "hours": one.hours,
    }


def _utc(day: WorkingDay, index: int) -> str:
    return f"{day.utc[index]:%Y-%m-%dT%H:%M:%SZ}"


def _number(value: float) -> str:
    return "" if math.isnan(value) else f"{np.round(value, 3):g}"
