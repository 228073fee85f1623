"""The channel decision from a job to a frozen answer: the one place that orders its steps."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
from numpy.typing import NDArray

from linkplan.channels import clauses, power, rules
from linkplan.channels.assignment import Assignment, best_assignment, station_ids
from linkplan.channels.cells import JobCells, job_cells
from linkplan.channels.levels import Gathered, gather
from linkplan.channels.notes import answer_notes
from linkplan.channels.ratios import ENOUGH_DB, Case, Judged, judge
from linkplan.channels.results import (
    BaseChannel,
    ChannelAnswer,
    ChannelNote,
    Overload,
    PowerNeed,
    ProductNote,
    WorstCell,
)
from linkplan.channels.rules import Candidates
from linkplan.channels.stations import OwnStation, other_eirp_dbm, own_stations, protection_of, time_slots
from linkplan.plan.model import Plan
from linkplan.radio.budget import receive_gain_db
from linkplan.radio.interference import overload_distance_m
from linkplan.units import watt_from_dbm

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Progress = Callable[[str, float], None]


def decide_channels(plan: Plan, today: date, progress: Progress | None = None) -> ChannelAnswer:
    """Which channel, slot, ID and power for every base of a job, and what breaks its licence.

    Raises PlaceError where a base stands off the terrain.
    """
    tell = progress or (lambda _stage, _share: None)
    stations = own_stations(plan)
    cells = job_cells(stations, lambda share: tell("computing coverage", share))
    gathered = gather(plan, stations, cells, lambda share: tell("computing unwanted signals", share))
    tell("assigning channels", 0.0)
    case, found, slots = gathered.case, rules.candidates(plan, stations), time_slots(plan)
    best = best_assignment(case, found.mhz, found.allowed, slots, wishes=_wishes(stations, found, slots))
    stated = _stated(case, stations)
    names = (*(one.name for one in stations), *(one.name for one in plan.others))
    broken = clauses.breaches(plan, stations, today)
    level_dbm = _protected_level(plan, cells)
    mhz, slot = (None, None) if best is None else (found.mhz[best.choice.channel], best.choice.slot)
    needs = _powers(
        plan, stations, cells, case, mhz, slot, level_dbm, lambda share: tell("computing spill", share)
    )
    assigned_db = None if best is None else best.judged.worst_db
    needed_db = case.limits.co_channel_db
    stated_db = None if stated is None else stated.worst_db
    ids_clash = _ids_clash(plan, stations)
    return ChannelAnswer(
        job_name=plan.name,
        checked_for=today,
        call_sign=plan.licence.call_sign if plan.licence is not None else "",
        expires=plan.licence.expires if plan.licence is not None else None,
        licence_stated=plan.licence is not None,
        breaches=broken,
        protection_ratio_db=needed_db,
        stated_ratio_db=stated_db,
        assigned_ratio_db=assigned_db,
        proven_best=best is not None and best.proven,
        slots=slots,
        bases=() if best is None else _bases(plan, stations, cells, gathered, stated, best, found, names),
        channels=_unusable(found, len(stations))
        if mhz is None or slot is None
        else rules.left_over(case, found, mhz, slot, names),
        powers=needs,
        overloads=_overloads(plan, stations),
        overload_dbm=case.limits.overload_dbm,
        products=() if best is None or mhz is None else _products(case, best.judged, mhz, names),
        protected_level_dbm=level_dbm,
        searched_m=power.SEARCH_M,
        notes=(
            *clauses.licence_notes(plan, today),
            *gathered.notes,
            *answer_notes(plan, stations, cells, gathered, best),
        ),
        accepted=(
            plan.licence is not None
            and not broken
            and not ids_clash
            and assigned_db is not None
            and assigned_db >= needed_db
            and (stated_db is None or stated_db >= needed_db)
        ),
    )


def _wishes(
    stations: tuple[OwnStation, ...], found: Candidates, slots: int
) -> list[tuple[int | None, int | None]]:
    """The channel and slot, from 0, that the job states for each base, where they can be had."""
    wishes: list[tuple[int | None, int | None]] = []
    for station in stations:
        channel = None
        if station.frequency_mhz is not None and found.channels:
            apart_khz = 1e3 * np.abs(found.mhz - station.frequency_mhz)
            if apart_khz.min() < clauses.SAME_CHANNEL_KHZ:
                channel = int(np.argmin(apart_khz))
        slot = station.base.slot
        wishes.append((channel, slot - 1 if slot is not None and slot <= slots else None))
    return wishes


def _stated(case: Case, stations: tuple[OwnStation, ...]) -> Judged | None:
    """Everything as the job states it; None unless it states a frequency for every base."""
    frequencies = [station.frequency_mhz for station in stations]
    if any(one is None for one in frequencies):
        return None
    slots = [(station.base.slot or 1) - 1 for station in stations]
    return judge(case, np.array(frequencies, dtype=np.float64), np.array(slots))


def _taken_ids(plan: Plan) -> frozenset[int]:
    found = [*(one.station_id for one in plan.others), *(one.station_id for one in plan.heard)]
    return frozenset(one for one in found if one is not None)


def _ids_clash(plan: Plan, stations: tuple[OwnStation, ...]) -> bool:
    stated = [one.station_id for one in stations if one.station_id is not None]
    return len(set(stated)) < len(stated) or bool(_taken_ids(plan) & set(stated))


def _bases(
    plan: Plan,
    stations: tuple[OwnStation, ...],
    cells: JobCells,
    gathered: Gathered,
    stated: Judged | None,
    best: Assignment,
    found: Candidates,
    names: tuple[str, ...],
) -> tuple[BaseChannel, ...]:
    ids = station_ids([one.station_id for one in stations], _taken_ids(plan))
    case, judged, mhz = gathered.case, best.judged, found.mhz[best.choice.channel]
    lines = []
    for base, station in enumerate(stations):
        rows = np.flatnonzero(case.owner == base)
        ratio = judged.ratio_db[rows]
        note = ""
        if station.station_id is not None and ids[base] != station.station_id:
            note = f"{station.station_id} is taken"
        lines.append(
            BaseChannel(
                name=station.name,
                key=station.key,
                stated_mhz=station.frequency_mhz,
                stated_ratio_db=None if stated is None else _known(stated.per_base_db[base]),
                channel=found.channels[int(best.choice.channel[base])].name,
                frequency_mhz=float(mhz[base]),
                slot=int(best.choice.slot[base]) + 1,
                station_id=ids[base],
                station_id_note=note,
                ratio_db=_known(judged.per_base_db[base]),
                worst=_worst_cell(cells, gathered, judged, rows, names, mhz) if rows.size else None,
                sampled_cells=rows.size,
                protected_share=float((ratio >= case.limits.co_channel_db).mean()) if rows.size else 0.0,
            )
        )
    return tuple(lines)


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _worst_cell(
    cells: JobCells,
    gathered: Gathered,
    judged: Judged,
    rows: IntArray,
    names: tuple[str, ...],
    mhz: FloatArray,
) -> WorstCell:
    row = int(rows[np.argmin(judged.ratio_db[rows])])
    place = gathered.cell[row]
    return WorstCell(
        easting=float(cells.easting[place]),
        northing=float(cells.northing[place]),
        wanted_dbm=float(gathered.case.wanted_dbm[row]),
        ratio_db=float(judged.ratio_db[row]),
        unwanted=rules.unwanted_words(gathered.case, judged, row, names, mhz),
    )


def _unusable(found: Candidates, bases: int) -> tuple[ChannelNote, ...]:
    """Why there is no assignment: every channel with what keeps bases from it."""
    lines = []
    for number, channel in enumerate(found.channels):
        why = dict.fromkeys(
            found.reasons[base, number] for base in range(bases) if (base, number) in found.reasons
        )
        lines.append(
            ChannelNote(
                channel.name,
                channel.clause,
                channel.frequency_mhz,
                not why,
                "; ".join(why) or "open, but another base has no channel at all",
            )
        )
    return tuple(lines)


def _powers(
    plan: Plan,
    stations: tuple[OwnStation, ...],
    cells: JobCells,
    case: Case,
    mhz: FloatArray | None,
    slot: IntArray | None,
    level_dbm: float,
    tell: Callable[[float], None],
) -> tuple[PowerNeed, ...]:
    less = [power.reduction_db(cells, base, plan.goal.share) for base in range(len(stations))]
    after = (
        None
        if mhz is None or slot is None
        else power.ratios_after(case, [one or 0.0 for one in less], mhz, slot)
    )
    lines = []
    for base, station in enumerate(stations):
        tell(base / len(stations))
        heard = power.spill(station, level_dbm, less[base])
        power_dbm, reduced = station.transmitter.power_dbm, less[base]
        lines.append(
            PowerNeed(
                name=station.name,
                power_w=float(watt_from_dbm(power_dbm)),
                covered_share=power.covered_share(cells, base),
                lowest_w=None if reduced is None else float(watt_from_dbm(power_dbm - reduced)),
                ratio_at_lowest_db=None if after is None or reduced is None else _known(after[base]),
                spill_m2=heard.full_m2,
                spill_at_lowest_m2=heard.reduced_m2,
                unknown_m2=heard.unknown_m2,
            )
        )
    return tuple(lines)


def _protected_level(plan: Plan, cells: JobCells) -> float:
    """The level that others are spared: stated, or where a rover like ours would lose its weakest signal."""
    if plan.protected_level_dbm is not None:
        return plan.protected_level_dbm
    return cells.weakest_usable_dbm - protection_of(plan).co_channel_db


def _overloads(plan: Plan, stations: tuple[OwnStation, ...]) -> tuple[Overload, ...]:
    """Of the own bases, and of others that stand inside the job."""
    from shapely import Point

    gain_db = receive_gain_db(plan.rover.receiver)
    overload_dbm = protection_of(plan).overload_dbm
    strong = [(one.name, one.eirp_dbm, one.transmitter.frequency_mhz) for one in stations]
    for other in plan.others:
        if plan.boundary.covers(Point(other.easting, other.northing)):
            strong.append((other.name, other_eirp_dbm(other), other.frequency_mhz))
    return tuple(
        Overload(name, overload_distance_m(eirp_dbm, gain_db, overload_dbm, frequency_mhz))
        for name, eirp_dbm, frequency_mhz in strong
    )


def _products(case: Case, judged: Judged, mhz: FloatArray, names: tuple[str, ...]) -> tuple[ProductNote, ...]:
    """Products that fall into an own channel and count, the worst first."""
    everyone = np.concatenate([mhz, case.other_mhz])
    lines = []
    for mix, ratio_db in zip(case.mixes, judged.mix_db, strict=True):
        if ratio_db < ENOUGH_DB:
            falls = everyone[mix.plus[0]] + everyone[mix.plus[1]] - everyone[mix.minus]
            sources = tuple(names[one] for one in mix.sources)
            lines.append(ProductNote(sources, float(falls), names[mix.victim], float(ratio_db)))
    return tuple(sorted(lines, key=lambda one: one.ratio_db))
