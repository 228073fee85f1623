"""Did the message that was due arrive? Read from a log's ages of corrections, message by message.

Rover and base both observe at whole steps of GPS time, so epoch less age is the time at which the
observations in use were made: it jumps by the message interval when a message comes into use, and by two
where one was missing. An epoch is given the message due next after it, counted from when the one in use came
into use: it arrived where the next one in use is that or an earlier one, and not where it is a later one. So
each message is judged once however fast epochs come, and the delay of radio and receiver does not enter.
(Where that delay ends just about an epoch and sways by some tenths of a second, messages that came between
two epochs are taken as missing now and then.)

Where epochs come more rarely than messages, most are never in use; there the age itself tells: no more than
half an interval above the freshest. Ages cut to whole seconds with faster epochs tell nothing.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.samples import IN_TIME, NOT_IN_TIME, NOT_OBSERVED

FloatArray = NDArray[np.float64]
Outcomes = NDArray[np.int8]

_STEPS_PER_S = 10
_MOST_S = 600.0
_FRESH_QUANTILE = 0.05
_FEWEST_STEPS = 20
"""Between messages, before their interval is taken from the log."""
_SHORTEST_INTERVAL_S = 0.2
"""Corrections come no faster [common practice]; ages waver by a tenth."""
_RARE, _MOST = 0.05, 0.75
_SLACK = 1e-6
_UNDECIDED, _FOLLOWED, _BY_AGE, _BLIND = range(4)


class Arrivals:
    """Follows the epochs of a log that use the job's corrections at a stated age, block by block."""

    def __init__(self, interval_s: float | None) -> None:
        """`interval_s`: between messages, as planned; None: as the log shows it."""
        self.later: dict[int, int] = {}
        """Outcomes, by number of the sample, that came to be known behind their block."""
        self.interval_s = interval_s
        """Between messages, as it is taken; None while it is not known."""
        self._how = _UNDECIDED
        self._ages = np.zeros(round(_MOST_S * _STEPS_PER_S) + 1, dtype=np.int64)
        self._open: _Run | None = None

    @property
    def told(self) -> bool:
        """Whether the log tells anything of this."""
        return self._how in (_FOLLOWED, _BY_AGE)

    def take(
        self, time_s: FloatArray, age_s: FloatArray, starts: NDArray[np.bool_]
    ) -> tuple[Outcomes, NDArray[np.bool_]]:
        """Outcomes of the next epochs (n,), and which of them wait for the next block.

        `starts`: a pause lies before the epoch. Samples among those that wait are to be named to `wait`.
        """
        unknown = np.full(time_s.size, NOT_OBSERVED, dtype=np.int8)
        nothing = np.zeros(time_s.size, dtype=np.bool_)
        if not time_s.size:
            return unknown, nothing
        self._ages += _counted(age_s)
        if self._how == _UNDECIDED:
            self._decide(time_s, age_s, starts)
        if self._how != _FOLLOWED or self.interval_s is None:
            return unknown, nothing
        return self._follow(time_s, time_s - age_s, starts, self.interval_s)

    def wait(self, sample: int, time_s: float) -> None:
        """The epoch of this sample is one that waits."""
        if self._open is not None:
            self._open.waiting.append((sample, time_s))

    def finish(self) -> None:
        """No epoch follows."""
        if self._open is not None and self.interval_s is not None:
            self._resolve(self._open, None, self.interval_s)
            self._open = None

    def by_age(self, age_s: FloatArray) -> Outcomes | None:
        """Outcomes of samples by their ages (n,), NaN without corrections; None where others tell."""
        total = int(self._ages.sum())
        if self._how != _BY_AGE or self.interval_s is None or not total:
            return None
        fresh_s = int(np.searchsorted(np.cumsum(self._ages), _FRESH_QUANTILE * total)) / _STEPS_PER_S
        return np.where(age_s <= fresh_s + self.interval_s / 2.0, IN_TIME, NOT_IN_TIME).astype(np.int8)

    def _decide(self, time_s: FloatArray, age_s: FloatArray, starts: NDArray[np.bool_]) -> None:
        """How the log can be read, from its first epochs."""
        inner = ~starts[1:]
        epoch_steps = np.diff(time_s)[inner]
        if not epoch_steps.size:
            return
        epoch_s = _most_frequent(epoch_steps)
        made_steps = np.diff(time_s - age_s)[inner]
        made_steps = made_steps[made_steps >= _SHORTEST_INTERVAL_S - _SLACK]
        if self.interval_s is None:
            self.interval_s = _interval_of(made_steps, epoch_s, age_s)
        elif epoch_s <= self.interval_s + _SLACK:
            self.interval_s = sent_interval_s(made_steps, self.interval_s)
        if self.interval_s is None:
            return
        if not (age_s % 1.0).any() and epoch_s < 1.0 - _SLACK:
            self._how = _BLIND
        else:
            self._how = _BY_AGE if epoch_s > self.interval_s + _SLACK else _FOLLOWED

    def _follow(
        self, time_s: FloatArray, made_s: FloatArray, starts: NDArray[np.bool_], interval_s: float
    ) -> tuple[Outcomes, NDArray[np.bool_]]:
        """Runs are epochs that use one message; the first may go on from the block before."""
        before = self._open
        first_s = made_s[0] if before is None else before.made_s
        changed = np.abs(np.diff(made_s, prepend=first_s)) > interval_s / 2.0
        changed |= starts
        changed[0] |= before is None
        begins = np.flatnonzero(changed)
        run = np.cumsum(changed) - changed[0]
        if not changed[0] and before is not None:
            begins = np.concatenate(([0], begins))
        made, since, paused = made_s[begins].copy(), time_s[begins].copy(), starts[begins]
        until = np.concatenate((time_s[begins[1:] - 1], time_s[-1:]))
        if before is not None:
            if changed[0]:
                self._resolve(before, None if paused[0] else float(made[0]), interval_s)
            else:
                made[0], since[0] = before.made_s, before.since_s
                before.until_s = float(until[0])
                if begins.size > 1:
                    self._resolve(before, None if paused[1] else float(made[1]), interval_s)
        next_made = np.concatenate((np.where(paused[1:], np.nan, made[1:]), [np.nan]))
        outcome = _judged(time_s, since[run], until[run], (next_made - made)[run], interval_s)
        waits = run == run[-1]
        outcome[waits] = NOT_OBSERVED
        if before is None or changed[0] or begins.size > 1:
            self._open = _Run(float(made[-1]), float(since[-1]), float(until[-1]))
        return outcome, waits

    def _resolve(self, run: _Run, next_made_s: float | None, interval_s: float) -> None:
        step_s = math.nan if next_made_s is None else next_made_s - run.made_s
        for sample, time_s in run.waiting:
            since, until, step = (np.array([value]) for value in (run.since_s, run.until_s, step_s))
            self.later[sample] = int(_judged(np.array([time_s]), since, until, step, interval_s)[0])
        run.waiting.clear()


