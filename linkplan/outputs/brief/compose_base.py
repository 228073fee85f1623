"""To look up: the surroundings of the base, mast and lines, and the antenna's field."""

from __future__ import annotations

from collections.abc import Iterator

from linkplan.coverage.mast_room import BY_VOLTAGE, STATED
from linkplan.outputs.brief.blocks import Block, Heading, Pairs, Picture, Table, Text
from linkplan.outputs.brief.words import Words, apart
from linkplan.plan.model import Plan
from linkplan.safety.results import ExposureAnswer, ExposureFigure, LineClearance, SafetyAnswer
from linkplan.study import BriefFacts
from linkplan.tables.exposure import LIMITS, PUBLIC


def around_the_base(facts: BriefFacts, words: Words, close: Picture) -> Iterator[Block]:
    """The close-up, mast and lines, then the exposure table."""
    safety = facts.safety
    yield Heading(words.say("around.title"))
    yield close
    yield Pairs(tuple(_mast_rows(safety, words)))
    yield Heading(words.say("field.title"))
    yield from field(facts, words)


def _mast_rows(safety: SafetyAnswer, words: Words) -> Iterator[tuple[str, str]]:
    mast, show = safety.mast, words.show
    factor, height = f"{mast.fall_factor:g}", show.height(mast.height_m)
    least, most = (show.height(share) for share in mast.guy_anchors_m)
    yield (
        words.say("around.fall"),
        words.say("around.fall_value", radius=words.keep(mast.fall_radius_m), factor=factor, height=height),
    )
    yield (
        words.say("around.guys"),
        words.say("around.guys_value", least=least, most=most, directions=mast.guy_directions),
    )
    fence_m = safety.fence_m
    if fence_m is None:
        fence = words.say("around.fence_none")
    elif fence_m == 0.0:
        fence = words.say("around.fence_outside")
    else:
        fence = words.say("around.fence_value", radius=words.room(fence_m))
    yield words.say("around.fence"), fence
    for line in mast.lines:
        yield words.say("around.line", name=line.name), _line_text(line, words)
    if not mast.lines:
        yield words.say("around.lines"), words.say("around.no_line")


def _line_text(line: LineClearance, words: Words) -> str:
    if line.basis == STATED:
        basis = words.say("around.basis_stated")
    elif line.basis == BY_VOLTAGE:
        basis = words.say(
            "around.basis_voltage", source=words.say("around.table"), voltage=f"{line.voltage_kv:g}"
        )
    else:
        basis = words.say("around.basis_unknown", source=words.say("around.table"))
    found, asked = apart(line.distance_m, line.wanted_m, words.show)
    return words.say(
        "around.line_held" if line.held else "around.line_broken",
        found=found,
        asked=asked,
        clearance=words.show.height(line.clearance_m, 2),
        basis=basis,
    )


def field(facts: BriefFacts, words: Words) -> Iterator[Block]:
    """Distances by every limit, and what they leave out."""
    exposure, show = facts.safety.exposure, words.show
    factor = f"{exposure.reflection_factor:g}"
    yield Text(words.say("field.intro", head=show.height(exposure.head_height_m), factor=factor))
    yield exposure_table(exposure, words)
    if any(one.keyed.near_field for one in exposure.figures):
        far, length = words.keep(exposure.far_field_from_m), show.height(exposure.antenna_length_m, 2)
        yield Text(words.say("field.near", far=far, length=length), "alarm")
    yield Text(words.say("field.judged"), "small")
    remarks = [*_counted(exposure, words), *_not_averaged(facts.study.plan, exposure, words)]
    by_pattern = exposure.figure(PUBLIC).keyed.pattern_radius_m
    if by_pattern is not None:
        remarks.append(words.say("field.pattern", radius=words.keep(by_pattern)))
    remarks += [*(words.note(note) for note in facts.safety.notes), *_limits(words)]
    yield Heading(words.say("field.notes"), 2)
    yield Text(" ".join(remarks), "small")


def exposure_table(exposure: ExposureAnswer, words: Words) -> Table:
    """Every limit for every group; those that decide stand out."""
    head = words.catalogue.lines("field.head", unit=words.unit)
    rows = tuple(_row(one, words) for one in exposure.figures)
    judged = (i for i, one in enumerate(exposure.figures) if one.limits == exposure.judged_by)
    return Table(head, rows, "<<>>>>>>", tuple(judged))


def _row(figure: ExposureFigure, words: Words) -> tuple[str, ...]:
    keyed, averaged = figure.keyed, figure.averaged
    share = then = words.say("number.unknown")
    if averaged is not None and figure.duty is not None:
        minutes = f"{figure.averaging_min:g}"
        share = words.say("field.share", share=words.percent(figure.duty), minutes=minutes)
        then = words.say(
            "field.pair",
            away=words.keep_number(averaged.distance_m),
            circle=words.keep_number(averaged.ground_radius_m),
        )
    return (
        limits_name(figure, words), words.say(f"field.{figure.group}"), f"{figure.limit_w_m2:.3g}",
        words.keep_number(keyed.distance_m), words.keep_number(keyed.ground_radius_m), words.band(keyed),
        share, then,
    )  # fmt: skip


def limits_name(figure: ExposureFigure, words: Words) -> str:
    """Which limits these are; a document without a text of its own keeps its name."""
    own = {"own": "field.own"}
    key = own.get(figure.limits, f"field.limits_{figure.limits.replace('.', '_')}")
    return words.say(key) if words.catalogue.has(key) else figure.name


def _counted(exposure: ExposureAnswer, words: Words) -> Iterator[str]:
    for one in exposure.antennas:
        first = one is exposure.antennas[0]
        yield words.say(
            "field.counted" if first else "field.counted_away",
            name=one.name, power=f"{one.power_w:.3g}", eirp=f"{one.eirp_w:.3g}",
            frequency=f"{one.frequency_mhz:g}", height=words.show.height(one.height_m),
            away=words.show.height(one.away_m),
        )  # fmt: skip


def _not_averaged(plan: Plan, exposure: ExposureAnswer, words: Words) -> Iterator[str]:
    if exposure.duty_unknown:
        stream = plan.corrections
        missing = "stream" if stream is None else "framing" if stream.framing is None else "pattern"
        yield words.say(f"field.not_averaged_{missing}")


def _limits(words: Words) -> Iterator[str]:
    for key in LIMITS:
        yield words.say("rests.limits", read=words.say(f"rests.read_{key.replace('.', '_')}"))
    yield words.say("rests.reflection")
