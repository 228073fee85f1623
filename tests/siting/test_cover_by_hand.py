"""Set-ups chosen together, in cases worked by hand; and when the solver errs, is slow, or is stopped."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from linkplan.errors import RangeError
from linkplan.siting import cover_solver, cover_stage
from linkplan.siting.cover_case import pick
from linkplan.siting.cover_greedy import start
from linkplan.siting.cover_problem import CoverProblem
from linkplan.siting.cover_run import Answer
from linkplan.siting.cover_solver import choose


def problem(served, points, mode="several", **more):
    """From a list of the points that each candidate serves; every candidate at its own place, of cost 1."""
    covers = np.zeros((len(served), points), dtype=bool)
    for row, some in enumerate(served):
        covers[row, list(some)] = True
    given = {
        "within": np.ones_like(covers),
        "weight": np.ones(points),
        "place": np.arange(len(served)),
        "cost": np.ones(len(served)),
        "along": np.arange(len(served)) * 1.0,
    }
    return CoverProblem(mode=mode, covers=covers, **(given | more))


def pairs(count, *joined):
    """A symmetric table of who is a neighbour of whom."""
    table = np.zeros((count, count), dtype=bool)
    for one, other in joined:
        table[one, other] = table[other, one] = True
    return table


# The largest step first takes 2, then 3, then 4: three set-ups. Halves 0 and 1 do it with two.
HALVES = [range(7), range(7, 14), [0, 1, 2, 3, 7, 8, 9, 10], [4, 5, 11, 12], [6, 13]]


def test_two_halves_beat_the_largest_step_first():
    choice = choose(problem(HALVES, 14))
    assert choice.chosen == (0, 1)
    assert (choice.goal, choice.bound, choice.gap, choice.proven, choice.settled) == (
        "fewest",
        2,
        0,
        True,
        True,
    )
    assert (choice.covered_share, choice.unreachable_share, choice.set_ups, choice.base) == (
        1.0,
        0.0,
        2,
        None,
    )


def test_one_set_up_covers_the_most_with_the_largest():
    # 8 of 14 points; no other has more
    choice = choose(problem(HALVES, 14, most=1))
    assert (choice.chosen, choice.goal, choice.reached) == ((2,), "greatest", False)
    assert choice.covered_share == pytest.approx(8 / 14)
    assert choice.why_not == "1 set-up cannot cover the wanted share of 1"


def test_half_of_the_weight_needs_only_one():
    # of the two that cover half with one, 0 (7 points) and 2 (8 points), the one that covers more
    choice = choose(problem(HALVES, 14, wanted_share=0.5))
    assert (choice.chosen, choice.goal, choice.reached) == ((2,), "fewest", True)


def test_points_that_nobody_serves_are_left_out_and_told():
    choice = choose(problem([[0, 1], [2]], 5))
    assert choice.chosen == (0, 1)
    assert (choice.reached, choice.feasible, choice.covered_share) == (True, True, pytest.approx(0.6))
    assert choice.unreachable_share == pytest.approx(0.4)
    nothing = choose(problem([[], []], 2))
    assert (nothing.feasible, nothing.proven, nothing.chosen) == (False, True, ())
    assert nothing.why_not == "no candidate covers any point"
    assert choose(problem([], 2)).why_not == "no candidate covers any point"


def test_of_equals_the_lowest_mast_and_one_mast_a_place():
    # candidates 0 and 1 are masts of one place, the higher serves all that the lower does and a point more
    served = [[0, 1], [0, 1, 2], [3, 4], [2, 3, 4]]
    cost = np.array([2.0, 10.0, 2.0, 4.0])
    choice = choose(problem(served, 5, place=np.array([7, 7, 8, 9]), cost=cost))
    assert (choice.chosen, choice.cost) == ((0, 3), 6.0)  # 1 and 2 cost 12
    # 2 and 3 now share a place too: 0 with 3 costs 6, 1 with 2 costs 12, both are two set-ups
    assert choose(problem(served, 5, place=np.array([7, 7, 8, 8]), cost=cost)).chosen == (0, 3)
    # all at one place: only one, 1 and 3 serve three points each, 3 is cheaper
    one = choose(problem(served, 5, place=np.zeros(4, dtype=int), cost=cost))
    assert (one.chosen, one.goal) == ((3,), "greatest")
    assert one.why_not == "no choice covers all that can be covered at once"


def test_overlap_asks_for_one_in_between():
    # 0 and 1 serve all, but see no common check point; through 2 they hang together, which serves nothing new
    served = [[0, 1], [2, 3], [1, 2]]
    alone = problem(served, 4, neighbours=pairs(3, (0, 2), (1, 2)))
    assert choose(alone).chosen == (0, 1)
    assert choose(dataclasses.replace(alone, overlap=True)).chosen == (0, 1, 2)
    apart = choose(dataclasses.replace(alone, overlap=True, neighbours=pairs(3)))
    assert (apart.set_ups, apart.goal, apart.reached, apart.proven) == (1, "greatest", False, True)
    assert apart.why_not == "no choice covers all that can be covered at once"


def test_a_corridor_is_a_chain_in_its_order():
    # In their order: 0, 2, 1, 3. Numbers 0 and 3 serve all but are no neighbours. As a set 0, 1 and 3 would
    # hang together where both know 3, but 3 is the last: the chain has to run 0 - 2 - 3.
    served = [[0, 1], [1], [1, 2], [2, 3]]
    along = np.array([0.0, 2.0, 1.0, 3.0])
    corridor = problem(served, 4, "corridor", along=along, overlap=True, neighbours=pairs(4))
    chained = dataclasses.replace(corridor, neighbours=pairs(4, (0, 2), (2, 3), (1, 3)))
    assert choose(chained).chosen == (0, 2, 3)
    # 1 stands between 2 and 3 and is nobody's neighbour but 3's: it cannot be in a chain with 0
    assert choose(dataclasses.replace(corridor, neighbours=pairs(4, (0, 2), (1, 3)))).reached is False
    assert choose(dataclasses.replace(corridor, overlap=False, neighbours=None)).chosen == (0, 3)


def test_a_repeater_hears_the_base_and_the_baseline_runs_to_the_base():
    # base 0 has points 0 to 3 within its limit; 1 hears it and brings 2, 3 and 4, but 4 is too far from 0
    served = [[0, 1], [2, 3, 4]]
    hears = np.zeros((2, 2), dtype=bool)
    hears[0, 1] = True  # [base, repeater]
    within = np.array([[1, 1, 1, 1, 0], [0, 0, 1, 1, 1]], dtype=bool)
    radio = problem(served, 5, "repeaters", hears=hears, within=within)
    # point 4 is served by 1 as the base: it can be covered, but never together with 0 and 1
    choice = choose(radio)
    assert (choice.chosen, choice.base, choice.set_ups) == ((0, 1), 0, 1)
    assert (choice.goal, choice.covered_share, choice.unreachable_share) == (
        "greatest",
        pytest.approx(0.8),
        0.0,
    )
    assert choice.why_not == "no choice covers all that can be covered at once"
    # 1 as a base serves three points, 0 with no repeater two
    none = choose(dataclasses.replace(radio, most_repeaters=0))
    assert (none.chosen, none.covered_share) == ((1,), pytest.approx(0.6))
    # what only 1 has within its limit, and only by hearing, is out of reach
    far = choose(dataclasses.replace(radio, within=within & (np.arange(5) < 4)))
    assert (far.chosen, far.unreachable_share) == ((0, 1), pytest.approx(0.2))


def test_a_must_is_reached_before_anything_else():
    # alone the must asks for candidate 1, though 0 covers more
    served = [[0, 1, 2, 3], [4], [3]]
    haul_road = np.array([0, 0, 0, 1, 1], dtype=bool)
    half = problem(served, 5, most=1, musts=((haul_road, 0.5),))
    assert choose(half).chosen == (0,)
    whole = choose(dataclasses.replace(half, musts=((haul_road, 1.0),)))
    assert (whole.feasible, whole.proven, whole.chosen) == (False, True, ())
    assert whole.why_not == "must 1: of its weight 0.5 can be covered by one choice, 1 is wanted"
    named = choose(dataclasses.replace(half, musts=((haul_road, 1.0),), must_names=("haul road",)))
    assert named.why_not.startswith("haul road: of its weight 0.5 can")
    two = choose(dataclasses.replace(half, musts=((haul_road, 1.0),), most=2))
    assert (two.chosen, two.must_shares) == ((0, 1), (1.0,))
    strip = np.array([1, 0, 0, 0, 0], dtype=bool)
    both = choose(dataclasses.replace(half, musts=((strip, 1.0), (np.arange(5) == 4, 1.0))))
    assert (both.why_not, both.must_reachable) == ("the musts cannot be reached at once", (1.0, 1.0))
    never = choose(
        dataclasses.replace(half, covers=half.covers & (np.arange(5) < 4), musts=((haul_road, 0.8),))
    )
    assert never.why_not == "must 1: of its weight 0.5 can be covered, 0.8 is wanted"


def test_points_without_weight_do_not_count():
    choice = choose(problem([[0], [1]], 2, weight=np.array([1.0, 0.0])))
    assert (choice.chosen, choice.covered_share) == ((0,), 1.0)


def scattered(**more):
    """Hard for its size: everyone serves 20 of 100 points, by chance."""
    chance = np.random.default_rng(5)
    return problem([chance.choice(100, 20, replace=False) for _ in range(18)], 100, **more)


@pytest.mark.parametrize("more", [{}, {"most": 3}, {"wanted_share": 0.8}])
def test_out_of_time_the_greedy_choice_stands_with_a_bound(monkeypatch, more):
    case = scattered(**more)
    best = choose(case)
    monkeypatch.setattr(cover_stage, "solve", lambda *_: Answer(None, None, False))
    monkeypatch.setattr(cover_stage, "FEW_CANDIDATES", 1000)
    late = choose(case)
    assert best.proven
    assert late.feasible
    assert not late.proven
    assert not late.settled
    assert (late.chosen, late.covered_share) == (late.greedy_chosen, pytest.approx(late.greedy_share))
    if best.goal == "fewest":
        assert late.bound <= best.set_ups <= late.set_ups
        assert late.gap == pytest.approx((late.set_ups - late.bound) / late.bound)
    else:
        assert late.bound >= best.covered_share >= late.covered_share
        assert late.gap == pytest.approx((late.bound - late.covered_share) / late.bound)
    assert late.gap > 0.0
    assert any("time ran out" in note for note in late.notes)


def test_found_late_the_fewest_are_still_called_so(monkeypatch):
    # nothing comes of the search for the fewest; what then covers the most covers all
    monkeypatch.setattr(cover_stage, "solve", lambda *_: Answer(None, None, False))
    monkeypatch.setattr(
        cover_solver,
        "start",
        lambda case, demand, order: None if order.fewest else start(case, demand, order),
    )
    late = choose(scattered())
    assert (late.goal, late.reached, late.proven, late.settled) == ("fewest", True, False, False)
    assert late.why_not == ""
    assert 1 <= late.bound < late.set_ups


def test_a_solution_that_does_not_hold_is_never_taken(monkeypatch):
    case = scattered(wanted_share=0.9)
    best, lies = choose(case), []

    def lying(program, seconds, beat, honest=cover_stage.solve):
        if len(lies) < 3:  # one candidate alone, said to do it all
            lies.append(pick(program.case, [len(lies)]))
            return Answer(lies[-1], 0.0, True)
        return honest(program, seconds, beat)

    monkeypatch.setattr(cover_stage, "solve", lying)
    choice = choose(case)
    assert len(lies) == 3
    assert (choice.set_ups, choice.covered_share) == (best.set_ups, best.covered_share)


def test_stopped_from_the_keyboard_the_best_so_far_stands():
    shares = []

    def stop(share):
        shares.append(share)
        if len(shares) == 2:  # the first comes before the greedy start, the second while the solver works
            raise KeyboardInterrupt

    choice = choose(scattered(), progress=stop)
    assert (choice.stopped, choice.proven, choice.feasible) == (True, False, True)
    assert choice.chosen == choice.greedy_chosen
    assert choice.notes == ("stopped before the end: the best choice until then",)
    assert all(0.0 <= share <= 1.0 for share in shares)

    def fail(share):
        raise RuntimeError(f"at {share:.0f}")

    with pytest.raises(RuntimeError, match="at 0"):
        choose(scattered(), progress=fail)


def test_three_hundred_candidates_and_five_thousand_points():
    # Nine posts stand in the middles of a grid of 3 by 3 squares and serve their squares. No other serves the
    # middles of two squares (they are 7 km apart, nobody reaches 3.4 km), nor do two posts: nine at least.
    chance = np.random.default_rng(11)
    middles = np.stack(np.meshgrid([3.5, 10.5, 17.5], [3.5, 10.5, 17.5]), axis=-1).reshape(-1, 2)
    points = np.concatenate([middles, chance.uniform(0, 21, (4991, 2))])
    at = np.concatenate([chance.uniform(0, 21, (291, 2)), middles])
    away = np.abs(at[:, None] - points[None])
    served = np.hypot(away[..., 0], away[..., 1]) < chance.uniform(2.0, 3.4, (300, 1))
    served[291:] = away[291:].max(axis=2) <= 3.5
    served[291:, :9] &= np.eye(9, dtype=bool)
    choice = choose(problem([np.flatnonzero(row) for row in served], 5000))
    assert (choice.set_ups, choice.proven, choice.reached) == (9, True, True)
    assert served[list(choice.chosen)].any(axis=0).all()


def test_a_corridor_of_two_hundred_candidates_and_two_thousand_points():
    # Everyone serves 2 km to either side at most, and 30 km are to be served: eight at least (7.5). Eight
    # posts at 1.9, 5.65, 9.4 ... 28.15 km serve 1.95 km to either side: they overlap by 150 m.
    chance = np.random.default_rng(12)
    posts = 1.9 + 3.75 * np.arange(8)
    along = np.concatenate([chance.uniform(0, 30, 192), posts])
    reach = np.concatenate([chance.uniform(0.5, 2.0, 192), np.full(8, 1.95)])
    points, checks = np.linspace(0, 30, 2000), np.arange(0, 30.01, 0.05)
    served = np.abs(along[:, None] - points[None]) <= reach[:, None]
    served &= chance.random(served.shape) > 0.1 * (np.arange(200) < 192)[:, None]  # holes, but for the posts
    seen = (np.abs(along[:, None] - checks[None]) <= reach[:, None]).astype(float)
    neighbours = seen @ seen.T > 0
    choice = choose(
        problem(
            [np.flatnonzero(row) for row in served],
            2000,
            "corridor",
            along=along,
            overlap=True,
            neighbours=neighbours,
        )
    )
    assert (choice.set_ups, choice.proven, choice.reached) == (8, True, True)
    assert served[list(choice.chosen)].any(axis=0).all()
    assert (np.diff(along[list(choice.chosen)]) >= 0).all()
    assert all(neighbours[a, b] for a, b in zip(choice.chosen, choice.chosen[1:], strict=False))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"mode": "many"}, "mode = many"),
        ({"within": np.ones((2, 2), dtype=bool)}, r"within has shape \(2, 2\) and not \(2, 3\)"),
        ({"musts": ((np.ones(2, dtype=bool), 0.5),)}, r"musts\[0\] has shape"),
        ({"musts": ((np.ones(3, dtype=bool), 1.5),)}, r"musts\[0\] = 1.5 is outside 0 to 1"),
        ({"musts": ((np.ones(3), 0.5),)}, r"musts\[0\] holds no yes or no"),
        ({"weight": np.array([1.0, -1.0, 1.0])}, "weight = -1 is outside"),
        ({"weight": np.zeros(3)}, "sum of weight = 0 is outside"),
        ({"cost": np.array([1.0, np.nan])}, "cost = nan is outside"),
        ({"mode": "repeaters"}, "repeaters needs `hears`"),
        ({"mode": "corridor", "along": None}, "corridor needs `along`"),
        ({"overlap": True}, "several needs `neighbours`"),
        ({"overlap": True, "neighbours": np.eye(2, k=1, dtype=bool)}, "neighbours is not symmetric"),
        ({"must_names": ("one",)}, "1 must_names for 0 musts"),
        ({"most": 0}, "most = 0 is outside"),
        ({"most_repeaters": -1}, "most_repeaters = -1 is outside"),
        ({"wanted_share": 0.0}, "wanted_share = 0 is outside"),
    ],
)
def test_what_does_not_fit_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        dataclasses.replace(problem([[0], [1, 2]], 3), **change)


def test_no_time_at_all_is_refused():
    with pytest.raises(RangeError, match="seconds = 0 is outside"):
        choose(problem([[0]], 1), seconds=0.0)