class _Run:
    """Epochs that use one message, as far as they are known."""

    def __init__(self, made_s: float, since_s: float, until_s: float) -> None:
        self.made_s = made_s
        self.since_s = since_s
        """First epoch that uses it."""
        self.until_s = until_s
        self.waiting: list[tuple[int, float]] = []


def _judged(
    time_s: FloatArray, since_s: FloatArray, until_s: FloatArray, step_s: FloatArray, interval_s: float
) -> Outcomes:
    """Of epochs in runs from `since_s` to `until_s`, `step_s` before the next message in use (NaN: none is
    known to follow)."""
    due = np.floor((time_s - since_s) / interval_s + _SLACK) + 1.0
    waited = until_s - since_s >= (due + 1.0) * interval_s - _SLACK
    came = np.where(step_s <= (due + 0.5) * interval_s, IN_TIME, NOT_IN_TIME)
    alone = np.where(waited, NOT_IN_TIME, NOT_OBSERVED)
    return np.where(np.isnan(step_s), alone, came).astype(np.int8)


def _interval_of(made_steps: FloatArray, epoch_s: float, age_s: FloatArray) -> float | None:
    """Between messages, where nobody plans it: the shortest step that is no rarity (those longer have
    messages missing in them). None where there are too few."""
    if made_steps.size < _FEWEST_STEPS:
        return None
    values, counts = np.unique(np.rint(made_steps * _STEPS_PER_S), return_counts=True)
    frequent = values[counts >= _RARE * made_steps.size]
    if not frequent.size:
        return None  # no two alike: these are no messages at an interval
    shortest_s = float(frequent[0]) / _STEPS_PER_S
    fresh_s = float(np.quantile(age_s, _FRESH_QUANTILE))
    if _SHORTEST_INTERVAL_S <= fresh_s < 0.75 * epoch_s:
        # fresher than epochs are apart: messages came in between, and at whole intervals before an epoch
        return fresh_s
    return shortest_s


def sent_interval_s(made_steps: FloatArray, planned_s: float) -> float:
    """As planned, or as nearly all steps between messages (n,), s, say: the base did not send as planned."""
    if made_steps.size < _FEWEST_STEPS:
        return planned_s
    step_s = _most_frequent(made_steps)
    alike = np.abs(made_steps - step_s) < 0.5 / _STEPS_PER_S
    other = step_s < 0.75 * planned_s or step_s > 1.5 * planned_s
    return step_s if other and alike.mean() > _MOST else planned_s


def _most_frequent(step_s: FloatArray) -> float:
    steps = np.rint(np.clip(step_s, 0.0, _MOST_S) * _STEPS_PER_S * 10.0).astype(np.int64)
    return float(max(1, int(np.bincount(steps).argmax()))) / (_STEPS_PER_S * 10.0)


def _counted(age_s: FloatArray) -> NDArray[np.int64]:
    steps = np.rint(np.minimum(age_s, _MOST_S) * _STEPS_PER_S).astype(np.int64)
    return np.bincount(steps, minlength=round(_MOST_S * _STEPS_PER_S) + 1).astype(np.int64)
