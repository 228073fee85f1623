"""Can every base have a channel and a slot so that no rover is left less than a wanted ratio? By HiGHS.

A mixed-integer program with one yes-or-no variable a base, channel and slot. What one interferer alone
forbids stands in it from the start. Sums of several and third-order products come in when a solution
breaks them; they only ever cut off what is forbidden, so the answer, yes or no, is exact.
"""

from __future__ import annotations

import itertools
import time
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from linkplan.channels.ratios import (
    ENOUGH_DB,
    Case,
    Judged,
    Mix,
    judge,
    mix_rejection_db,
    other_rejection_db,
    own_rejection_db,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

MOST_ROUNDS = 400
TOLERANCE_DB = 1e-4
"""Rounding of the solver: a solution that misses the wanted ratio by less has it."""


@dataclass(frozen=True)
class Choice:
    """A channel (position in the list) and a slot (from 0) for every base, each (n,)."""

    channel: IntArray
    slot: IntArray


class OutOfTimeError(Exception):
    """The time allowed is over and the question open."""


@dataclass
class _Rows:
    """Rows `coefficients @ x <= limit` of the program."""

    size: int
    parts: list[tuple[list[int], list[float]]] = field(default_factory=list)
    limits: list[float] = field(default_factory=list)

    def add(self, columns: list[int], values: list[float], limit: float) -> None:
        self.parts.append((columns, values))
        self.limits.append(limit)


class Solver:
    """The program of one case; `solve` may be asked for many ratios."""

    def __init__(self, case: Case, channel_mhz: FloatArray, allowed: BoolArray, slots: int) -> None:
        """`channel_mhz` (k,); `allowed` (n, k), whether a base may use a channel at all."""
        self.case, self.channel_mhz, self.slots = case, channel_mhz, slots
        self.count = channel_mhz.size
        self.allowed = allowed
        rejected = own_rejection_db(case, channel_mhz[:, None], channel_mhz[None, :])
        self.passed = 10.0 ** (-rejected / 10.0)  # (sent on, heard on)
        over = 10.0 ** ((case.own_dbm - case.wanted_dbm[:, None]) / 10.0)
        over[np.arange(over.shape[0]), case.owner] = 0.0
        self.own_over = over  # (r, n) unwanted over wanted on one channel
        aside = other_rejection_db(case, channel_mhz)
        other = 10.0 ** ((case.other_dbm - case.wanted_dbm[:, None]) / 10.0)
        self.other_over = other @ 10.0 ** (-aside / 10.0)  # (r, k)
        self.critical: list[int] = []  # cells whose sums have counted before

    def column(self, base: int, channel: int, slot: int) -> int:
        """Position of a variable."""
        return (base * self.count + channel) * self.slots + slot

    def solve(self, wanted_db: float, cost: FloatArray, deadline: float) -> Choice | None:
        """A choice that leaves at least `wanted_db` (at most `ENOUGH_DB`), cheapest by `cost`, or None.

        `cost` (n, k, slots), at least 0. Raises OutOfTimeError at `deadline` (time.monotonic).
        """
        most = 10.0 ** (-wanted_db / 10.0)
        open_ = self.allowed.copy()
        for base in range(self.case.bases):
            rows = self.case.owner == base
            if rows.any():
                open_[base] &= (self.other_over[rows] <= most).all(axis=0)
        if not open_.any(axis=1).all():
            return None
        rows_ = _Rows(self.case.bases * self.count * self.slots)
        self._add_pairs(rows_, self._clashes(most), open_)
        added: set[tuple[int, ...]] = {(cell,) for cell in self.critical}
        for cell in self.critical:
            self._add_sum(rows_, cell, wanted_db)
        for _ in range(MOST_ROUNDS):
            choice = self._run(rows_, open_, cost, deadline)
            if choice is None:
                return None
            judged = judge(self.case, self.channel_mhz[choice.channel], choice.slot)
            if judged.worst_db >= min(wanted_db, ENOUGH_DB) - TOLERANCE_DB:
                return choice
            if not self._add_broken(rows_, judged, choice, wanted_db, added):
                raise OutOfTimeError  # rounding keeps the solver from a clear answer
        raise OutOfTimeError

    def _add_pairs(self, rows: _Rows, clash: BoolArray, open_: BoolArray) -> None:
        """One interferer alone: of base b on a channel and base a on one too near, at most one."""
        for base, other in itertools.permutations(range(self.case.bases), 2):
            for heard in np.flatnonzero(open_[base]):
                sent = np.flatnonzero(clash[base, heard, other] & open_[other])
                if sent.size:
                    self._at_most_one(rows, [(base, int(heard)), *((other, int(one)) for one in sent)])

    def _at_most_one(self, rows: _Rows, spots: list[tuple[int, int]]) -> None:
        """Of these bases on these channels at most one in any one slot."""
        for slot in range(self.slots):
            columns = [self.column(base, channel, slot) for base, channel in spots]
            rows.add(columns, [1.0] * len(columns), 1.0)

    def _clashes(self, most: float) -> BoolArray:
        """(n, k, n, k): whether a base on a channel and another on one, or the same, shut one of them out."""
        bases = self.case.bases
        shut = np.zeros((bases, self.count, bases, self.count), dtype=bool)
        for base in range(bases):
            mine = self.case.owner == base
            room = most - self.other_over[mine]  # (rows, heard on)
            for other in range(bases):
                if other != base and mine.any():
                    over = self.own_over[mine, other]
                    for sent, passed in enumerate(self.passed):
                        shut[base, :, other, sent] = (over[:, None] * passed[None, :] > room).any(axis=0)
        return shut | shut.transpose(2, 3, 0, 1)

    def _run(self, rows: _Rows, open_: BoolArray, cost: FloatArray, deadline: float) -> Choice | None:
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        left = deadline - time.monotonic()
        if left <= 0.0:
            raise OutOfTimeError
        bases = self.case.bases
        per_base = self.count * self.slots
        one_each = np.zeros((bases, rows.size))
        for base in range(bases):
            one_each[base, base * per_base : (base + 1) * per_base] = 1.0
        constraints = [LinearConstraint(one_each, 1.0, 1.0)]
        if rows.parts:
            lengths = [len(columns) for columns, _ in rows.parts]
            columns = np.fromiter(itertools.chain.from_iterable(c for c, _ in rows.parts), dtype=np.intp)
            values = np.fromiter(itertools.chain.from_iterable(v for _, v in rows.parts), dtype=np.float64)
            starts = np.concatenate([[0], np.cumsum(lengths)])
            matrix = csr_array((values, columns, starts), shape=(len(lengths), rows.size))
            constraints.append(LinearConstraint(matrix, -np.inf, np.array(rows.limits)))
        upper = np.repeat(open_.astype(np.float64).ravel(), self.slots)
        done = milp(
            cost.ravel(),
            integrality=np.ones(rows.size),
            bounds=Bounds(0.0, upper),
            constraints=constraints,
            options={"time_limit": left, "mip_rel_gap": 0.0},
        )
        if done.status == 2:  # infeasible
            return None
        if done.status != 0 or done.x is None:
            raise OutOfTimeError
        picked = np.argmax(done.x.reshape(bases, per_base), axis=1)
        return Choice(picked // self.slots, picked % self.slots)

    def _add_broken(
        self, rows: _Rows, judged: Judged, choice: Choice, wanted_db: float, added: set[tuple[int, ...]]
    ) -> bool:
        """Add what the choice breaks: the worst cell of each base, and every product; False: nothing new."""
        before = len(rows.parts)
        for base in range(self.case.bases):
            mine = np.flatnonzero(self.case.owner == base)
            if mine.size == 0:
                continue
            worst = int(mine[np.argmin(judged.ratio_db[mine])])
            if judged.ratio_db[worst] < wanted_db and (worst,) not in added:
                added.add((worst,))
                self.critical.append(worst)
                self._add_sum(rows, worst, wanted_db)
        for number, mix in enumerate(self.case.mixes):
            if judged.mix_db[number] < wanted_db:
                key = (-1 - number, *(int(choice.channel[one]) for one in self._own(mix)[:-3]))
                if key not in added:
                    added.add(key)
                    self._add_mix(rows, mix, choice, wanted_db)
        return len(rows.parts) > before

    def _add_sum(self, rows: _Rows, cell: int, wanted_db: float) -> None:
        """At one cell the sum of all own interferers stays below what the wanted bears beside the others."""
        most = 10.0 ** (-wanted_db / 10.0)
        base = int(self.case.owner[cell])
        for heard in np.flatnonzero(self.allowed[base]):
            room = most - self.other_over[cell, heard]
            if room <= 0.0:
                continue  # the others alone close this channel
            share = np.minimum(self.own_over[cell][:, None] * self.passed[:, heard][None, :] / room, 1.0)
            slack = float(share.max(axis=1).sum())
            for slot in range(self.slots):
                columns = [self.column(base, int(heard), slot)]
                values = [slack]
                for other, sent in zip(*np.nonzero(share > 1e-6), strict=True):
                    columns.append(self.column(int(other), int(sent), slot))
                    values.append(float(share[other, sent]))
                rows.add(columns, values, 1.0 + slack)

    def _own(self, mix: Mix) -> list[int]:
        """Own bases that a product concerns, its victim last."""
        return [one for one in mix.sources if one < self.case.bases] + [mix.victim]

    def _add_mix(self, rows: _Rows, mix: Mix, choice: Choice, wanted_db: float) -> None:
        """The bases of a product never use channels together of which it falls into the victim's.

        All channels of the last source and of the victim are cut off at once; those of sources before
        it (three own signals) only as chosen now, and more when a solution asks for it.
        """
        everyone = np.concatenate([self.channel_mhz[choice.channel], self.case.other_mhz])
        own = self._own(mix)
        sources = own[:-1]
        running = sources[-2:]
        for channels in itertools.product(range(self.count), repeat=len(running)):
            mhz = everyone.copy()
            mhz[running] = self.channel_mhz[list(channels)]
            falls = mhz[mix.plus[0]] + mhz[mix.plus[1]] - mhz[mix.minus]
            ratio = mix.ratio_db + mix_rejection_db(self.case, 1e3 * (falls - self.channel_mhz))
            hit = np.flatnonzero((ratio < wanted_db) & self.allowed[mix.victim])
            used = {one: int(choice.channel[one]) for one in sources} | dict(
                zip(running, channels, strict=True)
            )
            for slot in range(self.slots if hit.size else 0):
                columns = [self.column(one, used[one], slot) for one in sources]
                columns += [self.column(mix.victim, int(one), slot) for one in hit]
                rows.add(columns, [1.0] * len(columns), float(len(sources)))
