"""What the equipment sent and logged, as plain text: the answer first, then what to set, then the figures."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from linkplan.evidence.captured import CaptureReport
from linkplan.evidence.findings import Finding, duration, percent
from linkplan.evidence.logged import LogReport
from linkplan.evidence.messages_sent import MessageRow
from linkplan.gnss.rover_log import FRESH, StationUse
from linkplan.outputs.formats import Formats, counted, grouped
from linkplan.outputs.text import WIDTH, table
from linkplan.plan.model import Plan

_SHOWN_FINDINGS = 40
LIMITS = "What was recorded holds for that place and time only: verify on site before work relies on it."


def capture_text(plan: Plan, report: CaptureReport) -> str:
    """A compared recording, ready to print."""
    capture = report.capture
    parts = [
        f"{report.job_name}: {capture.source} against the job",
        "",
        *_wrapped(_capture_answer(report)),
        "",
        *_findings(report.findings),
        *_recording(report),
        "",
        *_base(plan, report),
        "",
        _messages(report),
        *_contents(report),
        "",
        *_wrapped(LIMITS),
    ]
    return "\n".join(parts)


def rover_text(plan: Plan, report: LogReport) -> str:
    """A compared log, ready to print."""
    log = report.log
    show = Formats.of(plan)
    farthest = (
        "" if report.farthest_m is None else f"; farthest {show.distance(report.farthest_m)} from the base"
    )
    parts = [
        f"{report.job_name}: {log.source} against the job",
        "",
        *_wrapped(_log_answer(report)),
        "",
        *_findings(report.findings),
        *_wrapped(
            f"Log: {_times(report)}; {counted(log.epochs, 'epoch')} of {log.epoch_kind}"
            + (f" every {log.interval_s:g} s" if log.interval_s else "")
            + f", {counted(log.position_epochs, 'position')}{farthest}."
        ),
        *_wrapped(_sentences(report)),
        "",
        _fix_table(report),
        "",
        *_ages(report),
        "",
        _stations(report),
        *_interruptions(report),
        "",
        _timeline(report),
        "",
        *_wrapped(LIMITS),
    ]
    return "\n".join(parts)


def _capture_answer(report: CaptureReport) -> str:
    worse = [one for one in report.findings if one.severity != "note"]
    if worse:
        return f"NOT as the job says: {_differences(worse)}."
    judged = [
        name
        for name, known in (
            ("station ID", report.planned_station_id is not None),
            ("base point", bool(report.base_points)),
            ("messages", report.planned_messages),
        )
        if known
    ]
    return f"As the job says, in what could be compared: {', '.join(judged) or 'nothing'}."


def _log_answer(report: LogReport) -> str:
    worse = [one for one in report.findings if one.severity != "note"]
    share = "unknown" if report.fresh_share is None else percent(report.fresh_share)
    came = f"corrections in time in {share} of the epochs after the first came"
    return f"NOT as it should be: {_differences(worse)}; {came}." if worse else f"As it should be: {came}."


def _differences(findings: Sequence[Finding]) -> str:
    return f"{counted(len(findings), 'difference')}, the worst: {findings[0].severity}"


def _findings(findings: Sequence[Finding]) -> list[str]:
    lines: list[str] = []
    for number, one in enumerate(findings[:_SHOWN_FINDINGS], start=1):
        lines += _wrapped(f"{number}. {one.severity.upper()}: {one.what}", "   ")
        if one.crew_sees:
            lines += _wrapped(f"   The crew sees: {one.crew_sees}", "   ")
        if one.to_do:
            lines += _wrapped(f"   To do: {one.to_do}", "   ")
    if len(findings) > _SHOWN_FINDINGS:
        lines.append(f"and {len(findings) - _SHOWN_FINDINGS} more, see --json")
    return [*lines, ""] if lines else []


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def _recording(report: CaptureReport) -> list[str]:
    seen = report.capture
    outside = f"{grouped(seen.outside_bytes)} bytes in no whole frame"
    if seen.nmea_sentences:
        outside += f" ({counted(seen.nmea_sentences, 'NMEA 0183 sentence')} among them)"
    lines = _wrapped(
        f"Recording: {grouped(seen.total_bytes)} bytes, {counted(seen.frames, 'whole frame')}, "
        f"{seen.damaged_frames} with a failed check, {outside}"
        + (", it ends inside a frame" if seen.cut_short else "")
        + "."
    )
    if seen.first_epoch is None:
        return [*lines, "No message in it states a time, so intervals are unknown."]
    every = f", one every {seen.epoch_interval_s:g} s" if seen.epoch_interval_s else ""
    lines += _wrapped(
        f"Time: {duration(seen.elapsed_s)} from {seen.first_epoch}; {counted(seen.epochs, 'epoch')}{every}, "
        f"{seen.epochs_missed} missing."
    )
    for gap in seen.gaps:
        lines.append(
            f"  pause of {duration(gap.seconds)} at {duration(gap.start_s)} from the first epoch"
        )  # fmt: skip
    if report.bytes_per_s is not None:
        planned = report.planned_bytes_per_s
        against = "not known from the job" if planned is None else f"{planned:.0f} planned"
        lines += _wrapped(
            f"Bytes: {report.bytes_per_s:.0f} a second ({against}), at most {seen.worst_epoch_bytes} from "
            "one epoch to the next."
        )
    return lines


def _base(plan: Plan, report: CaptureReport) -> list[str]:
    ids = report.capture.station_ids
    sent = ", ".join(f"{one} ({counted(count, 'frame')})" for one, count in ids.items()) or "none"
    wanted = "not stated" if report.planned_station_id is None else str(report.planned_station_id)
    lines = _wrapped(f"Station ID: {sent}; job: {wanted}")
    show = Formats.of(plan)
    first, second = show.axis_names
    digits = 8 if show.geographic else 3
    for one in report.base_points:
        height = "not given" if one.antenna_height_m is None else f"{one.antenna_height_m:.3f} m"
        lines += _wrapped(
            f"Reference point in {one.number}: {first} {one.easting:.{digits}f}, {second} "
            f"{one.northing:.{digits}f} ({show.crs_name}), {one.ellipsoidal_height_m:.3f} m over the "
            f"ellipsoid; antenna height {height}; {one.distance_m:.3f} m from {report.base_name} (tolerance "
            f"{report.tolerance_m:g} m)",
            "  ",
        )
        accuracy = "not known" if one.path_accuracy_m is None else f"{one.path_accuracy_m:g} m"
        lines += _wrapped(f"  brought there by: {one.path}; its accuracy: {accuracy}", "  ")
    for seen in report.capture.antennas:
        lines += _wrapped(
            f"Texts in {seen.text.number}: {', '.join(repr(text) for text in seen.text.texts)}", "  "
        )
    return lines


def _messages(report: CaptureReport) -> str:
    head = ("message", "", "planned", "comes", "frames", "missed", "planned", "is")
    rows = [_message_cells(report, row) for row in report.messages]
    title = "Messages: time between them as planned and as they come; bytes each time as planned and as it is"
    return title + "\n" + table(head, rows, ("<", "<", *[">"] * 6))


def _message_cells(report: CaptureReport, row: MessageRow) -> tuple[str, ...]:
    planned = f"{row.planned_interval_s:g} s" if row.planned_interval_s else "-"
    if not report.planned_messages:
        planned = "not stated"
    seen = row.seen
    return (
        str(row.number),
        row.name,
        planned,
        "-" if seen is None or seen.interval_s is None else f"{seen.interval_s:g} s",
        grouped(seen.frames) if seen else "never",
        grouped(seen.missed) if seen else "-",
        "-" if row.planned_bytes is None else str(row.planned_bytes),
        "-" if row.seen_bytes is None else f"{row.seen_bytes:.0f}",
    )


def _contents(report: CaptureReport) -> list[str]:
    rows = [
        (
            str(row.number), one.system, f"{one.fewest_satellites} to {one.most_satellites}",
            ", ".join(one.signals), percent(one.full_mask_share),
        )
        for row in report.messages
        if row.seen is not None and (one := row.seen.system) is not None
    ]  # fmt: skip
    head = ("message", "system", "satellites", "signals really sent", "of all satellites times signals")
    return ["", table(head, rows, ("<", "<", ">", "<", ">"))] if rows else []


def _times(report: LogReport) -> str:
    log = report.log
    return f"{log.first} to {log.last} UTC" if log.first is not None else "no time in it"


def _sentences(report: LogReport) -> str:
    log = report.log
    counts = log.sentences
    kinds = ", ".join(f"{name} {grouped(count)}" for name, count in list(log.sentence_kinds.items())[:12])
    others = f", and {len(log.sentence_kinds) - 12} more kinds" if len(log.sentence_kinds) > 12 else ""
    text = f"Sentences: {counted(counts.good, 'good one')} ({kinds}{others})"
    for number, what in (
        (counts.wrong_checksum, "with a wrong checksum"),
        (counts.without_checksum, "without checksum (not used)"),
        (counts.unfinished, "broken off"),
        (log.broken_fields, "with fields that cannot be read"),
        (log.repeated_epochs, "repeating an epoch"),
    ):
        if number:
            text += f", {grouped(number)} {what}"
    if counts.outside_bytes:
        text += f"; {grouped(counts.outside_bytes)} bytes of anything else"
        if log.rtcm_frames:
            text += f" ({counted(log.rtcm_frames, 'RTCM 3 frame')} among them)"
    return text + "."


def _fix_table(report: LogReport) -> str:
    log = report.log
    rows = [
        (name, grouped(count), percent(count / log.epochs)) for name, count in log.epochs_by_quality.items()
    ]
    return table(("fix quality", "epochs", "of all"), rows, ("<", ">", ">"))


def _ages(report: LogReport) -> list[str]:
    log = report.log
    if log.median_age_s is None:
        return ["Age of corrections: never stated."]
    lines = _wrapped(
        f"Age of corrections: median {log.median_age_s:g} s, 95 of 100 up to {log.high_age_s:g} s, oldest "
        f"{log.largest_age_s:g} s; late is over {log.age_limit_s:g} s."
    )
    rows = [
        (name, grouped(epochs), duration(seconds))
        for name, (epochs, seconds) in sorted(
            log.states.items(), key=lambda item: (item[0] != FRESH, item[0])
        )
    ]
    return [*lines, table(("corrections since the first came", "epochs", "time"), rows, ("<", ">", ">"))]


def _stations(report: LogReport) -> str:
    rows = [_station_cells(report, use) for use in report.log.stations]
    head = ("station used", "", "epochs", "time", "times", "RTK fixed")
    return table(head, rows, ("<", "<", *[">"] * 4)) if rows else "Station used: none."


def _station_cells(report: LogReport, use: StationUse) -> tuple[str, ...]:
    if report.planned_station is None:
        role = "job does not state one"
    elif use.station is None:
        role = "unknown whose"
    else:
        role = "the job's base" if use.station == report.planned_station else "ANOTHER"
    return (
        use.station or "not given", role, grouped(use.epochs), duration(use.seconds), grouped(use.times),
        percent(use.epochs_by_quality.get("RTK fixed", 0) / use.epochs),
    )  # fmt: skip


def _interruptions(report: LogReport) -> list[str]:
    log = report.log
    others = [
        one
        for use in log.stations
        if use.station is not None
        and report.planned_station is not None
        and use.station != report.planned_station
        for one in use.longest
    ]
    rows = [(str(one.start), str(one.end), duration(one.seconds), f"station {one.state}") for one in others]
    rows += [(str(one.start), str(one.end), duration(one.seconds), one.state) for one in log.interruptions]
    if not rows:
        return []
    shown = len(log.interruptions)
    title = "When it was not as it should be" + (
        f" (the {shown} longest of {log.interruption_count} interruptions)"
        if shown < log.interruption_count
        else ""
    )
    return ["", title, table(("from", "to", "for", "what"), sorted(rows), ("<", "<", ">", "<"))]


def _timeline(report: LogReport) -> str:
    parts = report.log.timeline
    rows: list[list[str]] = []
    for one in parts:
        row = [
            str(one.start) if one.start is not None else "no time",
            percent(one.fixed / one.epochs),
            percent(one.float_ / one.epochs),
            percent(one.not_fresh / one.epochs),
            "-" if one.mean_age_s is None else f"{one.mean_age_s:.1f} s",
            "-" if one.largest_age_s is None else f"{one.largest_age_s:.1f} s",
        ]
        # parts that look alike become one row
        if not rows or rows[-1][1:] != row[1:]:
            rows.append(row)
    length = duration(parts[0].seconds) if parts else "nothing"
    head = ("from", "fixed", "float", "late or without", "mean age", "oldest")
    title = f"Over time, in parts of {length}; a row holds until the next one"
    return title + "\n" + table(head, rows, ("<", *[">"] * 5))
