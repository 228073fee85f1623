"""The siting answer as plain text: the sentence first, then the ranking, the mast, and what is ruled out."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from linkplan.outputs import formats, siting_reasons, siting_words, style
from linkplan.outputs.calibration_words import calibration_line
from linkplan.outputs.formats import Formats, counted
from linkplan.outputs.siting_words import AtPlace, clean
from linkplan.outputs.text import WIDTH, table
from linkplan.plan.model import Plan
from linkplan.siting.results import HeightCurve, Judged, SitingResult, Together
from linkplan.units import METRES_PER_UNIT

LISTED = 15
"""Places of the ranking that a terminal shows."""
LISTED_BESIDE = 6
"""The same where set-ups together are the answer."""
ZONES_LISTED = 3
"""Zones with a column of their own; the CSV has them all."""
REASONS_LISTED = 25
LEAST_RADIUS_M = 0.05
"""A radius around the foot of the mast that is shown as such."""
BAR = 30
"""Signs of a bar that stands for the whole job."""
NAME_WIDTH = 24

_LEFT, _RIGHT = "<", ">"


def siting_text(plan: Plan, result: SitingResult) -> str:
    """The whole answer, ready to print."""
    show = Formats.of(plan)
    places = siting_words.by_place(result)
    parts = [clean(result.job_name), "", *_wrapped(siting_words.answer_line(result, show))]
    if plan.calibration is not None:
        parts += _wrapped(calibration_line(plan))
    if result.together is not None:
        parts += ["", *_together(plan, result, result.together, show)]
    else:
        reasons = (
            siting_words.why_first(result, show),
            siting_words.second_line(result, show),
            siting_words.robustness_line(result),
        )
        parts += [line for reason in reasons if reason for line in _wrapped(reason)]
    if result.ranking:
        parts += ["", *_ranking(result, places, show)]
    if result.curves:
        parts += ["", *_curves(plan, result, show)]
    parts += _ruled_out(places, show)
    unsure = siting_reasons.not_judged(result, show)
    if unsure:
        parts += ["", "Cannot be judged (not ruled out: look on site)", *_items(unsure)]
    if result.ranking:
        parts += ["", "Before a mast goes up", *_items(cautions(plan, result, show))]
    notes = [_fill(note, "note: ", "      ") for note in notes_of(result)]
    return "\n".join([*parts, "", *notes, style.PREDICTION])


def notes_of(result: SitingResult) -> tuple[str, ...]:
    """Notes of the search, and of the choice of several set-ups."""
    more = result.together.notes if result.together is not None else ()
    return tuple(dict.fromkeys(clean(note) for note in (*result.notes, *more)))


def ranking_table(
    result: SitingResult, places: Sequence[AtPlace], show: Formats, most: int
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The first `most` ranked places as a head and rows; a column that tells nothing apart is left out."""
    best = [at.best for at in places if at.best is not None][:most]
    candidates = [one.candidate for one in result.judged]
    outcomes = [one.outcome for one in best if one.outcome is not None]
    far_unit, distances = show.distance_column([one.longest_baseline_m for one in outcomes])
    high_unit = formats.SHORT[show.height_unit]
    columns: list[tuple[str, list[str]]] = [
        ("rank", [str(one.rank) for one in best]),
        ("place", [short(clean(one.candidate.place.name)) for one in best]),
        (f"mast ({high_unit})", [show.height_number(one.candidate.antenna_height_m) for one in best]),
    ]
    if len({one.antenna.name for one in candidates}) > 1:
        columns.append(("antenna", [short(siting_words.antenna_name(one.candidate), 14) for one in best]))
    if len({one.power_dbm for one in candidates}) > 1:
        columns.append(("power", [siting_words.watts(one.candidate.power_dbm) for one in best]))
    columns.append(("of the job", [formats.percent(one.covered_share) for one in outcomes]))
    if result.zone_names:
        columns.append(("weighted", [formats.percent(one.weighted_share) for one in outcomes]))
        for number, name in enumerate(result.zone_names[:ZONES_LISTED]):
            shares = [formats.percent(one.zone_shares[number]) for one in outcomes]
            columns.append((short(clean(name), 14), shares))
    if all(one.workable_share is not None for one in outcomes):
        columns.append(("workable", [formats.percent(one.workable_share or 0.0) for one in outcomes]))
    columns.append(("worst (dB)", [_margin(one.worst_margin_db) for one in outcomes]))
    columns.append((f"longest ({far_unit})", distances))
    if result.cases:
        columns.append(("best", [str(one.best_cases) for one in best]))
    return tuple(head for head, _ in columns), list(zip(*(cells for _, cells in columns), strict=True))


def _margin(worst_db: float | None) -> str:
    return "unknown" if worst_db is None else formats.number(worst_db, signed=True)


