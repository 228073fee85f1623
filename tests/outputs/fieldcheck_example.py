"""An invented field check over the invented job, joined by the product from samples made here."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from linkplan.fieldcheck.check import FieldAnswer, FieldOptions, check_samples
from linkplan.fieldcheck.samples import (
    IN_TIME,
    LEVELS,
    NMEA,
    NOT_IN_TIME,
    NOT_OBSERVED,
    OtherBaseSpot,
    Samples,
    SourceFacts,
)

SEED = 7
ROVER, LEVEL = 900, 200


def field_answer(case: tuple, *, levels: bool = True, name: str = "log.nmea") -> FieldAnswer:
    """Samples all over the map; 5 dB weaker than predicted, with errors of 5 dB."""
    plan, coverage, _ = case
    rng = np.random.default_rng(SEED)
    grid = coverage.grid
    known = np.argwhere(np.isfinite(coverage.margin_db) & coverage.inside)
    count = ROVER + (LEVEL if levels else 0)
    cells = known[np.sort(rng.choice(len(known), count))]
    row, column = (cells[:, axis].astype(np.int32) for axis in (0, 1))
    error = -5.0 + rng.normal(0.0, 5.0, count)
    came = coverage.margin_db[row, column] + error > 0.0
    rover = np.arange(count) < ROVER
    outcome = np.where(rover, np.where(came, IN_TIME, NOT_IN_TIME), NOT_OBSERVED).astype(np.int8)
    level = np.where(rover, np.nan, coverage.received_dbm[row, column] + error)
    spot = known[len(known) // 2]
    x_m, y_m = grid.centre_of(int(spot[0]), int(spot[1]))
    facts = [
        SourceFacts(name, NMEA, 10_000, 4000, 3900, ROVER, {"epochs without a time": 100}, 1.7785e9, 1.7786e9)
    ]
    facts += [SourceFacts("levels.csv", LEVELS, 900, LEVEL, LEVEL, LEVEL, {}, None, None)] if levels else []
    samples = Samples(
        x_m=(column - grid.base_column) * grid.cell_size_m,
        y_m=(grid.base_row - row) * grid.cell_size_m,
        row=row,
        column=column,
        source=np.where(rover, 0, 1).astype(np.int32),
        utc_s=np.where(rover, 1.7785e9 + np.arange(count), np.nan),
        outcome=outcome,
        level_dbm=level,
        sources=tuple(facts),
        other_bases=(OtherBaseSpot(0, "77", int(spot[0]), int(spot[1]), x_m, y_m, 25),),
        arrived=outcome.copy(),
    )
    return check_samples(plan, coverage, samples, FieldOptions(date(2026, 5, 14)))


def untouched(answer: FieldAnswer) -> FieldAnswer:
    """The same without anything that differs or disturbs."""
    return replace(answer, wrong=(), other_bases=(), samples=replace(answer.samples, other_bases=()))
