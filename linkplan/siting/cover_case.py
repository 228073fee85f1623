"""The problem made small, no best choice lost: points in groups, candidates that never win dropped."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from linkplan.siting.cover_problem import SAME_WEIGHT, BoolArray, CoverProblem, FloatArray, IntArray

Float32Array = NDArray[np.float32]

PARTS = (1, 2, 3, 4, 5, 6, 8, 10, 20, 100)
"""Of the smallest weight: tried as the unit of all."""
MOST_UNITS = 1e6


@dataclass(frozen=True)
class Case:
    """n candidates, g groups of points that the same candidates serve; weights are shares of all weight."""

    mode: str
    linked: bool
    """The chosen have to be neighbours."""
    kept: IntArray
    """(n,): numbers of the candidates in the problem; along a corridor in its order."""
    covers: BoolArray
    """(n, g); without repeaters also within the baseline limit."""
    within: BoolArray
    """(n, g); all True without repeaters."""
    weight: FloatArray
    """(g,)"""
    units: float
    """In all weight: so many make every weight a whole number, where `in_units`."""
    in_units: bool
    must_weight: FloatArray
    """(musts, g)"""
    must_wanted: FloatArray
    """(musts,)"""
    place: IntArray
    cost: FloatArray
    links: BoolArray
    """(n, n), never within one place: neighbours, or [base, repeater] who hears whom; empty if not asked."""

    @property
    def size(self) -> int:
        """Number of candidates."""
        return self.kept.size

    @property
    def least_count(self) -> int:
        """Of set-ups (repeaters) that a choice may have."""
        return 0 if self.mode == "repeaters" else 1


@dataclass(frozen=True)
class Picked:
    """A choice and what it does, counted directly."""

    beside: tuple[int, ...]
    """Candidates of the case, ascending; without the base of repeaters."""
    base: int | None
    covered: BoolArray
    """(g,)"""
    weight: float
    cost: float

    @property
    def everyone(self) -> tuple[int, ...]:
        """The base first."""
        return self.beside if self.base is None else (self.base, *self.beside)


def make_case(problem: CoverProblem) -> Case:
    """The whole problem; points that nothing can cover, or that have no weight, are left out."""
    order = np.arange(problem.covers.shape[0])
    if problem.mode == "corridor" and problem.along is not None:
        order = np.lexsort((order, problem.along))
    place = problem.place[order]
    elsewhere = place[:, None] != place[None, :]
    covers, within = problem.covers[order], problem.within[order]
    links = np.zeros((0, 0), dtype=bool)
    if problem.mode == "repeaters":
        assert problem.hears is not None
        links = problem.hears[np.ix_(order, order)] & elsewhere & (problem.most_repeaters != 0)
    else:
        covers, within = covers & within, np.ones_like(covers)
    if problem.is_linked:
        assert problem.neighbours is not None
        links = problem.neighbours[np.ix_(order, order)] & elsewhere
    share = problem.weight / float(problem.weight.sum())
    must = np.array([points for points, _ in problem.musts], dtype=bool)
    must_weight = must.reshape(len(problem.musts), share.size) * share
    units, in_units = _units(problem.weight)
    case = Case(
        mode=problem.mode,
        linked=problem.is_linked,
        kept=order,
        covers=covers,
        within=within,
        weight=share.astype(np.float64),
        units=units,
        in_units=in_units,
        must_weight=must_weight,
        must_wanted=np.array([wanted for _, wanted in problem.musts]) * must_weight.sum(axis=1),
        place=place,
        cost=problem.cost[order].astype(np.float64),
        links=links,
    )
    case = narrow(case, np.ones(case.size, dtype=bool))
    along = None if problem.along is None else problem.along[order]
    return narrow(case, _undominated(case, along))


def narrow(case: Case, alive: BoolArray) -> Case:
    """The case with some of its candidates, points that they serve alike in one group."""
    rows = np.flatnonzero(alive)
    covers, within = case.covers[rows], case.within[rows]
    links = case.links[np.ix_(rows, rows)] if case.links.size else case.links
    served = covers
    signature = covers
    if case.mode == "repeaters":
        served, signature = whole_reach(covers, within, links), np.concatenate([covers, within])
    coverable = np.flatnonzero(served.any(axis=0) & (case.weight > 0.0))
    first, group = _groups(signature[:, coverable])
    pick = coverable[first]
    must_weight = np.zeros((len(case.must_weight), pick.size))
    for number, weight in enumerate(case.must_weight):
        must_weight[number] = np.bincount(group, weight[coverable], pick.size)
    return replace(
        case,
        kept=case.kept[rows],
        covers=covers[:, pick],
        within=within[:, pick],
        weight=np.bincount(group, case.weight[coverable], pick.size).astype(np.float64),
        must_weight=must_weight,
        place=case.place[rows],
        cost=case.cost[rows],
        links=links,
    )


def whole_reach(covers: BoolArray, within: BoolArray, hears: BoolArray) -> BoolArray:
    """(n, g): what each candidate serves as a base together with every repeater that hears it."""
    relayed = hears.astype(np.float32) @ covers.astype(np.float32) > 0.5
    reach: BoolArray = within & (covers | relayed)
    return reach


def _units(weight: FloatArray) -> tuple[float, bool]:
    """How many units are in all weight, and whether every weight is a whole number of them.

    Whole numbers in its rows keep the solver from losing solutions to its rounding; they mostly exist, as a
    weight is a number of cells by a plain factor. Otherwise its tolerance, 1e-6, is to be 1e-9 of the weight.
    """
    some = weight[weight > 0.0]
    for parts in PARTS:
        number = some / (some.min() / parts)
        if number.sum() <= MOST_UNITS and np.abs(number - np.round(number)).max() < 1e-6:
            return float(np.round(number).sum()), True
    return 1e3, False


def _groups(signature: BoolArray) -> tuple[IntArray, IntArray]:
    """Of equal columns the first, and for every column the number of its group."""
    if signature.shape[1] == 0:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    words = packed(signature)
    whole = words.view(np.dtype((np.void, words.strides[0]))).ravel()
    _, first, group = np.unique(whole, return_index=True, return_inverse=True)
    return first, group.ravel()


def packed(signature: BoolArray) -> NDArray[np.uint64]:
    """(columns, words): each column of a (rows, columns) array as bits in a few words."""
    rows = -(-signature.shape[0] // 64) * 64
    whole = np.zeros((signature.shape[1], rows), dtype=bool)
    whole[:, : signature.shape[0]] = signature.T
    return np.packbits(whole, axis=1).view(np.uint64)


def _subsets(rows: BoolArray) -> BoolArray:
    """(n, n): everything that holds in row [c] holds in row [d]."""
    as_float = rows.astype(np.float32)  # counts up to 2**24 are exact
    common: Float32Array = as_float @ as_float.T
    subsets: BoolArray = common >= as_float.sum(axis=1)[:, None] - 0.5
    return subsets


def _linked_subsets(links: BoolArray) -> BoolArray:
    """(n, n): whoever is linked to [c], but for the two themselves, is linked to [d]."""
    as_float = links.astype(np.float32)
    missing = (
        as_float @ (1.0 - as_float).T - as_float
    )  # the diagonal is never linked: [d] to itself is missing
    subsets: BoolArray = missing < 0.5
    return subsets


def _undominated(case: Case, along: FloatArray | None) -> BoolArray:
    """(n,): candidates to keep.

    [c] goes where another, [d], serves all that it serves and costs no more, and may stand in for it in any
    choice: at the same place the two never stand together; alone at its place, [d] is free or chosen, and
    then [c] can be left out. So no best choice is lost in its number, weight or cost. One is dropped after
    another, each against those still there, so of two equals one stays.
    """
    size = case.size
    if size == 0:
        return np.ones(0, dtype=bool)
    same = case.place[:, None] == case.place[None, :]
    alone = same.sum(axis=0) == 1
    better = _subsets(case.covers) & (case.cost[None, :] <= case.cost[:, None]) & (same | alone[None, :])
    if case.mode == "repeaters":
        # as a base it reaches as many repeaters, as a repeater it hears as many bases
        better &= _subsets(case.within) & _linked_subsets(case.links)
        better &= _linked_subsets(case.links.T)
    elif case.linked:
        better &= _linked_subsets(case.links)
        if case.mode == "corridor" and along is not None:
            # the order stays only where nothing stands between the two: all at this distance is one place
            level = along[:, None] == along[None, :]
            better &= same & level & ~(level & ~same).any(axis=1, keepdims=True)
    np.fill_diagonal(better, False)
    alive = np.ones(size, dtype=bool)
    if not case.linked and case.mode != "repeaters":
        alive &= case.covers.any(axis=1)
    for one in range(size - 1, -1, -1):
        alive[one] &= not (better[one] & alive).any()
    return alive


def pick(case: Case, beside: list[int], base: int | None = None) -> Picked:
    """A choice with its coverage counted from the arrays themselves."""
    chosen = sorted(beside)
    covered: BoolArray = np.asarray(case.covers[chosen].any(axis=0))
    everyone = chosen
    if base is not None:
        covered = (covered | case.covers[base]) & case.within[base]
        everyone = [base, *chosen]
    weight = float(case.weight[covered].sum())
    return Picked(tuple(chosen), base, covered, weight, float(case.cost[everyone].sum()))


def is_allowed(case: Case, picked: Picked) -> bool:
    """One of a place, and together as the mode asks."""
    everyone = list(picked.everyone)
    if np.unique(case.place[everyone]).size < len(everyone):
        return False
    if case.mode == "repeaters":
        return picked.base is not None and bool(case.links[picked.base, list(picked.beside)].all())
    if not case.linked:
        return True
    if case.mode == "corridor":
        return all(case.links[a, b] for a, b in itertools.pairwise(everyone))
    return len(pieces(case.links, everyone)) <= 1


def pieces(links: BoolArray, members: list[int]) -> list[list[int]]:
    """The members in parts that hang together, each ascending."""
    left, found = set(members), []
    while left:
        part = {left.pop()}
        edge = set(part)
        while edge:
            near = {other for one in edge for other in left if links[one, other]}
            left -= near
            part |= near
            edge = near
        found.append(sorted(part))
    return sorted(found)


@dataclass(frozen=True)
class Demand:
    """What a choice has to reach."""

    needed: BoolArray
    """(g,): each of these groups."""
    least_weight: float
    most: int | None
    """Number of set-ups (repeaters)."""

    def is_met(self, case: Case, picked: Picked) -> bool:
        """By the choice alone; whether it is allowed is not asked."""
        return (
            (self.most is None or len(picked.beside) <= self.most)
            and picked.weight >= self.least_weight - 1.1 * SAME_WEIGHT
            and bool(picked.covered[self.needed].all())
            and bool((case.must_weight @ picked.covered >= case.must_wanted - 1.1 * SAME_WEIGHT).all())
        )


def make_demand(case: Case, least_weight: float, most: int | None) -> Demand:
    """Groups that no choice may leave out are `needed`, which says the same in fewer and sharper rows."""
    needed = np.full(case.weight.size, least_weight >= float(case.weight.sum()) - SAME_WEIGHT)
    for weight, wanted in zip(case.must_weight, case.must_wanted, strict=True):
        if wanted > 0.0 and wanted >= float(weight.sum()) - SAME_WEIGHT:
            needed |= weight > 0.0
    return Demand(needed, least_weight, most)


def companions(case: Case) -> BoolArray:
    """(n, g): what can be served by any allowed choice that holds the candidate (repeaters: as the base)."""
    if case.mode == "repeaters":
        return whole_reach(case.covers, case.within, case.links)
    if not case.linked:
        return np.broadcast_to(case.covers.any(axis=0), case.covers.shape)
    reach = np.array(case.covers)
    if case.mode == "corridor":
        before, after = reach.copy(), reach.copy()
        for one in range(case.size):
            before[one] |= before[:one][case.links[one, :one]].any(axis=0)
        for one in range(case.size - 1, -1, -1):
            after[one] |= after[one + 1 :][case.links[one, one + 1 :]].any(axis=0)
        return before | after
    for part in pieces(case.links, list(range(case.size))):
        reach[part] = case.covers[part].any(axis=0)
    return reach
