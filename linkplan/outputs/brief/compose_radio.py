"""The base in short: where it stands, what it sends on, what the licence asks for."""

from __future__ import annotations

import math
from collections.abc import Iterator

from linkplan.channels.clauses import channel_of
from linkplan.outputs.brief.blocks import Block, Box, Pairs, Text
from linkplan.outputs.brief.words import Words
from linkplan.outputs.formats import geographic_position, number
from linkplan.plan.model import Plan
from linkplan.radio.licence import Licence
from linkplan.study import BriefFacts


def base_rows(facts: BriefFacts, words: Words) -> tuple[tuple[str, str], ...]:
    """The base's set-up in a few rows; the whole of it stands on a later page."""
    plan, show = facts.study.plan, words.show
    base, own = plan.base, facts.safety.exposure.antennas[0]
    rows = [("point", f"{base.name}, {show.position(base.easting, base.northing)}")]
    rows.append(("radio_height", words.say("act.above_ground", height=show.height(base.antenna_height_m))))
    values = {row.field: row.value for row in facts.set_up.rows}
    measured = [
        values[field] for field in ("base_antenna_height", "base_antenna_height_method") if values.get(field)
    ]
    rows.append(("gnss_height", ", ".join(measured) or words.say("number.not_stated")))
    on_air = words.say(
        "act.on_air",
        frequency=f"{plan.transmitter.frequency_mhz:.10g}",
        spacing=f"{plan.transmitter.channel_spacing_khz:g}",
    )
    rows.append(("frequency", on_air))
    power = words.say("act.power_at", power=f"{own.power_w:.3g}", eirp=f"{own.eirp_w:.3g}")
    rows += [("power", power), ("station", station_id(plan) or words.say("number.not_stated"))]
    if plan.sky is not None:
        hours = plan.sky.hours
        start, end = (f"{hours.local(one):%H:%M}" for one in (hours.start_utc, hours.end_utc))
        day = {"date": hours.date.isoformat(), "start": start, "end": end, "zone": hours.zone_name}
        rows.append(("day", words.say("act.day_hours", **day)))
    missing = len(facts.set_up.missing)
    if missing:
        rows.append(("missing", words.counted("act.missing", missing)))
    return tuple((words.say(f"act.{key}"), value) for key, value in rows)


def station_id(plan: Plan) -> str:
    """The base's station ID, or ""."""
    found = plan.corrections.station_id if plan.corrections is not None else None
    return "" if found is None else str(found)


def further_rows(facts: BriefFacts, words: Words) -> Iterator[tuple[str, str]]:
    """What else of the base is worth a row: for phones, and how long its battery lasts."""
    if not words.show.wgs84:
        longitude, latitude = facts.study.coverage.grid.frame.to_geographic(0.0, 0.0)
        yield words.say("act.wgs84"), geographic_position(float(longitude), float(latitude))
    life = facts.air_time.battery if facts.air_time is not None else None
    if life is not None:
        hours, keyed = (number(math.floor(10.0 * one) / 10.0) for one in (life.hours, life.hours_keyed))
        yield words.say("act.battery"), words.say("act.battery_hours", hours=hours, keyed=keyed)


def licence_box(facts: BriefFacts, words: Words) -> Box:
    """Call sign, channel and identification; without a licence, that nothing is permitted."""
    licence = facts.study.plan.licence
    title = words.say("act.licence_title")
    if licence is None:
        blank = words.say("act.blank")
        rows = tuple(
            (words.say(f"act.{key}"), blank) for key in ("call_sign", "channel", "expires", "identify")
        )
        return Box(title, (Text(words.say("act.unlicensed"), "strong"), Pairs(rows)), "alarm")
    stated = Pairs(tuple(_licence_rows(facts.study.plan, licence, words)))
    blocks: tuple[Block, ...] = (stated, Text(_duty(facts.study.plan, licence, words), "small"))
    if facts.breaches:
        return Box(title, (Text(words.say("act.licence_broken"), "strong"), *blocks), "alarm")
    return Box(title, blocks)


def _licence_rows(plan: Plan, licence: Licence, words: Words) -> Iterator[tuple[str, str]]:
    unstated = words.say("number.not_stated")
    channel = channel_of(licence, plan.transmitter.frequency_mhz)
    yield words.say("act.call_sign"), licence.call_sign or unstated
    yield words.say("act.channel"), words.say("act.no_channel") if channel is None else channel.name
    yield words.say("act.expires"), unstated if licence.expires is None else licence.expires.isoformat()
    every = licence.identification_interval_s
    often = unstated if every is None else words.say("act.identify_every", every=words.minutes(every))
    yield words.say("act.identify"), often


def _duty(plan: Plan, licence: Licence, words: Words) -> str:
    own = plan.identification_interval_s
    if own is not None:
        return words.say("act.identify_stated_radio", own=words.minutes(own))
    key = "act.identify_unknown" if licence.identification_interval_s is None else "act.identify_by_hand"
    return words.say(key)
