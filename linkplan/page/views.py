"""What each address of the map answers: jobs, their facts, coverage, comparison, one place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from linkplan.page.answers import answer_body, as_json, base_on, framed
from linkplan.page.compare import compared
from linkplan.page.cover import COARSE, SCALES, Covered, pictures_of
from linkplan.page.ground import changing
from linkplan.page.jobs import OpenJob
from linkplan.page.lanes import Tell, Work
from linkplan.page.pictures import LAYERS, hillshade_png
from linkplan.page.placing import placed
from linkplan.page.point import point_body
from linkplan.page.set_up import SetUp, at_from, set_up_from, with_set_up
from linkplan.page.words import RequestError, choice_of, only, serial_of, tab_of
from linkplan.plan.model import Plan

COMPARE_LAYERS = ("served", "gain")


def stale(serial: int) -> dict[str, Any]:
    """The answer to a request that a newer one has overtaken."""
    return {"serial": serial, "stale": True, "pictures": []}


def layers_of(body: Mapping[str, Any], known: tuple[str, ...]) -> tuple[str, ...]:
    """The layers that a request asks for, each once."""
    layers = body.get("layers", [known[0]])
    if not isinstance(layers, list) or not 1 <= len(layers) <= len(known):
        raise RequestError(f"layers: a list of 1 to {len(known)} of {', '.join(known)} is wanted")
    return tuple(dict.fromkeys(choice_of(one, "layers", known) for one in layers))


def cover_work(job: OpenJob, body: Mapping[str, Any]) -> tuple[Work, bool]:
    """Coverage of a set-up, and whether it takes seconds."""
    only(body, "tab", "serial", "set_up", "layers", "scale")
    tab, serial = tab_of(body), serial_of(body)
    set_up = set_up_from(body.get("set_up", {}))
    layers = layers_of(body, LAYERS)
    scale = choice_of(body.get("scale", "full"), "scale", SCALES)

    def run(tell: Tell) -> bytes:
        tell("reading the job", 0.0)
        plan = job.plan()
        changed = with_set_up(plan, set_up)
        covered = job.maps.cover(plan, changed, scale, tell)
        pictures, work = pictures_of(job.maps, plan, covered, layers, tell)
        head = {
            "serial": serial, "scale": scale, "stale": False, "job_hash": plan.job_hash,
            "terrain_stamp": covered.stamp, "answer": answer_body(covered, work),
            "base": base_on(changed, covered.coverage.grid),
        }  # fmt: skip
        return framed(head, pictures)

    work = Work(tab, job.name, "cover", serial, run, brief=scale == COARSE)
    return work, "openness" in layers or ("workable" in layers and scale != COARSE)


def compare_work(job: OpenJob, body: Mapping[str, Any]) -> Work:
    """Two set-ups beside each other."""
    only(body, "tab", "serial", "a", "b", "layers", "scale")
    tab, serial = tab_of(body), serial_of(body)
    first, second = set_up_from(body.get("a", {})), set_up_from(body.get("b", {}))
    layers = layers_of(body, COMPARE_LAYERS)
    scale = choice_of(body.get("scale", "full"), "scale", SCALES)

    def run(tell: Tell) -> bytes:
        tell("reading the job", 0.0)
        plan = job.plan()
        one, other = _both(job, plan, (first, second), scale, tell)
        tell("comparing", 0.0)
        pictures, difference = compared(plan, one, other, layers)
        head = {
            "serial": serial, "scale": scale, "stale": False, "job_hash": plan.job_hash,
            "terrain_stamp": other.stamp, "a": answer_body(one, None), "b": answer_body(other, None),
            "base_a": base_on(one.plan, one.coverage.grid),
            "base_b": base_on(other.plan, other.coverage.grid),
            "difference": difference,
        }  # fmt: skip
        return framed(head, pictures)

    return Work(tab, job.name, "compare", serial, run, brief=scale == COARSE)


def _both(
    job: OpenJob, plan: Plan, set_ups: tuple[SetUp, SetUp], scale: str, tell: Tell
) -> tuple[Covered, Covered]:
    """Two maps over the same ground. DemError where it changes from one to the other again and again."""
    for _ in range(3):
        one, other = (job.maps.cover(plan, with_set_up(plan, each), scale, tell) for each in set_ups)
        if one.stamp == other.stamp:
            return one, other
    raise changing(plan)


def point_work(job: OpenJob, body: Mapping[str, Any]) -> Work:
    """One place: profile, budget, why not, what would help."""
    only(body, "tab", "serial", "set_up", "to")
    tab, serial = tab_of(body), serial_of(body)
    set_up, to = set_up_from(body.get("set_up", {})), at_from(body.get("to"), "to")

    def run(tell: Tell) -> bytes:
        tell("reading the job", 0.0)
        plan = job.plan()
        found = point_body(job, with_set_up(plan, set_up), to, tell)
        return as_json({"serial": serial, "stale": False, "job_hash": plan.job_hash, **found})

    return Work(tab, job.name, "point", serial, run)


def hillshade(job: OpenJob) -> bytes:
    """The picture of the ground."""
    region = job.ground.region(job.plan())
    return hillshade_png(region.grid, placed(region.grid))
