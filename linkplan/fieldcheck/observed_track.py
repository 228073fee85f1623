"""A rover's epochs judged: corrections in time, not in time, or no evidence about the job's link.

- Corrections of the job's station of a stated age: in time up to the age limit, not in time beyond.
- A position without corrections: not in time, where the last corrections before it were the job's own. A
  position that rests on an augmentation satellite is one without the base's corrections.
- No evidence, but counted: epochs before the first corrections since the log began or paused (the rover may
  not have been set yet), epochs with another base's corrections and without any after those, corrections of
  no stated age or station, an age within the limit beside a position that does not use it, and all that is
  over ten minutes after the last corrections, when the base may have stopped.

A rover under trees may lose its fix though messages arrive: its log cannot tell that from a missing signal.
Positions without corrections are metres off, which is little beside a cell of 5 to 30 m.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.observed_arrivals import Arrivals
from linkplan.fieldcheck.observed_ground import FloatArray, Ground, IntArray
from linkplan.fieldcheck.observed_rules import LONGEST_SILENCE_S, Rules
from linkplan.fieldcheck.samples import IN_TIME, NOT_IN_TIME, NOT_OBSERVED
from linkplan.fieldcheck.thinning import Thinning
from linkplan.gnss.fix_blocks import NO_STATION, FixBlock, FixBlocks

NO_POSITION = "epochs without a position"
NOT_MEASURED = "epochs with an estimated, entered or simulated position"
START_UP = "epochs before the first corrections"
OTHER_BASE = "epochs with another base's corrections"
AFTER_OTHER = "epochs without corrections after another base's"
UNNAMED = "epochs with corrections of no stated station"
NO_AGE = "epochs with corrections of no stated age"
ONE_SIDED = "epochs late or without corrections, in a log that states no age for many it had"
NOT_USED = "epochs with fresh corrections that the position does not use"
SILENT = "epochs over ten minutes after the last corrections, when the base may have stopped"
OUTSIDE = "epochs outside the map"
UNTIMED = "epochs without a time"
REPEATED = "repeated epochs"
VISITED = "further visits of a place"

BoolArray = NDArray[np.bool_]

_NONE, _MINE, _OTHER = 0, 1, 2
MOST_UNAGED = 0.2
"""Share of the epochs with the job's corrections that may state no age. They are left out, but those without
corrections are not: where many are, what is left says "missing" far more often than it was."""
_MOST_SPOTS = 100_000
_AUTONOMOUS, _CORRECTED, _UNMEASURED = (1, 3), (2, 4, 5), (6, 7, 8)
_DIFFERENTIAL = 2


@dataclass(frozen=True)
class Columns:
    """Thinned epochs; arrays are (n,)."""

    x_m: FloatArray
    y_m: FloatArray
    row: IntArray
    column: IntArray
    time_s: FloatArray
    """As `FixBlock.time_s`."""
    age_s: FloatArray
    """NaN without corrections."""
    outcome: NDArray[np.int8]
    arrived: NDArray[np.int8]

    def __len__(self) -> int:
        return int(self.x_m.size)


@dataclass(frozen=True)
class _Kinds:
    """What each epoch of a block is; arrays are (n,)."""

    mine: BoolArray
    other: BoolArray
    unnamed: BoolArray
    plain: BoolArray
    """A position without any base's corrections."""
    named_mine: BoolArray
    """The job's station is stated, whether the position uses it or not."""


@dataclass(frozen=True)
class _Evidence:
    """What the epochs of a block say; arrays are (n,)."""

    judged: BoolArray
    """Of the job's link, where they lie on the map."""
    other: BoolArray
    """With another base's corrections."""
    age_s: FloatArray
    """NaN without the job's corrections."""
    arrived: NDArray[np.int8]
    waits: BoolArray
    """What arrived is told by the next block."""


