"""To look up: the whole set-up with its check code, and what the prediction rests on."""

from __future__ import annotations

from collections.abc import Iterator

from linkplan import __version__
from linkplan.agreement.base_point import BasePointSetUp, ComparedPosition, TapeReading
from linkplan.agreement.setup import SetUpRow
from linkplan.outputs import formats
from linkplan.outputs.brief.blocks import Beside, Block, Heading, Pairs, Points, Text
from linkplan.outputs.brief.compose_radio import further_rows
from linkplan.outputs.brief.words import Words
from linkplan.plan.model import Plan
from linkplan.plan.sheet_fields import GROUPS
from linkplan.study import BriefFacts
from linkplan.terrain.dem import NOT_STATED

_ROUGH_M = 0.5
"""Positions that may differ by more are not shown to the millimetre."""


def set_up_rows(facts: BriefFacts, words: Words) -> Iterator[Block]:
    """Every setting, radio and corrections beside the base point."""
    sheet = facts.set_up
    yield Heading(words.say("setup.title"))
    yield Text(
        words.say(
            "setup.intro", code=sheet.code, spelled=sheet.code_spelled, radio=sheet.radio_code,
            corrections=sheet.corrections_code, position=sheet.position_code,
        ),
        "small",
    )  # fmt: skip
    radio, corrections, position = ([row for row in sheet.rows if row.group == group] for group in GROUPS)
    titled = {name: Heading(words.say(f"setup.group.{name}"), 2) for name in GROUPS}
    left = (titled["radio"], _rows(radio, words), titled["corrections"], _rows(corrections, words))
    right = (titled["position"], _rows(position, words), Pairs(tuple(further_rows(facts, words))))
    yield Beside(left, right)
    if sheet.base_point is not None:
        yield Points(tuple(_occupied(sheet.base_point, words)), tone="small")


def _rows(rows: list[SetUpRow], words: Words) -> Pairs:
    blank = words.say("setup.open")
    return Pairs(tuple((f"{row.number} {_title(row, words)}", row.value or blank) for row in rows))


def _title(row: SetUpRow, words: Words) -> str:
    title = words.say(f"setup.field.{row.field}")
    if row.base_title == row.rover_title:
        return title
    return words.say("setup.both", base=title, rover=words.say(f"setup.field.{row.field}_rover"))


def _occupied(point: BasePointSetUp, words: Words) -> Iterator[str]:
    if point.antenna is not None:
        first, *others = point.antenna.readings
        yield words.say("setup.occupied", **_reading(first, words))
        for other in others:
            yield words.say("setup.occupied_also", **_reading(other, words))
    position = point.position
    if position is not None and position.origin == "known":
        yield words.say("setup.known")
    elif position is not None:
        yield words.say(
            "setup.averaged",
            seconds=formats.grouped(position.averaging_s or 0.0),
            horizontal=words.show.height(position.error.horizontal_m),
            vertical=words.show.height(position.error.vertical_m),
        )
    for one in point.compared:
        yield _compared(one, words)


def _reading(one: TapeReading, words: Words) -> dict[str, str]:
    return {"way": words.say(f"setup.way_{one.way}"), "reading": words.show.height(one.reading_m, 3)}


def _compared(one: ComparedPosition, words: Words) -> str:
    found, show = one.found, words.show

    def shown(metres: float, allowed_m: float) -> str:
        return show.height(metres, 1 if allowed_m > _ROUGH_M else 3)

    values = {
        "name": one.name,
        "horizontal": shown(found.horizontal_m, found.allowed_horizontal_m),
        "allowed": shown(found.allowed_horizontal_m, found.allowed_horizontal_m),
    }
    if found.vertical_m is None:
        return words.say("setup.compared", **values)
    return words.say(
        "setup.compared_height",
        **values,
        vertical=shown(abs(found.vertical_m), found.allowed_vertical_m),
        allowed_vertical=shown(found.allowed_vertical_m, found.allowed_vertical_m),
    )


