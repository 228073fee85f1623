"""Results as plain text for a terminal: the answer first, then the figures, aligned."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from linkplan.coverage.results import CoverageMap, CoverageSummary, LinkResult, Spot
from linkplan.outputs import formats, style
from linkplan.outputs.calibration_words import calibration_line
from linkplan.outputs.formats import Formats
from linkplan.outputs.workable_words import Work, work_line, work_remarks
from linkplan.plan.model import Plan

WIDTH = 96
_RIGHT = ">"
_LEFT = "<"


def answer_line(summary: CoverageSummary) -> str:
    """The answer in one sentence: is the job covered as wanted, and how much of it."""
    share = formats.percent(summary.covered_share)
    wanted = formats.chance(summary.wanted_chance)
    goal = "all of it" if summary.wanted_share >= 1.0 else f"{100.0 * summary.wanted_share:g} % of it"
    verdict = "Covered as wanted" if summary.all_covered else "NOT covered as wanted"
    within = " is within the baseline limit and" if summary.beyond_baseline_share > 0.0 else ""
    return (
        f"{verdict}: {share} of the job{within} has corrections with a chance of {wanted} or more "
        f"(wanted: {goal})."
    )


def summary_text(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, work: Work | None = None
) -> str:
    """A coverage summary, ready to print; `work` says where work can go on, if the job asks for it."""
    show = Formats.of(plan)
    base = plan.base
    parts = [
        summary.job_name,
        f"Base {base.name} at {show.position(base.easting, base.northing)}, radio antenna "
        f"{show.height(base.antenna_height_m)} above ground; coordinates: {show.crs_name}",
        "",
        answer_line(summary),
        *([filled(calibration_line(plan))] if plan.calibration is not None else []),
        *(_work(plan, work) if work is not None else []),
        "",
        _classes(coverage, summary, show),
    ]
    if summary.baseline_limit_m is not None:
        parts.append(
            f"Beyond the baseline limit of {show.distance(summary.baseline_limit_m)}: "
            f"{formats.percent(summary.beyond_baseline_share)} of the job (longest baseline "
            f"{show.distance(summary.longest_baseline_m)})"
        )
    parts += ["", _gaps(summary, show), ""]
    parts += [
        _spot("Farthest dependable point", summary.farthest_dependable, show),
        _spot("Worst point of the job", summary.worst, show),
    ]
    return "\n".join(parts + _closing(summary.warnings))


def link_text(plan: Plan, link: LinkResult) -> str:
    """One link with its budget line by line, ready to print."""
    show = Formats.of(plan)
    parts = [
        f"{link.from_name} to {link.to_name}: {show.distance(link.distance_m)} at azimuth "
        f"{formats.azimuth(link.azimuth_deg)}, {link.frequency_mhz:g} MHz",
        f"from {show.position(*link.from_point)}, antenna {show.height(link.antenna_from_m)} above ground",
        f"to   {show.position(*link.to_point)}, antenna {show.height(link.antenna_to_m)} above ground",
        "",
        verdict_line(link),
        obstacle_line(link, show),
        "",
        _budget(link),
        "",
        f"Loss by {link.model}: free space {formats.decibels(link.free_space_db)}, diffraction "
        f"{formats.decibels(link.diffraction_db)}; flat ground without obstacles would give "
        f"{formats.decibels(link.plane_earth_db)}.",
    ]
    wrapped = [line if len(line) <= WIDTH or "\n" in line else textwrap.fill(line, WIDTH) for line in parts]
    return "\n".join(wrapped + _closing(link.warnings))


def verdict_line(link: LinkResult) -> str:
    """What to expect at the far end, in one sentence."""
    return (
        f"{link.class_name.capitalize()}: margin {formats.decibels(link.margin_db, signed=True)}, chance of "
        f"corrections {formats.chance(link.chance)} (wanted {formats.chance(link.wanted_chance)}), "
        f"prediction spread {formats.decibels(link.sigma_db)}"
    )


def obstacle_line(link: LinkResult, show: Formats) -> str:
    """What stands highest against the ray."""
    spot = link.obstacle
    sight = "In line of sight" if link.line_of_sight else "Not in line of sight"
    if spot is None:
        return f"{sight}; nothing stands between the ends."
    on_top = f" with {show.height(spot.clutter_m)} of clutter" if spot.clutter_m > 0 else ""
    where = (
        f"{show.distance(spot.distance_m)} from {link.from_name}, ground {show.height(spot.ground_m)}{on_top}"
    )
    if spot.clearance_m < 0:
        how = f"stands {show.height(-spot.clearance_m)} above the ray"
    else:
        how = (
            f"leaves {show.height(spot.clearance_m)} under the ray, {spot.clearance_fraction:.2f} of the "
            "first Fresnel zone"
        )
    return f"{sight}; the worst obstacle, {where}, {how}."


def _work(plan: Plan, work: Work) -> list[str]:
    return [filled(work_line(work)), filled(" ".join(work_remarks(plan, work)))]


def filled(line: str, first: str = "", then: str = "") -> str:
    """A paragraph on lines of the terminal's width; a number keeps its percent sign."""
    kept = line.replace(" %", "\N{NO-BREAK SPACE}%")
    broken = textwrap.fill(kept, WIDTH, initial_indent=first, subsequent_indent=then)
    return broken.replace("\N{NO-BREAK SPACE}%", " %")


