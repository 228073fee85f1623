"""A recorded RTCM 3 stream as one summary: what the base really sends.

Memory stays flat whatever the recording's length: messages are counted, not kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from linkplan.gnss import rtcm_headers
from linkplan.gnss.nmea_sentences import SentenceScanner
from linkplan.gnss.rtcm_bodies import ANTENNA_MESSAGES, POINT_MESSAGES, AntennaText, ReferencePoint, decode
from linkplan.gnss.rtcm_frames import OVERHEAD_BYTES, Frame, FrameScanner
from linkplan.gnss.stream_time import Gap, Intervals, StreamClock, week_time

_MOST_BODIES = 64
_MOST_MASKS = 256


@dataclass(frozen=True)
class SystemSeen:
    """Satellites and signals of one message that carries observations."""

    system: str
    fewest_satellites: int
    mean_satellites: float
    most_satellites: int
    """In one message."""
    signals: tuple[str, ...]
    """Those that at least one satellite had, as RINEX writes them; frequencies in messages before MSM."""
    most_signals: int
    """In the mask of one message."""
    full_mask_share: float
    """Observations that are there, of satellites times signals."""


@dataclass(frozen=True)
class MessageSeen:
    """All messages of one number."""

    number: int
    frames: int
    bytes: int
    """With frames' headers and checks."""
    smallest_bytes: int
    largest_bytes: int
    epochs: int
    """At different times; 0 where the stream has no clock."""
    interval_s: float | None
    """The usual time between them; None for a single one."""
    own_epoch: bool
    """It states its time; the others are as exact as the time between epochs."""
    longest_interval_s: float | None
    missed: int
    """That a steady stream at the usual interval would have held."""
    gaps: tuple[Gap, ...]
    station_ids: dict[int, int]
    """Frames by station ID; empty where the message carries none."""
    system: SystemSeen | None
    malformed: int
    """Whole frames whose contents cannot be."""


@dataclass(frozen=True)
class PointSeen:
    """A reference point that was sent."""

    point: ReferencePoint
    frames: int


@dataclass(frozen=True)
class AntennaSeen:
    """An antenna text that was sent."""

    text: AntennaText
    frames: int


@dataclass(frozen=True)
class Capture:
    """What a recorded stream holds."""

    source: str
    total_bytes: int
    frames: int
    frame_bytes: int
    damaged_frames: int
    """CRC-24Q failures."""
    outside_bytes: int
    """In no whole frame, damaged ones included."""
    cut_short: bool
    """It ends inside a frame."""
    nmea_sentences: int
    """Good NMEA 0183 sentences between the frames."""
    empty_frames: int
    """Frames without a message."""
    first_epoch: str | None
    elapsed_s: float
    """From the first epoch to the last, steps back left out."""
    epochs: int
    epoch_interval_s: float | None
    epochs_missed: int
    gaps: tuple[Gap, ...]
    """The longest pauses between epochs."""
    steps_back: int
    """How often time went back: two streams, or several recordings in one file."""
    bytes_per_s: float | None
    """Of whole frames."""
    worst_epoch_bytes: int | None
    """Most bytes from one epoch to the next."""
    messages: tuple[MessageSeen, ...]
    station_ids: dict[int, int]
    """Frames by station ID, most frequent first."""
    points: tuple[PointSeen, ...]
    antennas: tuple[AntennaSeen, ...]
    bodies_not_kept: int
    """Further different reference points and antenna texts."""

    def message(self, number: int) -> MessageSeen | None:
        """What was seen of one number."""
        return next((one for one in self.messages if one.number == number), None)


