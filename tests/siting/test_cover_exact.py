"""Set-ups chosen together, against every choice there is, one after another."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.siting import cover_stage
from linkplan.siting.cover_problem import CoverProblem
from linkplan.siting.cover_solver import choose


@pytest.fixture(autouse=True, scope="module")
def narrowed():
    """Candidates are dropped by their bounds in small problems too."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cover_stage, "FEW_CANDIDATES", 2)
        yield


@st.composite
def problems(draw, mode):
    """Small ones of every kind; weights in whole numbers, where many choices are equals, or not."""
    chance = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    candidates = draw(st.integers(1, 7 if mode == "repeaters" else 9))
    points = draw(st.integers(1, 14))
    density = draw(st.sampled_from([0.15, 0.3, 0.6]))
    linked = draw(st.sampled_from([0.25, 0.5, 0.8]))
    seen = chance.random((candidates, candidates)) < linked
    musts = tuple(
        (chance.random(points) < 0.4, float(chance.choice([0.3, 0.5, 0.8, 1.0])))
        for _ in range(draw(st.integers(0, 2)))
    )
    return CoverProblem(
        mode=mode,
        covers=chance.random((candidates, points)) < density,
        within=chance.random((candidates, points)) < draw(st.sampled_from([0.7, 1.0])),
        weight=draw(st.sampled_from([chance.integers(1, 6, points), chance.uniform(0.1, 9.0, points)])) * 1.0,
        place=chance.integers(0, draw(st.sampled_from([3, 9, 60])), candidates),
        cost=chance.integers(0, 5, candidates).astype(float),
        musts=musts,
        along=chance.integers(0, 6, candidates).astype(float),
        neighbours=seen | seen.T,
        overlap=draw(st.booleans()),
        hears=chance.random((candidates, candidates)) < linked,
        most_repeaters=draw(st.sampled_from([None, None, 0, 1, 2])),
        most=draw(st.sampled_from([None, None, 1, 2, 3])),
        wanted_share=draw(st.sampled_from([1.0, 1.0, 0.8, 0.5])),
    )


def hangs_together(problem, members):
    reached, left = {members[0]}, set(members[1:])
    while near := {b for b in left if any(problem.neighbours[a, b] for a in reached)}:
        reached, left = reached | near, left - near
    return not left


def every_choice(problem):
    """(base or None, others, covered points) of each choice that may stand."""
    candidates = range(problem.covers.shape[0])
    if problem.mode == "repeaters":
        for base in candidates:
            heard = [
                one
                for one in candidates
                if problem.hears[base, one] and problem.place[one] != problem.place[base]
            ]
            limit = len(heard) if problem.most_repeaters is None else problem.most_repeaters
            for count in range(min(limit, len(heard)) + 1):
                for others in itertools.combinations(heard, count):
                    if len({problem.place[one] for one in others}) == count:
                        served = problem.covers[[base, *others]].any(axis=0) & problem.within[base]
                        yield base, others, served
        return
    order = sorted(candidates, key=lambda one: (problem.along[one] if problem.mode == "corridor" else 0, one))
    for count in range(1, len(order) + 1):
        for members in itertools.combinations(order, count):
            if len({problem.place[one] for one in members}) < count:
                continue
            if problem.overlap and problem.mode == "several" and not hangs_together(problem, members):
                continue
            if problem.overlap and problem.mode == "corridor":
                steps = itertools.pairwise(members)
                if not all(problem.neighbours[a, b] for a, b in steps):
                    continue
            yield None, members, (problem.covers & problem.within)[list(members)].any(axis=0)


def brute(problem):
    """The best key (number, weight, cost), what it is best at, weight that can be covered at all."""
    coverable = np.zeros(problem.weight.size, dtype=bool)
    keys = []
    for base, others, served in every_choice(problem):
        coverable |= served
        if all(
            problem.weight[mask & served].sum() >= share * problem.weight[mask].sum() - 1e-9
            for mask, share in problem.musts
        ):
            cost = problem.cost[list(others)].sum() + (0.0 if base is None else problem.cost[base])
            keys.append((len(others), problem.weight[served].sum(), cost))
    most = np.inf if problem.most is None else problem.most
    keys = [(count, round(weight, 9), cost) for count, weight, cost in keys if count <= most]
    wanted = min(problem.wanted_share * problem.weight.sum(), problem.weight[coverable].sum()) - 1e-9
    enough = [key for key in keys if key[1] >= wanted]
    if problem.most is None and enough:
        best = min(enough, key=lambda key: (key[0], -key[1], key[2]))
        return best, "fewest", problem.weight[coverable].sum()
    best = min(keys, key=lambda key: (-key[1], key[0], key[2]), default=None)
    return best, "greatest", problem.weight[coverable].sum()


def check(problem):
    choice = choose(problem)
    best, goal, coverable = brute(problem)
    total = problem.weight.sum()
    assert choice.proven
    assert choice.gap == 0.0
    assert abs(choice.unreachable_share - (1.0 - coverable / total)) < 1e-9
    if best is None or coverable == 0.0:
        assert not choice.feasible
        assert not choice.chosen
        assert choice.why_not
        return choice
    assert choice.feasible
    assert choice.goal == goal
    assert choice.settled
    others = choice.chosen if choice.base is None else choice.chosen[1:]
    assert (choice.base is not None) == (problem.mode == "repeaters")
    allowed = {(base, tuple(sorted(members))): served for base, members, served in every_choice(problem)}
    served = allowed[choice.base, tuple(sorted(others))]
    found = (len(others), round(problem.weight[served].sum(), 9), problem.cost[list(choice.chosen)].sum())
    assert found == best
    assert abs(choice.covered_share - best[1] / total) < 1e-7
    if choice.greedy_chosen:
        split = 1 if problem.mode == "repeaters" else 0
        start = allowed[
            choice.greedy_chosen[0] if split else None, tuple(sorted(choice.greedy_chosen[split:]))
        ]
        assert abs(choice.greedy_share - problem.weight[start].sum() / total) < 1e-9
    assert abs(choice.bound - (best[0] if goal == "fewest" else best[1] / total)) < 1e-6
    assert choice.reached == (best[1] >= min(problem.wanted_share * total, coverable) - 1e-9)
    if problem.mode == "corridor":
        assert list(others) == sorted(others, key=lambda one: (problem.along[one], one))
    else:
        assert list(others) == sorted(others)
    return choice


@settings(max_examples=120, deadline=None)
@given(problem=problems("several"))
def test_several_are_the_best_of_all_choices(problem):
    check(problem)


@settings(max_examples=120, deadline=None)
@given(problem=problems("corridor"))
def test_a_corridor_is_the_best_of_all_choices(problem):
    check(problem)


@settings(max_examples=120, deadline=None)
@given(problem=problems("repeaters"))
def test_a_base_with_repeaters_is_the_best_of_all_choices(problem):
    check(problem)
