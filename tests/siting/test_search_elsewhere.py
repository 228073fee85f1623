"""A search on two processes and on a cluster: the same answer to the last bit, also when a worker dies."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import psutil

from linkplan.plan.model import Plan
from linkplan.siting.evaluate import Shared, Task
from linkplan.siting.places import all_places, job_points, siting_of
from linkplan.siting.search import search
from linkplan.siting.workload import Effort, Found, run_tasks
from tests.siting.test_cluster import scheduler, worker

MakeJob = Callable[..., Plan]

SITING = "antenna_heights = [3.0, 6.0]\npowers_w = [0.2, 0.5]\ncases = 10\n"


def found_by(plan: Plan, effort: Effort, progress: Callable[[float], None] | None = None) -> list[Found]:
    """Everything that is computed for the places of a job."""
    siting = siting_of(plan)
    tasks = [
        Task(place, siting.antenna_heights_m, siting.antennas, siting.powers_dbm)
        for place in all_places(plan)
    ]
    shared = Shared(plan, job_points(plan, 300), near_only=False)
    found, _ = run_tasks(shared, tasks, effort, progress or (lambda _share: None))
    return found


def same(one: list[Found], other: list[Found]) -> bool:
    """Equal numbers, and arrays of equal bytes."""
    return all(
        a.numbers == b.numbers
        and a.arrays.keys() == b.arrays.keys()
        and all(
            np.asarray(a.arrays[name]).tobytes() == np.asarray(b.arrays[name]).tobytes() for name in a.arrays
        )
        for a, b in zip(one, other, strict=True)
    )


def test_two_processes_give_the_same_bits(make_job: MakeJob) -> None:
    plan = make_job(SITING)
    assert same(found_by(plan, Effort(processes=1)), found_by(plan, Effort(processes=2)))
    assert search(plan, Effort(processes=2)).result == search(plan).result


def test_a_cluster_gives_the_same_bits_though_a_worker_is_killed(make_job: MakeJob, tmp_path: Path) -> None:
    plan = make_job(SITING)
    folder = tmp_path / "cluster"
    folder.mkdir()
    killed: list[int] = []
    with scheduler(folder) as (address, _), worker(folder, address) as one, worker(folder, address):

        def kill_midway(_share: float) -> None:
            if not killed:
                # the nanny's child is the worker itself
                (victim, *_) = [
                    child for child in psutil.Process(one.pid).children(recursive=True) if child.is_running()
                ]
                killed.append(victim.pid)
                os.kill(victim.pid, signal.SIGKILL)

        there = found_by(plan, Effort(cluster=address), kill_midway)
        # its own terrain file is sent along: the workers could as well be other machines
        moved = replace(plan, siting=replace(siting_of(plan), cases=0))
        again = search(moved, Effort(cluster=address)).result
    assert killed
    assert same(there, found_by(plan, Effort()))
    assert again == search(moved).result
