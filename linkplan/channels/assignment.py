"""Which channel, time slot and station ID for which base: the choice with the largest worst-case ratio."""

from __future__ import annotations

import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.channels.ratios import ENOUGH_DB, Case, Judged, judge
from linkplan.channels.solver import Choice, OutOfTimeError, Solver
from linkplan.tables.rtcm3 import HIGHEST_STATION_ID

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

STEP_DB = 0.05
"""The largest worst-case ratio is found to within this."""

TIME_LIMIT_S = 60.0
QUESTION_LIMIT_S = 8.0
"""For one question; one that stays open is passed over, and the answer is not called proven."""
WISHES_TIME_LIMIT_S = 5.0
"""For keeping as many wishes as can be; whatever is found by then serves."""

_LOWEST_DB = -300.0
_NEAR_DB = 4.0


@dataclass(frozen=True)
class Assignment:
    """The best choice, and what it leaves."""

    choice: Choice
    judged: Judged
    proven: bool
    """True when no other choice leaves `STEP_DB` more; False when the time allowed was over first."""


def best_assignment(
    case: Case,
    channel_mhz: FloatArray,
    allowed: BoolArray,
    slots: int,
    wishes: Sequence[tuple[int | None, int | None]] = (),
    time_limit_s: float = TIME_LIMIT_S,
) -> Assignment | None:
    """The choice that leaves the largest worst-case ratio, to within `STEP_DB`; None where no base's
    channels are allowed.

    `channel_mhz` (k,), `allowed` (n, k), `slots` turns that the bases can take, `wishes` a channel and a
    slot (from 0), or None, for each base. Of equally good choices the one that moves the fewest bases from
    their wishes, as far as `WISHES_TIME_LIMIT_S` goes. The ratio is found by halving: each question "is
    there a choice that leaves so much?" is answered exactly by the solver.
    """
    deadline = time.monotonic() + time_limit_s
    if case.bases == 0 or not allowed.any(axis=1).all():
        return None
    solver = Solver(case, channel_mhz, allowed, slots)
    free = np.zeros((case.bases, channel_mhz.size, slots))
    found, proven = _halved(solver, free, deadline)
    if found is None:
        return None
    cost = _cost(case.bases, channel_mhz.size, slots, wishes)
    if cost.any():
        least_db = judge(case, channel_mhz[found.channel], found.slot).worst_db - STEP_DB
        # a choice so good is at hand, so running out of time does no harm
        with suppress(OutOfTimeError):
            found = solver.solve(least_db, cost, time.monotonic() + WISHES_TIME_LIMIT_S) or found
    return Assignment(found, judge(case, channel_mhz[found.channel], found.slot), proven)


def _halved(solver: Solver, cost: FloatArray, deadline: float) -> tuple[Choice | None, bool]:
    best: Choice | None = None
    low, high = _LOWEST_DB, ENOUGH_DB
    # Most cases end with the first question: nobody disturbs anybody. Then whatever there is, then halves.
    questions = [ENOUGH_DB, _LOWEST_DB]
    halved, proven = False, True
    while high - low > STEP_DB + 1e-6:
        if not questions:
            # every "no" is a proof and takes its time: having found much, first ask for a step more
            halved = not (halved and high - low < _NEAR_DB)
            questions.append(0.5 * (low + high) if halved else low + STEP_DB)
        wanted = questions.pop(0)
        now = time.monotonic()
        try:
            choice = solver.solve(wanted, cost, min(deadline, now + QUESTION_LIMIT_S))
        except OutOfTimeError:
            if time.monotonic() >= deadline:
                proven = False
                break
            high, proven = wanted, False  # unanswered: taken for a no, until a lower no makes it one
            continue
        if choice is None:
            high, proven = wanted, True
        else:
            best = choice
            judged = judge(solver.case, solver.channel_mhz[choice.channel], choice.slot)
            low = max(wanted, judged.worst_db)
    return (best or _any_choice(solver), proven) if best or not proven else (None, True)


def _any_choice(solver: Solver) -> Choice:
    """The first allowed channel of each base: better than no answer when time is over."""
    channel = np.argmax(solver.allowed, axis=1)
    return Choice(channel, np.zeros_like(channel))


def _cost(
    bases: int, channels: int, slots: int, wishes: Sequence[tuple[int | None, int | None]]
) -> FloatArray:
    """1 for a base moved from its wish."""
    cost = np.zeros((bases, channels, slots))
    for base, (channel, slot) in enumerate(wishes):
        wished = np.ones((channels, slots), dtype=bool)
        if channel is not None:
            wished &= (np.arange(channels) == channel)[:, None]
        if slot is not None:
            wished &= (np.arange(slots) == slot)[None, :]
        cost[base] += np.where(wished, 0.0, 1.0)
    return cost


def station_ids(wished: Sequence[int | None], taken: frozenset[int]) -> tuple[int, ...]:
    """A station ID of its own for every base: its wish where nobody else has it, else the lowest free.

    `taken` are IDs of others that were heard. IDs run from 0 to 4095 (DF003); 0 is given to nobody who
    does not ask for it, since many rovers take it for "any".
    """
    used = set(taken)
    kept: list[int | None] = []
    for one in wished:
        keeps = one is not None and one not in used
        kept.append(one if keeps else None)
        if keeps and one is not None:
            used.add(one)
    free = (number for number in range(1, HIGHEST_STATION_ID + 1) if number not in used)
    return tuple(next(free) if one is None else one for one in kept)
