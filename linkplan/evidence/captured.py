"""A recorded correction stream against the job: does the base really send what was planned?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from linkplan.errors import RecordingError
from linkplan.evidence import base_point, messages_sent
from linkplan.evidence.base_point import BasePoint
from linkplan.evidence.findings import Finding, counted, differs, duration, percent, worst_first
from linkplan.evidence.messages_sent import MessageRow
from linkplan.gnss.rtcm_bodies import POINT_MESSAGES
from linkplan.gnss.rtcm_capture import Capture
from linkplan.plan.model import Plan

TOLERANCE_M = 0.05
"""Base point against the job: some three times the scatter of an RTK position [common practice]."""
AGE_LIMIT_S = 10.0
"""A rover drops out of RTK when corrections get older [common practice]."""
MOST_DAMAGED_SHARE = 0.01
"""More damaged frames than this tell of a poor link or cable [common practice]."""
LOWEST_GEOID_M, HIGHEST_GEOID_M = -107.0, 86.0
"""The geoid's height over the ellipsoid, worldwide (EGM96) [from memory]."""
ENOUGH_S = 60.0
"""In this time a base point should have come [common practice]."""
HIGHEST_MAST_M = 10.0
"""Room for an antenna height that the stream does not state."""


@dataclass(frozen=True)
class CaptureReport:
    """A recording, compared."""

    job_name: str
    base_name: str
    capture: Capture
    agrees: bool
    """Nothing worse than a note was found."""
    planned_station_id: int | None
    """None: the job does not state it."""
    planned_messages: bool
    """The job states messages, so that they could be compared."""
    tolerance_m: float
    base_points: tuple[BasePoint, ...]
    """Different places first, most frequent first; one for each reference point that could be placed."""
    messages: tuple[MessageRow, ...]
    bytes_per_s: float | None
    planned_bytes_per_s: float | None
    """None where not every planned message has a known size."""
    findings: tuple[Finding, ...]
    """Worst first."""


def compare_capture(plan: Plan, capture: Capture, tolerance_m: float = TOLERANCE_M) -> CaptureReport:
    """Hold a recording against a job. Raises RecordingError where it is none of corrections."""
    _require_stream(capture)
    planned = plan.corrections
    points = [seen.point for seen in capture.points if base_point.on_earth(seen.point)]
    placed = tuple(one for one in (base_point.place(point, plan) for point in points) if one is not None)
    rows = messages_sent.rows(capture, planned.messages if planned else ())
    findings = [
        *_identity(capture, planned.station_id if planned else None),
        *_points(plan, capture, placed, tolerance_m),
        *_no_point(plan, capture),
        *messages_sent.compare(capture, planned.messages if planned else ()),
        *_quality(capture),
    ]
    sizes = [row.planned_bytes_per_s for row in rows if row.planned]
    return CaptureReport(
        job_name=plan.name,
        base_name=plan.base.name,
        capture=capture,
        agrees=not differs(findings),
        planned_station_id=planned.station_id if planned else None,
        planned_messages=bool(planned and planned.messages),
        tolerance_m=tolerance_m,
        base_points=placed,
        messages=rows,
        bytes_per_s=capture.bytes_per_s,
        planned_bytes_per_s=messages_sent.known_sum(sizes),
        findings=worst_first(findings),
    )


def _require_stream(capture: Capture) -> None:
    """A few frames among a lot of something else are no recording of corrections either."""
    if capture.frames and (capture.epochs or capture.frame_bytes >= capture.outside_bytes):
        return
    if capture.nmea_sentences:
        hint = (
            f"it holds {counted(capture.nmea_sentences, 'NMEA 0183 sentence')}: a rover's log is read by "
            "linkplan rover"
        )
    else:
        hint = "record the port on which the base's receiver hands corrections to its radio"
    raise RecordingError(
        f"{capture.source}: {counted(capture.frames, 'whole RTCM 3 frame')} in {capture.total_bytes} bytes, "
        f"which is no recording of corrections; {hint}"
    )


