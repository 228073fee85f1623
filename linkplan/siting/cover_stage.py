"""One objective to its end: solved, held against the arrays, and cut until it holds."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from linkplan.siting.cover_case import Case, Demand, Picked, is_allowed, make_demand, narrow, pick, pieces
from linkplan.siting.cover_greedy import Order
from linkplan.siting.cover_problem import SAME_WEIGHT, BoolArray
from linkplan.siting.cover_program import (
    COST,
    COUNT,
    TIE_MOST,
    WEIGHT,
    Program,
    add_way_between,
    add_way_out,
    breaks_ties,
    build,
    forbid,
    hopeless,
)
from linkplan.siting.cover_run import relax, solve

MOST_REPAIRS = 20
"""Choices that the solver holds for allowed and the arrays do not: so many are forbidden one by one."""
KEPT_FOR_BOUND = 0.1
"""Of the time: for a bound, where the solver ends without one."""
MOST_NARROWED, FEW_CANDIDATES = 4, 20
"""Narrowing is repeated, and left alone where little is left to gain."""

Progress = Callable[[float], None]
"""Called with the share of the allowed time that is spent."""


@dataclass
class Search:
    """What is known so far."""

    case: Case
    order: Order
    seconds: float
    progress: Progress | None
    started: float = field(default_factory=time.monotonic)
    best: Picked | None = None
    parts: list[list[int]] = field(default_factory=list)
    """Candidates that hang together and once were chosen apart from others: where cuts come from."""

    def left(self) -> float:
        """Seconds."""
        return self.started + self.seconds - time.monotonic()

    def beat(self) -> None:
        """Tell how much of the time is spent."""
        if self.progress is not None:
            self.progress(min(1.0 - self.left() / self.seconds, 1.0))

    def offer(self, picked: Picked, demand: Demand) -> bool:
        """Take a choice that holds as the best, if it is; whether it holds."""
        if not (demand.is_met(self.case, picked) and is_allowed(self.case, picked)):
            return False
        if self.order.is_better(picked, self.best):
            self.best = picked
        return True

    def take(self, case: Case, picked: Picked) -> None:
        """The choice from another case of the same problem, as the best."""
        number = {int(one): row for row, one in enumerate(self.case.kept)}
        beside = [number[int(case.kept[one])] for one in picked.beside]
        self.best = pick(
            self.case, beside, None if picked.base is None else number[int(case.kept[picked.base])]
        )


@dataclass(frozen=True)
class Stage:
    """What is known of one objective; the choice itself is the search's best."""

    bound: float
    """Least count or cost, greatest weight; without a choice and `proven`: there is none."""
    proven: bool
    settled: bool = False
    """Of those equally good, the best choice by number and cost is proven too."""


def optimise(search: Search, what: str, demand: Demand, seconds: float) -> Stage:
    """Make one objective as good as it can be under the demand; `seconds` from now."""
    case, before = search.case, search.best
    if what == COUNT and before is not None:
        # only what is better than the best so far: that there is no such choice is the proof
        demand = replace(demand, most=len(before.beside) - 1)
        if len(before.beside) <= case.least_count:
            return Stage(float(len(before.beside)), True)
    closed = np.zeros(case.size, dtype=bool)
    if case.linked or case.mode == "repeaters":
        closed = hopeless(case, demand, _more_than(search, what, demand))
    least = simple_bound(case, what, demand)
    if what == WEIGHT and before is not None and before.weight >= least - SAME_WEIGHT:
        return Stage(before.weight, True)
    if closed.all():
        return _conclude(search, what, least, "none")
    program = build(case, what, demand, closed, ties=what == WEIGHT and breaks_ties(case, demand))
    cuts = _Cuts(search, program, what, demand) if case.linked and case.mode == "several" else None
    until, kept = time.monotonic() + seconds, KEPT_FOR_BOUND * seconds
    end, bound = _rounds(search, program, demand, cuts, until - kept)
    if end == "open" and bound is None:
        relaxed = relax(program, max(until - time.monotonic(), kept), search.beat)
        bound = None if relaxed is None else relaxed.bound
    if bound is not None:
        least = min(least, bound) if what == WEIGHT else max(least, bound)
    if program.tie is not None:
        return _conclude_tied(search, program, least, end)
    return _conclude(search, what, least, end)


