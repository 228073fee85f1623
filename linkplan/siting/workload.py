"""Places as pieces of work: taken from an earlier run where nothing that matters changed, else computed."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from linkplan.plan.model import Plan
from linkplan.siting.evaluate import Arrays, Numbers, Shared, Task, compute, prepare
from linkplan.siting.kept import Kept, content_key
from linkplan.siting.work import run_items

METHOD = 2
"""Counts up when the same inputs no longer give the same numbers: older results are not taken up again."""


@dataclass(frozen=True)
class Effort:
    """By what means a search is computed; the numbers do not depend on it."""

    processes: int = 1
    cluster: str | None = None
    """Address of a running scheduler, or None: this machine."""
    kept: Path | None = None
    """File in which finished places are kept, or None."""


@dataclass(frozen=True)
class Found:
    """What was computed for one place."""

    numbers: Numbers
    arrays: Arrays
    kept: bool
    """Taken from an earlier run."""


def cores() -> int:
    """Processor cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def run_tasks(
    shared: Shared, tasks: Sequence[Task], effort: Effort, progress: Callable[[float], None]
) -> tuple[list[Found], tuple[str, ...]]:
    """All tasks in their order, and notes for the user. What is finished when an interrupt comes is in the
    store."""
    found: dict[int, Found] = {}
    common = _common_key(shared)
    keys = [_key(common, task) for task in tasks]
    with Kept.open(effort.kept) as kept:
        for number, key in enumerate(keys):
            earlier = kept.get(key)
            if earlier is not None:
                found[number] = Found(*earlier, kept=True)
        missing = [number for number in range(len(tasks)) if number not in found]

        def done(number: int, result: tuple[Numbers, Arrays]) -> None:
            found[number] = Found(*result, kept=False)
            kept.put(keys[number], result)

        notes = _compute(shared, tasks, missing, effort, done, progress)
        notes = (*kept.notes, *notes)
    return [found[number] for number in range(len(tasks))], notes


def _compute(
    shared: Shared,
    tasks: Sequence[Task],
    missing: Sequence[int],
    effort: Effort,
    done: Callable[[int, tuple[Numbers, Arrays]], None],
    progress: Callable[[float], None],
) -> tuple[str, ...]:
    if not missing:
        return ()
    items = [(number, tasks[number]) for number in missing]
    if effort.cluster is not None:
        from linkplan.siting.cluster import run_on_cluster

        sent = replace(shared, rasters=_rasters(shared.plan))
        return run_on_cluster(
            effort.cluster,
            items,
            sent,
            prepare=prepare,
            compute=compute,
            on_result=done,
            progress=progress,
            name=_name,
        )
    run_items(
        items,
        shared,
        prepare=prepare,
        compute=compute,
        processes=min(effort.processes, len(items)),
        on_result=done,
        progress=progress,
        name=_name,
    )
    return ()


def _name(task: Task) -> str:
    return task.place.name


def _raster_files(plan: Plan) -> list[list[Path]]:
    """The files of each raster: itself, and those beside it that say where it lies or what it holds."""
    rasters = [*plan.terrain.files, *([plan.clutter.file] if plan.clutter is not None else [])]
    return [[path, *(beside for beside in _beside(path) if beside.is_file())] for path in rasters]


def _beside(path: Path) -> list[Path]:
    first, last = path.suffix[1:2], path.suffix[-1:]
    endings = {f".{first}{last}w", f"{path.suffix}w", ".wld", ".prj", ".hdr"} if path.suffix else set()
    return [
        *(path.with_suffix(ending) for ending in sorted(endings)),
        Path(f"{path}.aux.xml"),
        Path(f"{path}.msk"),
    ]


def _rasters(plan: Plan) -> tuple[tuple[int, str, bytes], ...]:
    """The rasters' own bytes: a worker reads them as this machine would."""
    return tuple(
        (number, path.name, path.read_bytes())
        for number, files in enumerate(_raster_files(plan))
        for path in files
    )


def _common_key(shared: Shared) -> str:
    """Hash of everything that all places have in common and that their numbers depend on."""
    plan = shared.plan
    siting = plan.siting
    learned = plan.calibration
    return content_key(
        method=METHOD,
        crs=plan.crs.to_wkt(),
        boundary=plan.boundary,
        rasters=_raster_files(plan),
        terrain=(plan.terrain.height_unit, plan.terrain.cell_size_m),
        clutter=sorted(plan.clutter.heights_m.items()) if plan.clutter is not None else None,
        radio=replace(plan.transmitter, channel_spacing_khz=0.0, occupied_bandwidth_khz=None),
        rover=plan.rover,
        environment=plan.environment,
        learned=(learned.offset_db, learned.sigma_db, learned.class_offsets_db) if learned else None,
        goal=(plan.goal.chance, plan.goal.baseline_limit_m),
        zones=[(zone.area, zone.weight) for zone in siting.zones] if siting is not None else [],
        eye_m=siting.rules.gnss_antenna_height_m if siting is not None else 0.0,
        points=shared.points,
        near_only=shared.near_only,
    )


def _key(common: str, task: Task) -> str:
    place = task.place
    partners: list[Any] = [(one.easting, one.northing) for one in task.partners]
    return content_key(
        common=common,
        place=(place.easting, place.northing),
        masts=task.antenna_heights_m,
        antennas=[one.antenna for one in task.antennas],
        powers=task.powers_dbm,
        partners=partners,
    )