def _identity(capture: Capture, planned: int | None) -> Iterator[Finding]:
    seen = list(capture.station_ids)
    if planned is None:
        yield Finding(
            "note",
            "station id",
            "The job states no station ID, so the one that was sent could not be judged.",
            "", f"Write it into the job: corrections.station_id = {seen[0]}" if seen else "",
        )  # fmt: skip
    elif seen and planned not in seen:
        yield Finding(
            "no link", "station id",
            f"The base sends station ID {_numbers(seen)}; the job says {planned}.",
            f"Rovers that accept only ID {planned} stay without corrections though their radio receives; "
            "rovers that accept any would take another crew's base as well.",
            f"Set the reference station ID of the base's receiver to {planned}, or change the job and every "
            "rover.",
        )  # fmt: skip
    if len(seen) > 1 and (planned is None or planned in seen):
        others = [one for one in seen if one != (seen[0] if planned is None else planned)]
        yield Finding(
            "wrong coordinates", "station id",
            f"More than one station ID in the stream: {_numbers(seen)} (frames: "
            f"{', '.join(str(capture.station_ids[one]) for one in seen)}).",
            "Rovers that accept any ID jump between bases, or drop out.",
            f"Find who sends ID {_numbers(others)}: a second base on the frequency, a setting changed "
            "during the recording, or two recordings in one file.",
        )  # fmt: skip


def _points(
    plan: Plan, capture: Capture, placed: tuple[BasePoint, ...], tolerance_m: float
) -> Iterator[Finding]:
    impossible = [seen for seen in capture.points if not base_point.on_earth(seen.point)]
    if impossible or len(placed) < len(capture.points):
        yield Finding(
            "wrong coordinates", "base point",
            "A reference point was sent that is nowhere on the earth's surface, or nowhere near the job.",
            "Rovers show no RTK fix, or coordinates far from the site.",
            "Enter the base's coordinates in its receiver: they are not set.",
        )  # fmt: skip
    different = {
        (round(one.easting, 4), round(one.northing, 4), round(one.ellipsoidal_height_m, 3)) for one in placed
    }
    if len(different) > 1:
        yield Finding(
            "wrong coordinates", "base point",
            f"The base gave {len(different)} different reference points in this recording.",
            "Coordinates shift in the middle of the work.",
            "Let nobody restart the base with an own position during work; measure again what was measured "
            "since.",
        )  # fmt: skip
    for one in placed:
        if one.distance_m > tolerance_m:
            yield _off(plan, one, tolerance_m)
    if placed and (placed[0].path_accuracy_m is None or placed[0].path_accuracy_m > tolerance_m):
        known = "unknown" if placed[0].path_accuracy_m is None else f"{placed[0].path_accuracy_m:g} m"
        yield Finding(
            "note", "datum",
            "The stream does not name its datum; it was taken for WGS 84 and brought to the job's by "
            f"{placed[0].path!r}, whose accuracy is {known}.",
            "", "Enter the base's coordinates in the datum that the rovers' coordinate system expects.",
        )  # fmt: skip
    if placed:
        yield from _heights(placed[0])


def _no_point(plan: Plan, capture: Capture) -> Iterator[Finding]:
    planned = plan.corrections.messages if plan.corrections else ()
    if any(message.number in POINT_MESSAGES for message in planned):
        return  # told with the missing messages
    if not any(capture.message(number) for number in POINT_MESSAGES) and capture.elapsed_s >= ENOUGH_S:
        yield Finding(
            "no link", "base point",
            f"No reference point (1005 or 1006) in {duration(capture.elapsed_s)}.",
            "Rovers receive data but get no fix: they do not know where the base stands.",
            "Switch 1005 or 1006 on in the base's receiver, every 10 s or so.",
        )  # fmt: skip