def what_it_rests_on(facts: BriefFacts, words: Words) -> Iterator[Block]:
    """Sources and limits of the prediction, messages, revision."""
    yield Heading(words.say("rests.title"))
    rests = (*_prediction(facts, words), *_ground(facts, words), words.say("rests.cannot"))
    yield Text(" ".join(rests), "small")
    messages = _messages(facts)
    if messages:
        yield Heading(words.say("rests.messages"), 2)
        yield Text(words.say("rests.messages_intro"), "small")
        yield Points(messages, tone="small")
    plan = facts.study.plan
    key = "rests.hash" if plan.job_hash else "rests.no_hash"
    time = words.moment(facts.computed_at)
    yield Text(
        words.say(key, file=plan.file.name, hash=plan.job_hash, time=time, version=__version__), "small"
    )


def _prediction(facts: BriefFacts, words: Words) -> Iterator[str]:
    plan, coverage = facts.study.plan, facts.study.coverage
    yield words.say(
        "rests.model",
        frequency=f"{plan.transmitter.frequency_mhz:.10g}",
        cell=words.show.distance(coverage.grid.cell_size_m),
        noise=words.say(f"noise.{plan.environment.noise}"),
    )
    yield calibration_line(plan, words)
    yield words.say("rests.spread", spread=formats.decibels(coverage.sigma_db), **_own_error(plan, words))


def _own_error(plan: Plan, words: Words) -> dict[str, str]:
    assumed = plan.environment.prediction_sigma_assumed
    why = "logs" if plan.calibration is not None else "practice" if assumed else "stated"
    return {"error": formats.decibels(plan.prediction_sigma_db), "why": words.say(f"rests.why_{why}")}


def short_calibration(plan: Plan, words: Words) -> str:
    """For the first page: whether logs have taught the prediction."""
    found = plan.calibration
    if found is None:
        return words.say("rests.short_uncalibrated", **_own_error(plan, words))
    epochs = _counted_grouped("rests.epochs", found.epochs, words)
    return words.say("rests.short_calibrated", logs=words.counted("rests.logs", found.logs), epochs=epochs)


def calibration_line(plan: Plan, words: Words) -> str:
    """Whether logs have taught the prediction, and how many."""
    found = plan.calibration
    if found is None:
        return words.say("rests.uncalibrated")
    return words.say(
        "rests.calibrated",
        date=found.made.isoformat(),
        logs=words.counted("rests.logs", found.logs),
        epochs=_counted_grouped("rests.epochs", found.epochs, words),
        samples=formats.grouped(found.samples),
        blocks=formats.grouped(found.blocks),
        offset=formats.decibels(found.offset_db, signed=True),
    )


def _counted_grouped(key: str, count: int, words: Words) -> str:
    return words.say(f"{key}_{'one' if count == 1 else 'many'}", count=formats.grouped(count))


def _ground(facts: BriefFacts, words: Words) -> Iterator[str]:
    plan, grid = facts.study.plan, facts.study.coverage.grid
    files = ", ".join(file.name for file in plan.terrain.files)
    unstated = grid.height_datum == NOT_STATED
    yield words.say(
        "rests.terrain_unstated" if unstated else "rests.terrain", files=files, datum=grid.height_datum
    )
    if plan.clutter is None:
        yield words.say("rests.no_clutter")
    else:
        yield words.say("rests.clutter", file=plan.clutter.file.name)


def _messages(facts: BriefFacts) -> tuple[str, ...]:
    """Free text of the program, in English: how the licence is broken, warnings of coverage and set-up."""
    broken = [f"{one.clause} = {one.stands}: {one.who}: {one.problem}" for one in facts.breaches]
    found = [*broken, *facts.study.summary.warnings, *facts.set_up.warnings]
    return tuple(dict.fromkeys(found))
