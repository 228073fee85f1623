"""By what an epoch is judged: whose corrections count, how old they may be, when a message is due."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.samples import IN_TIME, NOT_IN_TIME, NOT_OBSERVED
from linkplan.gnss.nmea_fixes import SATELLITE_NAMES
from linkplan.plan.model import Plan
from linkplan.radio.frame_sizes import is_observation

AGE_STEPS_PER_S = 10
MOST_AGE_S = 600.0
_FRESH_QUANTILE = 0.05
_JITTER_S = 0.2
"""By so much the way of a message through radio and receiver varies [common practice]."""


@dataclass(frozen=True)
class Rules:
    """What the job and the user say."""

    station: str | None
    """The job's station ID as logs state it; None: any numbered one."""
    age_limit_s: float
    interval_s: float | None
    """Between messages with observations, as the job plans it; None: as each log shows it."""
    spacing_m: float
    most_visits: int
    unnamed_counts: bool
    """Corrections without a station ID count as the job's."""

    def is_mine(self, station: str) -> bool:
        """Corrections under this name are of the job's base."""
        return station.isdigit() if self.station is None else station == self.station

    def is_satellite(self, station: str) -> bool:
        """A differential position under this name most likely rests on an augmentation satellite."""
        if not station.isdigit() or station == self.station:
            return False
        return int(station) in SATELLITE_NAMES

    @classmethod
    def of(
        cls, plan: Plan, *, age_limit_s: float, spacing_m: float, most_visits: int, unnamed_counts: bool
    ) -> Rules:
        """The rules of a job."""
        stream = plan.corrections
        intervals = (
            [one.interval_s for one in stream.messages if is_observation(one.number)] if stream else []
        )
        return cls(
            station=None if stream is None or stream.station_id is None else str(stream.station_id),
            age_limit_s=age_limit_s,
            interval_s=min(intervals, default=None),
            spacing_m=spacing_m,
            most_visits=most_visits,
            unnamed_counts=unnamed_counts,
        )

    def notes(self) -> tuple[str, ...]:
        """What of this the user should know."""
        notes = []
        if self.station is None:
            notes.append(
                "The job states no station ID: corrections of every numbered station were taken for its own."
            )
        if self.unnamed_counts:
            notes.append("Corrections without a station ID were taken for the job's own, as asked.")
        return tuple(notes)


class Ages:
    """The ages of one log's corrections, counted, and what they tell of messages.

    Rover and base both observe at whole steps of GPS time, so the time of the observations in use, epoch less
    age, jumps by the message interval when a message comes, and stays when it does not.
    """

    def __init__(self) -> None:
        self._ages = np.zeros(round(MOST_AGE_S * AGE_STEPS_PER_S) + 1, dtype=np.int64)
        self._steps = np.zeros_like(self._ages)
        self._last_s: float | None = None
        self._whole_seconds = True

    def add(self, time_s: NDArray[np.float64], age_s: NDArray[np.float64], starts: NDArray[np.bool_]) -> None:
        """Epochs (n,) with the job's corrections and a stated age; `starts`: a pause lies before it."""
        if not age_s.size:
            return
        self._whole_seconds = self._whole_seconds and not bool((age_s % 1.0).any())
        self._ages += _counted(age_s, self._ages.size)
        made_s = time_s - age_s
        before = np.concatenate(([np.nan if self._last_s is None else self._last_s], made_s[:-1]))
        step_s = made_s - before
        self._steps += _counted(step_s[~starts & (step_s > 0.5 / AGE_STEPS_PER_S)], self._steps.size)
        self._last_s = float(made_s[-1])

    @property
    def interval_s(self) -> float | None:
        """Between messages: the most frequent jump."""
        most = int(self._steps[1:].argmax()) + 1
        return most / AGE_STEPS_PER_S if self._steps[most] else None

    def limits_s(
        self, interval_s: float | None, epoch_interval_s: float | None
    ) -> tuple[float, float] | None:
        """Up to which age the message last due has arrived, and from which on it has not.

        The freshest ages (5 of 100 are less) hold the way through radio and receiver; one message interval
        more, and a message is missing. Epochs come in steps, so the line lies half a step before. Between
        the two limits is what the way's jitter blurs. None where it cannot be told: neither job nor log
        knows the interval, or ages are cut to whole seconds and epochs come faster.
        """
        interval_s = interval_s or self.interval_s
        total = int(self._ages.sum())
        if interval_s is None or epoch_interval_s is None or not total:
            return None
        step_s = min(interval_s, epoch_interval_s)
        if self._whole_seconds and step_s < 1.0:
            return None
        seen = np.cumsum(self._ages)
        fresh_s = int(np.searchsorted(seen, _FRESH_QUANTILE * total)) / AGE_STEPS_PER_S
        line_s = fresh_s + interval_s - step_s / 2.0
        room_s = max(0.0, min(_JITTER_S - step_s / 2.0, interval_s / 4.0))
        return line_s - room_s, line_s + room_s


def arrived(age_s: NDArray[np.float64], limits_s: tuple[float, float] | None) -> NDArray[np.int8]:
    """`Samples.arrived` of ages (n,); NaN is no corrections at all."""
    if limits_s is None:
        return np.full(age_s.size, NOT_OBSERVED, dtype=np.int8)
    age_s = np.where(np.isnan(age_s), np.inf, age_s)
    outcome = np.select([age_s <= limits_s[0], age_s >= limits_s[1]], [IN_TIME, NOT_IN_TIME], NOT_OBSERVED)
    return outcome.astype(np.int8)


def _counted(value_s: NDArray[np.float64], size: int) -> NDArray[np.int64]:
    steps = np.minimum(np.rint(np.minimum(value_s, MOST_AGE_S) * AGE_STEPS_PER_S), size - 1)
    return np.bincount(steps.astype(np.int64), minlength=size).astype(np.int64)
