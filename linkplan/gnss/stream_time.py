"""When a stream's messages were made: one clock for all satellite systems, and intervals counted on it."""

from __future__ import annotations

import heapq
from collections import Counter
from dataclasses import dataclass, field

from linkplan.gnss.rtcm_headers import WEEK_MS, Epoch

_MOST_STEPS = 1000
_KEPT_GAPS = 5


class StreamClock:
    """Follows the epochs of a stream through days and weeks; other messages take the last epoch's time."""

    def __init__(self) -> None:
        self.now_ms: int | None = None
        """Counts from the beginning of the first epoch's week, GPS time."""
        self.first_ms: int | None = None
        self.elapsed_ms = 0
        """Sum of the steps forward."""
        self.steps = Intervals()
        self.steps_back = 0
        self._only_glonass = True

    def advance(self, epoch: Epoch, offset: int) -> int:
        """The epoch's time on this clock; `offset` is that of its message in the recording."""
        if self.now_ms is None:
            self._only_glonass = epoch.glonass
            self.now_ms = self.first_ms = epoch.time_ms
            self.steps.add(epoch.time_ms, offset)
            return epoch.time_ms
        half = epoch.cycle_ms // 2
        step = (epoch.time_ms - self.now_ms + half) % epoch.cycle_ms - half
        time_ms = self.now_ms + step
        if epoch.glonass and not self._only_glonass:
            return time_ms  # its time rests on leap seconds: the others' is taken
        if self._only_glonass and not epoch.glonass:
            self._only_glonass = False
        if step:
            if step > 0:
                self.elapsed_ms += step
            else:
                self.steps_back += 1
            self.now_ms = time_ms
            self.steps.add(time_ms, offset)
        return time_ms


@dataclass(frozen=True, order=True)
class Gap:
    """A pause between two messages of one kind, or between two epochs."""

    seconds: float
    start_s: float = field(compare=False)
    """From the first epoch of the recording."""
    offset: int = field(compare=False)
    """Of the message behind it in the recording, bytes."""


class Intervals:
    """The times between messages of one kind; memory is bounded."""

    def __init__(self) -> None:
        self.epochs = 0
        """Different times."""
        self.first_ms: int | None = None
        self.last_ms: int | None = None
        self._steps: Counter[int] = Counter()
        self._rare = 0
        self._gaps: list[tuple[int, int, int]] = []

    def add(self, time_ms: int, offset: int) -> None:
        """One more message."""
        last, self.last_ms = self.last_ms, time_ms
        if last is None:
            self.first_ms = time_ms
            self.epochs = 1
            return
        step = time_ms - last
        if step == 0:
            return
        self.epochs += 1
        if step < 0:
            return
        if step in self._steps or len(self._steps) < _MOST_STEPS:
            self._steps[step] += 1
        else:
            self._rare += 1
        gap = (step, -last, offset)
        if len(self._gaps) < _KEPT_GAPS:
            heapq.heappush(self._gaps, gap)
        elif gap > self._gaps[0]:
            heapq.heapreplace(self._gaps, gap)

    @property
    def usual_ms(self) -> int | None:
        """The median step, or None where there is none."""
        wanted, seen = self._steps.total() / 2, 0
        for step in sorted(self._steps):
            seen += self._steps[step]
            if seen >= wanted:
                return step
        return None

    @property
    def longest_ms(self) -> int | None:
        """The longest step."""
        return max((gap[0] for gap in self._gaps), default=None)

    def missed(self) -> int:
        """Messages that a steady stream at the usual step would have held in between."""
        usual = self.usual_ms
        if not usual:
            return 0
        return sum((round(step / usual) - 1) * count for step, count in self._steps.items() if step > usual)

    def gaps(self, first_ms: int) -> tuple[Gap, ...]:
        """The longest steps of over one and a half times the usual, in order of time."""
        usual = self.usual_ms or 0
        long = sorted((-start, step, offset) for step, start, offset in self._gaps if step > 1.5 * usual)
        return tuple(Gap(step / 1000.0, (start - first_ms) / 1000.0, offset) for start, step, offset in long)


def week_time(time_ms: int) -> str:
    """A time on the stream's clock as day and time of the GPS week."""
    seconds, day = time_ms % WEEK_MS // 1000 % 86_400, time_ms % WEEK_MS // 86_400_000
    name = ("Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat")[day]
    return f"{name} {seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d} GPS time"
