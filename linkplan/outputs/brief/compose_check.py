"""The radio check before work, in steps to tick, with the job's own values."""

from __future__ import annotations

import math
from collections.abc import Iterator

from linkplan.outputs.brief.blocks import Block, Heading, Points
from linkplan.outputs.brief.compose_radio import station_id
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.words import Words
from linkplan.plan.model import ControlPoint
from linkplan.study import BriefFacts, Study

GAPS_VISITED = 2
"""Of the job, besides the worst of each zone's."""
ZONES_VISITED = 3
_KEPT = "\N{NO-BREAK SPACE}"
"""Between a gap's tag and where it is."""


def radio_check(facts: BriefFacts, words: Words, said: PictureWords) -> tuple[Block, ...]:
    """Steps in their order."""
    steps = tuple(_steps(facts, words, said))
    return (Heading(words.say("act.check_title")), Points(steps, numbered=True, boxes=True))


def _steps(facts: BriefFacts, words: Words, said: PictureWords) -> Iterator[str]:
    plan = facts.study.plan
    age = words.seconds(plan.safety.age_limit_s)
    frequency, station = f"{plan.transmitter.frequency_mhz:.10g}", station_id(plan)
    yield words.say("check.look", away=words.keep_away(facts.safety.exposure))
    yield words.say("check.code", code=facts.set_up.code)
    key = "check.station" if station else "check.station_unknown"
    yield words.say(key, frequency=frequency, station=station)
    yield words.say("check.age", age=age)
    point = check_point(facts.study)
    if point is None:
        yield words.say("check.control_none")
    else:
        place = words.show.position(point.easting, point.northing)
        yield words.say("check.control", name=point.name, place=place)
    gaps = ", ".join(_gaps(facts, words, said))
    yield words.say("check.gap", gaps=gaps) if gaps else words.say("check.gap_none")
    yield words.say("check.lose", age=age)


def check_point(study: Study) -> ControlPoint | None:
    """The first control point that is not the base's own, of those with the wanted chance of corrections
    where there are such."""
    base = study.plan.base
    at = base.easting, base.northing
    others = [one for one in study.plan.control_points if one.name != base.name]
    others = [one for one in others if (one.easting, one.northing) != at]
    served = (one for one in others if _served(one, study))
    return next(served, others[0] if others else None)


def _served(point: ControlPoint, study: Study) -> bool:
    grid, limit_m = study.coverage.grid, study.plan.goal.baseline_limit_m
    x_m, y_m = grid.frame.to_local(point.easting, point.northing)
    cell = grid.cell_of(float(x_m), float(y_m))
    near = limit_m is None or math.hypot(x_m, y_m) <= limit_m
    return near and cell is not None and bool(study.coverage.class_index[cell] == 1)


def _gaps(facts: BriefFacts, words: Words, said: PictureWords) -> Iterator[str]:
    show = words.show
    zones = [(i, zone) for i, zone in enumerate(facts.safety.zones, start=1) if zone.gaps]
    for number, zone in zones[:ZONES_VISITED]:
        gap = zone.gaps[0]
        place = show.position(gap.easting, gap.northing)
        yield f"{said.zone_gap_number(number, gap.number)}{_KEPT}({place})"
    for other in facts.study.summary.gaps[: GAPS_VISITED if zones else GAPS_VISITED + 1]:
        place = show.position(other.easting, other.northing)
        yield f"{said.gap_number(other.number)}{_KEPT}({place})"
