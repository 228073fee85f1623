"""A programme given to HiGHS, whole or relaxed, without losing the keyboard to it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from linkplan.siting.cover_case import Picked, pick
from linkplan.siting.cover_problem import FloatArray
from linkplan.siting.cover_program import COST, COUNT, Program

BEAT_SECONDS = 0.1
T = TypeVar("T")


@dataclass(frozen=True)
class Answer:
    """What the solver came back with."""

    picked: Picked | None
    bound: float | None
    """Proven by the solver, in the unit of the objective: least count or cost, greatest weight."""
    ended: bool
    """By itself: `picked` is best, or None because there is none. False: out of time."""


@dataclass(frozen=True)
class Relaxed:
    """A bound of all solutions, and of those with each candidate."""

    bound: float
    """Least count or cost, greatest weight."""
    with_each: FloatArray
    """(integral columns,): the same for solutions that hold the candidate."""


def solve(program: Program, seconds: float, beat: Callable[[], None]) -> Answer:
    """The best solution, or the best within `seconds`; `beat` as for `_aside`."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import vstack

    integrality = np.zeros(program.size)
    integrality[: program.integral] = 1.0
    rows = LinearConstraint(
        vstack(program.rows, format="csc"), np.concatenate(program.low), np.concatenate(program.high)
    )
    done = _aside(
        lambda: milp(
            program.objective,
            integrality=integrality,
            bounds=Bounds(0.0, program.upper),
            constraints=[rows],
            options={"time_limit": max(seconds, 0.01), "mip_rel_gap": 0.0},
        ),
        beat,
    )
    if done.status == 2:
        return Answer(None, None, True)
    if done.status not in (0, 1):
        return Answer(None, None, False)
    bound = None
    if done.mip_dual_bound is not None and np.isfinite(done.mip_dual_bound):
        bound = _in_unit(program, done.mip_dual_bound)
    return Answer(None if done.x is None else _read(program, done.x), bound, done.status == 0)


def relax(program: Program, seconds: float, beat: Callable[[], None]) -> Relaxed | None:
    """Bounds with parts of candidates allowed; None where the solver gives no multipliers in time.

    What the solver gives are multipliers of the rows, of which any, if not negative, prove a bound (weak
    duality). It is computed from them here, so that no tolerance of the solver enters.
    """
    from scipy.optimize import linprog
    from scipy.sparse import vstack

    matrix = vstack(program.rows, format="csr")
    low, high = np.concatenate(program.low), np.concatenate(program.high)
    below, above = np.isfinite(low), np.isfinite(high)
    rows = vstack([-matrix[below], matrix[above]], format="csr")
    limits = np.concatenate([-low[below], high[above]])
    done = _aside(
        lambda: linprog(
            program.objective,
            A_ub=rows,
            b_ub=limits,
            bounds=np.column_stack([np.zeros(program.size), program.upper]),
            method="highs-ds",
            options={"time_limit": max(seconds, 0.01)},
        ),
        beat,
    )
    if done.status != 0:
        return None
    multipliers = np.maximum(-done.ineqlin.marginals, 0.0)
    reduced = program.objective + rows.T @ multipliers
    least = float(np.minimum(reduced, 0.0) @ program.upper - limits @ multipliers)
    with_each = least + np.maximum(reduced[: program.integral], 0.0)
    return Relaxed(_in_unit(program, least), np.array([_in_unit(program, one) for one in with_each]))


def _in_unit(program: Program, value: float) -> float:
    """A least value of the objective, as count, cost or weight."""
    if program.what == COUNT:
        return float(np.ceil(value - 1e-6))
    if program.what == COST:
        return value * float(program.case.cost.max())
    return program.constant - value / program.case.units


def _read(program: Program, x: FloatArray) -> Picked:
    """The choice that a solution means, by rounding."""
    case = program.case
    beside = np.flatnonzero(x[: case.size] > 0.5)
    base = None
    if case.mode == "repeaters":
        base = int(np.argmax(x[case.size : 2 * case.size]))
        beside = beside[beside != base]
    return pick(case, [int(one) for one in beside], base)


def _aside(work: Callable[[], T], beat: Callable[[], None]) -> T:
    """Run something that lets nobody in until it ends; `beat`, called meanwhile, may raise to end the wait.

    HiGHS hears no keyboard. In a thread of its own it keeps nobody from hearing it; left alone, it ends at
    its time limit and what it finds is lost.
    """
    box: dict[str, Any] = {}

    def run() -> None:
        try:
            box["done"] = work()
        except BaseException as error:  # handed to whoever waits
            box["error"] = error

    thread = threading.Thread(target=run, name="cover solver", daemon=True)
    thread.start()
    while thread.is_alive():
        thread.join(BEAT_SECONDS)
        beat()
    if "error" in box:
        raise box["error"]
    done: T = box["done"]
    return done
