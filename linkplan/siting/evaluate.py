"""What one place would do for the job: its ground read once, each mast swept once, powers and antennas added.

The numbers are those that `linkplan cover` gives with the base there; only what reaches the job is computed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.area import cell_losses, cell_margins
from linkplan.coverage.classes import classes_for
from linkplan.coverage.ground import job_grid
from linkplan.coverage.link import Terminal, compute_link
from linkplan.coverage.reliability import chance_of_corrections
from linkplan.coverage.site import site_constants
from linkplan.errors import PlaceError
from linkplan.plan.model import Base, Plan
from linkplan.plan.siting_model import NamedAntenna, Place, Zone
from linkplan.siting.zones import zone_weights
from linkplan.terrain.grid import BoolArray, FloatArray, TerrainGrid
from linkplan.terrain.horizon import horizon_deg
from linkplan.terrain.masks import inside_mask

Numbers = dict[str, Any]
Arrays = dict[str, NDArray[Any]]

AZIMUTHS_DEG = np.arange(0.0, 360.0, 5.0)
"""Directions in which a place looks at the sky."""


@dataclass(frozen=True)
class Task:
    """One place and everything to try there."""

    place: Place
    antenna_heights_m: tuple[float, ...]
    antennas: tuple[NamedAntenna, ...]
    powers_dbm: tuple[float, ...]
    partners: tuple[Place, ...] = ()
    """Places of repeaters that are to hear a base here."""


@dataclass(frozen=True)
class Shared:
    """What all places have in common."""

    plan: Plan
    """The job with the baseline limit that the search works to; its base does not matter."""
    points: FloatArray
    """(n, 2), places of the job whose margins are kept, in job coordinates."""
    near_only: bool
    """Several set-ups share the job: only cells within the baseline limit are computed."""
    rasters: tuple[tuple[int, str, bytes], ...] = ()
    """For machines that do not have them, else empty: number of the raster (the terrain files, then the
    clutter file), name and content of each of its files."""


def prepare(shared: Shared, folder: Path) -> Shared:
    """On another machine: the rasters as files of its own, in `folder`."""
    if not shared.rasters:
        return shared
    for number, name, content in shared.rasters:
        path = folder / f"{number}" / Path(name).name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    plan = shared.plan
    files = plan.terrain.files
    moved = tuple(folder / f"{number}" / path.name for number, path in enumerate(files))
    clutter = plan.clutter
    if clutter is not None:
        clutter = replace(clutter, file=folder / f"{len(files)}" / clutter.file.name)
    terrain = replace(plan.terrain, files=moved)
    return replace(shared, plan=replace(plan, terrain=terrain, clutter=clutter), rasters=())


def compute(shared: Shared, task: Task) -> tuple[Numbers, Arrays]:
    """Everything about one place.

    Numbers: "outcomes" by mast, antenna and power, each the fields of `Outcome`; or "unknown", the reason why
    there is none. Arrays: "margins" (masts, antennas, points) at the first power, dB, NaN where unknown;
    "horizon_deg", "horizon_m" and "known_to_m" for AZIMUTHS_DEG; "links" (masts here, partners, masts there),
    dB, where partners are asked for.
    """
    plan = plan_at(shared.plan, task.place, task.antenna_heights_m[0])
    try:
        grid = job_grid(plan)
        job = _Job.of(shared, grid)
    except PlaceError as error:
        return {"unknown": str(error)}, {}
    outcomes = []
    margins = np.empty((len(task.antenna_heights_m), len(task.antennas), len(shared.points)), np.float32)
    for mast, height_m in enumerate(task.antenna_heights_m):
        here = plan_at(shared.plan, task.place, height_m)
        losses = cell_losses(here, grid, wanted=job.wanted)
        by_antenna = []
        for number, antenna in enumerate(task.antennas):
            by_power = []
            for power_dbm in task.powers_dbm:
                radio = replace(here.transmitter, antenna=antenna.antenna, power_dbm=power_dbm)
                margin = cell_margins(replace(here, transmitter=radio), grid, losses.loss_db, job.wanted)
                by_power.append(job.outcome(margin))
                if power_dbm == task.powers_dbm[0]:
                    margins[mast, number] = job.at_points(margin)
            by_antenna.append(by_power)
        outcomes.append(by_antenna)
    arrays: Arrays = {"margins": margins, **_sky(plan, grid)}
    if task.partners:
        arrays["links"] = _links(shared.plan, task)
    numbers = {
        "outcomes": outcomes,
        "cell_size_m": grid.cell_size_m,
        "ground_m": float(grid.height_m[grid.base_row, grid.base_column]),
        "notes": list(grid.notes),
    }
    return numbers, arrays


def plan_at(plan: Plan, place: Place, antenna_height_m: float) -> Plan:
    """The job with its base at a place."""
    base = Base(
        place.name, place.easting, place.northing, place.height_m, antenna_height_m, serves=plan.base.serves
    )
    return replace(plan, base=base)


@dataclass(frozen=True)
class _Job:
    """The job on the grid of one place."""

    plan: Plan
    grid: TerrainGrid
    inside: BoolArray
    wanted: BoolArray
    within: BoolArray
    """(cells of the job,), within the baseline limit."""
    weight: FloatArray
    """(cells of the job,)"""
    zones: tuple[BoolArray, ...]
    """(cells of the job,) each."""
    longest_m: float
    point_cells: tuple[NDArray[np.int64], NDArray[np.int64]]
    """Row and column of the cell that holds each point; -1 where it lies off the grid."""
    sigma_db: float
    near_only: bool

    @classmethod
    def of(cls, shared: Shared, grid: TerrainGrid) -> _Job:
        plan = shared.plan
        inside = inside_mask(grid, grid.frame.geometry_to_local(plan.boundary))
        if not inside.any():
            raise PlaceError(
                f"the job's boundary holds no centre of a {grid.cell_size_m:g} m cell; set "
                "terrain.cell_size smaller, or use finer terrain"
            )
        distance = grid.distance_from_base_m()[inside]
        limit = plan.goal.baseline_limit_m
        within = distance <= limit if limit is not None else np.ones(distance.shape, dtype=bool)
        wanted = inside.copy()
        if shared.near_only:
            wanted[inside] = within
        rows, columns = _cells_of(grid, shared.points)
        known = rows >= 0
        if shared.near_only and limit is not None:
            x_m, y_m = grid.frame.to_local(shared.points[:, 0], shared.points[:, 1])
            known &= np.hypot(x_m, y_m) <= limit + grid.cell_size_m
        wanted[rows[known], columns[known]] = True
        zones = plan.siting.zones if plan.siting is not None else ()
        masks = tuple(_zone_cells(grid, inside, zone) for zone in zones)
        weight = zone_weights([zone.weight for zone in zones], masks, distance.shape)
        if not weight.any():
            raise PlaceError(
                f"zones of weight 0 hold the centre of every {grid.cell_size_m:g} m cell of the job, so that "
                "nothing counts; set terrain.cell_size smaller"
            )
        return cls(
            plan=plan,
            grid=grid,
            inside=inside,
            wanted=wanted,
            within=within,
            weight=weight,
            zones=masks,
            longest_m=float(distance.max()),
            point_cells=(rows, columns),
            sigma_db=site_constants(plan, grid.cell_size_m).sigma_db,
            near_only=shared.near_only,
        )

    def outcome(self, margin_db: NDArray[np.float32]) -> Numbers:
        """The fields of `Outcome`."""
        margin = margin_db[self.inside]
        judged = self.within if self.near_only else np.ones(margin.shape, dtype=bool)
        # the best class alone, as `classify` takes it
        least = np.float32(classes_for(self.plan.goal.chance)[0].chance_low)
        covered = (chance_of_corrections(margin, self.sigma_db) >= least) & self.within
        known = np.isfinite(margin) & judged
        share = float(covered.sum()) / covered.size
        return {
            "covered_share": share,
            "weighted_share": float(self.weight @ covered / self.weight.sum()) if self.zones else share,
            "zone_shares": [float(covered[zone].mean()) for zone in self.zones],
            "no_data_share": float((judged & ~known).sum()) / covered.size,
            "worst_margin_db": float(margin[known].min()) if known.any() else None,
            "longest_baseline_m": self.longest_m,
        }

    def at_points(self, margin_db: NDArray[np.float32]) -> NDArray[np.float32]:
        """The margin at every point, NaN off the grid."""
        rows, columns = self.point_cells
        found: NDArray[np.float32] = np.where(rows >= 0, margin_db[rows, columns], np.float32(np.nan))
        return found


def _zone_cells(grid: TerrainGrid, inside: BoolArray, zone: Zone) -> BoolArray:
    """(cells of the job,), those of a zone: one that holds the centre of none is judged by the nearest."""
    area = grid.frame.geometry_to_local(zone.area)
    cells: BoolArray = inside_mask(grid, area)[inside]
    if not cells.any():
        middle = area.representative_point()
        rows, columns = np.nonzero(inside)
        x_m = (columns - grid.base_column) * grid.cell_size_m
        y_m = (grid.base_row - rows) * grid.cell_size_m
        cells[np.argmin(np.hypot(x_m - middle.x, y_m - middle.y))] = True
    return cells


def _cells_of(grid: TerrainGrid, points: FloatArray) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Row and column of the cell that holds each point of job coordinates; -1 off the grid."""
    x_m, y_m = grid.frame.to_local(points[:, 0], points[:, 1])
    rows = np.rint(grid.base_row - np.asarray(y_m) / grid.cell_size_m)
    columns = np.rint(grid.base_column + np.asarray(x_m) / grid.cell_size_m)
    on = (rows >= 0) & (rows < grid.shape[0]) & (columns >= 0) & (columns < grid.shape[1])
    return (
        np.where(on, rows, -1).astype(np.int64),
        np.where(on, columns, -1).astype(np.int64),
    )


