"""What the map says where somebody looked, and which of the two outcomes is held against it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.results import CoverageMap
from linkplan.fieldcheck.samples import NOT_OBSERVED, Samples
from linkplan.plan.model import Plan

FloatArray = NDArray[np.float64]

NO_CLASS = -1
"""Clutter code where none is known."""


@dataclass(frozen=True)
class Predicted:
    """The cells of samples; arrays (n,), NaN where nothing is predicted."""

    chance: FloatArray
    margin_db: FloatArray
    received_dbm: FloatArray
    line_of_sight: FloatArray
    """1 or 0."""
    class_index: NDArray[np.uint8]
    """Class of chance; 0 is no data."""
    clutter_code: NDArray[np.int64]
    """NO_CLASS where none is known."""
    distance_m: FloatArray
    """From the base."""
    inside: NDArray[np.bool_]
    """Within the job's boundary."""


def predicted_at(coverage: CoverageMap, samples: Samples) -> Predicted:
    """The prediction in the cell that holds each sample; `coverage` is on the grid of the samples."""
    cells = samples.row, samples.column
    grid = coverage.grid
    codes = np.array([NO_CLASS, *grid.clutter_codes], dtype=np.int64)
    number = grid.clutter_class[cells] if grid.clutter_class is not None else np.zeros(len(samples), np.intp)

    def taken(values: NDArray[np.float32]) -> FloatArray:
        return values[cells].astype(np.float64)

    return Predicted(
        chance=taken(coverage.chance),
        margin_db=taken(coverage.margin_db),
        received_dbm=taken(coverage.received_dbm),
        line_of_sight=taken(coverage.line_of_sight),
        class_index=coverage.class_index[cells],
        clutter_code=codes[number],
        distance_m=np.hypot(samples.x_m, samples.y_m),
        inside=coverage.inside[cells],
    )


@dataclass(frozen=True)
class Judged:
    """What is held against the predicted chance."""

    outcome: NDArray[np.int8]
    """(n,), values of `Samples.outcome`."""
    notes: tuple[str, ...]


def judged_outcome(samples: Samples, age_limit_s: float) -> Judged:
    """Whether the message last due had arrived, which is what the map predicts; where a file does not tell
    that, whether corrections were in time."""
    outcome = samples.arrived.copy()
    notes = []
    for number, source in enumerate(samples.sources):
        mine = samples.source == number
        told = samples.arrived[mine] != NOT_OBSERVED
        in_time = samples.outcome[mine] != NOT_OBSERVED
        if not told.any() and in_time.any():
            outcome[mine] = samples.outcome[mine]
            notes.append(
                f"{source.name} does not tell whether single messages arrived: its epochs are judged by "
                f"corrections no older than {age_limit_s:g} s, which lets short losses pass; nothing is "
                "learned from them."
            )
    return Judged(outcome, tuple(notes))


def class_names(plan: Plan, codes: NDArray[np.int64]) -> dict[int, str]:
    """Names of the clutter classes that occur."""
    names = plan.clutter.names if plan.clutter is not None else {}
    return {int(code): names.get(int(code), f"class {code}") for code in np.unique(codes) if code != NO_CLASS}
