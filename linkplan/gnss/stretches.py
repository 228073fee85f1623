"""Stretches of time in one state, and a timeline of fixed size, counted while a log is read."""

from __future__ import annotations

import heapq
from collections.abc import Collection, ItemsView
from dataclasses import dataclass, field
from operator import itemgetter

from linkplan.gnss.log_time import Instant, LogClock, Moment
from linkplan.gnss.nmea_fixes import FIXED, FLOAT, Fix

_KEPT = 10
_OTHERS = "others"
_MOST_SLICES = 32
_FIRST_SLICE_S = 10.0


@dataclass(frozen=True)
class Stretch:
    """Epochs in one state, one behind the other."""

    state: str
    seconds: float
    start: Moment | None
    end: Moment | None
    epochs: int


@dataclass(slots=True)
class _Running:
    """A stretch that is being counted."""

    state: str
    seconds: float
    start: Instant | None
    end: Instant | None
    epochs: int = 1


@dataclass
class StateCount:
    """Totals of one state."""

    epochs: int = 0
    seconds: float = 0.0
    times: int = 0
    longest: list[tuple[float, int, _Running]] = field(default_factory=list)
    """The longest stretches as a heap: seconds, which of all stretches, the stretch."""


class StretchTally:
    """Totals and the longest stretches of each state; memory is bounded by the number of states."""

    def __init__(self, most_states: int) -> None:
        self._most = most_states
        self._of: dict[str, StateCount] = {}
        self._open: _Running | None = None
        self._count = 0

    def add(self, state: str, instant: Instant | None, step_s: float) -> str:
        """One more epoch; returns the name that it is counted under."""
        if state not in self._of:
            if len(self._of) >= self._most:
                state = _OTHERS
            self._of.setdefault(state, StateCount())
        count = self._of[state]
        count.epochs += 1
        count.seconds += step_s
        now = self._open
        if now is not None and now.state == state:
            now.seconds += step_s
            now.end = instant
            now.epochs += 1
            return state
        self.pause()
        count.times += 1
        self._count += 1
        self._open = _Running(state, step_s, instant, instant)
        return state

    def pause(self) -> None:
        """The open stretch ends here."""
        now = self._open
        if now is not None:
            longest = self._of[now.state].longest
            heapq.heappush(longest, (now.seconds, self._count, now))
            if len(longest) > _KEPT:
                heapq.heappop(longest)
            self._open = None

    def items(self) -> ItemsView[str, StateCount]:
        """Each state with its totals."""
        self.pause()
        return self._of.items()

    def times(self, states: Collection[str]) -> int:
        """How many stretches there were in these states."""
        return sum(count.times for state, count in self._of.items() if state in states)

    def longest(self, states: Collection[str], clock: LogClock) -> tuple[Stretch, ...]:
        """The longest stretches in these states, in order of time."""
        self.pause()
        kept = [one for state, count in self._of.items() if state in states for one in count.longest]
        return tuple(
            Stretch(one.state, one.seconds, clock.moment(one.start), clock.moment(one.end), one.epochs)
            for _, _, one in sorted(heapq.nlargest(_KEPT, kept), key=itemgetter(1))
        )


@dataclass(frozen=True)
class TimeSlice:
    """A part of the log, all parts being equally long."""

    start: Moment | None
    seconds: float
    """Length of the part."""
    epochs: int
    fixed: int
    float_: int
    not_fresh: int
    """Epochs late or without corrections."""
    largest_age_s: float | None
    mean_age_s: float | None


@dataclass
class _Slice:
    start: Instant | None
    epochs: int = 0
    fixed: int = 0
    float_: int = 0
    not_fresh: int = 0
    ages: int = 0
    age_sum_s: float = 0.0
    largest_age_s: float = 0.0

    def join(self, other: _Slice) -> None:
        self.epochs += other.epochs
        self.fixed += other.fixed
        self.float_ += other.float_
        self.not_fresh += other.not_fresh
        self.ages += other.ages
        self.age_sum_s += other.age_sum_s
        self.largest_age_s = max(self.largest_age_s, other.largest_age_s)


class Timeline:
    """At most 32 slices of time: when there are more, each two become one of double length."""

    def __init__(self) -> None:
        self._length_s = _FIRST_SLICE_S
        self._slices: dict[int, _Slice] = {}

    def add(self, seconds: float, instant: Instant | None, fix: Fix, *, late: bool) -> None:
        """One more epoch, `seconds` after the first."""
        while seconds >= self._length_s * _MOST_SLICES:
            self._halve()
        index = int(seconds // self._length_s)
        one = self._slices.get(index)
        if one is None:
            one = self._slices[index] = _Slice(instant)
        one.epochs += 1
        one.fixed += fix.quality == FIXED
        one.float_ += fix.quality == FLOAT
        one.not_fresh += late
        if fix.age_s is not None and fix.corrected:
            one.ages += 1
            one.age_sum_s += fix.age_s
            one.largest_age_s = max(one.largest_age_s, fix.age_s)

    def _halve(self) -> None:
        joined: dict[int, _Slice] = {}
        for index in sorted(self._slices):
            there = joined.get(index // 2)
            if there is None:
                joined[index // 2] = self._slices[index]
            else:
                there.join(self._slices[index])
        self._slices = joined
        self._length_s *= 2.0

    def slices(self, clock: LogClock) -> tuple[TimeSlice, ...]:
        """The slices in order; those without an epoch are left out."""
        return tuple(
            TimeSlice(
                clock.moment(one.start), self._length_s, one.epochs, one.fixed, one.float_, one.not_fresh,
                one.largest_age_s if one.ages else None, one.age_sum_s / one.ages if one.ages else None,
            )
            for _, one in sorted(self._slices.items())
        )  # fmt: skip
