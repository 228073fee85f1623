"""A plain invented job with a base, its corrections and recordings that agree with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from pyproj import Transformer

from dem_samples.rtcm_writer import antenna, biases, frame, msm, reference_point
from linkplan.plan.model import Base, ControlPoint, Plan
from linkplan.radio.stream import CorrectionStream, Message
from tests.coverage.conftest import EAST, JOB_CRS, NORTH, plain_plan

GROUND_M, GEOID_M, ANTENNA_M = 300.0, 45.0, 1.8
TEXTS = ("DEMO ANTENNA", "1", "DEMO RECEIVER", "2", "3")
MESSAGES = (
    Message(1074, 1.0, satellites=10, signals=2),
    Message(1084, 1.0, satellites=8, signals=2),
    Message(1006, 10.0),
    Message(1033, 30.0, texts=TEXTS),
    Message(1230, 30.0, biases=4),
)
STATION = 31
CONTROL = (
    ControlPoint("P1", EAST, NORTH, GROUND_M),
    ControlPoint("P2", EAST + 240.0, NORTH - 310.0, GROUND_M),
)


def job(**changes: Any) -> Plan:
    """The job; `corrections`, `base` and the rest may be changed."""
    values: dict[str, Any] = {
        "base": Base("P1", EAST, NORTH, GROUND_M, 10.0),
        "corrections": CorrectionStream(STATION, MESSAGES, None, None),
        "control_points": CONTROL,
    }
    return plain_plan(**{**values, **changes})


def with_messages(*messages: Message) -> Plan:
    """The job with other messages."""
    return job(corrections=CorrectionStream(STATION, messages, None, None))


def changed(number: int, **changes: Any) -> Plan:
    """The job with one message planned otherwise."""
    return with_messages(*(replace(one, **changes) if one.number == number else one for one in MESSAGES))


@cache
def ecef(east_m: float = 0.0, north_m: float = 0.0, up_m: float = 0.0) -> tuple[float, float, float]:
    """The antenna over the job's base, moved along the job's grid, by pyproj."""
    move = Transformer.from_crs(JOB_CRS, "EPSG:4979", always_xy=True)
    longitude, latitude = move.transform(EAST + east_m, NORTH + north_m)
    height = GROUND_M + GEOID_M + ANTENNA_M + up_m
    return Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True).transform(
        longitude, latitude, height
    )


def sent(
    seconds: int = 70,
    *,
    station: int = STATION,
    point: Sequence[float] | None = None,
    left_out: Sequence[int] = (),
    texts: Sequence[str] = TEXTS,
    kinds: Sequence[int] = (1074, 1084),
    satellites: int = 9,
    signals: Sequence[int] = (2, 16),
    point_every: int = 10,
    point_number: int = 1006,
    pause: Sequence[int] = (),
    extra: Sequence[bytes] = (),
) -> bytes:
    """A recording; without changes it agrees with the job."""
    out = []
    for second in range(seconds):
        if second in pause:
            continue
        payloads = []
        for kind in kinds:
            glonass = kind // 10 == 108
            epoch = 3 << 27 | 40_000_000 + 1000 * second if glonass else 1000 * second
            places = [2, 8] if glonass else list(signals)
            payloads.append(
                (kind, msm(kind, station, epoch, range(1, min(satellites, 8 if glonass else 64) + 1), places))
            )
        if second % point_every == 0:
            payloads.append(
                (point_number, reference_point(point_number, station, point or ecef(), ANTENNA_M))
            )
        if second % 30 == 0:
            payloads.append((1033, antenna(1033, station, texts)))
            payloads.append((1230, biases(station, 4)))
        out += [frame(payload) for number, payload in payloads if number not in left_out]
        out += list(extra)
    return b"".join(out)
