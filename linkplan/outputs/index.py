"""The first page of an output folder: the answer, then the map, the gaps, every file, and what was assumed.

One file without script and without anything from elsewhere; the pictures are inside.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from html import escape

from linkplan import __version__
from linkplan.coverage.results import CoverageMap, CoverageSummary, LinkResult, Spot
from linkplan.outputs import formats, style
from linkplan.outputs.calibration_words import calibrated_from, calibration_line
from linkplan.outputs.files import Written
from linkplan.outputs.formats import Formats, geographic_position, typeset
from linkplan.outputs.text import answer_line, class_areas_shown, gap_table, obstacle_line, verdict_line
from linkplan.outputs.webmap import asset
from linkplan.outputs.workable_looks import LOOKS, chip_css, look_shares
from linkplan.outputs.workable_words import Work, work_line, work_remarks
from linkplan.plan.model import Plan

MAP_CAPTION = '<a href="map.html">Open the map</a> with layers, coordinates and values at every place.'
PATHS_NOTE = (
    "A path is computed along its own line; its figures can differ a little from those of the map's cell."
)
BRIEF_NOTE = "The site-safety brief, to act on and to sign before work:"
HATCH = "repeating-linear-gradient(135deg,#d4d4d4 0 4px,#464646 4px 5px)"
"""Of unknown ground, as a style."""
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def index_html(
    plan: Plan,
    coverage: CoverageMap,
    summary: CoverageSummary,
    links: Sequence[tuple[LinkResult, str]],
    files: Sequence[Written],
    pictures: Mapping[str, bytes],
    work: Work | None = None,
    brief: Sequence[Written] = (),
) -> str:
    """The page. `links` come with the name of their figure; `pictures` are PNGs by file name; `brief` are the
    files of the site-safety brief."""
    show = Formats.of(plan)
    parts = [
        _head(plan, summary, show, work),
        "<main>",
        _figures(summary, show),
        _brief(brief),
        _picture("map.png", pictures, f"Coverage map of {plan.name}: {answer_line(summary)}", MAP_CAPTION),
        _section("Classes", _classes(coverage, summary, show)),
        _section("Where work can go on", _work(plan, work, pictures) if work is not None else ""),
        _section("Gaps", _gaps(summary, show)),
        _section("Paths", _paths(links, pictures, show)),
        _section("Notes", _list(summary.warnings, "notes")),
        _section("Files", _files(files)),
        _section("What was assumed", _assumed(plan, coverage, show)),
        _section("Cautions", _list(style.CAUTIONS, "cautions")),
        "</main>",
        _foot(plan),
    ]  # fmt: skip
    return "\n".join(part for part in parts if part) + "\n"


def _head(plan: Plan, summary: CoverageSummary, show: Formats, work: Work | None) -> str:
    base = plan.base
    verdict = "yes" if summary.all_covered else "no"
    where = (
        f"Base {base.name} at {show.position(base.easting, base.northing)}, radio antenna "
        f"{show.height(base.antenna_height_m)} above ground. {plan.transmitter.frequency_mhz:g} MHz."
    )
    notes = f"<p>{_text(plan.notes)}</p>" if plan.notes else ""
    learned = f"\n<p>{_text(calibration_line(plan))}</p>" if plan.calibration is not None else ""
    more = ""
    if work is not None:
        kind = ("yes" if work.reached else "no") if work.decides else "plain"
        more = f'\n<p class="verdict {kind}">{_text(work_line(work))}</p>'
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(plan.name)}</title>
<style>body {{ font-family: {style.FONT_STACK}; }}
{asset("common.css")}{asset("index.css")}</style>
</head>
<body>
<header>
<h1>{escape(plan.name)}</h1>
<div class="soft">{_text(where)}</div>
{notes}
<p class="verdict {verdict}">{_text(answer_line(summary))}</p>{more}{learned}
<p>{_text(style.PREDICTION)}</p>
</header>"""


def _figures(summary: CoverageSummary, show: Formats) -> str:
    wanted = formats.chance(summary.wanted_chance)
    boxes = [
        (
            "covered",
            formats.percent(summary.covered_share),
            f"of {show.area(summary.job_area_m2)}, at {wanted} or more",
        ),
        ("farthest dependable point", *_spot(summary.farthest_dependable, show)),
        ("worst point of the job", *_spot(summary.worst, show, margin=True)),
        ("gaps", str(summary.gap_count), f"no data: {formats.percent(summary.no_data_share)} of the job"),
    ]
    if summary.baseline_limit_m is not None:
        limit = f"of the job, beyond {show.distance(summary.baseline_limit_m)}"
        boxes.append(("too far from the base", formats.percent(summary.beyond_baseline_share), limit))
    cells = "".join(
        f"<div><dt>{_text(name)}</dt><dd>{_text(value)}<small>{_text(more)}</small></dd></div>"
        for name, value, more in boxes
    )
    return f'<dl class="figures">{cells}</dl>'