def _sky(plan: Plan, grid: TerrainGrid) -> Arrays:
    """The terrain horizon of the GNSS antenna, as far as the grid goes."""
    assert plan.siting is not None
    horizon = horizon_deg(
        grid.height_m,
        cell_size_m=grid.cell_size_m,
        row=grid.base_row,
        column=grid.base_column,
        eye_height_m=plan.siting.rules.gnss_antenna_height_m,
        azimuths_deg=AZIMUTHS_DEG,
    )
    return {
        "horizon_deg": horizon.horizon_deg,
        "horizon_m": horizon.distance_m,
        "known_to_m": horizon.known_to_m,
    }


def _links(plan: Plan, task: Task) -> FloatArray:
    """Margin of the link from a base here to a repeater at each partner, dB, NaN where unknown."""
    here = Terminal(task.place.name, task.place.easting, task.place.northing)
    there = [Terminal(one.name, one.easting, one.northing) for one in task.partners]
    margins = np.full((len(task.antenna_heights_m), len(there), len(task.antenna_heights_m)), np.nan)
    grid, near = _ground_between(plan_at(plan, task.place, task.antenna_heights_m[0]), there)
    for mast, height_m in enumerate(task.antenna_heights_m):
        for far_mast, far_height_m in enumerate(task.antenna_heights_m):
            hearing = hearing_plan(plan_at(plan, task.place, height_m), far_height_m)
            for number, end in near:
                try:
                    margins[mast, number, far_mast] = compute_link(hearing, grid, here, end).margin_db
                except PlaceError:
                    continue  # the same place, or unknown ground between: no link to count on
    return margins


def _ground_between(plan: Plan, there: Sequence[Terminal]) -> tuple[TerrainGrid, list[tuple[int, Terminal]]]:
    """Ground that holds the job and the places of repeaters, and those that it holds, with their numbers:
    the farthest are left out until the rest can be computed."""
    base = plan.base

    def far(one: tuple[int, Terminal]) -> float:
        return float(np.hypot(one[1].easting - base.easting, one[1].northing - base.northing))

    near = sorted(enumerate(there), key=far)
    while True:
        try:
            return job_grid(plan, *(end for _, end in near)), near
        except PlaceError:
            if not near:
                raise
            near.pop()


def hearing_plan(plan: Plan, antenna_height_m: float) -> Plan:
    """The job with a repeater for a rover: it hears through the base's kind of antenna and feeder."""
    receiver = replace(
        plan.rover.receiver,
        antenna=plan.transmitter.antenna,
        feeder=plan.transmitter.feeder,
        body_loss_db=0.0,
    )
    return replace(plan, rover=replace(plan.rover, antenna_height_m=antenna_height_m, receiver=receiver))