@dataclass
class _Message:
    """Counts of one message number."""

    number: int
    frames: int = 0
    size: int = 0
    """Bytes of all frames."""
    smallest: int = 1 << 30
    largest: int = 0
    malformed: int = 0
    ids: Counter[int] = field(default_factory=Counter)
    intervals: Intervals = field(default_factory=Intervals)
    own_epoch: bool = False
    headers: int = 0
    satellites: int = 0
    fewest: int = 1 << 30
    most: int = 0
    most_signals: int = 0
    cells: int = 0
    grid: int = 0
    used: dict[int, int] = field(default_factory=dict)

    def take_header(self, payload: bytes) -> None:
        header = rtcm_headers.msm_header(payload)
        if header is None:
            self.malformed += 1
            return
        self.headers += 1
        self.satellites += header.satellites
        self.fewest = min(self.fewest, header.satellites)
        self.most = max(self.most, header.satellites)
        self.most_signals = max(self.most_signals, header.signals)
        self.cells += header.cells
        self.grid += header.satellites * header.signals
        mask = header.signal_mask
        if mask in self.used or len(self.used) < _MOST_MASKS:
            self.used[mask] = self.used.get(mask, 0) | header.used_columns

    def take_older(self, payload: bytes) -> None:
        satellites = rtcm_headers.older_satellites(self.number, payload)
        if satellites is None:
            self.malformed += 1
            return
        self.headers += 1
        self.satellites += satellites
        self.fewest = min(self.fewest, satellites)
        self.most = max(self.most, satellites)

    def seen(self, first_ms: int) -> MessageSeen:
        usual, longest = self.intervals.usual_ms, self.intervals.longest_ms
        return MessageSeen(
            number=self.number,
            frames=self.frames,
            bytes=self.size,
            smallest_bytes=self.smallest,
            largest_bytes=self.largest,
            epochs=self.intervals.epochs,
            interval_s=None if usual is None else usual / 1000.0,
            own_epoch=self.own_epoch,
            longest_interval_s=None if longest is None else longest / 1000.0,
            missed=self.intervals.missed(),
            gaps=self.intervals.gaps(first_ms),
            station_ids=dict(self.ids.most_common()),
            system=self._system(),
            malformed=self.malformed,
        )

    def _system(self) -> SystemSeen | None:
        system = rtcm_headers.system_of(self.number)
        if system is None or not self.headers:
            return None
        mean = self.satellites / self.headers
        if rtcm_headers.msm_system(self.number) is None:
            signals = rtcm_headers.older_signals(self.number)
            return SystemSeen(system, self.fewest, mean, self.most, signals, len(signals), 1.0)
        places = {
            place for mask, used in self.used.items() for place in rtcm_headers.signal_positions(mask, used)
        }
        return SystemSeen(
            system, self.fewest, mean, self.most,
            tuple(rtcm_headers.signal_names(self.number, sorted(places))), self.most_signals,
            self.cells / self.grid if self.grid else 0.0,
        )  # fmt: skip