def _brief(files: Sequence[Written]) -> str:
    links = ", ".join(f'<a href="{escape(one.path.name)}">{_text(one.path.name)}</a>' for one in files)
    return f"<p>{_text(BRIEF_NOTE)} {links}.</p>" if links else ""


def _spot(spot: Spot | None, show: Formats, *, margin: bool = False) -> tuple[str, str]:
    if spot is None:
        return "none", ""
    value = formats.decibels(spot.margin_db, signed=True) if margin else show.distance(spot.distance_m)
    where = f"{show.distance(spot.distance_m)} at {formats.azimuth(spot.azimuth_deg)}, " if margin else ""
    at = "" if margin else f"at {formats.azimuth(spot.azimuth_deg)}, "
    return value, f"{where}{at}{show.position(spot.easting, spot.northing)}"


def _picture(name: str, pictures: Mapping[str, bytes], alternative: str, caption: str) -> str:
    """`caption` is markup."""
    if name not in pictures:
        return ""
    data = base64.b64encode(pictures[name]).decode("ascii")
    return (
        f'<figure><a href="{escape(name)}"><img src="data:image/png;base64,{data}" '
        f'alt="{escape(typeset(alternative))}"></a>'
        f"<figcaption>{caption}</figcaption></figure>"
    )


def _classes(coverage: CoverageMap, summary: CoverageSummary, show: Formats) -> str:
    rows = []
    unit, areas = class_areas_shown(summary, show)
    for one, share, area in zip(coverage.classes, summary.class_shares, areas, strict=False):
        rgb = style.on_ground(style.class_rgb(one, coverage.classes))
        colours = f"background:{style.hex_of(rgb)};color:{style.ink_on(rgb)}"
        promise = formats.chance_range(one.chance_low, one.chance_high)
        chip = f'<span class="chip" style="{colours}">{one.index}</span>'
        rows.append((chip, _text(one.name), promise, formats.percent(share), _text(area), _text(one.meaning)))
    rows.append(
        (f'<span class="chip" style="background:{HATCH}"></span>', style.NO_DATA_NAME, "unknown",
         formats.percent(summary.no_data_share), _text(areas[-1]), style.NO_DATA_MEANING)
    )  # fmt: skip
    head = ("", "class", "chance", "of the job", f"area ({unit})", "what to expect")
    return _table(head, rows, numbers={3, 4}, kind="classes")


def _work(plan: Plan, work: Work, pictures: Mapping[str, bytes]) -> str:
    rows = [
        (f'<span class="chip" style="background:{chip_css(look)}"></span>', _text(look.name),
         formats.percent(share), _text(look.note))
        for look, share in zip(LOOKS, look_shares(work.found), strict=False)
        if look.key != "no-sky" or work.found.sky_counted
    ]  # fmt: skip
    rows.append(
        (f'<span class="chip" style="background:{HATCH}"></span>', "unknown",
         formats.percent(look_shares(work.found)[-1]), _text(style.NO_DATA_MEANING))
    )  # fmt: skip
    table = _table(("", "ground", "of the job", "why"), rows, numbers={2}, kind="budget")
    return (
        f"<p>{_text(work_line(work))}</p><p>{_text(' '.join(work_remarks(plan, work)))}</p>"
        + _picture("workable.png", pictures, f"Map of {plan.name}: {work_line(work)}", "")
        + table
    )


def _gaps(summary: CoverageSummary, show: Formats) -> str:
    if not summary.gap_count:
        return "<p>No gaps.</p>"
    head, found = gap_table(summary, show)
    rows = [
        (f"G{number}", *(_text(cell) for cell in cells),
         *([] if show.wgs84 else [_text(geographic_position(gap.longitude_deg, gap.latitude_deg))]))
        for gap, (number, *cells) in zip(summary.gaps, found, strict=True)
    ]  # fmt: skip
    listed = len(summary.gaps)
    more = f"<p>The {listed} largest of {summary.gap_count}.</p>" if listed < summary.gap_count else ""
    head = ("", *head[1:], *(() if show.wgs84 else ("WGS 84 lat, lon",)))
    return more + _table(head, rows, numbers={2, 3, 4, 5, 6, 7, 8}, kind="gap-list")


def _paths(links: Sequence[tuple[LinkResult, str]], pictures: Mapping[str, bytes], show: Formats) -> str:
    drawn = "".join(_link(link, name, pictures, show) for link, name in links)
    return f'<p class="soft">{PATHS_NOTE}</p>{drawn}' if drawn else ""


