"""A job's safety as plain text: what is not as asked, the distances to keep, the gaps, the cautions."""

from __future__ import annotations

import math
from collections.abc import Iterator

from linkplan.coverage.mast_room import BY_VOLTAGE, STATED
from linkplan.outputs import formats
from linkplan.outputs.calibration_words import calibration_line
from linkplan.outputs.formats import SHORT, Formats
from linkplan.outputs.text import filled, table
from linkplan.plan.model import Plan
from linkplan.safety.cautions import Caution
from linkplan.safety.results import (
    FENCE,
    GUIDANCE,
    LINE,
    ExposureAnswer,
    ExposureFigure,
    Finding,
    GuidanceZone,
    LineClearance,
    MastAnswer,
    Reach,
    SafetyAnswer,
)
from linkplan.sources import SOURCES
from linkplan.tables.exposure import LIMITS, PUBLIC
from linkplan.tables.overhead_lines import SOURCE, UNKNOWN_VOLTAGE_WORDS
from linkplan.units import METRES_PER_UNIT

GROUP_WORDS = {PUBLIC: "anybody", "worker": "workers"}
NO_LINE = "No line is given in the job file, which says nothing about the site: look for them."
WHO_DECIDES = "Local codes, the licence and a qualified person decide; a prediction is verified on site."


def safety_text(plan: Plan, answer: SafetyAnswer) -> str:
    """The whole answer, ready to print."""
    show = Formats.of(plan)
    parts = [
        f"{answer.job_name}: safety around the base",
        filled(
            f"Base {answer.base_name} at {show.position(answer.easting, answer.northing)}, radio antenna "
            f"{show.height(answer.mast.height_m)} above ground"
        ),
        "",
        *(filled(line) for line in verdict_lines(answer, show)),
        "",
        *_exposure(answer, show),
        "",
        *_mast(answer.mast, show),
    ]
    for zone in answer.zones:
        parts += ["", *_zone(zone, show)]
    what_to_do = {zone.relies: zone.what_to_do for zone in answer.zones}
    for caution in (*what_to_do.values(), *answer.cautions):
        parts += ["", *_caution(caution)]
    parts += [
        "",
        *(filled(f"note: {note.text}", then="      ") for note in answer.notes),
        *(
            filled(f"note: {line}", then="      ")
            for line in [calibration_line(plan)]
            if line and answer.zones
        ),
        filled(WHO_DECIDES),
    ]
    return "\n".join(parts)


def verdict_lines(answer: SafetyAnswer, show: Formats) -> list[str]:
    """What is not as asked, or that nothing is, and how little that says."""
    broken = [one for one in answer.findings if not one.held]
    if broken:
        return ["NOT AS ASKED:", *(f"- {finding_line(one, show)}" for one in broken)]
    if not answer.findings:
        return [
            "Nothing is asked: the job states no fence, no overhead line and no zone where somebody relies "
            "on corrections. Distances and cautions follow."
        ]
    held = "; ".join(finding_line(one, show) for one in answer.findings)
    return [f"As asked: {held}. That says nothing about what the job file does not state."]


def finding_line(finding: Finding, show: Formats) -> str:
    """One rule with what was found and what is asked for."""
    if finding.rule == FENCE:
        asked, found = show.height(finding.asked, 1), keep(finding.found, show)
        fits = "fits" if finding.held else "does NOT fit"
        return f"the circle to keep anybody out of, {found}, {fits} the fence, {asked}"
    if finding.rule == LINE:
        asked, found = show.height(finding.asked, 2), there(finding.found, show)
        return f"line {finding.name}: {found} away, {asked} asked for"
    assert finding.rule == GUIDANCE
    if finding.found == 0.0:
        return f"zone {finding.name}: no gap predicted"
    # rounded up: what is too long never reads as the limit
    found = seconds(math.ceil(10.0 * finding.found - 1e-6) / 10.0)
    return f"zone {finding.name}: longest gap {found} without corrections, {seconds(finding.asked)} allowed"


