"""The choice as a mixed-integer programme.

Columns: one yes-or-no a candidate; with repeaters a second one, as the base; along a corridor one for every
step from a candidate to a later neighbour; and one for every group of points that may stay uncovered.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.siting.cover_case import Case, Demand, Picked, companions, packed
from linkplan.siting.cover_problem import SAME_WEIGHT, BoolArray, FloatArray, IntArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

MOST_FOR_TIES, TIE_MOST = 5, 0.95

COUNT, WEIGHT, COST = "count", "weight", "cost"


@dataclass
class Program:
    """Rows `low <= matrix @ x <= high`, 0 <= x <= upper, objective to be made least."""

    case: Case
    what: str
    size: int
    objective: FloatArray
    upper: FloatArray
    integral: int
    """The first so many columns are yes or no; in the rest that follows by itself."""
    rows: list[csr_array] = field(default_factory=list)
    low: list[FloatArray] = field(default_factory=list)
    high: list[FloatArray] = field(default_factory=list)
    constant: float = 0.0
    """Weight that every solution covers."""
    tie: FloatArray | None = None
    """(integral,): taken off the weight, in units, for number and cost; together less than TIE_MOST."""

    def add(self, blocks: list[tuple[int, Any]], low: float | FloatArray, high: float | FloatArray) -> None:
        """Rows from blocks, each with its first column and its matrix (rows, any)."""
        from scipy.sparse import coo_array, csr_array

        parts = [
            (first, coo_array(np.atleast_2d(m) if isinstance(m, np.ndarray) else m)) for first, m in blocks
        ]
        count = parts[0][1].shape[0]
        row = np.concatenate([part.coords[0] for _, part in parts])
        column = np.concatenate([first + part.coords[1] for first, part in parts])
        value = np.concatenate([part.data.astype(np.float64) for _, part in parts])
        self.rows.append(csr_array((value, (row, column)), shape=(count, self.size)))
        self.low.append(np.broadcast_to(np.asarray(low, dtype=np.float64), count))
        self.high.append(np.broadcast_to(np.asarray(high, dtype=np.float64), count))


def breaks_ties(case: Case, demand: Demand) -> bool:
    """Whether the greatest weight, the fewest and the least cost can be found at once.

    Weights in whole units leave room below one for number and cost. The solver stops at differences of 1e-6:
    for so few set-ups those are costs that differ by less than 1e-4 of the greatest.
    """
    return case.in_units and demand.most is not None and demand.most <= MOST_FOR_TIES


def _ties(case: Case, most: int) -> FloatArray:
    """(integral,): so that no cost outweighs one less, and all together no unit of weight."""
    chosen = most + 1  # with a base
    dearest = float(np.sort(case.cost)[-chosen:].sum())
    cost = 0.4 / chosen * case.cost / max(dearest, 1e-300)
    one = np.full(case.size, 0.5 / chosen) + cost
    return np.concatenate([one, cost]) if case.mode == "repeaters" else one


def build(case: Case, what: str, demand: Demand, closed: BoolArray, *, ties: bool = False) -> Program:
    """The programme of one objective: COUNT or COST as small, or WEIGHT as great as can be.

    `ties`: WEIGHT settles number and cost too; only where `breaks_ties` holds.
    `closed` (n,): candidates (repeaters: as the base) that are out. Choices of several that have to hang
    together are not held to it here, but by `add_way_out`.
    """
    relays = case.mode == "repeaters"
    chain = case.mode == "corridor" and case.linked
    steps = np.argwhere(np.triu(case.links, 1) & ~closed[:, None] & ~closed[None, :]) if chain else None
    needed, implied = _sharpest(case, demand.needed)
    partial = _partial_musts(case, demand)
    weighs = demand.least_weight > 0.0 and not demand.needed.all()
    free = np.zeros(case.weight.size, dtype=bool)
    if what == WEIGHT or weighs:
        free |= ~implied
    for must in partial:
        free |= (case.must_weight[must] > 0.0) & ~implied
    group = np.flatnonzero(free)
    whole = case.size * (2 if relays else 1)
    extra = 0 if steps is None else len(steps) + 2 * case.size
    program = Program(
        case, what, whole + extra + group.size, np.zeros(0), np.ones(whole + extra + group.size), whole
    )
    program.objective = np.zeros(program.size)
    program.upper[whole - case.size : whole][closed] = 0.0
    at_group = whole + extra
    if what == COUNT:
        program.objective[: case.size] = 1.0
    elif what == COST:
        program.objective[:whole] = np.tile(
            case.cost / max(float(case.cost.max()), 1e-300), whole // case.size
        )
    else:
        program.objective[at_group:] = -_in_units(case, case.weight[group])
        program.constant = float(case.weight[implied].sum())
        if ties:
            program.tie = _ties(case, demand.most or 0)
            program.objective[:whole] = program.tie
    _cover_rows(program, needed, group, at_group)
    if weighs:
        _weight_row(program, case.weight, demand.least_weight, implied, group, at_group)
    for must in partial:
        _weight_row(program, case.must_weight[must], case.must_wanted[must], implied, group, at_group)
    _place_rows(program, relays)
    if demand.most is not None:
        program.add([(0, np.ones(case.size))], -np.inf, float(demand.most))
    if relays:
        _hearing_rows(program)
    if steps is not None:
        _step_rows(program, steps)
    return program


def _sharpest(case: Case, needed: BoolArray) -> tuple[IntArray, BoolArray]:
    """Needed groups that say all, and every group that is covered whenever they are.

    A group that is served by all that serve another one is covered with it: its row says nothing more.
    """
    serves = case.covers if case.mode != "repeaters" else np.concatenate([case.covers, case.within])
    words = packed(serves)
    left, implied, kept = needed.copy(), np.zeros_like(needed), []
    for group in np.argsort(serves.sum(axis=0), kind="stable"):
        if left[group]:
            kept.append(group)
            with_it = ((words & words[group]) == words[group]).all(axis=1)
            implied |= with_it
            left &= ~with_it
    return np.array(kept, dtype=np.intp), implied


def _partial_musts(case: Case, demand: Demand) -> list[int]:
    """Musts that leave a choice of what to cover."""
    return [
        must
        for must, (weight, wanted) in enumerate(zip(case.must_weight, case.must_wanted, strict=True))
        if wanted > 0.0 and not demand.needed[weight > 0.0].all()
    ]


def _cover_rows(program: Program, needed: IntArray, group: IntArray, at_group: int) -> None:
    """A group is covered no further than someone chosen serves it."""
    from scipy.sparse import csr_array, eye_array

    case = program.case
    one = -eye_array(group.size)
    if case.mode != "repeaters":
        if needed.size:
            program.add([(0, csr_array(case.covers[:, needed].T))], 1.0, np.inf)
        if group.size:
            program.add([(0, csr_array(case.covers[:, group].T)), (at_group, one)], 0.0, np.inf)
        return
    for columns, tail, least in ((needed, [], 1.0), (group, [(at_group, one)], 0.0)):
        if columns.size == 0:
            continue
        covers, within = case.covers[:, columns], case.within[:, columns]
        # a base that covers the group beyond its limit does not serve it: left out, the row is sharper
        program.add(
            [(0, csr_array(covers.T)), (case.size, csr_array((covers & within).T)), *tail], least, np.inf
        )
        program.add([(case.size, csr_array(within.T)), *tail], least, np.inf)


def _weight_row(
    program: Program, weight: FloatArray, least: float, implied: BoolArray, group: IntArray, at_group: int
) -> None:
    case = program.case
    left = (least - float(weight[implied].sum())) * case.units
    left = float(np.ceil(left - 1e-3)) if case.in_units else left - 1e-6
    if left > 0.0:
        program.add([(at_group, _in_units(case, weight[group]))], left, np.inf)


def _in_units(case: Case, weight: FloatArray) -> FloatArray:
    units = weight * case.units
    return np.round(units) if case.in_units else units


def _place_rows(program: Program, relays: bool) -> None:
    """At most one of a place, in whatever role."""
    case = program.case
    places, number = np.unique(case.place, return_inverse=True)
    at = np.arange(places.size)[:, None] == number[None, :]
    crowded = at[at.sum(axis=1) > (0 if relays else 1)].astype(np.float64)
    if crowded.size:
        program.add([(0, crowded), *([(case.size, crowded)] if relays else [])], -np.inf, 1.0)


def _hearing_rows(program: Program) -> None:
    """One base; a repeater only where it hears it."""
    from scipy.sparse import csr_array, eye_array

    case = program.case
    program.add([(case.size, np.ones(case.size))], 1.0, 1.0)
    program.add([(0, -eye_array(case.size)), (case.size, csr_array(case.links.T))], 0.0, np.inf)


def _step_rows(program: Program, steps: IntArray) -> None:
    """One chain from a first to a last: who is chosen is stepped to once and left once.

    With yes or no for the candidates the steps have no choice left: what flows, one whole, passes every
    chosen candidate and no other, so it steps from each to the next.
    """
    from scipy.sparse import csr_array, eye_array

    case = program.case
    size, count, at = case.size, len(steps), program.integral
    one = np.ones(count)
    into = csr_array((one, (steps[:, 1], np.arange(count))), shape=(size, count))
    out = csr_array((one, (steps[:, 0], np.arange(count))), shape=(size, count))
    same = eye_array(size)
    program.add([(0, -same), (at, into), (at + count, same)], 0.0, 0.0)
    program.add([(0, -same), (at, out), (at + count + size, same)], 0.0, 0.0)
    program.add([(at + count, np.ones(size))], 1.0, 1.0)


def add_way_out(program: Program, part: list[int], needed: BoolArray) -> None:
    """Candidates that fall short alone: a choice in one piece with one of them holds a neighbour of them.

    It takes away only choices that stay inside the part. Where nobody else serves a `needed` group (g,),
    every choice holds one of them.
    """
    case = program.case
    near: BoolArray = np.asarray(case.links[part].any(axis=0))
    near[part] = False
    others = np.delete(case.covers[:, needed], part, axis=0)
    if not others.any(axis=0).all():
        program.add([(0, near.astype(np.float64))], 1.0, np.inf)
        return
    row = np.tile(near.astype(np.float64), (len(part), 1))
    row[np.arange(len(part)), part] = -1.0
    program.add([(0, row)], 0.0, np.inf)


def add_way_between(program: Program, part: list[int], other: int) -> None:
    """A choice in one piece with one of the part and `other`, no neighbour of it, holds a neighbour of it."""
    case = program.case
    near: BoolArray = np.asarray(case.links[part].any(axis=0))
    near[part] = False
    row = np.tile(near.astype(np.float64), (len(part), 1))
    row[np.arange(len(part)), part] = -1.0
    row[:, other] -= 1.0
    program.add([(0, row)], -1.0, np.inf)


def forbid(program: Program, picked: Picked) -> None:
    """This one choice no more."""
    row = np.ones(program.integral)
    row[list(picked.beside)] = -1.0
    if picked.base is not None:
        row[program.case.size + picked.base] = -1.0
    program.add([(0, row)], 1.0 - len(picked.everyone), np.inf)


def hopeless(case: Case, demand: Demand, more_than: float) -> BoolArray:
    """(n,): candidates (repeaters: as the base) with whom, whoever joins, no choice meets the demand.

    Nor one of more weight than `more_than`.
    """
    reach = companions(case)
    weight = reach @ case.weight
    if case.mode == "repeaters" and demand.most is not None:
        own = case.covers & case.within
        gain = (case.weight * (case.within & ~own)) @ case.covers.T.astype(np.float64)
        best = np.sort(np.where(case.links, gain, 0.0), axis=1)[:, case.size - min(demand.most, case.size) :]
        weight = np.minimum(weight, own @ case.weight + best.sum(axis=1))
    out: BoolArray = (weight < demand.least_weight - 2.0 * SAME_WEIGHT) | (weight <= more_than)
    out |= ~reach[:, demand.needed].all(axis=1)
    for must, wanted in zip(case.must_weight, case.must_wanted, strict=True):
        out |= reach @ must < wanted - 2.0 * SAME_WEIGHT
    return out
