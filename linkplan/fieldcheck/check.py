"""Was the prediction true, and what may be learned from where it was not?

The map as it stands, with what was learned before, is what is judged. What is learned starts each time from
the map without it: else the same logs would move it twice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.area import compute_coverage, with_same_losses
from linkplan.coverage.cautions import study_warnings
from linkplan.coverage.ground import job_grid
from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.coverage.site import site_constants
from linkplan.coverage.summary import summarize
from linkplan.fieldcheck.blocks import BLOCK_M, square_blocks
from linkplan.fieldcheck.learning import Evidence, Learned, Prior, learn
from linkplan.fieldcheck.observed import AGE_LIMIT_S, LogFile, observe
from linkplan.fieldcheck.other_base import OtherBase, other_bases
from linkplan.fieldcheck.predicted import Judged, Predicted, judged_outcome, predicted_at
from linkplan.fieldcheck.samples import Samples
from linkplan.fieldcheck.scores import Observed, Scores, score
from linkplan.fieldcheck.verdict import Verdict, verdict_of
from linkplan.fieldcheck.wrong import WrongPlace, wrong_places
from linkplan.plan.calibration import Calibration
from linkplan.plan.model import Plan
from linkplan.ranges import require_range

BLOCK_RANGE_M = (20.0, 5000.0)
BLOCK_SIDES = (1, 2, 4, 8)
"""Blocks that an interval may rest on, in sides of the smallest: the largest of which enough are left."""
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class FieldOptions:
    """How logs are judged."""

    today: date
    """Day that a calibration is dated with."""
    age_limit_s: float = AGE_LIMIT_S
    block_m: float = BLOCK_M
    """Side of the smallest blocks of ground that count as separate evidence, and of wrong places."""


@dataclass(frozen=True)
class FieldAnswer:
    """Everything that a field check says."""

    plan: Plan
    options: FieldOptions
    coverage: CoverageMap
    """As the job has it, with what was learned before; the summary is of it."""
    summary: CoverageSummary
    samples: Samples
    predicted: Predicted
    """By that coverage."""
    judged: Judged
    in_time_share: float
    """Of the samples with an outcome: corrections no older than the age limit; NaN without any."""
    scores: Scores
    verdict: Verdict
    wrong: tuple[WrongPlace, ...]
    other_bases: tuple[OtherBase, ...]
    learned: Learned
    """From the map without anything learned before."""
    calibration: Calibration | None
    """For the job file; None where it is not worth it."""
    covered_share: float | None
    """Of the job, with that calibration; None without it. Without it: `summary.covered_share`."""
    notes: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """The prediction holds, and no rover used another base."""
        return self.verdict.holds and not self.other_bases


def check_field(
    plan: Plan, files: Sequence[LogFile], options: FieldOptions, progress: Progress | None = None
) -> FieldAnswer:
    """Hold logs against the coverage from the job's own base.

    Raises RecordingError where a file cannot serve, PlaceError and DemError as the coverage does, RangeError
    for options out of range.
    """
    tell = progress or (lambda _stage, _share: None)
    require_range("block", options.block_m, *BLOCK_RANGE_M, unit="m")
    tell("reading the terrain", 0.0)
    grid = job_grid(plan)
    samples = observe(plan, grid, files, age_limit_s=options.age_limit_s, progress=progress)
    tell("computing coverage", 0.0)
    coverage = compute_coverage(plan, grid, progress=lambda share: tell("computing coverage", share))
    return check_samples(plan, coverage, samples, options, tell)


def check_samples(
    plan: Plan,
    coverage: CoverageMap,
    samples: Samples,
    options: FieldOptions,
    tell: Progress = lambda _stage, _share: None,
) -> FieldAnswer:
    """The same for samples that were read already, on the grid of `coverage`, which is that of the plan."""
    tell("comparing", 0.0)
    predicted = predicted_at(coverage, samples)
    judged = judged_outcome(samples, options.age_limit_s)
    sides = [options.block_m * times for times in BLOCK_SIDES]
    block = np.stack([square_blocks(samples.x_m, samples.y_m, side) for side in sides])
    scores = score(_observed(samples, predicted, judged.outcome, block), plan.goal.chance)
    others = other_bases(plan, coverage.grid, samples)
    tell("learning", 0.0)
    learned = learn_from(plan, coverage, samples)
    made = _calibration(learned, samples, options.today)
    seen = samples.outcome >= 0
    return FieldAnswer(
        plan=plan,
        options=options,
        coverage=coverage,
        summary=summarize(plan, coverage, study_warnings(plan, coverage)),
        samples=samples,
        predicted=predicted,
        judged=judged,
        in_time_share=float((samples.outcome[seen] == 1).mean()) if seen.any() else float("nan"),
        scores=scores,
        verdict=verdict_of(scores, predicted.chance, judged.outcome, block),
        wrong=wrong_places(coverage, samples, predicted, judged.outcome, options.block_m),
        other_bases=others,
        learned=learned,
        calibration=made,
        covered_share=None if made is None else _covered_share(replace(plan, calibration=made), coverage),
        notes=_notes(plan, coverage, samples, judged),
    )


def learn_from(plan: Plan, coverage: CoverageMap, samples: Samples) -> Learned:
    """What the samples teach about the prediction without anything learned before."""
    before = replace(plan, calibration=None)
    constants = site_constants(before, coverage.grid.cell_size_m)
    there = predicted_at(with_same_losses(before, coverage), samples)
    return learn(
        Evidence(
            margin_db=there.margin_db,
            level_residual_db=samples.level_dbm - there.received_dbm,
            outcome=samples.arrived,
            class_code=there.clutter_code,
            x_m=samples.x_m,
            y_m=samples.y_m,
        ),
        constants.location_sigma_db,
        Prior(sigma_db=before.prediction_sigma_db),
    )


def _covered_share(plan: Plan, coverage: CoverageMap) -> float:
    return summarize(plan, with_same_losses(plan, coverage)).covered_share


def _observed(
    samples: Samples, predicted: Predicted, outcome: NDArray[np.int8], block: NDArray[np.int64]
) -> Observed:
    sight = predicted.line_of_sight
    return Observed(
        chance=predicted.chance,
        outcome=outcome,
        level_residual_db=samples.level_dbm - predicted.received_dbm,
        block=block,
        distance_km=predicted.distance_m / 1e3,
        line_of_sight=np.where(np.isfinite(sight), np.nan_to_num(sight), -1.0).astype(np.int8),
        class_code=predicted.clutter_code,
    )


def _calibration(learned: Learned, samples: Samples, today: date) -> Calibration | None:
    if not learned.worth_it:
        return None
    used = [one for one in samples.sources if one.judged]
    return Calibration(
        offset_db=learned.offset_db,
        sigma_db=learned.sigma_db,
        made=today,
        logs=len(used),
        epochs=sum(one.judged for one in used),
        samples=learned.samples,
        blocks=learned.blocks,
        class_offsets_db={one.code: one.offset_db for one in learned.class_offsets},
    )


def _notes(plan: Plan, coverage: CoverageMap, samples: Samples, judged: Judged) -> tuple[str, ...]:
    """What the user should know, most important first."""
    notes = [*judged.notes, *samples.notes]
    earlier = plan.calibration
    judged_now = sum(one.judged for one in samples.sources)
    if earlier is not None:
        notes.append(
            "The map that is judged has what was learned earlier in it: that it holds for the logs that this "
            "was learned from says little, new ones tell. What is learned now starts without that, from "
            "these logs alone: to keep what earlier ones taught, give them again beside the new."
        )
        if judged_now < earlier.epochs:
            notes.append(
                f"The calibration in the job file rests on {earlier.epochs} epochs, these logs on "
                f"{judged_now}: --write would put the fewer in the place of the more."
            )
    return (*notes, *study_warnings(plan, coverage))