def set_up_table(together: Together, show: Formats) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The set-ups in their order as a head and rows."""
    several_antennas = len({one.candidate.antenna.name for one in together.set_ups}) > 1
    repeated = together.mode == "repeaters"
    checked = any(one.check_point for one in together.set_ups)
    head = ["no", "place", "mast", "power", "by itself", "by no other"]
    head += ["antenna"] if several_antennas else []
    head += ["role", "heard from base"] if repeated else []
    head += ["check point with the next"] if checked else []
    rows = []
    for one in together.set_ups:
        row = [
            str(one.order),
            short(clean(one.candidate.place.name)),
            show.height(one.candidate.antenna_height_m),
            siting_words.watts(one.candidate.power_dbm),
            formats.percent(one.covered_share),
            formats.percent(one.only_share),
        ]
        row += [short(siting_words.antenna_name(one.candidate))] if several_antennas else []
        row += [one.role, siting_words.heard(one)] if repeated else []
        row += [clean(one.check_point) if one.check_point else "-"] if checked else []
        rows.append(tuple(row))
    return tuple(head), rows


def cautions(plan: Plan, result: SitingResult, show: Formats) -> tuple[str, ...]:
    """What the crew has to see to wherever a mast is put up."""
    chosen = _chosen(result)
    tallest = max((one.candidate.antenna_height_m for one in chosen), default=None)
    rules = plan.siting.rules if plan.siting is not None else None
    lines = (
        "The lines of this job are those that somebody drew: look for others."
        if rules is not None and rules.lines
        else "This job names no overhead line, so nothing was checked against one: look for them."
    )
    fall = "" if tallest is None else f" (the mast here: {show.height(tallest)})"
    radii = [
        found.value
        for one in chosen
        for found in one.findings
        if found.rule == "exposure" and found.value is not None
    ]
    return (
        "Overhead lines: nothing of mast, antenna or guys may touch or come near a line, even if it falls. "
        f"{lines} Ask the line's owner before anything tall is raised.",
        "Fall: keep people, machines and traffic farther from the mast than it is high"
        f"{fall}, more on a slope; guys and footing as the maker says, for the wind of the day.",
        f"Exposure: {_exposure(radii, show)} Switch off before anyone works at the antenna.",
        "Lightning: lower or leave the mast when thunder is near; earthing follows the local code.",
        "Local codes, the land's owner, the radio licence and a qualified person decide whether a mast may "
        "stand there and how it is put up.",
    )


def _exposure(radii_m: Sequence[float], show: Formats) -> str:
    """Distance to keep from the mast, where one was computed."""
    if not radii_m:
        return "no distance was worked out for this job; keep the one that the maker and local limits state."
    if max(radii_m) < LEAST_RADIUS_M:
        return (
            "as computed, people on the ground around the mast stay below the limits that the job names; "
            "keep away from the antenna itself, and from the mast as far as the maker states."
        )
    radius = siting_reasons.bounded(max(radii_m), show, up=True)
    return (
        f"keep people at least {radius} from the foot of the mast while it transmits, as computed for the "
        "limits that the job names; the maker's distance goes before it where it is larger."
    )


def short(text: str, most: int = NAME_WIDTH) -> str:
    """A name cut to fit a column."""
    return text if len(text) <= most else text[: most - 3].rstrip() + "..."


def _chosen(result: SitingResult) -> list[Judged]:
    """The winner, or the candidates of the set-ups."""
    if result.together is not None and result.together.set_ups:
        return [result.judged[one.number - 1] for one in result.together.set_ups]
    return [result.winner] if result.winner is not None else []


def _together(plan: Plan, result: SitingResult, together: Together, show: Formats) -> list[str]:
    lines = [f"Looked for: {siting_words.MODE.get(together.mode, together.mode)}"]
    if together.set_ups:
        head, rows = set_up_table(together, show)
        sides = [_LEFT if name in _WORDS else _RIGHT for name in head]
        lines += [table(head, rows, sides), *_wrapped(siting_words.proven_line(together))]
    weighted = ", as weighted" if result.zone_names else ""
    lines += _wrapped(
        f"Chosen on {formats.grouped(together.points)} points of the job, of which the set-ups cover "
        f"{formats.percent(together.covered_share)}{weighted}; checked afterwards on every cell: "
        f"{formats.percent(together.all_cells_share)}."
    )
    if together.unreachable_share > 0.0:
        lines += _wrapped(
            f"Out of reach of every place that serves: {formats.percent(together.unreachable_share)} of "
            f"those points{weighted}."
        )
    if plan.siting is not None and plan.siting.cases and together.set_ups:
        lines += _wrapped(
            f"In {together.cases_held} of {plan.siting.cases} draws of the prediction's error the set-ups "
            "cover the wanted share."
        )
    air = siting_words.air_time_line(together)
    return lines + (_wrapped(air) if air else [])


_WORDS = {"place", "antenna", "role", "check point with the next", "why", "tried"}
"""Heads of columns that hold words."""


def _ranking(result: SitingResult, places: Sequence[AtPlace], show: Formats) -> list[str]:
    beside = result.together is not None
    head, rows = ranking_table(result, places, show, LISTED_BESIDE if beside else LISTED)
    tried = f"{counted(len(places), 'place')} compared"
    if len(result.judged) > len(places):
        tried += f" in {len(result.judged)} ways"
    order = ", then ".join(siting_words.criterion(name, result) for name in result.order)
    title = (
        f"{'Places by themselves' if beside else 'Places'}, best first by {order} ({tried}, "
        f"{len(result.ranking)} serve)"
    )
    lines = [*_wrapped(title), table(head, rows, [_LEFT if name in _WORDS else _RIGHT for name in head])]
    rest = len(result.ranking) - len(rows)
    lines += [f"  and {counted(rest, 'more place')}, in ranking.csv"] if rest else []
    legend = "worst: margin at the worst spot; longest: baseline to the farthest spot of the job"
    if result.cases:
        legend += f"; best: times in {result.cases} draws of the prediction's error that the place came first"
    return [*lines, _fill(f"{legend}.", "  ", "  ")]


def _curves(plan: Plan, result: SitingResult, show: Formats) -> list[str]:
    weighted = " as weighted" if result.zone_names else ""
    unit = {"m": "metre", "ft": "foot"}[formats.SHORT[show.height_unit]]
    head = ("place", "mast", "covers", f"points a {unit}", "")
    rows = [row for curve in result.curves for row in _curve(curve, show)]
    lines = [
        f"What each further {unit} of mast buys (share of the job{weighted})",
        table(head, rows, (_LEFT, _RIGHT, _RIGHT, _RIGHT, _LEFT)),
    ]
    limit = plan.licence.antenna_height_limit_m if plan.licence is not None else None
    if limit is not None:
        lines.append(f"  the licence allows an antenna up to {show.height(limit)} above ground")
    return lines


def _curve(curve: HeightCurve, show: Formats) -> list[tuple[str, ...]]:
    return [
        (
            short(clean(curve.place_name)) if step is curve.steps[0] else "",
            show.height(step.antenna_height_m),
            formats.percent(step.outcome.weighted_share),
            "" if step.gained_per_m is None else gained(step.gained_per_m, show),
            "#" * round(BAR * step.outcome.weighted_share),
        )
        for step in curve.steps
    ]


def gained(share_per_m: float, show: Formats) -> str:
    """What a further metre, or foot, of mast buys, in points of a hundred."""
    return formats.number(100.0 * share_per_m * METRES_PER_UNIT[show.height_unit], signed=True)


def _ruled_out(places: Sequence[AtPlace], show: Formats) -> list[str]:
    out = [(at.name, siting_reasons.out_words(at, show)) for at in places if not at.serves]
    lines = []
    if out:
        title = f"Ruled out: {len(out)} of {counted(len(places), 'place')}"
        lines += ["", title, *_reasons(("place", "why"), [(name, "; ".join(why)) for name, why in out])]
    partly = [(f"{at.name}, {kit}", why) for at in places for kit, why in siting_reasons.partly_out(at, show)]
    if partly:
        title = "Ruled out at places that serve otherwise"
        lines += ["", title, *_reasons(("tried", "why"), partly)]
    return lines


def _reasons(head: tuple[str, str], found: Sequence[tuple[str, str]]) -> list[str]:
    """A column of names and one of reasons, wrapped."""
    listed = found[:REASONS_LISTED]
    wide = max(len(short(name, 44)) for name, _ in listed)
    rows = []
    for name, why in listed:
        first, *more = _wrapped(why, max(WIDTH - wide - 6, 40)) or [""]
        rows += [(short(name, 44), first), *(("", line) for line in more)]
    rest = len(found) - len(listed)
    return [table(head, rows, (_LEFT, _LEFT)), *([f"  and {rest} more, in ranking.csv"] if rest else [])]


def _items(items: Sequence[str]) -> list[str]:
    return [_fill(item, "  - ", "    ") for item in items]


def _wrapped(text: str, width: int = WIDTH, first: str = "", rest: str = "") -> list[str]:
    """Lines of text in which a number stays with its unit."""
    tied = formats.typeset(text).replace("\N{MINUS SIGN}", "-")
    lines = textwrap.wrap(tied, width, initial_indent=first, subsequent_indent=rest)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def _fill(text: str, first: str, rest: str) -> str:
    return "\n".join(_wrapped(text, WIDTH, first, rest))
