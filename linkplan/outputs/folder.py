"""A job's whole output folder: every file, in the order in which the index names them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from linkplan.coverage.results import CoverageMap, CoverageSummary, LinkResult
from linkplan.outputs.encode import to_json, to_jsonable
from linkplan.outputs.figures import write_map_figure, write_profile
from linkplan.outputs.files import Written, write_file
from linkplan.outputs.index import index_html
from linkplan.outputs.kml import write_kml
from linkplan.outputs.raster import write_geotiff
from linkplan.outputs.shapes import class_areas, smoothed
from linkplan.outputs.text import summary_text
from linkplan.outputs.vectors import write_geojson, write_geopackage, write_places_geojson
from linkplan.outputs.webmap import write_webmap
from linkplan.outputs.workable_figure import write_work_figure
from linkplan.outputs.workable_words import Work, work_object
from linkplan.plan.model import Plan


def write_coverage(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, folder: Path, work: Work | None = None
) -> list[Written]:
    """Map, rasters, polygons and summary into an existing folder. Raises OutputError.

    `work` is None where the job asks for nothing beside corrections.
    """
    areas = class_areas(coverage)
    rounded = smoothed(areas, coverage.grid.cell_size_m)
    return [
        Written(
            write_webmap(plan, coverage, summary, areas, folder / "map.html", work),
            "The map for a browser: layers, coordinates and values at every place; works without a network.",
        ),
        Written(
            write_kml(plan, coverage, summary, rounded, folder / "coverage.kml"),
            "For the crew's phones: classes, gaps, base, control points and boundary.",
        ),
        Written(
            write_geopackage(plan, coverage, summary, areas, folder / "coverage.gpkg", work),
            "For GIS and CAD, in the job's coordinates: classes along the computed cells, gaps, points.",
        ),
        Written(
            write_geotiff(plan, coverage, folder / "coverage.tif", work),
            "For GIS: loss, level, margin, chance, line of sight and Fresnel clearance of every cell"
            + (", where work can go on." if work is not None else "."),
        ),
        Written(
            write_geojson(rounded, coverage, folder / "coverage.geojson"),
            "Class polygons in WGS 84, outlines rounded off by at most a cell.",
        ),
        Written(
            write_places_geojson(plan, coverage, summary, folder / "places.geojson"),
            "Gaps, base, control points and boundary in WGS 84.",
        ),
        Written(
            write_file(folder / "summary.txt", summary_text(plan, coverage, summary, work) + "\n"),
            "The answer in figures, as the terminal shows it.",
        ),
        Written(
            write_file(folder / "summary.json", to_json(summary_object(summary, work)) + "\n"),
            "The same for programs, SI units in the names.",
        ),
    ]


def summary_object(summary: CoverageSummary, work: Work | None) -> dict[str, Any]:
    """The summary for programs, with where work can go on."""
    found: dict[str, Any] = to_jsonable(summary)
    return found if work is None else {**found, "workable": work_object(work)}


def write_all(
    plan: Plan,
    coverage: CoverageMap,
    summary: CoverageSummary,
    links: Sequence[LinkResult],
    folder: Path,
    work: Work | None = None,
    brief: Sequence[Written] = (),
) -> list[Written]:
    """Everything, with figures and an index page, into an existing folder. Raises OutputError.

    `brief` is the site-safety brief where it has been written there already.
    """
    areas = class_areas(coverage)
    picture = Written(
        write_map_figure(plan, coverage, summary, areas, folder / "map.png"),
        "The map for paper, readable in black and white.",
    )
    profiles = [
        Written(
            write_profile(plan, link, folder / name),
            f"Profile of the path from {link.from_name} to {link.to_name}.",
        )
        for link, name in zip(links, profile_names(links), strict=True)
    ]
    printed = [picture]
    if work is not None:
        workable = write_work_figure(plan, coverage, work, folder / "workable.png")
        printed.append(Written(workable, "Where work can go on, and why not elsewhere, for paper."))
    page, *rest = write_coverage(plan, coverage, summary, folder, work)
    files = [*brief, page, *printed, *profiles, *rest]
    pictures = {one.path.name: one.path.read_bytes() for one in (*printed, *profiles)}
    drawn = [(link, one.path.name) for link, one in zip(links, profiles, strict=True)]
    index = write_file(
        folder / "index.html", index_html(plan, coverage, summary, drawn, files, pictures, work, brief)
    )
    return [Written(index, "Start here: the answer, the map, the gaps, every file."), *files]


def profile_names(links: Sequence[LinkResult]) -> list[str]:
    """File names of the links' figures: their far end, told apart by a number where two are alike."""
    names: list[str] = []
    for link in links:
        stem = "path-" + (re.sub(r"[^a-z0-9]+", "-", link.to_name.lower()).strip("-") or "point")
        tries = (stem if count == 1 else f"{stem}-{count}" for count in range(1, len(links) + 1))
        names.append(next(name for name in (f"{one}.png" for one in tries) if name not in names))
    return names
