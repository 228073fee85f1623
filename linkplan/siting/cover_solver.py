"""Fewest set-ups that cover what is wanted, or the most that a given number can cover: exact, with proof.

One programme after another: the goal first, then what makes the better of equals, each holding what the one
before it has reached. A greedy choice stands before all of them and remains the answer where time runs out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from linkplan.ranges import require_range
from linkplan.siting.cover_case import Case, Demand, make_case, make_demand
from linkplan.siting.cover_greedy import Order, improve, start
from linkplan.siting.cover_problem import SAME_WEIGHT, BoolArray, CoverChoice, CoverProblem
from linkplan.siting.cover_program import COST, COUNT, WEIGHT
from linkplan.siting.cover_stage import (
    Progress,
    Search,
    Stage,
    narrow_search,
    optimise,
    relaxed_count,
    simple_bound,
)

SHARE_FOR_ALL = 0.4
"""Of the time, at most, to find out whether a given number can cover all."""
SHARE_FOR_COST = 0.25
"""Of the time, at most: it only decides between equals."""
SHARE_FOR_FEWEST = 0.6
"""Of the time, for the fewest while no choice is known: the rest is for the greatest coverage instead."""


@dataclass
class _Goal:
    """How the goal stands."""

    fewest: bool
    bound: float = 0.0
    proven: bool = False
    settled: bool = False
    stopped: bool = False
    why_not: str = ""
    coverable: float = 0.0
    greedy_chosen: tuple[int, ...] = ()
    greedy_share: float = 0.0
    must_reachable: tuple[float, ...] = ()


def choose(problem: CoverProblem, *, seconds: float = 60.0, progress: Progress | None = None) -> CoverChoice:
    """The best choice, proven where `seconds` allow.

    Lexicographic. Without `most`: fewest set-ups, then greatest weight, then least cost. With it, and where
    the wanted share cannot be covered at once: greatest weight, then fewest, then least cost. Choices whose
    weights differ by less than `SAME_WEIGHT` are equals. `progress` is called some ten times a second, in the
    caller's thread; it may raise. A KeyboardInterrupt, from there or from the keyboard, ends the search with
    the best choice so far and `stopped`; the solver's own thread ends at its time limit.
    """
    require_range("seconds", seconds, 1e-3, 1e6)
    case = make_case(problem)
    search = Search(case, Order(problem.most is None), seconds, progress)
    goal = _Goal(problem.most is None, coverable=float(case.weight.sum()))
    _check_reach(problem, case, goal)
    if not goal.why_not:
        try:
            wanted = min(problem.wanted_share, goal.coverable)
            if problem.most is not None:
                _seek_greatest(search, problem, goal, wanted)
            elif not _seek_fewest(search, problem, goal, wanted):
                least = goal.bound
                _seek_greatest(search, problem, goal, wanted)
                _return_to_fewest(search, goal, wanted, least)
        except KeyboardInterrupt:
            goal.stopped, goal.settled = True, False
    return _choice(problem, search, goal)


def _check_reach(problem: CoverProblem, case: Case, goal: _Goal) -> None:
    """What no choice at all can do."""
    if case.weight.size == 0:
        goal.why_not, goal.proven = "no candidate covers any point", True
        return
    goal.must_reachable = _must_shares(problem, case, np.ones(case.weight.size, dtype=bool))
    for number, ((_, wanted), share) in enumerate(zip(problem.musts, goal.must_reachable, strict=True)):
        if share < wanted - SAME_WEIGHT and not goal.why_not:
            name = problem.name_of_must(number)
            goal.why_not = f"{name}: of its weight {share:.4g} can be covered, {wanted:g} is wanted"
            goal.proven = True


def _must_shares(problem: CoverProblem, case: Case, covered: BoolArray) -> tuple[float, ...]:
    """Of every must's weight; 1 for one of no points."""
    total = float(problem.weight.sum())
    sizes = [float(problem.weight[points].sum()) / total for points, _ in problem.musts]
    found = case.must_weight @ covered
    return tuple(float(one / size) if size else 1.0 for one, size in zip(found, sizes, strict=True))