def relaxed_count(search: Search, demand: Demand) -> float:
    """No choice that meets the demand has fewer set-ups, by the bound without yes or no."""
    case, least = search.case, simple_bound(search.case, COUNT, demand)
    program = build(case, COUNT, demand, np.zeros(case.size, dtype=bool))
    relaxed = relax(program, max(search.left(), KEPT_FOR_BOUND * search.seconds), search.beat)
    return least if relaxed is None else max(least, relaxed.bound)


def _more_than(search: Search, what: str, demand: Demand) -> float:
    """Choices of no more weight are of no use: the best is one, and equals only where ties are broken too."""
    if what != WEIGHT or search.best is None:
        return -math.inf
    return search.best.weight - (2.0 * SAME_WEIGHT if breaks_ties(search.case, demand) else 0.0)


def narrow_search(search: Search, wanted: float, most: int | None) -> float:
    """Drop candidates with whom no choice covers enough, and group the points anew.

    Of choices of at most `most`; enough is as much as the best so far, or `wanted` while there is none. The
    bounds are those of the programme without yes or no. Equals of the best stay. Where few are left, few
    groups are: the solver then has a fraction of the work. Returns the greatest weight that may exist, as far
    as the bounds tell.
    """
    bound = float(search.case.weight.sum())
    for _ in range(MOST_NARROWED):
        case, best = search.case, search.best
        enough = wanted if best is None else best.weight
        if enough == 0.0 or case.size < FEW_CANDIDATES or enough >= bound - SAME_WEIGHT:
            return bound
        program = build(case, WEIGHT, make_demand(case, wanted, most), np.zeros(case.size, dtype=bool))
        relaxed = relax(program, KEPT_FOR_BOUND * search.left(), search.beat)
        if relaxed is None:
            return bound
        bound = min(bound, relaxed.bound)
        if enough >= bound - SAME_WEIGHT:
            return bound
        # with repeaters a candidate stays if it may be the base or a repeater
        may = relaxed.with_each.reshape(-1, case.size) >= enough - 2.0 * SAME_WEIGHT
        alive: BoolArray = np.asarray(may.any(axis=0))
        if best is not None:
            alive[list(best.everyone)] = True
        if alive.sum() > 0.9 * case.size:
            return bound
        search.case, search.parts, search.best = narrow(case, alive), [], None
        if best is not None:
            search.take(case, best)
    return bound


def simple_bound(case: Case, what: str, demand: Demand) -> float:
    """No choice does better: as if no two candidates served the same."""
    if what == COST:
        return 0.0
    # a base beside its repeaters is one more
    extra = 1 if case.mode == "repeaters" else 0
    upto = np.cumsum(np.sort(case.covers @ case.weight)[::-1])
    if what == WEIGHT:
        most = upto.size if demand.most is None else min(demand.most + extra, upto.size)
        return min(float(case.weight.sum()), float(upto[most - 1])) if most else 0.0
    least = float(case.weight[demand.needed].sum())
    least = max(least, demand.least_weight) - 2.0 * SAME_WEIGHT
    return float(max(int(np.searchsorted(upto, least)) + 1 - extra, 0))


def _conclude(search: Search, what: str, bound: float, end: str) -> Stage:
    """The bound against the best choice; `end`: "held", "none" (better than the best) or "open"."""
    best = search.best
    if best is None:
        return Stage(bound, end == "none")
    if what == COUNT:
        count = float(len(best.beside))
        bound = count if end == "none" else min(bound, count)
        return Stage(bound, bound >= count)
    if what == WEIGHT:
        bound = best.weight if end == "none" else max(bound, best.weight)
        return Stage(bound, bound <= best.weight + SAME_WEIGHT)
    bound = min(bound, best.cost)
    return Stage(bound, end == "held" and bound >= best.cost - 1e-5 * float(search.case.cost.max()))


