"""The siting search, told place by place: each is computed into a store, from which the search then ranks."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_folder import siting_object
from linkplan.outputs.siting_reasons import out_words
from linkplan.outputs.siting_text import siting_text
from linkplan.outputs.siting_words import by_place, reaches
from linkplan.page.jobs import OpenJob
from linkplan.page.lanes import Tell
from linkplan.page.set_up import geographic, set_up_from, with_set_up
from linkplan.page.tasks import Task as Asked
from linkplan.page.tasks import TaskBook
from linkplan.page.words import only
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place
from linkplan.siting.evaluate import Shared, Task
from linkplan.siting.heights import outcome_of
from linkplan.siting.places import (
    POINTS_OF_ONE,
    POINTS_OF_SEVERAL,
    all_places,
    check_points,
    job_points,
    siting_of,
)
from linkplan.siting.rank import sort_key
from linkplan.siting.results import Candidate, Judged, Outcome
from linkplan.siting.search import search, with_limit
from linkplan.siting.workload import Effort, Found, run_tasks
from linkplan.units import watt_from_dbm

Question = Callable[[Asked, Tell], dict[str, Any]]

PLACES = "computing places"
PIECE_S = 1.0
"""Of places that are computed before the next are told."""
MOST_AT_ONCE = 16


def siting_question(book: TaskBook, job: OpenJob, body: Mapping[str, Any]) -> Question:
    """The search for a request's set-up."""
    only(body, "set_up")
    set_up = set_up_from(body.get("set_up", {}))

    def ask(task: Asked, tell: Tell) -> dict[str, Any]:
        plan = with_set_up(job.plan(), set_up)
        effort = Effort(processes=1, kept=book.folder() / f"{plan.job_hash[:16]}.kept")
        _compute_places(task, plan, effort, tell)
        found = search(plan, effort, tell)
        result = found.result
        ranked = [_ranked_body(found.plan, result.judged[number - 1]) for number in result.ranking]
        answer = siting_object(found.plan, result)
        return {
            "text": siting_text(found.plan, result), "answer": answer, "good": reaches(result),
            "ranking": ranked, "ruled_out": _ruled_out(found.plan, result),
            "together": answer.get("together"), "notes": list(result.notes),
        }  # fmt: skip

    return ask


def _compute_places(task: Asked, plan: Plan, effort: Effort, tell: Tell) -> None:
    """Every place into the store, each told as it is done; `search` finds them all there.

    A pause between two pieces is where the search can be stopped.
    """
    siting = siting_of(plan)
    limited = with_limit(plan)
    places = all_places(limited)
    shared = _shared(limited)
    partners = tuple(places) if siting.mode == "repeaters" else ()
    tasks = [
        Task(place, siting.antenna_heights_m, siting.antennas, siting.powers_dbm, partners)
        for place in places
    ]
    at, together = 0, 1
    while at < len(tasks):
        tell(PLACES, at / len(tasks))
        begun = time.monotonic()
        piece = tasks[at : at + together]
        done = at

        def within(share: float, done: int = done, size: int = len(piece)) -> None:
            tell(PLACES, (done + share * size) / len(tasks))

        found, _ = run_tasks(shared, piece, effort, within)
        for number, (one, result) in enumerate(zip(piece, found, strict=True), start=at + 1):
            task.items.append(_place_body(limited, number, one, result))
        at += len(piece)
        took = time.monotonic() - begun
        together = min(MOST_AT_ONCE, 2 * together) if took < PIECE_S / 2.0 else max(1, together // 2)


def _shared(plan: Plan) -> Shared:
    """As `siting.search` has it, so that both find the same in the store."""
    several = siting_of(plan).mode != "one"
    points = job_points(plan, POINTS_OF_SEVERAL if several else POINTS_OF_ONE)
    if several:
        points = np.vstack([points, check_points(plan).positions])
    return Shared(plan, points, near_only=several)


def _place_body(plan: Plan, number: int, task: Task, found: Found) -> dict[str, Any]:
    """A place with the best of its candidates, before any rule is looked at."""
    siting = siting_of(plan)
    best: tuple[tuple[int, ...], Candidate, Outcome] | None = None
    for mast, height_m in enumerate(task.antenna_heights_m):
        for which, antenna in enumerate(task.antennas):
            for level, power_dbm in enumerate(task.powers_dbm):
                outcome = outcome_of(found, mast, which, level)
                if outcome is None:
                    continue
                candidate = Candidate(task.place, height_m, antenna, power_dbm)
                key = sort_key(candidate, outcome, siting.order, plan.goal.share)
                if best is None or key < best[0]:
                    best = key, candidate, outcome
    if best is None:
        return {
            "number": number,
            **_where(plan, task.place),
            "unknown": str(found.numbers.get("unknown", "")),
        }
    _, candidate, outcome = best
    return {
        "number": number,
        **_where(plan, task.place),
        **_equipment(candidate),
        **_figures(outcome),
        "unknown": "",
    }


def _ranked_body(plan: Plan, one: Judged) -> dict[str, Any]:
    assert one.outcome is not None
    place = one.candidate.place
    key = "point" if place.known else "place"
    base = (
        {key: place.name} if _named(plan, place) else {"easting": place.easting, "northing": place.northing}
    )
    return {
        "rank": one.rank, "number": one.number, **_where(plan, place), **_equipment(one.candidate),
        **_figures(one.outcome), "decided_by": one.decided_by, "accepted": one.accepted,
        "best_cases": one.best_cases,
        "set_up": {
            "base": base, "antenna_height_m": one.candidate.antenna_height_m,
            "power_w": _watts(one.candidate.power_dbm),
            "antenna_gain_dbi": one.candidate.antenna.antenna.gain_dbi,
        },
    }  # fmt: skip


def _named(plan: Plan, place: Place) -> bool:
    """Whether the job names the place; those of a grid have their coordinates alone."""
    return place in siting_of(plan).places


def _ruled_out(plan: Plan, result: Any) -> list[dict[str, Any]]:
    show = Formats.of(plan)
    return [
        {**_where(plan, at.place), "why": list(out_words(at, show))}
        for at in by_place(result)
        if at.best is None
    ]


def _where(plan: Plan, place: Place) -> dict[str, Any]:
    longitude, latitude = geographic(plan, place.easting, place.northing)
    return {
        "place": place.name, "known": place.known, "easting": place.easting, "northing": place.northing,
        "longitude": longitude, "latitude": latitude,
    }  # fmt: skip


def _equipment(candidate: Candidate) -> dict[str, Any]:
    return {
        "antenna_height_m": candidate.antenna_height_m, "power_w": _watts(candidate.power_dbm),
        "antenna": candidate.antenna.name,
    }  # fmt: skip


def _figures(outcome: Outcome) -> dict[str, Any]:
    return {
        "covered_share": outcome.covered_share, "weighted_share": outcome.weighted_share,
        "worst_margin_db": outcome.worst_margin_db, "no_data_share": outcome.no_data_share,
        "longest_baseline_m": outcome.longest_baseline_m, "workable_share": outcome.workable_share,
    }  # fmt: skip


def _watts(power_dbm: float) -> float:
    return float(f"{float(watt_from_dbm(power_dbm)):.9g}")
