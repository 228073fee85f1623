"""Where rovers used another base than the job's, and whose it may be."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.coverage.summary import azimuth_deg
from linkplan.fieldcheck.samples import OtherBaseSpot, Samples
from linkplan.plan.model import Plan
from linkplan.terrain.grid import TerrainGrid


@dataclass(frozen=True)
class OtherBase:
    """One station that is not the job's."""

    station: str
    name: str
    """As the job file has it, or ""."""
    own: bool
    """A further base of the job."""
    epochs: int
    cells: int
    """Cells of the map in which it was used."""
    files: tuple[str, ...]
    easting: float
    """Of the cell with the most epochs, as the next."""
    northing: float
    distance_m: float
    """From the job's base to that cell, as the next."""
    azimuth_deg: float


def other_bases(plan: Plan, grid: TerrainGrid, samples: Samples) -> tuple[OtherBase, ...]:
    """Each station once, the one with the most epochs first."""
    by_station: dict[str, list[OtherBaseSpot]] = {}
    for spot in samples.other_bases:
        by_station.setdefault(spot.station, []).append(spot)
    found = [_other(plan, grid, samples, station, spots) for station, spots in by_station.items()]
    return tuple(sorted(found, key=lambda one: (-one.epochs, one.station)))


def _other(
    plan: Plan, grid: TerrainGrid, samples: Samples, station: str, spots: list[OtherBaseSpot]
) -> OtherBase:
    most = max(spots, key=lambda spot: spot.epochs)
    easting, northing = grid.frame.to_job(most.x_m, most.y_m)
    own = {str(one.station_id): one.base.name for one in plan.bases if one.station_id is not None}
    known = {str(one.station_id): one.name for one in plan.others if one.station_id is not None}
    return OtherBase(
        station=station,
        name=own.get(station, known.get(station, "")),
        own=station in own,
        epochs=sum(spot.epochs for spot in spots),
        cells=len({(spot.row, spot.column) for spot in spots}),
        files=tuple(dict.fromkeys(samples.sources[spot.source].name for spot in spots)),
        easting=float(easting),
        northing=float(northing),
        distance_m=float((most.x_m**2 + most.y_m**2) ** 0.5),
        azimuth_deg=azimuth_deg(most.x_m, most.y_m),
    )
