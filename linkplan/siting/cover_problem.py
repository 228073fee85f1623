"""Which set-ups together: what is asked and what is answered, as frozen arrays without places or radios.

Candidates (c) and points (p) are numbers only. A point has a weight, a candidate a place and a cost.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.ranges import require_range

FloatArray = NDArray[np.floating[Any]]
IntArray = NDArray[np.integer[Any]]
BoolArray = NDArray[np.bool_]

COVER_MODES = ("several", "corridor", "repeaters")
SAME_WEIGHT = 1e-7
"""Shares of the weight that differ by less are the same: the solver's rounding is finer than that."""


@dataclass(frozen=True)
class CoverProblem:
    """Which candidates, together?

    several: any number at once; a point is served by a candidate that covers it and has it `within`.
    corridor: the same, in the order of `along` (ties in the order of the numbers).
    repeaters: one base and repeaters that hear it. A point is served if the base or a repeater covers it and
    the base has it `within`: the baseline runs to the base.
    Raises ValueError for arrays that do not fit together, RangeError for a number outside its range.
    """

    mode: str
    """Of COVER_MODES."""
    covers: BoolArray
    """(c, p): the radio of the candidate serves the point."""
    within: BoolArray
    """(c, p): the point lies within the baseline limit of the candidate as a base."""
    weight: FloatArray
    """(p,), 0 or more, not all 0."""
    place: IntArray
    """(c,): of the candidates of one place no more than one is chosen, in whatever role."""
    cost: FloatArray
    """(c,), 0 or more: decides, summed, between choices that are otherwise equal; smaller is better."""
    musts: tuple[tuple[BoolArray, float], ...] = ()
    """Points (p,), and the share of their weight, 0 to 1, that has to be covered in whatever choice; those
    that nothing covers count too."""
    must_names: tuple[str, ...] = ()
    """Of every must, for what is told about it; without, "must 1", "must 2" ..."""
    along: FloatArray | None = None
    """(c,): for a corridor."""
    neighbours: BoolArray | None = None
    """(c, c), symmetric: the two see a common check point. Wanted where `overlap` holds."""
    overlap: bool = False
    """several: the chosen hang together through neighbours; corridor: each and the next are neighbours;
    repeaters: nothing, they hang together by hearing."""
    hears: BoolArray | None = None
    """(c, c), [base, repeater]: the repeater there hears the base there. For repeaters."""
    most_repeaters: int | None = None
    """That the air time allows."""
    most: int | None = None
    """Greatest coverage by no more than this many set-ups (repeaters, beside their base); None: fewest."""
    wanted_share: float = 1.0
    """Of all weight, above 0: what the fewest have to cover, as far as it can be covered at all."""

    def __post_init__(self) -> None:
        if self.mode not in COVER_MODES:
            raise ValueError(f"mode = {self.mode}: one of {', '.join(COVER_MODES)}")
        candidates, points = self.covers.shape
        arrays: list[tuple[str, NDArray[Any] | None, tuple[int, ...]]] = [
            ("covers", self.covers, (candidates, points)),
            ("within", self.within, (candidates, points)),
            ("weight", self.weight, (points,)),
            ("place", self.place, (candidates,)),
            ("cost", self.cost, (candidates,)),
            *((f"musts[{number}]", mask, (points,)) for number, (mask, _) in enumerate(self.musts)),
        ]
        if self.mode == "repeaters":
            arrays.append(("hears", self.hears, (candidates, candidates)))
        if self.mode == "corridor":
            arrays.append(("along", self.along, (candidates,)))
        if self.is_linked:
            arrays.append(("neighbours", self.neighbours, (candidates, candidates)))
        for name, array, shape in arrays:
            if array is None:
                raise ValueError(f"{self.mode} needs `{name}`")
            if array.shape != shape:
                raise ValueError(f"{name} has shape {array.shape} and not {shape}")
            if name not in ("weight", "place", "cost", "along") and array.dtype != np.bool_:
                raise ValueError(f"{name} holds no yes or no but {array.dtype}")
        if self.must_names and len(self.must_names) != len(self.musts):
            raise ValueError(f"{len(self.must_names)} must_names for {len(self.musts)} musts")
        if points == 0:
            raise ValueError("no points to cover")
        _require_each("weight", self.weight)
        require_range("sum of weight", float(self.weight.sum()), math.ulp(0.0), math.inf)
        _require_each("cost", self.cost)
        require_range("wanted_share", self.wanted_share, math.ulp(0.0), 1.0)
        for number, (_, share) in enumerate(self.musts):
            require_range(f"musts[{number}]", share, 0.0, 1.0)
        if self.most is not None:
            require_range("most", self.most, 0 if self.mode == "repeaters" else 1, math.inf)
        if self.most_repeaters is not None:
            require_range("most_repeaters", self.most_repeaters, 0, math.inf)
        if self.mode == "corridor" and self.along is not None and not np.isfinite(self.along).all():
            raise ValueError("along is not finite everywhere")
        seen = self.neighbours
        if self.is_linked and seen is not None and not np.array_equal(seen, seen.T):
            raise ValueError("neighbours is not symmetric")

    def name_of_must(self, number: int) -> str:
        """As it stands at the start of a sentence on it; `number` from 0."""
        return self.must_names[number] if self.must_names else f"must {number + 1}"

    def number_of(self, count: int) -> str:
        """So many set-ups, in words."""
        one = "repeater" if self.mode == "repeaters" else "set-up"
        return f"{count} {one}" if count == 1 else f"{count} {one}s"

    @property
    def is_linked(self) -> bool:
        """The chosen have to be neighbours."""
        return self.overlap and self.mode != "repeaters"

    @property
    def most_beside(self) -> int | None:
        """The greatest number of set-ups (repeaters) that may be chosen, or None."""
        limits = [self.most, self.most_repeaters if self.mode == "repeaters" else None]
        return min((one for one in limits if one is not None), default=None)