def _start(search: Search, goal: _Goal, demand: Demand) -> bool:
    """The greedy choice; whether there is one."""
    search.beat()
    search.best = start(search.case, demand, search.order)
    goal.greedy_chosen = _numbers(search)
    goal.greedy_share = 0.0 if search.best is None else search.best.weight
    return search.best is not None


def _numbers(search: Search) -> tuple[int, ...]:
    """Of the best choice, in the problem."""
    best = search.best
    return () if best is None else tuple(int(search.case.kept[one]) for one in best.everyone)


def _seek_fewest(search: Search, problem: CoverProblem, goal: _Goal, wanted: float) -> bool:
    """Fewest set-ups that cover what is wanted; False where none do, or none were found."""
    case = search.case
    demand = make_demand(case, wanted, problem.most_beside)
    goal.bound = simple_bound(case, COUNT, demand)
    known = _start(search, goal, demand)
    if known and not demand.needed.all():
        stage = _reduce(search, wanted, demand)
    else:
        stage = optimise(search, COUNT, demand, search.left() * (1.0 if known else SHARE_FOR_FEWEST))
    if search.best is None:
        whole = wanted >= goal.coverable - SAME_WEIGHT
        what = "all that can be covered" if whole else f"the wanted share of {problem.wanted_share:g}"
        goal.why_not = (
            f"no choice covers {what} at once" if stage.proven else f"no choice was found that covers {what}"
        )
        return False
    goal.bound, goal.proven = stage.bound, stage.proven
    settled = stage.proven
    if settled and search.best.weight < float(case.weight.sum()) - SAME_WEIGHT:
        stage = _widen(search, wanted, len(search.best.beside))
        goal.settled, settled = stage.settled, stage.proven
    goal.settled = goal.settled or (settled and _seek_cheapest(search))
    return True


def _reduce(search: Search, wanted: float, demand: Demand) -> Stage:
    """Fewest for a share of the weight, from a known choice down: can one less cover as much?

    To ask for the greatest weight of so many is quicker than for the least number: most candidates can be
    left behind.
    """
    assert search.best is not None
    while len(search.best.beside) > search.case.least_count:
        most = len(search.best.beside) - 1
        less = Search(search.case, search.order, search.left(), search.progress)
        bound = narrow_search(less, wanted, most)
        if bound < wanted - 2.0 * SAME_WEIGHT:
            break
        stage = optimise(less, WEIGHT, make_demand(less.case, wanted, most), less.left())
        if less.best is not None:
            search.take(less.case, less.best)
        elif stage.proven:
            break
        else:
            bound = relaxed_count(search, demand)
            return Stage(bound, bound >= len(search.best.beside))
    return Stage(float(len(search.best.beside)), True)


def _seek_greatest(search: Search, problem: CoverProblem, goal: _Goal, wanted: float) -> None:
    """Greatest weight by no more than the allowed number."""
    case = search.case
    goal.fewest, search.order, search.parts = False, Order(False), []
    demand = make_demand(case, 0.0, problem.most_beside)
    goal.bound = simple_bound(case, WEIGHT, demand)
    _start(search, goal, demand)
    stage = _widen(search, 0.0, problem.most_beside, goal)
    goal.bound, goal.proven = stage.bound, stage.proven
    if search.best is None:
        _explain_musts(search, problem, goal)
        return
    if problem.most is not None and search.best.weight < wanted - SAME_WEIGHT:
        short = stage.bound < wanted - SAME_WEIGHT
        cannot = "cannot cover" if short else "were not found to cover"
        number = problem.number_of(problem.most_beside or 0)
        goal.why_not = f"{number} {cannot} the wanted share of {problem.wanted_share:g}"
    goal.settled, settled = stage.settled, stage.proven
    if settled and not goal.settled:
        demand = make_demand(search.case, search.best.weight, problem.most_beside)
        settled = optimise(search, COUNT, demand, search.left()).proven
    goal.settled = goal.settled or (settled and _seek_cheapest(search))


def _return_to_fewest(search: Search, goal: _Goal, wanted: float, least: float) -> None:
    """What time did not suffice to find as the fewest may have come as the greatest coverage."""
    if search.best is not None and search.best.weight >= wanted - SAME_WEIGHT:
        goal.fewest, goal.why_not = True, ""
        goal.bound, goal.proven = least, least >= len(search.best.beside)
        goal.settled = False