def _conclude_tied(search: Search, program: Program, bound: float, end: str) -> Stage:
    """The same for the greatest weight less its ties."""
    best, units = search.best, program.case.units
    if best is None or program.tie is None:
        return Stage(bound, end == "none")
    taken = program.tie[list(best.beside)].sum()
    if best.base is not None:
        taken += program.tie[program.case.size + best.base]
    settled = end == "held" and best.weight * units - taken >= bound * units - 3e-6
    bound = max(math.floor(bound * units + TIE_MOST) / units, best.weight)
    return Stage(bound, bound <= best.weight + SAME_WEIGHT, settled)


def _rounds(
    search: Search, program: Program, demand: Demand, cuts: _Cuts | None, until: float
) -> tuple[str, float | None]:
    """Solve until a choice holds: how it ended, and the sharpest bound that was proven."""
    bound: float | None = None
    repairs = 0
    while (left := until - time.monotonic()) > 0.0 and repairs <= MOST_REPAIRS:
        answer = solve(program, left, search.beat)
        if answer.bound is not None:
            sharper = min if program.what == WEIGHT else max
            bound = answer.bound if bound is None else sharper(bound, answer.bound)
        if answer.picked is None:
            return ("none" if answer.ended else "open"), bound
        if search.offer(answer.picked, demand):
            return ("held" if answer.ended else "open"), bound
        apart = pieces(search.case.links, list(answer.picked.beside)) if cuts is not None else []
        if cuts is not None and len(apart) > 1:
            cuts.part(apart)
        else:
            repairs += 1
            forbid(program, answer.picked)
    return "open", bound


class _Cuts:
    """Choices of several that have to hang together, by rows that come when a solution breaks them.

    Part of a choice that hangs together and, alone, falls short has to be left by someone: of all that are
    linked to it one is chosen. Grown to all that the same neighbours fence off, it cuts off the most. Where
    every piece does alone, two of them together ask for a way between. No choice that hangs together and
    meets the demand is cut off; every choice in pieces is, once it comes: so the answer is exact, and far
    sooner than with a flow over every link.
    """

    def __init__(self, search: Search, program: Program, what: str, demand: Demand) -> None:
        self.search, self.program, self.what = search, program, what
        self.demand, self.alone = demand, replace(demand, most=None)
        known = [*([one] for one in range(search.case.size)), *search.parts]
        for part in known:
            if self._falls_short(part):
                add_way_out(program, part, demand.needed)

    def _falls_short(self, part: list[int]) -> bool:
        """Nothing inside the part alone is wanted."""
        whole = pick(self.search.case, part)
        if whole.weight <= _more_than(self.search, self.what, self.demand):
            return True
        return not self.alone.is_met(self.search.case, whole)

    def part(self, apart: list[list[int]]) -> None:
        """Cut off a choice in pieces; a piece that does alone is a choice of its own."""
        case = self.search.case
        for piece in apart:
            self.search.offer(pick(case, piece), self.demand)
        cut = False
        for piece in apart:
            others = [one for other in apart if other is not piece for one in other]
            grown = self._grow(piece, others)
            for part in (grown, piece):
                if self._falls_short(part):
                    self.search.parts.append(part)
                    add_way_out(self.program, part, self.demand.needed)
                    cut = True
                    break
        if not cut:
            add_way_between(self.program, apart[0], apart[1][0])

    def _grow(self, piece: list[int], others: list[int]) -> list[int]:
        """All that the piece reaches without its neighbours on the way to the others."""
        links = self.search.case.links
        fence: BoolArray = np.asarray(links[piece].any(axis=0))
        fence = fence & links[self._reach(others, fence)].any(axis=0)
        return self._reach(piece, fence)

    def _reach(self, members: list[int], shut: BoolArray) -> list[int]:
        links = self.search.case.links
        inside = np.zeros(shut.size, dtype=bool)
        inside[members] = True
        edge = inside
        while edge.any():
            edge = links[edge].any(axis=0) & ~shut & ~inside
            inside |= edge
        return [int(one) for one in np.flatnonzero(inside)]