def _exposure(answer: SafetyAnswer, show: Formats) -> Iterator[str]:
    exposure = answer.exposure
    yield filled(
        "The antenna's field: keep people this far away while the transmitter may key "
        f"(heads {show.height(exposure.head_height_m)} up, level ground, power density "
        f"x{exposure.reflection_factor:g} for the ground's reflection):"
    )
    head, rows = exposure_table(exposure, show)
    yield table(head, rows, "<<>>>>>>")
    yield filled(
        "* decides. Away: from the antenna in any direction; ground: radius of the circle there; heights: "
        "the band around the antenna to keep clear; keyed: the most that the corrections key it within the "
        "document's averaging time, and what away and ground would be then. The circle to keep is that of a "
        "transmitter keyed all the time."
    )
    for one in exposure.antennas:
        away = f", {show.height(one.away_m)} away" if one is not exposure.antennas[0] else ""
        yield filled(
            f"Counted: {one.name}, {one.power_w:.3g} W at the radio, {one.eirp_w:.3g} W EIRP at "
            f"{one.frequency_mhz:g} MHz, {show.height(one.height_m)} up{away}"
        )
    if exposure.duty_unknown:
        yield filled(f"Nothing is averaged: {exposure.duty_unknown}.")
    yield from _pattern(exposure, show)
    yield from _near_field(exposure, show)
    if answer.fence_m is None:
        yield "No fence is stated in the job file: keep the circle clear in some other way."
    read = "; ".join(f"{LIMITS[key].name}: {LIMITS[key].read}" for key in LIMITS)
    yield filled(f"How the limits were reached: {read}. Reflection: {SOURCES['OET 65']}")


