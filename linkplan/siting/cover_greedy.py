"""A good choice at once, step by step: where the exact search starts, and the answer without time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkplan.siting.cover_case import Case, Demand, Picked, companions, is_allowed, pick
from linkplan.siting.cover_problem import SAME_WEIGHT, BoolArray, FloatArray

STARTS = 8
"""The first decides much: so many are tried."""


@dataclass(frozen=True)
class Order:
    """What makes one choice better than another that meets the same demand."""

    fewest: bool
    """Fewest, then greatest weight; else greatest weight, then fewest. Then least cost."""

    def is_better(self, one: Picked, other: Picked | None) -> bool:
        """Weights are the same within `SAME_WEIGHT`."""
        if other is None:
            return True
        count = len(other.beside) - len(one.beside)
        weight = one.weight - other.weight
        if abs(weight) <= SAME_WEIGHT:
            weight = 0.0
        steps = (count, weight) if self.fewest else (weight, count)
        return (*steps, other.cost - one.cost) > (0, 0.0, 0.0)


def start(case: Case, demand: Demand, order: Order) -> Picked | None:
    """A choice that meets the demand, or None where the steps lead to none."""
    if case.size == 0 or case.weight.size == 0:
        return None
    if case.mode == "repeaters":
        return _with_base(case, demand, order)
    best: Picked | None = None
    found = _along_chain(case, demand) if case.mode == "corridor" and case.linked else _spread(case, demand)
    for one in found:
        one = improve(case, demand, order, one)
        if demand.is_met(case, one) and is_allowed(case, one) and order.is_better(one, best):
            best = one
    return best


def _aim(case: Case, demand: Demand, covered: BoolArray) -> FloatArray:
    """(g,): what covering an open group is worth: its weight, and its part of musts not yet reached."""
    worth = np.where(demand.needed, 2.0, 1.0) * case.weight
    for weight, wanted in zip(case.must_weight, case.must_wanted, strict=True):
        if wanted > 0.0 and float(weight[covered].sum()) < wanted - SAME_WEIGHT:
            worth = worth + 10.0 * weight / wanted
    return np.where(covered, 0.0, worth)


def _spread(case: Case, demand: Demand) -> list[Picked]:
    """Grown from each of several firsts."""
    as_float = case.covers.astype(np.float64)
    first = as_float @ _aim(case, demand, np.zeros(case.weight.size, dtype=bool))
    starts = np.argsort(-first, kind="stable")[:STARTS]
    return [_grow(case, demand, as_float, [int(one)], None) for one in starts]


def _with_base(case: Case, demand: Demand, order: Order) -> Picked | None:
    """Every base that may do better than the best so far, the most promising first."""
    as_float = case.covers.astype(np.float64)
    reach = companions(case) @ case.weight
    best: Picked | None = None
    for base in np.argsort(-reach, kind="stable"):
        if reach[base] < demand.least_weight - SAME_WEIGHT:
            break
        if best is not None and not order.fewest and reach[base] < best.weight:
            break
        one = improve(case, demand, order, _grow(case, demand, as_float, [], int(base)))
        if demand.is_met(case, one) and order.is_better(one, best):
            best = one
    return best


def _grow(case: Case, demand: Demand, as_float: FloatArray, chosen: list[int], base: int | None) -> Picked:
    """Add what gains most, the cheaper of two equals, until the demand is met or nothing helps."""
    cheap = 1e-9 * case.cost / max(float(case.cost.max()), 1e-300)
    while True:
        now = pick(case, chosen, base)
        left = case.size if demand.most is None else demand.most - len(chosen)
        unmet = not demand.is_met(case, now) or demand.least_weight <= 0.0
        if left <= 0 or not unmet:
            return now
        served = case.within[base] if base is not None else True
        aim = _aim(case, demand, now.covered) * served
        gain = as_float @ aim
        free = ~np.isin(case.place, case.place[list(now.everyone)])
        open_ = free
        if base is not None:
            open_ = free & case.links[base]
        elif case.linked:
            open_ = free & case.links[chosen].any(axis=0)
        if (gain[open_] > 0.0).any():
            chosen = [*chosen, int(np.argmax(np.where(open_, gain - cheap, -np.inf)))]
            continue
        way = _way(case, chosen, free, gain) if case.linked else []
        if not way or len(way) > left:
            return now
        chosen = [*chosen, *way]


def _way(case: Case, chosen: list[int], free: BoolArray, gain: FloatArray) -> list[int]:
    """The shortest way through neighbours to one that gains, the one that gains most; [] if there is none."""
    before = np.full(case.size, -1)
    seen = ~free
    edge = np.array(chosen)
    while edge.size:
        near = case.links[edge]
        new = np.flatnonzero(near.any(axis=0) & ~seen)
        before[new] = edge[np.argmax(near[:, new], axis=0)]
        seen[new] = True
        if (gain[new] > 0.0).any():
            way = [int(new[np.argmax(gain[new])])]
            while before[way[-1]] not in chosen:
                way.append(int(before[way[-1]]))
            return way[::-1] if np.unique(case.place[way]).size == len(way) else []
        edge = new
    return []


def _along_chain(case: Case, demand: Demand) -> list[Picked]:
    """Chains of one, two, three ...: for each last one the best that was found before it."""
    worth = _aim(case, demand, np.zeros(case.weight.size, dtype=bool))
    as_float = case.covers.astype(np.float64) * worth
    forward = np.triu(case.links, 1)
    covered = np.array(case.covers)
    chains = [[one] for one in range(case.size)]
    value = as_float.sum(axis=1)
    found: list[Picked] = []
    for _ in range(case.size if demand.most is None else demand.most):
        live = [one for one in range(case.size) if np.isfinite(value[one])]
        if not live:
            break
        top = max(live, key=lambda one: float(value[one]))
        meeting = [one for one in live if demand.is_met(case, pick(case, chains[one]))]
        found += [pick(case, chains[one]) for one in meeting or [top]]
        if meeting and (demand.least_weight > 0.0 or covered[top].all()):
            break
        gain = (~covered).astype(np.float64) @ as_float.T
        total = np.where(forward, value[:, None] + gain, -np.inf)
        last = np.argmax(total, axis=0)
        value = total[last, np.arange(case.size)]
        chains = [[*chains[before], one] for one, before in enumerate(last)]
        covered = covered[last] | case.covers
    return found


def improve(case: Case, demand: Demand, order: Order, picked: Picked) -> Picked:
    """Where the greatest coverage is wanted, one exchanged for another as long as that gains; then pruned."""
    as_float = case.covers.astype(np.float64)
    moved = not order.fewest and demand.is_met(case, picked) and is_allowed(case, picked)
    while moved:
        moved = False
        for one in picked.beside:
            better = _exchange(case, demand, as_float, picked, one)
            if better is not None:
                picked, moved = better, True
                break
    return _prune(case, demand, order, picked)


def _exchange(case: Case, demand: Demand, as_float: FloatArray, picked: Picked, out: int) -> Picked | None:
    """The choice with the best allowed candidate instead of one, if it gains."""
    rest = pick(case, [one for one in picked.beside if one != out], picked.base)
    open_ = case.weight if picked.base is None else case.weight * case.within[picked.base]
    gain = as_float @ np.where(rest.covered, 0.0, open_)
    for one in np.argsort(-gain, kind="stable"):
        if rest.weight + gain[one] <= picked.weight + SAME_WEIGHT:
            return None
        better = pick(case, [*rest.beside, int(one)], picked.base)
        if int(one) not in rest.everyone and demand.is_met(case, better) and is_allowed(case, better):
            return better
    return None


def _prune(case: Case, demand: Demand, order: Order, picked: Picked) -> Picked:
    """Without those that are not missed, the dearest first."""
    for one in sorted(picked.beside, key=lambda one: -float(case.cost[one])):
        fewer = pick(case, [other for other in picked.beside if other != one], picked.base)
        if not fewer.everyone or not is_allowed(case, fewer):
            continue
        same = fewer.weight >= picked.weight - SAME_WEIGHT
        if demand.is_met(case, fewer) and (order.fewest or same):
            picked = fewer
    return picked
