"""A rover's NMEA 0183 log as one summary: corrections' age, station IDs, fix quality, over time.

Memory stays flat whatever the log's length: epochs are counted, not kept.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from linkplan.gnss import nmea_fixes
from linkplan.gnss.log_time import Instant, LogClock, Moment
from linkplan.gnss.nmea_fixes import Fix
from linkplan.gnss.nmea_sentences import SentenceCounts, SentenceScanner
from linkplan.gnss.rtcm_frames import FrameScanner
from linkplan.gnss.stretches import Stretch, StretchTally, Timeline, TimeSlice

AGE_LIMIT_S = 10.0
"""Corrections older than this are late [common practice]."""
FRESH, LATE, UNKNOWN_AGE, WITHOUT, NO_POSITION = (
    "fresh",
    "late",
    "age not given",
    "no corrections",
    "no position",
)
_MOST_NAMES = 256
_AGE_STEPS_PER_S = 10
_LARGEST_AGE_S = 9999.0


@dataclass(frozen=True)
class StationUse:
    """How long the rover used corrections of one station."""

    station: str | None
    """None: the sentences did not say whose."""
    epochs: int
    seconds: float
    epochs_by_quality: dict[str, int]
    times: int
    """How often it turned to this station."""
    longest: tuple[Stretch, ...]
    """The longest stretches, in order of time."""


@dataclass(frozen=True)
class RoverLog:
    """What a rover's log says."""

    source: str
    total_bytes: int
    sentences: SentenceCounts
    sentence_kinds: dict[str, int]
    """Good sentences by their address."""
    rtcm_frames: int
    """Whole RTCM 3 frames between the sentences."""
    epoch_kind: str
    """The sentence that the epochs come from: "GGA" or "GNS"."""
    epochs: int
    epochs_without_time: int
    repeated_epochs: int
    """The same time again (a second talker): not counted as epochs."""
    broken_fields: int
    """Sentences with a good checksum but fields that cannot be read."""
    first: Moment | None
    last: Moment | None
    seconds: float
    """From epoch to epoch, breaks left out."""
    interval_s: float | None
    """The usual time between epochs."""
    breaks: int
    """Pauses of the log of over a minute."""
    longest_break_s: float
    steps_back: int
    """How often time went back: the log was started again, or several logs follow each other."""
    epochs_by_quality: dict[str, int]
    position_epochs: int
    extent_deg: tuple[float, float, float, float] | None
    """West, south, east, north of all positions."""
    stations: tuple[StationUse, ...]
    """Most used first."""
    age_limit_s: float
    age_epochs: int
    """Epochs that state the age of corrections."""
    median_age_s: float | None
    high_age_s: float | None
    """95 of 100 ages are this or less."""
    largest_age_s: float | None
    first_corrected: Moment | None
    seconds_before_corrected: float
    """From the first epoch to the first that used corrections."""
    states: dict[str, tuple[int, float]]
    """Epochs and seconds in each state of corrections, after the first that used corrections."""
    interruptions: tuple[Stretch, ...]
    """The longest stretches late or without corrections, in order of time."""
    interruption_count: int
    timeline: tuple[TimeSlice, ...]