def _link(link: LinkResult, name: str, pictures: Mapping[str, bytes], show: Formats) -> str:
    title = f"{link.from_name} to {link.to_name}"
    rows = [
        (_text(line.label), _text(formats.number(line.value, signed=line.kind in {"gain", "loss", "margin"})),
         line.unit, _text(line.note))
        for line in link.budget
    ]  # fmt: skip
    budget = _table(("link budget", "value", "unit", ""), rows, numbers={1}, kind="budget")
    return (
        f"<h3>{_text(title)}</h3><p>{_text(verdict_line(link))}. {_text(obstacle_line(link, show))}</p>"
        + _picture(name, pictures, f"Path profile, {title}. {obstacle_line(link, show)}", "")
        + f"<details><summary>Budget, line by line</summary>{budget}</details>"
        + _list(link.warnings, "notes")
    )


def _files(files: Sequence[Written]) -> str:
    items = "".join(
        f'<li><a href="{escape(file.path.name)}">{_text(file.path.name)}</a><br>{_text(file.what)}</li>'
        for file in files
    )
    return f'<ul class="files">{items}</ul>'


def _assumed(plan: Plan, coverage: CoverageMap, show: Formats) -> str:
    grid, radio, air = coverage.grid, plan.transmitter, plan.environment
    receiver = plan.rover.receiver
    spread = formats.decibels(coverage.sigma_db)
    error = formats.decibels(plan.prediction_sigma_db)
    sigma = "common practice" if air.prediction_sigma_assumed else "as the job file states"
    if plan.calibration is not None:
        sigma = calibrated_from(plan.calibration)
    need = [formats.decibels(coverage.weakest_usable_dbm, "dBm")]
    if receiver.sensitivity_dbm is not None:
        need.append(f"data sheet {formats.decibels(receiver.sensitivity_dbm, 'dBm')}")
    figure = f"noise figure {formats.decibels(receiver.noise_figure_db)}"
    need.append(figure + (" (assumed)" if receiver.noise_figure_assumed else ""))
    facts = [
        ("model", f"{style.MODEL}; {radio.polarization} polarization"),
        ("prediction spread", f"{spread} in all; error of the prediction {error} ({sigma})"),
        ("radio noise", f"{air.noise}, bandwidth {receiver.noise_bandwidth_khz:g} kHz"),
        ("weakest usable level", ", ".join(need)),
        ("base radio", f"{formats.number(radio.power_dbm)} dBm, feeder loss "
         f"{formats.decibels(radio.feeder.loss_db)}, antenna {radio.antenna.gain_dbi:g} dBi, "
         f"channel spacing {radio.channel_spacing_khz:g} kHz"),
        ("rover", f"antenna {receiver.antenna.gain_dbi:g} dBi, {show.height(plan.rover.antenna_height_m)} "
         "above ground"),
        ("terrain", ", ".join(file.name for file in plan.terrain.files)),
        ("trees and buildings",
         "none: bare ground is assumed" if plan.clutter is None else plan.clutter.file.name),
        ("heights above", grid.height_datum),
        ("cell of the map",
         f"{show.distance(grid.cell_size_m)} (terrain {show.distance(grid.source_cell_m)})"),
        ("coordinates", show.crs_name),
        ("units", f"distances in {formats.LONG[plan.length_unit]}, "
         f"heights in {formats.LONG[plan.height_unit]}"),
        ("air", f"refractivity gradient {air.refractivity_gradient_n_units_per_km:g} N-units/km, "
         f"at sea level {air.sea_level_refractivity_n_units:g} N-units"),
    ]  # fmt: skip
    items = "".join(f"<dt>{_text(name)}</dt><dd>{_text(value)}</dd>" for name, value in facts)
    return f'<dl class="facts">{items}</dl>'


def _foot(plan: Plan) -> str:
    source = f"Job file {plan.file.name}" + (f", SHA-256 {plan.job_hash}" if plan.job_hash else "")
    return f"<footer><p>{_text(source)}. Made by linkplan {__version__}.</p></footer>\n</body>\n</html>"


def _section(title: str, content: str) -> str:
    return f"<section><h2>{_text(title)}</h2>{content}</section>" if content else ""


def _list(items: Sequence[str], kind: str) -> str:
    if not items:
        return ""
    lines = "".join(f"<li>{_text(item)}</li>" for item in items)
    return f'<ul class="{kind}">{lines}</ul>'


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], numbers: set[int], kind: str = "plain") -> str:
    """Cells are markup; columns in `numbers` stand to the right.

    Each cell carries the head of its column, which a phone shows beside it instead of a wide row.
    """

    def cells(row: Sequence[str]) -> str:
        return "".join(
            f'<td{" class=number" if i in numbers else ""} data-head="{escape(head[i])}">{cell}</td>'
            for i, cell in enumerate(row)
        )

    top = "".join(f"<th{' class=number' if i in numbers else ''}>{cell}</th>" for i, cell in enumerate(head))
    body = "".join(f"<tr>{cells(row)}</tr>" for row in rows)
    return (
        f'<div class="scroll"><table class="{kind}"><thead><tr>{top}</tr></thead><tbody>{body}</tbody>'
        "</table></div>"
    )


def _text(text: str) -> str:
    """Text as markup: escaped, with real minus signs."""
    return escape(typeset(text))