def _classes(coverage: CoverageMap, summary: CoverageSummary, show: Formats) -> str:
    unit, areas = class_areas_shown(summary, show)
    rows = [
        (str(one.index), one.name, formats.chance_range(one.chance_low, one.chance_high),
         formats.percent(share), area, one.meaning)
        for one, share, area in zip(coverage.classes, summary.class_shares, areas, strict=False)
    ]  # fmt: skip
    no_data = (style.NO_DATA_NAME, "unknown", formats.percent(summary.no_data_share), areas[-1])
    rows.append(("", *no_data, style.NO_DATA_MEANING))
    head = ("", "class", "chance", "of the job", f"area ({unit})", "what to expect")
    return table(head, rows, (_LEFT, _LEFT, _LEFT, _RIGHT, _RIGHT, _LEFT))


def _gaps(summary: CoverageSummary, show: Formats) -> str:
    if not summary.gap_count:
        return "No gaps."
    head, rows = gap_table(summary, show)
    return gaps_title(summary) + "\n" + table(head, rows, (_RIGHT, _LEFT, *[_RIGHT] * 6))


def gaps_title(summary: CoverageSummary) -> str:
    """How many gaps there are, and how many of them are listed."""
    listed = len(summary.gaps)
    few = f", the {listed} largest" if listed < summary.gap_count else ""
    return f"Gaps: {summary.gap_count}{few}" if summary.gap_count else "No gaps"


def class_areas_shown(summary: CoverageSummary, show: Formats) -> tuple[str, list[str]]:
    """Areas of the classes and, last, of unknown ground as a column: the unit and the numbers."""
    shares = (*summary.class_shares, summary.no_data_share)
    return show.area_column([share * summary.job_area_m2 for share in shares])


def gap_table(summary: CoverageSummary, show: Formats) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The listed gaps as a head and rows; a column has one unit, named in its head."""
    gaps = summary.gaps
    first, second = show.axis_names
    area_unit, areas = show.area_column([gap.area_m2 for gap in gaps])
    unit, distances = show.distance_column([gap.distance_m for gap in gaps])
    head = (
        "no", "kind", f"area ({area_unit})", f"from base ({unit})", "azimuth", first, second,
        "worst margin (dB)",
    )  # fmt: skip
    rows: list[tuple[str, ...]] = [
        (str(gap.number), gap.kind, area, distance, formats.azimuth(gap.azimuth_deg),
         show.coordinate(gap.easting), show.coordinate(gap.northing),
         "unknown" if gap.worst_margin_db is None else formats.number(gap.worst_margin_db, signed=True))
        for gap, area, distance in zip(gaps, areas, distances, strict=True)
    ]  # fmt: skip
    return head, rows


def _spot(title: str, spot: Spot | None, show: Formats) -> str:
    if spot is None:
        return f"{title}: none"
    return (
        f"{title}: {show.distance(spot.distance_m)} at azimuth {formats.azimuth(spot.azimuth_deg)}, "
        f"{show.position(spot.easting, spot.northing)}, "
        f"margin {formats.decibels(spot.margin_db, signed=True)}, chance {formats.chance(spot.chance)}"
    )


def _budget(link: LinkResult) -> str:
    rows = [
        (line.label, formats.number(line.value, signed=line.kind not in {"start", "level", "need"}),
         line.unit, line.note)
        for line in link.budget
    ]  # fmt: skip
    return table(("link budget", "value", "unit", ""), rows, (_LEFT, _RIGHT, _LEFT, _LEFT))


def _closing(warnings: Sequence[str]) -> list[str]:
    lines = [""]
    for warning in warnings:
        lines.append(textwrap.fill(warning, WIDTH, initial_indent="note: ", subsequent_indent="      "))
    return [*lines, style.PREDICTION] if warnings else ["", style.PREDICTION]


def table(head: Sequence[str], rows: Sequence[Sequence[str]], alignment: Sequence[str]) -> str:
    """Columns as wide as their longest cell, two spaces between, a rule under the head."""
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
    lines = [
        "  ".join(f"{cell:{side}{width}}" for cell, side, width in zip(row, alignment, widths, strict=True))
        for row in [head, ["-" * width for width in widths], *rows]
    ]
    return "\n".join("  " + line.rstrip() for line in lines)
