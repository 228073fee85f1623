"""A rover's epochs as arrays, block by block: what a log of any length is judged by, in flat memory."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from linkplan.gnss.log_time import BREAK_S, DAY_S, LogClock
from linkplan.gnss.nmea_fixes import Fix

BLOCK_EPOCHS = 8192
MOST_STATIONS = 256
"""Names of stations that are kept apart; further ones share the last."""
NO_STATION = -1
_OTHERS = "others"


@dataclass(frozen=True)
class FixBlock:
    """Epochs in order; arrays are (n,)."""

    time_s: NDArray[np.float64]
    """From midnight, UTC, of the log's first day."""
    quality: NDArray[np.int8]
    """A key of `nmea_fixes.QUALITY_NAMES`."""
    age_s: NDArray[np.float64]
    """NaN where it is not stated."""
    station: NDArray[np.int16]
    """Index into the names of `FixBlocks.stations`, or NO_STATION."""
    latitude_deg: NDArray[np.float64]
    """NaN where there is none, as with longitude."""
    longitude_deg: NDArray[np.float64]
    starts: NDArray[np.bool_]
    """Nothing goes on from the epoch before: the first one, or one behind a pause or a step back in time, of
    over a minute."""

    def __len__(self) -> int:
        return int(self.time_s.size)


class FixBlocks:
    """Gathers epochs until a block is full. Blocks are cut by the count of epochs, however they come in."""

    def __init__(self, take: Callable[[FixBlock], object]) -> None:
        """`take` is given each block."""
        self.clock = LogClock()
        self.stations: list[str] = []
        self.epochs = 0
        self.untimed = 0
        """Epochs without a time of day: not in the blocks."""
        self.repeated = 0
        """The same time again (a second talker): not in the blocks."""
        self._take = take
        self._codes: dict[str | None, int] = {None: NO_STATION}
        self._last_s = -math.inf
        self._rows: list[tuple[float | None, ...]] = []

    def add(self, fix: Fix) -> None:
        """One more epoch; its quality must be known."""
        if fix.time_s is None:
            self.untimed += 1
            return
        clock = self.clock
        step = clock.advance(fix.time_s)
        if step is None:
            self.repeated += 1
            return
        # a date that comes behind the last epoch still moves it: only now is it final
        if len(self._rows) >= BLOCK_EPOCHS:
            self._hand_on()
        self.epochs += 1
        code = self._codes.get(fix.station)
        if code is None:
            code = self._code(fix.station or "")
        assert clock.last is not None
        now_s = clock.last[0] * DAY_S + fix.time_s
        # sentences that come a little out of order are no new beginning
        starts = step == 0.0 and not -BREAK_S < now_s - self._last_s < 0.0
        self._last_s = now_s
        self._rows.append((now_s, fix.quality, fix.age_s, code, fix.latitude_deg, fix.longitude_deg, starts))

    def take_date(self, day: date, time_s: float) -> bool:
        """The date that a sentence states; False where it does not fit the last epoch."""
        taken = self.clock.take_date(day, time_s)
        last = self.clock.last
        if taken and last is not None and self._rows:
            moved = last[0] * DAY_S + last[1]
            if moved != self._rows[-1][0]:
                self._last_s = moved
                self._rows[-1] = (moved, *self._rows[-1][1:-1], True)
        return taken

    def finish(self) -> None:
        """Hand on what is left, after the last epoch."""
        if self._rows:
            self._hand_on()

    def utc_of_day_0(self) -> float | None:
        """Seconds since 1970 of the midnight that `FixBlock.time_s` counts from; None without a date."""
        moment = self.clock.moment((0, 0.0))
        if moment is None or moment.date is None:
            return None
        return (moment.date - date(1970, 1, 1)).days * DAY_S

    def _code(self, station: str) -> int:
        if len(self.stations) >= MOST_STATIONS:
            station = _OTHERS
            if station in self._codes:
                return self._codes[station]
        self.stations.append(station)
        self._codes[station] = len(self.stations) - 1
        return len(self.stations) - 1

    def _hand_on(self) -> None:
        table = np.array(self._rows, dtype=np.float64).T
        self._rows.clear()
        time_s, quality, age_s, station, latitude_deg, longitude_deg, starts = table
        self._take(
            FixBlock(
                time_s, quality.astype(np.int8), age_s, station.astype(np.int16),
                latitude_deg, longitude_deg, starts != 0.0,
            )
        )  # fmt: skip
