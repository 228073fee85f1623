"""The two figures of a job as files: a path profile, and the coverage map."""

from __future__ import annotations

from pathlib import Path

from linkplan.coverage.results import CoverageMap, CoverageSummary, LinkResult
from linkplan.outputs import canvas
from linkplan.outputs.shapes import ClassArea
from linkplan.plan.model import Plan


def write_profile(plan: Plan, link: LinkResult, path: Path) -> Path:
    """Draw a link's profile as .png or .svg. Raises OutputError."""
    from linkplan.outputs.profile_figure import profile_figure

    with canvas.house_style():
        return canvas.save(profile_figure(plan, link), path)


def write_map_figure(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, areas: tuple[ClassArea, ...], path: Path
) -> Path:
    """Draw the coverage map as .png or .svg; `areas` are the (smoothed) class areas. Raises OutputError."""
    from linkplan.outputs.map_figure import map_figure

    with canvas.house_style():
        return canvas.save(map_figure(plan, coverage, summary, areas), path)