class Track:
    """Judges the epochs of one kind of sentence of one log, block by block."""

    def __init__(self, rules: Rules, ground: Ground) -> None:
        self.epochs = FixBlocks(self._take)
        self.arrivals = Arrivals(rules.interval_s)
        self.judged = 0
        self.aged = 0
        """Epochs with the job's corrections and a stated age, at a position."""
        self.corrected = 0
        """Epochs with corrections of a stated station, whose ever."""
        self.left_out: Counter[str] = Counter()
        self.spots: dict[tuple[str, int, int], list[float]] = {}
        """Station, row and column of epochs with another base: x, y of the first, and how many."""
        self._rules = rules
        self._ground = ground
        self._thinning = Thinning(rules.spacing_m, rules.most_visits)
        self._state = _NONE
        self._made_s = -np.inf
        self._starts = self._starts_aged = 0
        """Pauses so far, and those before the last epoch with a stated age."""
        self._kept: list[Columns] = []
        self._count = 0
        """Samples so far."""

    def finish(self) -> Columns:
        """The samples, after the last epoch."""
        self.epochs.finish()
        self.left_out[UNTIMED] += self.epochs.untimed
        self.left_out[REPEATED] += self.epochs.repeated
        self.left_out[VISITED] += self._thinning.left_out
        self.arrivals.finish()
        columns = joined(self._kept)
        unaged = self.left_out[NO_AGE]
        if unaged > MOST_UNAGED * (self.aged + unaged):
            self.left_out[ONE_SIDED] += self.judged
            self.judged = 0
            return joined([])
        return replace(columns, arrived=self._arrived(columns))

    def _arrived(self, columns: Columns) -> NDArray[np.int8]:
        arrivals = self.arrivals
        if not arrivals.told:
            # of epochs without corrections alone it would be known: half of the truth
            return np.full(len(columns), NOT_OBSERVED, dtype=np.int8)
        by_age = arrivals.by_age(columns.age_s)
        if by_age is not None:
            return by_age
        arrived = columns.arrived.copy()
        for sample, outcome in arrivals.later.items():
            arrived[sample] = outcome
        return arrived

    def _take(self, block: FixBlock) -> None:
        kinds = self._kinds(block)
        state = self._states(block, kinds)
        left_out = self.left_out
        self.corrected += int((kinds.mine | kinds.other).sum())
        unmeasured = np.isin(block.quality, _UNMEASURED)
        placed = np.isfinite(block.latitude_deg) & np.isfinite(block.longitude_deg)
        here = placed & ~unmeasured & (block.quality != 0)
        aged = kinds.mine & np.isfinite(block.age_s)
        self.aged += int((here & aged).sum())
        fresh = kinds.plain & kinds.named_mine & (block.age_s <= self._rules.age_limit_s)
        without = kinds.plain & ~fresh
        late = without & (state == _MINE)
        silent = (aged | late) & (self._silence_s(block, kinds.mine) > LONGEST_SILENCE_S)
        for words, which in (
            (NOT_MEASURED, unmeasured),
            (NO_POSITION, ~here & ~unmeasured),
            (UNNAMED, here & kinds.unnamed),
            (NO_AGE, here & kinds.mine & ~aged),
            (OTHER_BASE, here & kinds.other),
            (NOT_USED, here & fresh),
            (START_UP, here & without & (state == _NONE)),
            (AFTER_OTHER, here & without & (state == _OTHER)),
            (SILENT, here & silent),
        ):
            left_out[words] += int(which.sum())
        evidence = _Evidence(
            here & (aged | late) & ~silent,
            here & kinds.other,
            np.where(aged, block.age_s, np.nan),
            *self._arrivals_of(block, aged, late),
        )
        self._place(block, evidence)

    def _silence_s(self, block: FixBlock, mine: BoolArray) -> FloatArray:
        """Since the observations were made that the job's last corrections before each epoch rest on."""
        made_s = block.time_s - np.where(np.isfinite(block.age_s), block.age_s, 0.0)
        last = np.maximum.accumulate(np.where(mine, np.arange(len(block)), -1))
        made_s = np.where(last >= 0, made_s[last], self._made_s)
        self._made_s = float(made_s[-1])
        silence_s: FloatArray = block.time_s - made_s
        return silence_s

    def _arrivals_of(
        self, block: FixBlock, aged: BoolArray, late: BoolArray
    ) -> tuple[NDArray[np.int8], BoolArray]:
        """Outcome of the message due at each epoch, and which of them are told by the next block."""
        arrived = np.full(len(block), NOT_OBSERVED, dtype=np.int8)
        arrived[late] = NOT_IN_TIME
        waits = np.zeros(len(block), dtype=np.bool_)
        # a pause between two aged epochs may lie at one of another kind
        starts = self._starts + np.cumsum(block.starts)
        pauses = np.diff(starts[aged], prepend=self._starts_aged) > 0
        arrived[aged], waits[aged] = self.arrivals.take(block.time_s[aged], block.age_s[aged], pauses)
        self._starts = int(starts[-1])
        self._starts_aged = int(starts[aged][-1]) if aged.any() else self._starts_aged
        return arrived, waits

    def _kinds(self, block: FixBlock) -> _Kinds:
        names, rules = self.epochs.stations, self._rules
        # the last entry answers for NO_STATION, which is -1
        own = np.array([*map(rules.is_mine, names), rules.unnamed_counts])
        satellite = np.array([*map(rules.is_satellite, names), False])
        corrected = np.isin(block.quality, _CORRECTED)
        from_space = (block.quality == _DIFFERENTIAL) & satellite[block.station]
        mine = corrected & own[block.station] & ~from_space
        named = block.station != NO_STATION
        return _Kinds(
            mine=mine,
            other=corrected & named & ~mine & ~from_space,
            unnamed=corrected & ~named & ~mine,
            plain=np.isin(block.quality, _AUTONOMOUS) | from_space,
            named_mine=named & own[block.station] & ~from_space,
        )

    def _states(self, block: FixBlock, kinds: _Kinds) -> NDArray[np.int64]:
        """Whose corrections were the last before each epoch, or its own, since the log began or paused."""
        event = np.full(len(block), -1)
        event[block.starts] = _NONE
        event[kinds.other] = _OTHER
        event[kinds.mine] = _MINE
        last = np.maximum.accumulate(np.where(event >= 0, np.arange(len(block)), -1))
        state: NDArray[np.int64] = np.where(last >= 0, event[last], self._state)
        self._state = int(state[-1])
        return state

    def _place(self, block: FixBlock, evidence: _Evidence) -> None:
        which = np.flatnonzero(evidence.judged | evidence.other)
        if not which.size:
            return
        x_m, y_m = self._ground.from_geographic(block.longitude_deg[which], block.latitude_deg[which])
        row, column, inside = self._ground.cells(x_m, y_m)
        judged = evidence.judged[which]
        self.left_out[OUTSIDE] += int((judged & ~inside).sum())
        strange = ~judged & inside
        if strange.any():
            self._note_spots(
                block.station[which[strange]], row[strange], column[strange], x_m[strange], y_m[strange]
            )
        judged &= inside
        self.judged += int(judged.sum())
        begins, kept = self._thinning.visits(x_m[judged], y_m[judged])
        begins = np.flatnonzero(judged)[begins[kept]]
        if not begins.size:
            return
        index = which[begins]
        age_s = evidence.age_s[index]
        outcome = np.where(age_s <= self._rules.age_limit_s, IN_TIME, NOT_IN_TIME).astype(np.int8)
        for place in np.flatnonzero(evidence.waits[index]).tolist():
            self.arrivals.wait(self._count + place, float(block.time_s[index[place]]))
        self._count += index.size
        self._kept.append(
            Columns(
                x_m[begins], y_m[begins], row[begins], column[begins], block.time_s[index], age_s, outcome,
                evidence.arrived[index],
            )
        )  # fmt: skip

    def _note_spots(
        self, station: NDArray[np.int16], row: IntArray, column: IntArray, x_m: FloatArray, y_m: FloatArray
    ) -> None:
        keys, first, count = np.unique(
            np.column_stack((station, row, column)), axis=0, return_index=True, return_counts=True
        )
        for (code, at_row, at_column), at, epochs in zip(
            keys.tolist(), first.tolist(), count.tolist(), strict=True
        ):
            key = (self.epochs.stations[code], at_row, at_column)
            spot = self.spots.get(key)
            if spot is not None:
                spot[2] += epochs
            elif len(self.spots) < _MOST_SPOTS:
                self.spots[key] = [float(x_m[at]), float(y_m[at]), epochs]


def joined(parts: list[Columns]) -> Columns:
    """Parts one behind the other."""
    if not parts:
        empty, cells = np.empty(0), np.empty(0, dtype=np.int32)
        outcomes = np.empty(0, dtype=np.int8)
        return Columns(empty, empty, cells, cells, empty, empty, outcomes, outcomes)
    names = ("x_m", "y_m", "row", "column", "time_s", "age_s", "outcome", "arrived")
    return Columns(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))