@dataclass(frozen=True)
class CoverChoice:
    """The choice, and how good it is known to be. Shares 0 to 1, of all weight."""

    chosen: tuple[int, ...]
    """Candidates: along the corridor, the base before its repeaters, else by number; empty: no choice."""
    base: int | None
    """With repeaters: the base, the first of `chosen`."""
    goal: str
    """What the choice is best at: "fewest" set-ups, or "greatest" weight covered (asked for by `most`, or
    because the wanted share cannot be covered at once)."""
    feasible: bool
    """There is a choice that reaches every must."""
    reached: bool
    """The wanted share is covered, as far as it can be covered at all."""
    why_not: str
    """Why there is no choice, or why the wanted share is not reached; else ""."""
    covered_share: float
    unreachable_share: float
    """Covered by no candidate, or by no base with a repeater."""
    must_shares: tuple[float, ...]
    """Covered of the weight of each must's points; empty without a choice."""
    must_reachable: tuple[float, ...]
    """The same, by all candidates together; where the musts cannot be reached at once: by the best choice for
    that must alone, as far as time allowed."""
    cost: float
    """Of all chosen, summed."""
    bound: float
    """fewest: no choice has fewer set-ups (repeaters); greatest: none covers a greater share."""
    gap: float
    """Between the answer and `bound`, as a share of the latter (of 1, where `bound` is 0 repeaters)."""
    proven: bool
    """No choice is better at the goal. False with `feasible` False: nobody knows whether there is one."""
    settled: bool
    """Proven, and of those equally good at the goal the best: with fewest the greatest weight, with greatest
    the fewest; then the least cost."""
    stopped: bool
    """By a keyboard interrupt; the choice is the best until then."""
    seconds: float
    greedy_chosen: tuple[int, ...]
    """What the greedy start gave, in the order of `chosen`; empty: it found none."""
    greedy_share: float
    """That it covers."""

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader has to know beside the numbers."""
        notes = [self.why_not] if self.why_not else []
        if self.stopped:
            found = "the best choice until then" if self.feasible else "no choice was found until then"
            notes.append(f"stopped before the end: {found}")
        elif self.feasible and not self.proven:
            best = (
                f"a number of {self.bound:.0f}" if self.goal == "fewest" else f"a share of {self.bound:.4g}"
            )
            notes.append(f"time ran out: nothing better than {best} is possible, gap {self.gap:.2%}")
        return tuple(notes)

    @property
    def set_ups(self) -> int:
        """Number chosen; of repeaters, without the base."""
        return len(self.chosen) - (self.base is not None)


def _require_each(name: str, values: FloatArray) -> None:
    """Every one finite, 0 or more; so small that sums stay finite."""
    if values.size:
        bad = values[~((values >= 0.0) & (values <= 1e100))]
        require_range(name, float(bad[0]) if bad.size else 0.0, 0.0, 1e100)
