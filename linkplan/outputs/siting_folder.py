"""The output folder of a search: ranking, candidates, the whole result, map, figures and summary."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.outputs import canvas, siting_words
from linkplan.outputs.encode import to_jsonable
from linkplan.outputs.files import Written, write_file
from linkplan.outputs.formats import Formats
from linkplan.outputs.shapes import class_areas
from linkplan.outputs.siting_curve import write_curve
from linkplan.outputs.siting_files import write_candidates, write_ranking
from linkplan.outputs.siting_marks import Extra, extra_of
from linkplan.outputs.siting_text import siting_text
from linkplan.outputs.siting_webmap import write_siting_webmap
from linkplan.plan.model import Plan
from linkplan.siting.results import SitingResult

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def siting_object(plan: Plan, result: SitingResult) -> dict[str, Any]:
    """The result for programs: the sentence, whether it is a yes, then every field."""
    answer = siting_words.answer_line(result, Formats.of(plan))
    reached = siting_words.reaches(result)
    learned = {"calibration": to_jsonable(plan.calibration)}
    return {"answer": answer, "reached": reached, **to_jsonable(result), **learned}


def write_siting(
    plan: Plan,
    result: SitingResult,
    drawn: tuple[CoverageMap, CoverageSummary] | None,
    folder: Path,
    serving: NDArray[np.int16] | None = None,
) -> list[Written]:
    """Everything into an existing folder. Raises OutputError.

    `plan` has the winner for its base, or any where several set-ups work together; `drawn` is the coverage of
    the winner or of all set-ups, None where no place serves: then there is no map. `serving` says which
    set-up serves a cell, from 1.
    """
    text = json.dumps(siting_object(plan, result), indent=2, ensure_ascii=False, allow_nan=False)
    return [
        *(_pictures(plan, result, drawn, folder, serving) if drawn is not None else []),
        Written(
            write_ranking(plan, result, folder / "ranking.csv"),
            "Every candidate, best first, with its figures and what rules it out.",
        ),
        Written(
            write_candidates(plan, result, folder / "candidates.gpkg"),
            "For GIS and CAD, in the job's coordinates: candidates, zones, ground and lines.",
        ),
        Written(
            write_file(folder / "summary.txt", siting_text(plan, result) + "\n"),
            "The answer as the terminal shows it.",
        ),
        Written(
            write_file(folder / "siting.json", text + "\n"),
            "The whole result for programs, SI units in the names.",
        ),
    ]


def _pictures(
    plan: Plan,
    result: SitingResult,
    drawn: tuple[CoverageMap, CoverageSummary],
    folder: Path,
    serving: NDArray[np.int16] | None,
) -> list[Written]:
    coverage, summary = drawn
    areas = class_areas(coverage)
    extra = extra_of(plan, result, coverage.grid.frame)
    together = result.together
    set_ups = together.set_ups if together is not None else ()
    page = write_siting_webmap(
        plan, coverage, summary, areas, extra, folder / "map.html", set_ups=set_ups, serving=serving
    )
    whose = "all set-ups" if set_ups else "the winner"
    files = [
        Written(
            page, f"The map for a browser: coverage of {whose} and every place; works without a network."
        ),
        Written(
            _map(plan, drawn, extra, folder / "map.png"), "The same for paper, readable in black and white."
        ),
    ]
    if any(curve.steps for curve in result.curves):
        files.append(
            Written(write_curve(plan, result, folder / "curve.png"), "What each further metre of mast buys.")
        )
    return files


def _map(plan: Plan, drawn: tuple[CoverageMap, CoverageSummary], extra: Extra, path: Path) -> Path:
    from linkplan.outputs.map_figure import map_figure

    coverage, summary = drawn
    with canvas.house_style():
        return canvas.save(map_figure(plan, coverage, summary, class_areas(coverage), extra), path)
