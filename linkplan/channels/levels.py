"""From cells and stations to the case that choices are judged by: levels of everybody at the sample."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from linkplan.channels.cells import JobCells, sample_for
from linkplan.channels.mixing import Mixer, mixes_for
from linkplan.channels.ratios import Case
from linkplan.channels.stations import OwnStation, other_eirp_dbm, own_emission, protection_of
from linkplan.channels.unwanted import Source, UnwantedLevels, ground_if_any, unwanted_levels
from linkplan.coverage.calibrated import unwanted_offset_db
from linkplan.plan.model import Plan
from linkplan.radio.budget import receive_gain_db
from linkplan.radio.interference import Emission
from linkplan.radio.licence import OtherTransmitter

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Gathered:
    """The case, and what the user should know of how its levels came about."""

    case: Case
    cell: NDArray[np.intp]
    """(r,), the position of each row's cell among the job's."""
    notes: tuple[str, ...]


def gather(
    plan: Plan, stations: tuple[OwnStation, ...], cells: JobCells, tell: Callable[[float], None]
) -> Gathered:
    """Levels of every transmitter at the sampled cells of every base."""
    places = np.array([[one.easting, one.northing] for one in plan.others]).reshape(-1, 2)
    samples = [sample_for(cells, base, places) for base in range(len(stations))]
    owner = np.repeat(np.arange(len(stations)), [one.size for one in samples])
    cell = np.concatenate(samples) if samples else np.empty(0, dtype=np.intp)
    # each cell once, whoever asks for it
    once, back = np.unique(cell, return_inverse=True)
    easting, northing = cells.easting[once], cells.northing[once]
    gain_db = receive_gain_db(plan.rover.receiver)
    total = len(stations) + len(plan.others)
    columns: list[UnwantedLevels] = []
    for number, (station, grid) in enumerate(zip(stations, cells.grids, strict=True)):
        tell(number / total)
        source = _own_source(station)
        columns.append(unwanted_levels(plan, source, grid, easting, northing, gain_db))
    for number, other in enumerate(plan.others, start=len(stations)):
        tell(number / total)
        grid_there = ground_if_any(plan, other.easting, other.northing)
        columns.append(unwanted_levels(plan, _other_source(other), grid_there, easting, northing, gain_db))
    level = np.array([one.level_dbm for one in columns]).reshape(total, once.size)
    if cells.grids:
        level = level + unwanted_offset_db(plan, cells.grids[0], easting, northing)
    level = level[:, back].T
    own = len(stations)
    case = Case(
        owner=owner,
        wanted_dbm=cells.wanted_dbm[owner, cell],
        own_dbm=level[:, :own],
        other_dbm=level[:, own:],
        other_mhz=np.array([one.frequency_mhz for one in plan.others]),
        other_emissions=tuple(Emission.of_spacing(one.spacing_khz) for one in plan.others),
        emission=own_emission(plan),
        limits=protection_of(plan),
        bases=own,
    )
    mixes = mixes_for(case, _mixers(plan, stations, cells), cells.weakest_usable_dbm)
    return Gathered(replace(case, mixes=mixes), cell, _notes(plan, columns[own:]))


def _own_source(station: OwnStation) -> Source:
    base = station.base
    return Source(
        base.easting,
        base.northing,
        base.antenna_height_m,
        station.transmitter.frequency_mhz,
        station.eirp_dbm,
    )


def _other_source(other: OtherTransmitter) -> Source:
    return Source(
        other.easting, other.northing, other.antenna_height_m, other.frequency_mhz, other_eirp_dbm(other)
    )


def _mixers(plan: Plan, stations: tuple[OwnStation, ...], cells: JobCells) -> tuple[Mixer, ...]:
    """Everybody's place in local metres of the first base."""
    frame = cells.grids[0].frame
    found = []
    for station in stations:
        x_m, y_m = frame.to_local(station.base.easting, station.base.northing)
        radio = station.transmitter
        found.append(
            Mixer(
                x_m, y_m, radio.power_dbm, radio.antenna.gain_dbi - radio.feeder.loss_db, radio.frequency_mhz
            )
        )
    for other in plan.others:
        x_m, y_m = frame.to_local(other.easting, other.northing)
        # of a stranger only the radiated power is known: as if its antenna had no gain
        found.append(Mixer(x_m, y_m, other_eirp_dbm(other), 0.0, other.frequency_mhz))
    return tuple(found)


def _notes(plan: Plan, others: list[UnwantedLevels]) -> tuple[str, ...]:
    found = []
    for other, levels in zip(plan.others, others, strict=True):
        assumed = []
        if other.erp_assumed:
            assumed.append(f"{other.erp_w:g} W ERP")
        if other.antenna_height_assumed:
            assumed.append(f"an antenna {other.antenna_height_m:g} m above ground")
        if assumed:
            found.append(
                f"{other.name} (others[{other.number}]) is taken to have {' and '.join(assumed)}: nobody "
                "states it."
            )
        if levels.bounded.any():
            share = "all" if levels.bounded.all() else f"{int(levels.bounded.sum())} of {levels.bounded.size}"
            found.append(
                f"No terrain reaches from {other.name} (others[{other.number}]) to {share} of the sampled "
                "cells: a clear path is assumed there, so it is likely weaker than said. Terrain up to it "
                "would show how much."
            )
    return tuple(found)
