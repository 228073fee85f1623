"""A recording of sentences, frames or both to thinned samples."""

from __future__ import annotations

import datetime
import math
from collections import Counter
from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import RecordingError
from linkplan.fieldcheck.captured import JobFrames, StayTally
from linkplan.fieldcheck.observed_ground import Ground
from linkplan.fieldcheck.observed_rules import Rules
from linkplan.fieldcheck.observed_source import Observed, SourceColumns, Spot
from linkplan.fieldcheck.observed_track import OUTSIDE, START_UP, Columns, Track
from linkplan.fieldcheck.samples import CAPTURE, IN_TIME, NMEA, NOT_IN_TIME, SourceFacts
from linkplan.gnss import nmea_fixes
from linkplan.gnss.log_time import DAY_S, Instant
from linkplan.gnss.mixed_stream import MixedScanner
from linkplan.gnss.nmea_fixes import Fix
from linkplan.gnss.rtcm_frames import Frame

BROKEN = "sentences whose fields cannot be read"
STRANGE = "epochs of other stations"
TOO_SHORT = "epochs of a capture too short to tell what is missing"
_AUTONOMOUS = 1
_KINDS = ("GGA", "GNS")
_MAKERS = ord("P")
_OLDEST_S = 600.0
_EARLIEST_S = -5.0
"""Corrections of a later time than the epoch: the clocks of frames and sentences disagree."""


class Recording:
    """Judges one recording in every way that it may turn out to be meant."""

    def __init__(self, rules: Rules, ground: Ground) -> None:
        self.scanner = MixedScanner()
        self.frames = JobFrames(rules)
        self.stay = StayTally(rules.interval_s, rules.age_limit_s)
        self.stated = {kind: Track(rules, ground) for kind in _KINDS}
        """By what the sentences say of corrections."""
        self.heard = {kind: Track(rules, ground) for kind in _KINDS}
        """By the frames between the sentences."""
        self.broken = 0
        self._date: datetime.date | None = None
        self._stale = True
        """No frame since the last became too old to count back to."""

    def read(self, pieces: Iterable[bytes]) -> None:
        """The whole recording."""
        for piece in pieces:
            for one in self.scanner.feed(piece):
                self._take(one)
        for one in self.scanner.finish():
            self._take(one)

    def _take(self, one: Frame | bytes) -> None:
        if isinstance(one, Frame):
            if self.frames.take(one):
                self._stale = False
                assert self.frames.clock.now_ms is not None
                self.stay.take(self.frames.clock.now_ms)
            return
        # an address is a talker of two letters and the kind; a maker's own begins with P
        kind = one[2:6]
        if kind == b"GGA,":
            if one[0] != _MAKERS:
                self._take_fix("GGA", nmea_fixes.parse_gga(one))
        elif kind == b"GNS,":
            if one[0] != _MAKERS:
                self._take_fix("GNS", nmea_fixes.parse_gns(one))
        elif (kind == b"RMC," or kind == b"ZDA,") and one[0] != _MAKERS:
            self._take_date(one)

    def _take_fix(self, kind: str, fix: Fix | None) -> None:
        if fix is None or fix.quality is None:
            self.broken += 1
            return
        self.stated[kind].epochs.add(fix)
        if self.frames.station is not None:
            heard = self.heard[kind].epochs
            if not heard.epochs:
                self._date = None  # it has no date yet
            heard.add(self._as_heard(fix))

    def _as_heard(self, fix: Fix) -> Fix:
        """The epoch as if the rover had used what its radio handed on."""
        age_s = None if fix.time_s is None or self._stale else self.frames.age_s(fix.time_s)
        if age_s is not None and not _EARLIEST_S <= age_s <= _OLDEST_S:
            self._stale, age_s = True, None
        if fix.quality == nmea_fixes.NO_POSITION:
            return fix._replace(age_s=None, station=None)
        if age_s is not None:
            return fix._replace(quality=nmea_fixes.FLOAT, age_s=max(0.0, age_s), station=self.frames.station)
        quality = _AUTONOMOUS if fix.corrected else fix.quality
        return fix._replace(quality=quality, age_s=None, station=None)

    def _take_date(self, body: bytes) -> None:
        dated = nmea_fixes.date_of(body)
        if dated is None or dated[0] == self._date:
            return
        tracks = [*self.stated.values(), *self.heard.values()]
        # the clock of the sentences that are not there never takes it: none waits for it
        taken = [track.epochs.take_date(*dated) for track in tracks if track.epochs.epochs]
        self._date = dated[0] if taken and all(taken) else None


def read_recording(
    name: str,
    pieces: Iterable[bytes],
    rules: Rules,
    ground: Ground,
    place: tuple[float, float] | None,
    hint: str = "",
) -> Observed:
    """Samples of a recording. Raises RecordingError where it holds nothing that could be judged.

    `place`: easting and northing of a capture; `hint` is said where nothing was found.
    """
    recording = Recording(rules, ground)
    recording.read(pieces)
    frames = recording.frames
    heard_any = frames.station is not None or bool(frames.others)
    stated = _fuller(recording.stated)
    if place is not None:
        if not heard_any:
            raise RecordingError(
                f"{name}: a place is given for it, but it holds no RTCM 3 frame with observations; "
                "leave the place out for a rover's log"
            )
        return _at_place(name, recording, ground, place, rules.interval_s)
    if stated.epochs.epochs:
        columns = stated.finish()
        if heard_any and not stated.corrected:
            track = _fuller(recording.heard)
            return _observed(name, CAPTURE, recording, track, track.finish(), rules)
        return _observed(name, NMEA, recording, stated, columns, rules)
    if heard_any:
        raise RecordingError(
            f"{name}: a capture does not say where it was recorded; give its place, "
            f"as in --at {name}=EASTING,NORTHING"
        )
    raise RecordingError(
        f"{name}: neither a position sentence (GGA, GNS) nor an RTCM 3 frame with observations in "
        f"{recording.scanner.total_bytes} bytes ({recording.scanner.sentences.good} NMEA 0183 sentences, "
        f"{recording.scanner.frames} frames in all){hint}"
    )


