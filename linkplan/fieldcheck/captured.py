"""A correction stream as a rover's radio handed it on: which messages came, and which did not.

An epoch came where one whole frame of it with observations of the job's station came. Between two that came,
as many are missing as the message interval leaves room for; a silence of over ten minutes says nothing (the
recording or the base may have stopped).

A recording at one place is one piece of evidence, however long: one epoch of it, counted from the first, the
last whose number is a power of two and that has another behind it. That hangs on the length alone, and never
falls on the first or the last epoch, which have come by definition.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from linkplan.fieldcheck.observed_arrivals import sent_interval_s
from linkplan.fieldcheck.observed_rules import LONGEST_SILENCE_S, Rules
from linkplan.gnss import rtcm_headers
from linkplan.gnss.rtcm_frames import Frame
from linkplan.gnss.rtcm_headers import DAY_MS, GPS_AHEAD_OF_UTC_MS
from linkplan.gnss.stream_time import StreamClock

_STEPS_FIRST = 64
"""From so many the interval is taken, where the job plans none or the base does not keep to it."""


@dataclass(frozen=True)
class Stay:
    """What a recording at one place says."""

    received: int
    """Epochs."""
    missed: int
    in_time: bool | None
    """At the picked epoch, the last that came was no older than the age limit; None: too short to tell."""
    arrived: bool | None
    """The picked epoch came."""


class JobFrames:
    """The job's own frames with observations, with their times."""

    def __init__(self, rules: Rules) -> None:
        self.clock = StreamClock()
        self.station: str | None = None
        """Of the last frame."""
        self.others: Counter[str] = Counter()
        """Epochs of other stations, by their first kind of message with observations."""
        self._first_numbers: dict[str, int] = {}
        self._rules = rules

    def take(self, frame: Frame) -> bool:
        """Whether this is one of them."""
        payload = frame.payload
        number = rtcm_headers.message_number(payload)
        epoch = None if number is None else rtcm_headers.epoch(number, payload)
        station_id = None if number is None else rtcm_headers.station_id(number, payload)
        if number is None or epoch is None or station_id is None:
            return False
        station = str(station_id)
        if not self._rules.is_mine(station):
            self.others[station] += number == self._first_numbers.setdefault(station, number)
            return False
        self.station = station
        self.clock.advance(epoch, frame.offset)
        return True

    def age_s(self, time_s: float) -> float | None:
        """Of the last frame's observations at a time of day, UTC; None before the first."""
        if self.clock.now_ms is None:
            return None
        made_ms = self.clock.now_ms - GPS_AHEAD_OF_UTC_MS
        return (round(1000.0 * time_s) - made_ms + DAY_MS // 2) % DAY_MS / 1000.0 - DAY_MS / 2000.0


class StayTally:
    """Counts the epochs that came and those that did not, at one place; memory is flat."""

    def __init__(self, interval_s: float | None, age_limit_s: float) -> None:
        self.interval_s: float | None = None
        """Between epochs, as it is taken; None while it is not known."""
        self._planned_s = interval_s
        self._limit_s = age_limit_s
        self._last_ms: int | None = None
        self._waiting: list[int] = []
        """Steps from before the interval was known."""
        self._slot = 0
        """Number of the last epoch that came."""
        self._candidate: tuple[bool, bool] | None = None
        self._picked: tuple[bool, bool] | None = None
        self.received = self.missed = 0
        self.breaks = 0
        """Silences that were left out."""

    def take(self, now_ms: int) -> None:
        """The stream's time at one more frame."""
        last, self._last_ms = self._last_ms, now_ms
        if last is None:
            self.received = 1
        elif now_ms != last:
            self.received += 1
            self._step(now_ms - last)

    def finish(self) -> Stay:
        """What it comes to, after the last frame."""
        self._settle()
        outcome, came = self._picked if self._picked is not None else (None, None)
        return Stay(self.received, self.missed, outcome, came)

    def _step(self, step_ms: int) -> None:
        if self.interval_s is None:
            self._waiting.append(step_ms)
            if len(self._waiting) >= _STEPS_FIRST:
                self._settle()
            return
        if step_ms < 0 or step_ms > 1000.0 * LONGEST_SILENCE_S:
            self.breaks += 1
            step = 1
        else:
            step = max(1, round(step_ms / (1000.0 * self.interval_s)))
        self.missed += step - 1
        last, now = self._slot, self._slot + step
        if self._candidate is not None:
            self._picked, self._candidate = self._candidate, None
        power = 1 << (now - 1).bit_length() >> 1  # the last below `now`
        if power > last:
            self._picked = ((power - last) * self.interval_s <= self._limit_s, False)
        if now & (now - 1) == 0:
            self._candidate = (True, True)
        self._slot = now

    def _settle(self) -> None:
        """Take the interval from the steps so far, and count them."""
        forward = np.array([step / 1000.0 for step in self._waiting if step > 0])
        if self.interval_s is not None or not forward.size:
            return
        planned_s = self._planned_s
        self.interval_s = (
            float(np.median(forward)) if planned_s is None else sent_interval_s(forward, planned_s)
        )
        waiting, self._waiting = self._waiting, []
        for step in waiting:
            self._step(step)
