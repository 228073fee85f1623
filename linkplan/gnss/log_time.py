"""The time of a log that states only the time of day: over midnight, breaks, and steps back."""

from __future__ import annotations

import datetime
from collections import Counter
from dataclasses import dataclass

DAY_S = 86_400.0
HALF_DAY_S = DAY_S / 2
BREAK_S = 60.0
"""A longer step between two epochs is a break of the log."""
_MOST_STEPS = 2000


@dataclass(frozen=True, slots=True)
class Moment:
    """A time of day on a day of the log."""

    day: int
    """Days from the first one of the log."""
    time_s: float
    """UTC."""
    date: datetime.date | None
    """Where a sentence of the log said it."""

    def __str__(self) -> str:
        whole = int(self.time_s)
        clock = f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"
        if self.date is not None:
            return f"{self.date} {clock}"
        return clock if self.day == 0 else f"day {self.day + 1} {clock}"


Instant = tuple[int, float]
"""Day and time of day, while a log is read: what becomes a Moment in the end."""


class LogClock:
    """Follows the times of day of a log's epochs."""

    def __init__(self) -> None:
        self.first: Instant | None = None
        self.last: Instant | None = None
        self.seconds = 0.0
        """Sum of the steps forward, breaks left out."""
        self.breaks = self.steps_back = 0
        self.longest_break_s = 0.0
        self._day = 0
        self._time_s = 0.0
        self._first_date: datetime.date | None = None
        """The date of day 0."""
        self._steps: Counter[int] = Counter()

    @property
    def interval_s(self) -> float | None:
        """The most frequent step between epochs."""
        return max(sorted(self._steps), key=self._steps.__getitem__) / 1000.0 if self._steps else None

    def advance(self, time_s: float) -> float | None:
        """To the epoch at this time of day: seconds since the last one, or None where it is the same epoch.

        0 behind a break or a step back.
        """
        if self.last is None:
            self._time_s = time_s
            self.first = self.last = (0, time_s)
            return 0.0
        step = time_s - self._time_s
        if step == 0.0:
            return None
        if step < -HALF_DAY_S:
            step += DAY_S
            self._day += 1
        self._time_s = time_s
        self.last = (self._day, time_s)
        if step < 0.0:
            self.steps_back += 1
            return 0.0
        if step > BREAK_S:
            self._break(step)
            return 0.0
        self.seconds += step
        key = round(step * 1000.0)
        if key in self._steps or len(self._steps) < _MOST_STEPS:
            self._steps[key] += 1
        return step

    def take_date(self, date: datetime.date, time_s: float) -> bool:
        """The date that a sentence states at a time of day; False where it does not fit the last epoch."""
        if self.last is None or abs(time_s - self._time_s) > BREAK_S:
            return False
        if self._first_date is None:
            try:
                self._first_date = date - datetime.timedelta(days=self._day)
            except OverflowError:
                return False
        else:
            days = (date - self._first_date).days
            if days > self._day:
                # a pause over whole days does not show in the time of day
                self._break((days - self._day) * DAY_S)
                self._day = days
        self.last = (self._day, self._time_s)
        return True

    def moment(self, instant: Instant | None) -> Moment | None:
        """An instant of this log with its date, if that came to be known."""
        return None if instant is None else Moment(*instant, self._date_of(instant[0]))

    def _break(self, step_s: float) -> None:
        self.breaks += 1
        self.longest_break_s = max(self.longest_break_s, step_s)

    def _date_of(self, day: int) -> datetime.date | None:
        if self._first_date is None:
            return None
        try:
            return self._first_date + datetime.timedelta(days=day)
        except OverflowError:
            return None