class CaptureTally:
    """Counts a recording, frame by frame."""

    def __init__(self) -> None:
        self._sentences = SentenceScanner()
        self._scanner = FrameScanner(self._sentences.feed)
        self._clock = StreamClock()
        self._messages: dict[int, _Message] = {}
        self._points: Counter[ReferencePoint] = Counter()
        self._antennas: Counter[AntennaText] = Counter()
        self._decoded: dict[bytes, ReferencePoint | AntennaText | None] = {}
        self._total = self._frames = self._bytes = self._empty = self._not_kept = 0
        self._epoch_bytes: int | None = None
        self._worst_epoch = 0

    def feed(self, piece: bytes) -> None:
        """The next piece of the recording, cut anywhere."""
        self._total += len(piece)
        for frame in self._scanner.feed(piece):
            self._take(frame)

    def finish(self, source: str) -> Capture:
        """The summary, after the last piece."""
        for frame in self._scanner.finish():
            self._take(frame)
        self._sentences.finish()
        return self._summary(source)

    def _take(self, frame: Frame) -> None:
        payload = frame.payload
        size = len(payload) + OVERHEAD_BYTES
        self._frames += 1
        self._bytes += size
        number = rtcm_headers.message_number(payload)
        if number is None:
            self._empty += 1
            return
        one = self._messages.get(number)
        if one is None:
            one = self._messages[number] = _Message(number)
        one.frames += 1
        one.size += size
        one.smallest = min(one.smallest, size)
        one.largest = max(one.largest, size)
        station_id = rtcm_headers.station_id(number, payload)
        if station_id is not None:
            one.ids[station_id] += 1
        self._take_time(one, frame)
        if self._epoch_bytes is not None:
            self._epoch_bytes += size
        if rtcm_headers.msm_system(number) is not None:
            one.take_header(payload)
        elif rtcm_headers.system_of(number) is not None:
            one.take_older(payload)
        elif number in POINT_MESSAGES or number in ANTENNA_MESSAGES:
            self._take_body(one, payload)

    def _take_time(self, one: _Message, frame: Frame) -> None:
        epoch = rtcm_headers.epoch(one.number, frame.payload)
        if epoch is not None:
            before = self._clock.now_ms
            time_ms = self._clock.advance(epoch, frame.offset)
            one.own_epoch = True
            one.intervals.add(time_ms, frame.offset)
            if self._clock.now_ms != before:
                if self._epoch_bytes is not None:
                    self._worst_epoch = max(self._worst_epoch, self._epoch_bytes)
                self._epoch_bytes = 0
        elif self._clock.now_ms is not None:
            one.intervals.add(self._clock.now_ms, frame.offset)

    def _take_body(self, one: _Message, payload: bytes) -> None:
        if payload not in self._decoded:
            if len(self._decoded) >= _MOST_BODIES:
                self._not_kept += 1
                return
            self._decoded[payload] = decode(payload)
        body = self._decoded[payload]
        if body is None:
            one.malformed += 1
        elif isinstance(body, ReferencePoint):
            self._points[body] += 1
        else:
            self._antennas[body] += 1

    def _summary(self, source: str) -> Capture:
        clock = self._clock
        steps, first_ms, usual = clock.steps, clock.first_ms, clock.steps.usual_ms
        last_epoch = self._epoch_bytes or 0
        ids: Counter[int] = Counter()
        for one in self._messages.values():
            ids.update(one.ids)
        duration_s = (clock.elapsed_ms + usual) / 1000.0 if usual else None
        return Capture(
            source=source,
            total_bytes=self._total,
            frames=self._frames,
            frame_bytes=self._bytes,
            damaged_frames=self._scanner.damaged,
            outside_bytes=self._scanner.outside_bytes,
            cut_short=self._scanner.cut_short,
            nmea_sentences=self._sentences.counts.good,
            empty_frames=self._empty,
            first_epoch=None if first_ms is None else week_time(first_ms),
            elapsed_s=clock.elapsed_ms / 1000.0,
            epochs=steps.epochs,
            epoch_interval_s=None if usual is None else usual / 1000.0,
            epochs_missed=steps.missed(),
            gaps=steps.gaps(first_ms or 0),
            steps_back=clock.steps_back,
            bytes_per_s=self._bytes / duration_s if duration_s else None,
            worst_epoch_bytes=max(self._worst_epoch, last_epoch) if self._epoch_bytes is not None else None,
            messages=tuple(self._messages[key].seen(first_ms or 0) for key in sorted(self._messages)),
            station_ids=dict(ids.most_common()),
            points=tuple(PointSeen(point, count) for point, count in self._points.most_common()),
            antennas=tuple(AntennaSeen(text, count) for text, count in self._antennas.most_common()),
            bodies_not_kept=self._not_kept,
        )


def read_capture(source: str, stream: Iterable[bytes]) -> Capture:
    """The summary of a recording that comes in pieces cut anywhere; `source` is its name."""
    tally = CaptureTally()
    for piece in stream:
        tally.feed(piece)
    return tally.finish(source)