def exposure_table(exposure: ExposureAnswer, show: Formats) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Limits as a head and rows; distances are rounded away from people."""
    unit = SHORT[show.height_unit]
    head = (
        "limits", "for", "W/m2", f"away ({unit})", f"ground ({unit})", f"heights ({unit})", "keyed",
        f"then ({unit})",
    )  # fmt: skip
    rows = [_row(one, one.limits == exposure.judged_by, show) for one in exposure.figures]
    return head, rows


def _row(figure: ExposureFigure, judged: bool, show: Formats) -> tuple[str, ...]:
    keyed, averaged = figure.keyed, figure.averaged
    share = then = "unknown"
    if averaged is not None and figure.duty is not None:
        share = f"{formats.percent(figure.duty)} in {figure.averaging_min:g} min"
        then = f"{keep_number(averaged.distance_m, show)}, {keep_number(averaged.ground_radius_m, show)}"
    return (
        f"{figure.name}{' *' if judged else ''}", GROUP_WORDS[figure.group], f"{figure.limit_w_m2:.3g}",
        keep_number(keyed.distance_m, show), keep_number(keyed.ground_radius_m, show),
        " to ".join(band_ends(keyed, show)), share, then,
    )  # fmt: skip


def band_ends(reach: Reach, show: Formats) -> tuple[str, str]:
    """The band of heights to keep clear, rounded outwards: from, to."""
    low = math.floor(reach.lowest_m / METRES_PER_UNIT[show.height_unit] * 10.0 + 1e-9) / 10.0
    return f"{low:.1f}", keep_number(reach.highest_m, show)


def _pattern(exposure: ExposureAnswer, show: Formats) -> Iterator[str]:
    by_pattern = exposure.figure(PUBLIC).keyed.pattern_radius_m
    if by_pattern is not None:
        yield filled(
            f"By the antenna's vertical pattern the circle for anybody is {keep(by_pattern, show)} on the "
            "ground; a pattern is that of an antenna in the clear, so the wider one is kept."
        )


def _near_field(exposure: ExposureAnswer, show: Formats) -> Iterator[str]:
    if any(one.keyed.near_field for one in exposure.figures):
        yield filled(
            f"CAUTION: nearer than {keep(exposure.far_field_from_m, show)} to an antenna "
            f"{show.height(exposure.antenna_length_m, 2)} long the far field's formula does not hold, and a "
            "distance below that is a guess: ask the antenna's maker for his, and keep more until then."
        )


def _mast(mast: MastAnswer, show: Formats) -> Iterator[str]:
    least, most = mast.guy_anchors_m
    yield filled(
        f"Mast: falls within {keep(mast.fall_radius_m, show)} of its foot ({mast.fall_factor:g} x "
        f"{show.height(mast.height_m)}). Guy anchors {show.height(least)} to {show.height(most)} from its "
        f"foot, in {mast.guy_directions} directions or more, where it is guyed (common practice: its maker "
        "decides)."
    )
    for line in mast.lines:
        yield filled(f"Overhead line: {line_line(line, show)}", then="  ")
    if not mast.lines:
        yield filled(f"Overhead lines: {NO_LINE}")


def line_line(line: LineClearance, show: Formats) -> str:
    """One overhead line in words."""
    held = "held" if line.held else "NOT held"
    if line.basis == STATED:
        basis = "as the job states it"
    elif line.basis == BY_VOLTAGE:
        basis = f"by {SOURCE}, for {line.voltage_kv:g} kV"
    else:
        basis = UNKNOWN_VOLTAGE_WORDS
    return (
        f"{line.name}: {there(line.distance_m, show)} on the ground, {show.height(line.wanted_m, 2)} "
        f"asked for, {held}: fall radius and a clearance of {show.height(line.clearance_m, 2)} ({basis})"
    )


def _zone(zone: GuidanceZone, show: Formats) -> Iterator[str]:
    pace = " (walking pace, not stated)" if zone.speed_assumed else ""
    yield filled(
        f"Zone {zone.name}: {zone.relies} rely on corrections at {zone.speed_km_h:g} km/h{pace}; they bear "
        f"{seconds(zone.age_limit_s)} without."
    )
    if not zone.gap_count:
        yield filled(f"No gap is predicted in its {show.area(zone.area_m2)}; one may be there all the same.")
    else:
        few = f", the {len(zone.gaps)} longest" if len(zone.gaps) < zone.gap_count else ""
        yield filled(
            f"Gaps: {zone.gap_count}{few}; {formats.percent(zone.gap_share)} of its "
            f"{show.area(zone.area_m2)}, {formats.percent(zone.unknown_share)} of it on unknown ground. A "
            "machine or person that turns, slows or stops inside one is longer without:"
        )
        yield table(*_gap_table(zone, show))


def _gap_table(zone: GuidanceZone, show: Formats) -> tuple[tuple[str, ...], list[tuple[str, ...]], str]:
    first, second = show.axis_names
    area_unit, areas = show.area_column([gap.area_m2 for gap in zone.gaps])
    unit, ways = show.distance_column([gap.way_m for gap in zone.gaps])
    head = ("no", f"area ({area_unit})", f"way ({unit})", "without", "", "unknown", first, second)
    rows: list[tuple[str, ...]] = [
        (str(gap.number), area, way, seconds(gap.seconds), "TOO LONG" if gap.too_long else "",
         formats.percent(gap.unknown_share), show.coordinate(gap.easting), show.coordinate(gap.northing))
        for gap, area, way in zip(zone.gaps, areas, ways, strict=True)
    ]  # fmt: skip
    return head, rows, ">>>><>>>"


def _caution(caution: Caution) -> Iterator[str]:
    yield f"{caution.title}:"
    for line in caution.what_to_do:
        yield filled(line, "  - ", "    ")
    yield filled(caution.who_decides, "  ", "  ")


def keep_number(metres: float, show: Formats) -> str:
    """A distance to keep, rounded up to a tenth of the unit, without it."""
    tenths = math.ceil(metres / METRES_PER_UNIT[show.height_unit] * 10.0 - 1e-9)
    return f"{tenths / 10.0:.1f}"


def keep(metres: float, show: Formats) -> str:
    """A distance to keep, rounded up."""
    return f"{keep_number(metres, show)} {SHORT[show.height_unit]}"


def there(metres: float, show: Formats) -> str:
    """A distance that is there, exact enough beside what is asked for."""
    return show.height(metres, 2 if metres < 100.0 else 0)


def seconds(value_s: float) -> str:
    """A time without corrections."""
    return f"{value_s:.1f} s" if value_s < 99.95 else f"{value_s:.0f} s"