class RoverLogTally:
    """Counts a log, sentence by sentence."""

    def __init__(self, age_limit_s: float = AGE_LIMIT_S) -> None:
        self._limit = age_limit_s
        self._frames = FrameScanner()
        self._frame_count = 0
        self._sentences = SentenceScanner(self._take_outside)
        self._bytes = 0
        self._kinds: Counter[bytes] = Counter()
        self._broken = 0
        self._date: datetime.date | None = None
        """The date that the clocks have taken."""
        # a log may hold GGA, GNS or both: each is counted for itself, and the fuller one told
        self._of = {"GGA": EpochTally(age_limit_s), "GNS": EpochTally(age_limit_s)}

    def feed(self, piece: bytes) -> None:
        """The next piece of the log, cut anywhere."""
        self._bytes += len(piece)
        self._take(self._sentences.feed(piece))

    def finish(self, source: str) -> RoverLog:
        """The summary, after the last piece."""
        self._take(self._sentences.finish())
        self._frame_count += len(self._frames.finish())
        kind = "GNS" if self._of["GNS"].epochs > self._of["GGA"].epochs else "GGA"
        return self._of[kind].summary(
            source=source,
            total_bytes=self._bytes,
            sentences=self._sentences.counts,
            sentence_kinds={name.decode("ascii"): count for name, count in self._kinds.most_common()},
            rtcm_frames=self._frame_count,
            epoch_kind=kind,
            broken_fields=self._broken,
        )

    def _take_outside(self, data: bytes) -> None:
        self._frame_count += len(self._frames.feed(data))

    def _take(self, bodies: Iterable[bytes]) -> None:
        for body in bodies:
            address = body[: body.index(b",")]
            if address in self._kinds or len(self._kinds) < _MOST_NAMES:
                self._kinds[address] += 1
            else:
                self._kinds[b"others"] += 1
            # an address is a talker of two letters and the kind; a maker's own begins with P
            kind = address[2:] if len(address) == 5 and address[:1] != b"P" else b""
            if kind == b"GGA" or kind == b"GNS":
                fix = nmea_fixes.parse_gga(body) if kind == b"GGA" else nmea_fixes.parse_gns(body)
                if fix is None or fix.quality is None:
                    self._broken += 1
                else:
                    self._of[kind.decode("ascii")].add(fix)
            elif kind == b"RMC" or kind == b"ZDA":
                self._take_date(body)

    def _take_date(self, body: bytes) -> None:
        dated = nmea_fixes.date_of(body)
        if dated is not None and dated[0] != self._date:
            # the clock of the sentences that are not there never takes it: none waits for it
            taken = [tally.clock.take_date(*dated) for tally in self._of.values() if tally.epochs]
            self._date = dated[0] if taken and all(taken) else None


