"""The whole answer on a job's air time."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.airtime.advice import Advice, advise
from linkplan.airtime.changes import changes_for
from linkplan.errors import Fault, JobFileError
from linkplan.plan.model import Plan
from linkplan.radio.air_time import AirTime, air_time
from linkplan.radio.battery import BatteryLife, battery_life
from linkplan.radio.stream import CorrectionStream, Framing
from linkplan.tables.framing import PRESETS


@dataclass(frozen=True)
class AirTimeAnswer:
    """Does it fit, for how long is there power, and what would help."""

    job_name: str
    station_id: int | None
    fits: bool
    framing: Framing
    air_time: AirTime
    advice: Advice | None
    """None where the stream fits."""
    battery: BatteryLife | None
    """None where the job states no [supply]."""
    notes: tuple[str, ...]
    """What is assumed, one line each."""


def check_air_time(plan: Plan) -> AirTimeAnswer:
    """Put the job's stream on the air; JobFileError where the job does not say what is sent, or how."""
    stream = plan.corrections
    if stream is None:
        fault = Fault("corrections", "", "this table is missing", "add [corrections] with its messages")
        raise JobFileError(str(plan.file), (fault,))
    if stream.framing is None:
        names = ", ".join(f'"{name}"' for name in PRESETS)
        cure = f"add [framing] with the radio's numbers, or with one of the generic presets {names}"
        raise JobFileError(str(plan.file), (Fault("framing", "", "this table is missing", cure),))
    result = air_time(stream.messages, stream.framing)
    advice = None
    if not result.fits:
        spacing_khz = plan.transmitter.channel_spacing_khz
        allowed_khz = tuple(one.spacing_khz for one in plan.licence.channels) if plan.licence else ()
        advice = advise(stream, result, changes_for(stream, spacing_khz, allowed_khz or None))
    return AirTimeAnswer(
        job_name=plan.name,
        station_id=stream.station_id,
        fits=result.fits,
        framing=stream.framing,
        air_time=result,
        advice=advice,
        battery=battery_life(stream.supply, result.duty_cycle) if stream.supply else None,
        notes=_notes(stream, result),
    )


def _notes(stream: CorrectionStream, result: AirTime) -> tuple[str, ...]:
    notes = []
    if stream.framing is not None and stream.framing.name in PRESETS:
        notes.append(
            f"the framing {stream.framing.name} is generic, of no particular radio: put the radio's own "
            "numbers into [framing]"
        )
    notes.append(
        "counted is the time on the air; the receiver's own delay and the cable to the radio come on top"
    )
    if any(message.signals for message in stream.messages):
        notes.append("every satellite is counted with all its signals, as receivers were seen to send them")
    assumed = [str(load.number) for load in result.messages if load.texts_assumed]
    if assumed:
        notes.append(f"texts of {', '.join(assumed)} are not stated: the longest, 31 characters, are counted")
    split = [str(load.number) for load in result.messages if load.signals and load.frames > 1]
    if split:
        notes.append(f"{', '.join(split)} holds more than 64 cells and is sent as several messages")
    if result.bounded:
        notes.append(
            "the intervals repeat only after a very long time: all messages are taken to fall together, so "
            "the worst epoch and the times are upper bounds"
        )
    if stream.station_id is None:
        notes.append("the job does not state the station ID (corrections.station_id)")
    return tuple(notes)