def _off(plan: Plan, one: BasePoint, tolerance_m: float) -> Finding:
    if one.nearest_control is not None:
        why = (
            f"These are {one.nearest_control}'s coordinates, not {plan.base.name}'s: choose the right point."
        )
    elif one.distance_m <= 30.0:
        why = (
            "So near a miss is often a position that the receiver found by itself, or another datum or "
            "epoch of it: enter the point's known coordinates, in the coordinate system that the job uses."
        )
    else:
        why = (
            "Enter the point's known coordinates; check zone and datum, and easting and northing for a swap."
        )
    return Finding(
        "wrong coordinates", "base point",
        f"The base gives its place {_metres(one.distance_m)} from {plan.base.name} of the job "
        f"({_offsets(plan, one)}; tolerance {tolerance_m:g} m).",
        "Fixes look good, and every coordinate is shifted by just that.",
        why,
    )  # fmt: skip


def _offsets(plan: Plan, one: BasePoint) -> str:
    if plan.crs.is_geographic:
        return f"longitude {one.easting_off:+.8f}, latitude {one.northing_off:+.8f}"
    unit = "ft" if "foot" in plan.crs.axis_info[0].unit_name else "m"
    return f"E {one.easting_off:+.3f} {unit}, N {one.northing_off:+.3f} {unit}"


def _metres(value: float) -> str:
    return f"{value:.3f} m" if value < 1000.0 else f"{value / 1000.0:.1f} km"


def _heights(one: BasePoint) -> Iterator[Finding]:
    if one.antenna_height_m == 0.0:
        yield Finding(
            "note", "antenna height", "1006 gives an antenna height of 0.000 m.",
            "If the base's coordinates are those of the mark, all heights are low by the antenna's height.",
            "Check in the base's receiver whether its coordinates are the mark's or the antenna's.",
        )  # fmt: skip
    over = one.height_over_job_m
    if over is None:
        return
    lowest = LOWEST_GEOID_M
    highest = HIGHEST_GEOID_M + (HIGHEST_MAST_M if one.antenna_height_m is None else 0.0)
    if lowest <= over <= highest:
        yield Finding(
            "note", "base height",
            f"The base's height over the ellipsoid is {over:+.2f} m from the job's ground height at the "
            "base. Heights were not judged: the job does not say how its heights stand to the ellipsoid.",
            "",
            "Compare this number with the geoid model that the rovers use: it should be the geoid's height "
            "here.",
        )  # fmt: skip
    else:
        yield Finding(
            "wrong coordinates", "base height",
            f"The base's height over the ellipsoid is {over:+.2f} m from the job's ground height at the "
            f"base; the geoid lies between {LOWEST_GEOID_M:g} and {HIGHEST_GEOID_M:g} m everywhere.",
            "All heights are off by tens of metres or more.",
            "Check the base's height and its unit (feet taken for metres).",
        )  # fmt: skip


def _quality(capture: Capture) -> Iterator[Finding]:
    everything = capture.frames + capture.damaged_frames
    share = capture.damaged_frames / everything
    if capture.damaged_frames:
        yield Finding(
            "weaker" if share > MOST_DAMAGED_SHARE else "note", "damaged frames",
            f"{capture.damaged_frames} of {counted(everything, 'frame')} ({percent(share)}) came damaged: "
            "the check at the end fails.",
            "The age of corrections grows now and then." if share > MOST_DAMAGED_SHARE else "",
            "At the base: check cable and port speed. At a rover: the link is weak there, or another "
            "station transmits on the frequency.",
        )  # fmt: skip
    longest = max((gap.seconds for gap in capture.gaps), default=0.0)
    if longest > AGE_LIMIT_S and not capture.steps_back:
        yield Finding(
            "weaker", "gaps",
            f"Nothing came for {duration(longest)}; {len(capture.gaps)} long pauses are listed.",
            "Rovers fall back to float or autonomous in every pause of over some 10 s.",
            "Look what stood in the way at that time: voice on the channel, a flat battery, a loose cable.",
        )  # fmt: skip
    if capture.steps_back:
        yield Finding(
            "note", "time",
            f"Time goes back {counted(capture.steps_back, 'time')}, so pauses and intervals say little.", "",
            "Record one base at a time: these are two streams mixed, or several recordings in one file.",
        )  # fmt: skip


def _numbers(values: list[int]) -> str:
    shown = ", ".join(str(value) for value in values[:6])
    return shown if len(values) <= 6 else f"{shown} and {len(values) - 6} more"
