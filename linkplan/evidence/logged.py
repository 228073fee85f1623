"""A rover's log against the job: whose corrections did it use, how old were they, what came of them?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from linkplan.errors import RecordingError
from linkplan.evidence.findings import Finding, Severity, counted, differs, duration, percent, worst_first
from linkplan.gnss.nmea_fixes import FIXED, QUALITY_NAMES, SATELLITE_NAMES
from linkplan.gnss.rover_log import FRESH, LATE, NO_POSITION, WITHOUT, RoverLog, StationUse
from linkplan.plan.model import Plan
from linkplan.terrain.geodesy import WGS84, LocalFrame

START_UP_S = 120.0
"""So long a rover may take to its first corrections before it is told as a fault [common practice]."""
FEW_FIXED_SHARE = 0.9
"""With fresh corrections, less of the time fixed than this is told, as a note [common practice]."""
JOB_ROOM_M = 1000.0
"""So far outside the job's boundary a rover may be before its log is taken for another job's."""


@dataclass(frozen=True)
class LogReport:
    """A log, compared."""

    job_name: str
    base_name: str
    log: RoverLog
    agrees: bool
    """Nothing worse than a note was found."""
    planned_station: str | None
    """None: the job does not state it."""
    fresh_share: float | None
    """Of the epochs since the first corrections: corrections in time."""
    fixed_share: float | None
    """Of the same: RTK fixed."""
    farthest_m: float | None
    """From the base to the farthest corner of all positions."""
    findings: tuple[Finding, ...]
    """Worst first."""


def compare_log(plan: Plan, log: RoverLog) -> LogReport:
    """Hold a log against a job. Raises RecordingError where it holds no epoch at all."""
    if log.epochs == 0:
        if log.rtcm_frames:
            hint = (
                f"it holds {log.rtcm_frames} RTCM 3 frames: a correction stream is read by linkplan capture"
            )
        else:
            hint = "switch GGA (or GNS) on in the rover's log, with checksums"
        raise RecordingError(
            f"{log.source}: no position sentence that can be read in {log.total_bytes} bytes "
            f"({log.sentences.good} NMEA 0183 sentences in all); {hint}"
        )
    planned = plan.corrections.station_id if plan.corrections else None
    wanted = None if planned is None else str(planned)
    counted = sum(epochs for epochs, _ in log.states.values())
    fixed = log.epochs_by_quality.get(QUALITY_NAMES[FIXED], 0)
    farthest_m, away = _reach(plan, log)
    findings = [
        *_stations(log, wanted),
        *_corrections(log),
        *away,
        *_fixes(log, fixed),
        *_log_itself(log),
    ]
    return LogReport(
        job_name=plan.name,
        base_name=plan.base.name,
        log=log,
        agrees=not differs(findings),
        planned_station=wanted,
        fresh_share=log.states.get(FRESH, (0, 0.0))[0] / counted if counted else None,
        fixed_share=fixed / counted if counted else None,
        farthest_m=farthest_m,
        findings=worst_first(findings),
    )


def _stations(log: RoverLog, wanted: str | None) -> Iterator[Finding]:
    named = [use for use in log.stations if use.station is not None]
    if wanted is None:
        yield Finding(
            "note",
            "station id",
            "The job states no station ID, so the one that was used could not be judged.",
            "",
            f"Write it into the job: corrections.station_id = {named[0].station}" if named else "",
        )  # fmt: skip
        if not named:
            return
        wanted = named[0].station
    elif log.stations and not named:
        yield Finding(
            "note", "station id", "The rover's log does not say whose corrections it used.", "",
            "Switch the station ID on in GGA, or log at another port.",
        )  # fmt: skip
    for use in named:
        if use.station != wanted:
            yield _other_base(log, use, wanted)


def _other_base(log: RoverLog, use: StationUse, wanted: str | None) -> Finding:
    share = use.epochs / log.epochs
    times = "once" if use.times == 1 else f"{use.times} times"
    first = use.longest[0].start if use.longest else None
    since = f", from {first}" if first is not None else ""
    only_differential = set(use.epochs_by_quality) == {QUALITY_NAMES[2]}
    if (
        only_differential
        and use.station is not None
        and use.station.isdigit()
        and int(use.station) in SATELLITE_NAMES
    ):
        return Finding(
            "weaker", "satellite corrections",
            f"The rover used corrections named {use.station} in {percent(share)} of all epochs, never for "
            "more than a differential position: most likely an augmentation satellite.",
            "A position to a metre or so is shown as if corrections had come.",
            "Switch satellite augmentation off in the rover, or take only RTK positions.",
        )  # fmt: skip
    return Finding(
        "wrong coordinates", "other base",
        f"The rover used station {use.station} in place of {wanted} {times}, for {duration(use.seconds)} "
        f"({percent(share)} of all epochs{since}).",
        "The fix looks good; coordinates are those of another base: shifted if it stands on other "
        "coordinates.",
        f"Set the rover to accept station ID {wanted} only; measure again what was measured in that time.",
    )  # fmt: skip


def _corrections(log: RoverLog) -> Iterator[Finding]:
    if not log.stations:
        yield Finding(
            "no link", "no corrections", f"The rover used no corrections in {counted(log.epochs, 'epoch')}.",
            "Autonomous positions only, metres off.",
            "Compare the rover's radio and receiver with the set-up sheet: frequency, spacing, protocol, "
            "format, ID.",
        )  # fmt: skip
        return
    if log.seconds_before_corrected > 0.0:
        severity: Severity = "weaker" if log.seconds_before_corrected > START_UP_S else "note"
        yield Finding(
            severity, "start", f"The first corrections came after {duration(log.seconds_before_corrected)}.",
            "No fix until then.",
            "A rover switched on beside the running base has corrections within seconds.",
        )  # fmt: skip
    late, without = (log.states.get(one, (0, 0.0)) for one in (LATE, WITHOUT))
    if late[0]:
        yield Finding(
            "weaker", "late",
            f"Corrections were older than {log.age_limit_s:g} s in {counted(late[0], 'epoch')} "
            f"({duration(late[1])}; oldest {log.largest_age_s or 0.0:.0f} s).",
            "The rover falls from fixed to float, then to autonomous.",
            "Compare the places of these stretches with the coverage map; look at the air time of the "
            "stream.",
        )  # fmt: skip
    if without[0]:
        yield Finding(
            "weaker", "without",
            f"No corrections in {counted(without[0], 'epoch')} ({duration(without[1])}) after the first had "
            "come.",
            "Autonomous positions, metres off.",
            "Compare the places of these stretches with the coverage map.",
        )  # fmt: skip


def _fixes(log: RoverLog, fixed: int) -> Iterator[Finding]:
    fresh = log.states.get(FRESH, (0, 0.0))[0]
    lost = log.states.get(NO_POSITION, (0, 0.0))[0]
    if fresh and fixed < FEW_FIXED_SHARE * fresh:
        yield Finding(
            "note", "few fixed",
            f"Corrections came in time in {fresh} epochs, but only {fixed} were RTK fixed.",
            "Float in spite of good reception.",
            "This is not the link: look at the sky (trees, walls), the satellite systems of base and "
            "rover, and the base's point.",
        )  # fmt: skip
    if lost:
        yield Finding(
            "note",
            "no position",
            f"No position in {counted(lost, 'epoch')}.",
            "",
            "The rover's sky was blocked.",
        )  # fmt: skip
    without_age = sum(use.epochs for use in log.stations) - log.age_epochs
    if without_age:
        yield Finding(
            "note", "age not given",
            f"{without_age} epochs with corrections do not state their age: whether they were late is "
            "unknown.",
            "",
            "",
        )  # fmt: skip


def _log_itself(log: RoverLog) -> Iterator[Finding]:
    counts = log.sentences
    bad = counts.wrong_checksum + counts.unfinished
    if bad:
        share = bad / (bad + counts.good)
        yield Finding(
            "note", "damaged sentences",
            f"{counted(counts.wrong_checksum, 'sentence')} with a wrong checksum and {counts.unfinished} "
            f"broken off ({percent(share)} of all) were not used.",
            "", "Check cable and port speed of the logger." if share > 0.01 else "",
        )  # fmt: skip
    if log.breaks:
        yield Finding(
            "note", "breaks", f"The log pauses {counted(log.breaks, 'time')} for over a minute (longest "
            f"{duration(log.longest_break_s)}): nothing is known of that time.", "", "",
        )  # fmt: skip
    if log.steps_back:
        yield Finding(
            "note", "time", f"Time goes back {counted(log.steps_back, 'time')}.", "",
            "Give one rover's log at a time, in order.",
        )  # fmt: skip


def _reach(plan: Plan, log: RoverLog) -> tuple[float | None, list[Finding]]:
    """Distance of the farthest corner of all positions, and a finding where they are not of this job."""
    from pyproj import Transformer
    from shapely.geometry import box

    if log.extent_deg is None:
        return None, []
    frame = LocalFrame.around(plan.crs, plan.base.easting, plan.base.northing)
    west, south, east, north = log.extent_deg
    to_local = Transformer.from_crs(WGS84, frame.local_crs, always_xy=True)
    x_m, y_m = to_local.transform([west, west, east, east], [south, north, south, north])
    distances = [(x**2 + y**2) ** 0.5 for x, y in zip(x_m, y_m, strict=True)]
    area = box(min(x_m), min(y_m), max(x_m), max(y_m))
    off_m = area.distance(frame.geometry_to_local(plan.boundary))
    if off_m <= JOB_ROOM_M:
        return max(distances), []
    return max(distances), [
        Finding(
            "wrong coordinates", "place",
            f"All positions of the log lie {off_m / 1000.0:.1f} km or more from the job.",
            "This log is of another job, or the rover's coordinates are far off.",
            "Check that log and job belong together.",
        )
    ]  # fmt: skip
