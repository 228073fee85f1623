"""Invented answers of a siting search on the invented job: outputs draw what a result holds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from linkplan.coverage.combined import CombinedCoverage
from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import (
    DEFAULT_ORDER,
    NamedAntenna,
    OverheadLine,
    Place,
    Siting,
    SitingRules,
    Zone,
)
from linkplan.siting.results import (
    Candidate,
    Finding,
    HeightCurve,
    HeightStep,
    Judged,
    Outcome,
    SetUp,
    SitingResult,
    Together,
)

Case = tuple[Plan, CoverageMap, CoverageSummary]

DBM = {0.5: 26.99, 2.0: 33.01}


def siting_plan(case: Case, *, names: dict[str, str] | None = None, mode: str = "one") -> Plan:
    """The job with a haul road, a strip, ground to keep out of, an overhead line and a corridor."""
    plan, coverage, _ = case
    frame = coverage.grid.frame
    names = names or {}

    def at(x: float, y: float, name: str, *, known: bool = False) -> Place:
        easting, northing = (float(v) for v in frame.to_job(x, y))
        return Place(names.get(name, name), easting, northing, None, known)

    def job(shape: shapely.Geometry) -> shapely.Geometry:
        return frame.geometry_to_job(shape)

    west, south, east, north = coverage.grid.extent_m
    places = [at(0.0, 0.0, "CP-1", known=True), at(0.5 * east, 0.5 * north, "CP-2", known=True)]
    places += [
        at(
            west + (east - west) * (0.15 + 0.1 * (i % 8)),
            south + (north - south) * (0.2 + 0.2 * (i // 8)),
            f"R{i}",
        )
        for i in range(22)
    ]
    road = shapely.LineString(
        [(0.5 * west, 0.4 * south), (0.2 * east, 0.1 * north), (0.7 * east, 0.6 * north)]
    )
    strip = shapely.box(0.3 * east, 0.1 * north, 0.5 * east, 0.3 * north)
    blast = shapely.box(0.55 * west, 0.0, 0.15 * west, 0.45 * north)
    line = shapely.LineString([(0.9 * west, 0.8 * north), (0.9 * east, 0.2 * south)])
    siting = Siting(
        places=tuple(places),
        grid_area=None,
        grid_spacing_m=None,
        antenna_heights_m=(3.0, 5.0),
        powers_dbm=(DBM[0.5], DBM[2.0]),
        antennas=(NamedAntenna("", plan.transmitter.antenna),),
        order=DEFAULT_ORDER,
        zones=(
            Zone(names.get("haul road", "haul road"), job(road.buffer(40.0)), 5.0, None),
            Zone(names.get("strip", "guided strip"), job(strip), 3.0, 0.98),
        ),
        rules=SitingRules(
            keep_out=job(blast),
            lines=(OverheadLine(names.get("line", "valley line"), job(line), 20.0, None),),
            tracks=job(road),
            track_distance_m=300.0,
        ),
        mode=mode,
        most_set_ups=None,
        corridor=job(road) if mode == "corridor" else None,
        check_spacing_m=500.0,
        overlap=mode == "corridor",
        link_margin_db=10.0,
        cases=100,
        seed=1,
    )
    return replace(plan, siting=siting)


def outcome(share: float, worst: float | None = -3.0) -> Outcome:
    return Outcome(share, share + 0.01, (share - 0.02, share + 0.015), 0.012, worst, 2345.0)


def one_base(plan: Plan) -> SitingResult:
    """Every place with two masts and two powers; the third place is near a line, the fourth is kept out, the
    fifth has no ground, the sixth cannot be judged in one rule."""
    siting = plan.siting
    assert siting is not None
    judged: list[Judged] = []
    ranking = []
    for at, place in enumerate(siting.places):
        for mast in siting.antenna_heights_m:
            for power in siting.powers_dbm:
                share = 0.981 - 0.013 * at - (0.02 if mast == 3.0 else 0.0) - (0.01 if power < 30.0 else 0.0)
                found: tuple[Finding, ...] = (
                    Finding("overhead line", True, 640.0, 1.5 * mast + 3.05, "m", siting.rules.lines[0].name),
                )
                one: Outcome | None = outcome(share)
                if at == 2:
                    found = (
                        Finding(
                            "overhead line", False, 7.2, 1.5 * mast + 3.05, "m", siting.rules.lines[0].name
                        ),
                    )
                elif at == 3:
                    found += (Finding("keep-out", False, None, None, ""),)
                elif at == 4:
                    one, found = (
                        None,
                        (Finding("terrain", False, None, None, "", "no terrain data at the place"),),
                    )
                elif at == 5:
                    found += (
                        Finding(
                            "sky",
                            None,
                            0.04,
                            0.1,
                            "share",
                            "ground known less than 2 km far in 8% of the directions",
                        ),
                    )
                elif at == 6 and mast == 5.0:
                    found += (Finding("exposure", False, 5.36, 5.0, "m"),)
                judged.append(
                    Judged(
                        len(judged) + 1,
                        Candidate(place, mast, siting.antennas[0], power),
                        one,
                        found,
                        None,
                        0,
                        "",
                    )
                )
        if at not in {2, 3, 4}:
            ranking.append(judged[-1].number if at != 6 else judged[-3].number)
    wins = {0: 87, 1: 9, 2: 4}
    for rank, number in enumerate(ranking):
        last = rank == len(ranking) - 1
        judged[number - 1] = replace(
            judged[number - 1],
            rank=rank + 1,
            best_cases=wins.get(rank, 0),
            decided_by="" if last else "share",
        )
    curves = tuple(
        HeightCurve(
            siting.places[at].name,
            tuple(
                HeightStep(h, outcome(share - 0.05 * at), None if gain is None else gain)
                for h, share, gain in (
                    (2.0, 0.62, None), (3.0, 0.81, 0.19), (4.0, 0.91, 0.10),
                    (5.0, 0.95, 0.04), (8.0, 0.97, 0.02 / 3.0),
                )
            ),
        )
        for at in (0, 1)
    )  # fmt: skip
    return SitingResult(
        job_name=plan.name,
        mode=siting.mode,
        order=siting.order,
        wanted_chance=0.95,
        wanted_share=0.95,
        baseline_limit_m=10_000.0,
        zone_names=tuple(zone.name for zone in siting.zones),
        judged=tuple(judged),
        ranking=tuple(ranking),
        curves=curves,
        cases=100,
        together=None,
        computed=20,
        kept=4,
        notes=("The feeder's loss is taken as stated for every mast.",),
    )


def several(plan: Plan, coverage: CoverageMap) -> tuple[SitingResult, CombinedCoverage]:
    """Three set-ups of the candidates of `one_base`."""
    alone = replace(one_base(plan), cases=0)
    numbers = (1, 29, 77)
    repeated = plan.siting is not None and plan.siting.mode == "repeaters"
    set_ups = tuple(
        SetUp(
            order,
            number,
            alone.judged[number - 1].candidate,
            "repeater" if repeated and order > 1 else "base",
            0.5 - 0.1 * order,
            0.2,
            f"{order}.40 km along the line" if order < 3 and not repeated else "",
            12.4 + order if repeated and order > 1 else None,
        )
        for order, number in enumerate(numbers, start=1)
    )
    together = Together(
        mode=alone.mode,
        set_ups=set_ups,
        points=11_872,
        covered_share=0.991,
        unreachable_share=0.004,
        all_cells_share=0.9876,
        goal="fewest",
        gap=0.0,
        proven=True,
        air_time_fits=True if repeated else None,
        most_repeaters=2 if repeated else None,
        cases_held=91,
        notes=("A note of the choice.",),
    )
    columns = np.arange(coverage.grid.shape[1]) * 3 // coverage.grid.shape[1] + 1
    serving = np.broadcast_to(columns, coverage.grid.shape).astype(np.int16)
    combined = CombinedCoverage(
        coverage,
        np.where(coverage.class_index > 0, serving, 0).astype(np.int16),
        coverage.inside & (coverage.class_index == 1),
        (0.4, 0.3, 0.2),
        (0.2, 0.2, 0.2),
    )
    return replace(alone, together=together), combined