class EpochTally:
    """Counts the epochs of one kind of sentence."""

    def __init__(self, age_limit_s: float) -> None:
        self._limit = age_limit_s
        self.clock = LogClock()
        self.epochs = 0
        self._untimed = self._repeated = self._positions = 0
        self._qualities: Counter[int] = Counter()
        self._ages: Counter[int] = Counter()
        self._stations = StretchTally(_MOST_NAMES)
        self._station_qualities: Counter[tuple[str, int]] = Counter()
        self._states = StretchTally(_MOST_NAMES)
        self._first_corrected: Instant | None = None
        self._before = 0.0
        self._timeline = Timeline()
        self._extent: list[float] = []

    def add(self, fix: Fix) -> None:
        """One more epoch."""
        if fix.time_s is None:
            self._untimed += 1
            step = 0.0
        else:
            advanced = self.clock.advance(fix.time_s)
            if advanced is None:
                self._repeated += 1
                return
            step = advanced
            if step == 0.0:
                # behind a break or a step back nothing goes on
                self._stations.pause()
                self._states.pause()
        self.epochs += 1
        quality = fix.quality if fix.quality is not None else 0
        self._qualities[quality] += 1
        self._take_position(fix)
        state = self._state(fix)
        now = self.clock.last
        if fix.corrected and self._first_corrected is None:
            self._first_corrected, self._before = now, self.clock.seconds
        if fix.corrected:
            station = fix.station or ""
            known = self._stations.add(station, now, step)
            self._station_qualities[known, quality] += 1
        else:
            self._stations.pause()
        if self._first_corrected is not None:
            self._states.add(state, now, step)
        if fix.age_s is not None and fix.corrected:
            self._ages[round(min(fix.age_s, _LARGEST_AGE_S) * _AGE_STEPS_PER_S)] += 1
        self._timeline.add(self.clock.seconds, now, fix, late=state != FRESH)

    def _take_position(self, fix: Fix) -> None:
        if fix.latitude_deg is None or fix.longitude_deg is None or fix.quality == nmea_fixes.NO_POSITION:
            return
        self._positions += 1
        x, y = fix.longitude_deg, fix.latitude_deg
        if not self._extent:
            self._extent = [x, y, x, y]
        extent = self._extent
        if x < extent[0]:
            extent[0] = x
        if y < extent[1]:
            extent[1] = y
        if x > extent[2]:
            extent[2] = x
        if y > extent[3]:
            extent[3] = y

    def _state(self, fix: Fix) -> str:
        if fix.quality == nmea_fixes.NO_POSITION:
            return NO_POSITION
        if not fix.corrected:
            return WITHOUT
        if fix.age_s is None:
            return UNKNOWN_AGE
        return LATE if fix.age_s > self._limit else FRESH

    def summary(
        self, *, source: str, total_bytes: int, sentences: SentenceCounts, sentence_kinds: dict[str, int],
        rtcm_frames: int, epoch_kind: str, broken_fields: int,
    ) -> RoverLog:  # fmt: skip
        """The counts as a frozen result."""
        interruptions = self._states.longest({LATE, WITHOUT, NO_POSITION}, self.clock)
        west_to_north = tuple(self._extent)
        return RoverLog(
            source=source,
            total_bytes=total_bytes,
            sentences=sentences,
            sentence_kinds=sentence_kinds,
            rtcm_frames=rtcm_frames,
            epoch_kind=epoch_kind,
            epochs=self.epochs,
            epochs_without_time=self._untimed,
            repeated_epochs=self._repeated,
            broken_fields=broken_fields,
            first=self.clock.moment(self.clock.first),
            last=self.clock.moment(self.clock.last),
            seconds=self.clock.seconds,
            interval_s=self.clock.interval_s,
            breaks=self.clock.breaks,
            longest_break_s=self.clock.longest_break_s,
            steps_back=self.clock.steps_back,
            epochs_by_quality=_by_name(self._qualities),
            position_epochs=self._positions,
            extent_deg=west_to_north if len(west_to_north) == 4 else None,
            stations=self._station_uses(),
            age_limit_s=self._limit,
            age_epochs=self._ages.total(),
            median_age_s=self._age_at(0.5),
            high_age_s=self._age_at(0.95),
            largest_age_s=self._age_at(1.0),
            first_corrected=self.clock.moment(self._first_corrected),
            seconds_before_corrected=self._before if self._first_corrected else self.clock.seconds,
            states={name: (one.epochs, one.seconds) for name, one in self._states.items()},
            interruptions=interruptions,
            interruption_count=self._states.times({LATE, WITHOUT, NO_POSITION}),
            timeline=self._timeline.slices(self.clock),
        )

    def _station_uses(self) -> tuple[StationUse, ...]:
        uses = [
            StationUse(
                name or None,
                one.epochs,
                one.seconds,
                _by_name({key: n for (whose, key), n in self._station_qualities.items() if whose == name}),
                one.times,
                self._stations.longest({name}, self.clock),
            )
            for name, one in self._stations.items()
        ]  # fmt: skip
        return tuple(sorted(uses, key=lambda use: -use.epochs))

    def _age_at(self, share: float) -> float | None:
        """The age that the given share of all ages does not exceed."""
        wanted, seen = share * self._ages.total(), 0
        for step in sorted(self._ages):
            seen += self._ages[step]
            if seen >= wanted:
                return step / _AGE_STEPS_PER_S
        return None


def _by_name(qualities: dict[int, int]) -> dict[str, int]:
    return {nmea_fixes.QUALITY_NAMES[key]: qualities[key] for key in sorted(qualities)}


def read_log(source: str, stream: Iterable[bytes], age_limit_s: float = AGE_LIMIT_S) -> RoverLog:
    """The summary of a log that comes in pieces cut anywhere; `source` is its name."""
    tally = RoverLogTally(age_limit_s)
    for piece in stream:
        tally.feed(piece)
    return tally.finish(source)
