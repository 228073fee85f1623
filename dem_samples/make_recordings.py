"""Make the basin demo's invented recordings: a correction stream and a rover's log.

    python -m dem_samples.make_recordings [FOLDER]

Nothing is measured: everything follows from the job's [corrections] and the numbers below, the same bytes
each time. Both hold mistakes on purpose, so that `linkplan capture` and `linkplan rover` have something to
find; each begins with a line that says it is invented.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from pathlib import Path

from pyproj import Transformer

from dem_samples.rtcm_writer import antenna, biases, frame, msm, reference_point, restart_noise
from linkplan.gnss.nmea_sentences import checksum
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan
from linkplan.radio.frame_sizes import msm_kind
from linkplan.radio.stream import Message

HERE = Path(__file__).resolve().parent
JOB = "basin.toml"
CAPTURE, LOG = "basin_capture.rtcm3", "basin_rover.nmea"
SAYS_INVENTED = "linkplan demo: this recording is invented"

# The base: set up on B1, but its receiver was left to find its place by itself.
GEOID_M = -25.9
"""An invented height of the geoid over the ellipsoid."""
GNSS_ANTENNA_M = 1.8
OWN_POSITION_ERROR_M = (1.02, -0.87, 1.6)
"""East, north, up."""
SECONDS = 180
START_WEEK_MS = 2 * 86_400_000 + (23 * 3600 + 50 * 60 + 18) * 1000
PAUSE = range(96, 101)
"""Seconds of the recording that never came."""
DAMAGED = 140
"""Second in which a frame is damaged."""
LEFT_OUT = 1230
SENT_AS_MSM7 = 1074
SATELLITES_UP = {107: 9, 108: 7, 109: 8, 112: 11}
SIGNALS = {107: (2, 16), 108: (2, 8), 109: (2, 15), 112: (2, 14), 111: (2, 16)}
"""Places in the signal mask; more where the job plans more."""

# The rover: a walk from the base down into the basin, over midnight UTC.
WALK_S = 1200
START_S = 23 * 3600 + 50 * 60
DATES = ("120526", "130526")
WALK_EAST_M, WALK_NORTH_M, WALK_DOWN_M = -1450.0, -2600.0, -230.0
NO_CORRECTIONS_UNTIL, FLOAT_UNTIL = 20, 38
BEHIND_THE_RIDGE = range(430, 478)
OTHER_BASE = range(800, 861)
OTHER_STATION = 77


def capture(plan: Plan) -> bytes:
    """The recorded stream of the job, with its mistakes."""
    restart_noise()
    stream = plan.corrections
    if stream is None or stream.station_id is None:
        raise SystemExit(f"{JOB} must state the station ID and the messages of its corrections")
    point = _base_ecef(plan)
    out = [f"{SAYS_INVENTED}\r\n".encode()]
    for second in range(SECONDS):
        for message in stream.messages:
            if not _due(message, second) or message.number == LEFT_OUT or second in PAUSE:
                continue
            one = bytearray(frame(_payload(message, stream.station_id, second, point)))
            if second == DAMAGED and message is stream.messages[0]:
                one[len(one) // 2] ^= 0x10
            out.append(bytes(one))
    return b"".join(out)


def _due(message: Message, second: int) -> bool:
    since = second - message.offset_s
    return math.floor(since / message.interval_s) > math.floor((since - 1.0) / message.interval_s)


def _payload(message: Message, station_id: int, second: int, point: tuple[float, ...]) -> bytes:
    number = message.number
    if number in (1005, 1006):
        return reference_point(number, station_id, point, GNSS_ANTENNA_M)
    if number in (1007, 1008, 1033):
        texts = message.texts or ("DEMO ANTENNA", "0001", "DEMO RECEIVER", "1.0", "0002")
        return antenna(number, station_id, texts[: {1007: 1, 1008: 2, 1033: 5}[number]])
    if number == 1230:
        return biases(station_id, message.biases)
    if msm_kind(number) is None:
        raise SystemExit(f"{JOB}: the demo's recording has no words for message {number}")
    system = number // 10
    up = min(SATELLITES_UP.get(system, 6), message.satellites)
    places = [*SIGNALS[system], *(place for place in range(2, 33) if place not in SIGNALS[system])]
    sent = system * 10 + 7 if number == SENT_AS_MSM7 else number
    satellites = [3 + 2 * place + (second // 90) * (place % 2) for place in range(up)]
    return msm(sent, station_id, _epoch(system, second), satellites, sorted(places[: message.signals]))


def _epoch(system: int, second: int) -> int:
    """The 30 bits of an MSM's epoch."""
    gps_ms = START_WEEK_MS + second * 1000
    if system == 112:
        return gps_ms - 14_000
    if system == 108:
        moscow_ms = gps_ms - 18_000 + 3 * 3_600_000
        return (moscow_ms // 86_400_000) % 7 << 27 | moscow_ms % 86_400_000
    return gps_ms


def _base_ecef(plan: Plan) -> tuple[float, ...]:
    east, north, up = OWN_POSITION_ERROR_M
    height = (plan.base.height_m or 0.0) + GEOID_M + GNSS_ANTENNA_M + up
    move = Transformer.from_crs(plan.crs, "EPSG:4979", always_xy=True)
    longitude, latitude = move.transform(plan.base.easting + east, plan.base.northing + north)
    to_ecef = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
    x, y, z = to_ecef.transform(longitude, latitude, height)
    return x, y, z


def rover_log(plan: Plan) -> bytes:
    """The rover's log, with what happened on the way."""
    restart_noise()
    stream = plan.corrections
    if stream is None or stream.station_id is None:
        raise SystemExit(f"{JOB} must state the station ID of its corrections")
    move = Transformer.from_crs(plan.crs, "EPSG:4326", always_xy=True)
    lines = [sentence(f"GNTXT,01,01,02,{SAYS_INVENTED}")]
    for second in range(WALK_S):
        share = second / WALK_S
        longitude, latitude = move.transform(
            plan.base.easting + 12.0 + WALK_EAST_M * share, plan.base.northing - 9.0 + WALK_NORTH_M * share
        )
        height = (plan.base.height_m or 0.0) + WALK_DOWN_M * share + 2.0
        lines += _epoch_lines(second, longitude, latitude, height, stream.station_id)
    # what loggers do: a sentence broken off, a wrong checksum, another protocol in between
    lines[300] = lines[300][:31]
    lines[600] = (
        lines[600].replace(b"GNGGA", b"GNGGB") if b"GNGGA" in lines[600] else lines[600][:-6] + b"00\r\n"
    )
    lines.insert(900, frame(biases(stream.station_id, 4)))
    return b"".join(lines)


def _epoch_lines(
    second: int, longitude: float, latitude: float, height: float, station: int
) -> Iterator[bytes]:
    day, time = divmod(START_S + second, 86_400)
    clock = f"{time // 3600:02d}{time // 60 % 60:02d}{time % 60:02d}.00"
    place = f"{degrees_minutes(latitude, 2, 'N', 'S')},{degrees_minutes(longitude, 3, 'E', 'W')}"
    quality, age, used = _corrections(second, station)
    told = f"{age:.1f},{used:04d}" if quality in (2, 4, 5) else ","
    satellites = 26 + second // 200 % 4
    yield sentence(
        f"GNGGA,{clock},{place},{quality},{satellites:02d},0.6,{height:.3f},M,{GEOID_M:.1f},M,{told}"
    )
    if second % 10 == 0:
        mode = {1: "A", 2: "D", 4: "R", 5: "F"}[quality]
        yield sentence(f"GNRMC,{clock},A,{place},2.4,209.1,{DATES[day]},,,{mode},V")


def _corrections(second: int, station: int) -> tuple[int, float, int]:
    """Quality, age of corrections and station used."""
    if second < NO_CORRECTIONS_UNTIL:
        return 1, 0.0, 0
    age = 1.0 + (second % 3) * 0.2
    if second in BEHIND_THE_RIDGE:
        age = 1.0 + second - BEHIND_THE_RIDGE.start
        return (4 if age <= 12.0 else 5), age, station
    if second in OTHER_BASE:
        return 4, age, OTHER_STATION
    just_back = second < FLOAT_UNTIL or second in range(BEHIND_THE_RIDGE.stop, BEHIND_THE_RIDGE.stop + 6)
    return (5 if just_back else 4), age, station


def degrees_minutes(angle: float, digits: int, plus: str, minus: str) -> str:
    """An angle as NMEA 0183 writes it."""
    degrees = int(abs(angle))
    return f"{degrees:0{digits}d}{(abs(angle) - degrees) * 60.0:010.7f},{plus if angle >= 0 else minus}"


def sentence(body: str) -> bytes:
    """A body with its sign, checksum and line end."""
    return b"$%s*%02X\r\n" % (body.encode("ascii"), checksum(body.encode("ascii")))


def main(folder: Path) -> None:
    """Write both recordings."""
    plan = read_plan(HERE / JOB)
    (folder / CAPTURE).write_bytes(capture(plan))
    (folder / LOG).write_bytes(rover_log(plan))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