def _widen(search: Search, wanted: float, most: int | None, goal: _Goal | None = None) -> Stage:
    """Greatest weight by no more than so many; candidates that are out of the question are left behind.

    `goal`, where that is the goal: to keep the bound that is known before the end.
    """
    if search.best is not None:
        demand = make_demand(search.case, wanted, most)
        search.offer(improve(search.case, demand, Order(False), search.best), demand)
    bound = narrow_search(search, wanted, most)
    if goal is not None:
        goal.bound = min(goal.bound, bound)
    whole = float(search.case.weight.sum())
    if search.best is not None and search.best.weight < whole - SAME_WEIGHT <= bound:
        # nothing speaks against covering all: to ask for just that is far quicker
        every = Search(search.case, search.order, search.left(), search.progress)
        demand = make_demand(search.case, whole, most)
        optimise(every, COUNT, demand, SHARE_FOR_ALL * search.left())
        if every.best is not None:
            search.best = every.best
    return optimise(search, WEIGHT, make_demand(search.case, wanted, most), search.left())


def _seek_cheapest(search: Search) -> bool:
    """Least cost of the same number and weight; whether it is proven."""
    assert search.best is not None
    if np.ptp(search.case.cost) == 0.0:
        return True
    demand = make_demand(search.case, search.best.weight, len(search.best.beside))
    return optimise(search, COST, demand, min(search.left(), SHARE_FOR_COST * search.seconds)).proven


def _explain_musts(search: Search, problem: CoverProblem, goal: _Goal) -> None:
    """No choice reaches the musts: to what share each could be covered, if it alone counted."""
    if not goal.proven:
        goal.why_not = "no choice was found that reaches every must"
        return
    case, shares = search.case, list(goal.must_reachable)
    goal.why_not = "the musts cannot be reached at once"
    for number, ((_, wanted), weight) in enumerate(zip(problem.musts, case.must_weight, strict=True)):
        alone = replace(
            case, weight=weight, must_weight=case.must_weight[:0], must_wanted=case.must_wanted[:0]
        )
        other = Search(alone, Order(False), search.left(), search.progress)
        demand = make_demand(alone, 0.0, problem.most_beside)
        other.best = start(alone, demand, other.order)
        if wanted == 0.0 or not optimise(other, WEIGHT, demand, other.left()).proven or other.best is None:
            continue
        shares[number] = _must_shares(problem, case, other.best.covered)[number]
        if shares[number] < wanted - SAME_WEIGHT:
            name, share = problem.name_of_must(number), shares[number]
            goal.why_not = (
                f"{name}: of its weight {share:.4g} can be covered by one choice, {wanted:g} is wanted"
            )
    goal.must_reachable = tuple(shares)


def _choice(problem: CoverProblem, search: Search, goal: _Goal) -> CoverChoice:
    case, best = search.case, search.best
    wanted = min(problem.wanted_share, goal.coverable)
    share = 0.0 if best is None else best.weight
    count = 0 if best is None else len(best.beside)
    bound = goal.bound
    gap = (count - bound) / max(bound, 1.0) if goal.fewest else (bound - share) / bound if bound else 0.0
    return CoverChoice(
        chosen=_numbers(search),
        base=None if best is None or best.base is None else int(case.kept[best.base]),
        goal="fewest" if goal.fewest else "greatest",
        feasible=best is not None,
        reached=best is not None and share >= wanted - SAME_WEIGHT,
        why_not=goal.why_not,
        covered_share=round(share, 12),
        unreachable_share=max(0.0, round(1.0 - goal.coverable, 12)),
        must_shares=() if best is None else _must_shares(problem, case, best.covered),
        must_reachable=goal.must_reachable,
        cost=0.0 if best is None else best.cost,
        bound=bound,
        gap=0.0 if goal.proven else max(gap, 0.0),
        proven=goal.proven,
        settled=goal.settled,
        stopped=goal.stopped,
        seconds=search.seconds - search.left(),
        greedy_chosen=goal.greedy_chosen,
        greedy_share=goal.greedy_share,
    )