def _fuller(tracks: dict[str, Track]) -> Track:
    first, second = (tracks[kind] for kind in _KINDS)
    return second if second.epochs.epochs > first.epochs.epochs else first


def _observed(
    name: str, kind: str, recording: Recording, track: Track, columns: Columns, rules: Rules
) -> Observed:
    clock = track.epochs.clock
    epochs = recording_epochs = track.epochs.epochs
    left_out = Counter(track.left_out)
    if kind == CAPTURE:
        recording_epochs = max(one.epochs.epochs for one in recording.stated.values())
        left_out[START_UP] += max(0, recording_epochs - epochs)
        left_out[STRANGE] += recording.frames.others.total()
    midnight_s = track.epochs.utc_of_day_0()
    midnight_s = math.nan if midnight_s is None else midnight_s
    facts = _facts(
        name, kind, recording, left_out, epochs=max(epochs, recording_epochs), judged=track.judged,
        kept=len(columns), span=(clock.first, clock.last), midnight_s=midnight_s,
    )  # fmt: skip
    spots: list[Spot] = [
        (station, row, column, x_m, y_m, int(count))
        for (station, row, column), (x_m, y_m, count) in track.spots.items()
    ]
    samples = SourceColumns.of_outcomes(
        columns.x_m, columns.y_m, columns.row, columns.column, columns.time_s + midnight_s, columns.outcome,
        columns.arrived,
    )  # fmt: skip
    return Observed(facts, samples, tuple(spots), tuple(_notes(name, track, len(columns), rules.interval_s)))


def _notes(name: str, track: Track, count: int, planned_s: float | None) -> Iterator[str]:
    if not track.arrivals.told and count:
        yield f"{name}: whether the message last due had arrived cannot be told from this log."
    else:
        yield from _sent_otherwise(name, track.arrivals.interval_s, planned_s)


def _sent_otherwise(name: str, interval_s: float | None, planned_s: float | None) -> Iterator[str]:
    if planned_s is not None and interval_s is not None and interval_s != planned_s:
        yield (
            f"{name}: messages came every {interval_s:g} s and not every {planned_s:g} s as planned; they "
            "were counted as they came."
        )


def _at_place(
    name: str, recording: Recording, ground: Ground, place: tuple[float, float], planned_s: float | None
) -> Observed:
    """A capture at one place: one sample, if it is long enough and on the map."""
    stay = recording.stay.finish()
    x_m, y_m = ground.from_job(np.array([place[0]]), np.array([place[1]]))
    row, column, inside = ground.cells(x_m, y_m)
    on_map = bool(inside[0])
    epochs = stay.received + stay.missed
    told = on_map and stay.arrived is not None
    left_out = Counter({STRANGE: recording.frames.others.total()})
    if not on_map:
        left_out[OUTSIDE] = epochs
    elif not told:
        left_out[TOO_SHORT] = epochs
    facts = _facts(
        name, CAPTURE, recording, left_out, epochs=epochs, judged=epochs if told else 0, kept=int(told),
        span=(None, None), midnight_s=math.nan,
    )  # fmt: skip
    which = slice(0, int(told))

    def outcome(good: bool | None) -> NDArray[np.int8]:
        return np.array([IN_TIME if good else NOT_IN_TIME], dtype=np.int8)[which]

    samples = SourceColumns.of_outcomes(
        x_m[which], y_m[which], row[which], column[which], np.full(1, np.nan)[which],
        outcome(stay.in_time), outcome(stay.arrived),
    )  # fmt: skip
    spots: list[Spot] = [
        (station, int(row[0]), int(column[0]), float(x_m[0]), float(y_m[0]), count)
        for station, count in recording.frames.others.items()
        if on_map
    ]
    notes = _sent_otherwise(name, recording.stay.interval_s, planned_s)
    return Observed(facts, samples, tuple(spots), tuple(notes))


def _facts(
    name: str,
    kind: str,
    recording: Recording,
    left_out: Counter[str],
    *,
    epochs: int,
    judged: int,
    kept: int,
    span: tuple[Instant | None, Instant | None],
    midnight_s: float,
) -> SourceFacts:
    counts = recording.scanner.sentences
    left_out += Counter(
        {
            BROKEN: recording.broken,
            "sentences with a wrong checksum": counts.wrong_checksum,
            "sentences without a checksum": counts.without_checksum,
            "sentences that break off": counts.unfinished,
            "damaged RTCM 3 frames": recording.scanner.damaged_frames,
            "bytes of no sentence and no frame": counts.outside_bytes,
        }
    )
    first_s, last_s = (
        None if one is None or math.isnan(midnight_s) else midnight_s + one[0] * DAY_S + one[1]
        for one in span
    )
    return SourceFacts(
        name=name, kind=kind, total_bytes=recording.scanner.total_bytes, epochs=epochs, judged=judged,
        kept=kept, left_out={words: count for words, count in left_out.items() if count},
        first_utc_s=first_s, last_utc_s=last_s,
    )  # fmt: skip
