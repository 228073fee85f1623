"""The joined field check on logs whose truth is known: the demo's, with a hidden offset and shared errors."""

from __future__ import annotations

import difflib
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from dem_samples import make_field_logs
from linkplan.coverage.area import compute_coverage
from linkplan.coverage.results import CoverageMap
from linkplan.fieldcheck.check import FieldAnswer, FieldOptions, check_field, check_samples
from linkplan.fieldcheck.observed import LogFile
from linkplan.fieldcheck.predicted import judged_outcome, predicted_at
from linkplan.fieldcheck.reliability_table import Interval, ObservedShare, observed_share
from linkplan.fieldcheck.samples import IN_TIME, NMEA, NOT_IN_TIME, NOT_OBSERVED, Samples, SourceFacts
from linkplan.fieldcheck.scores import Contingency, LevelErrors, Scores, level_errors
from linkplan.fieldcheck.verdict import AS_PREDICTED, BETTER, UNKNOWN, WORSE, verdict_of
from linkplan.fieldcheck.wrong import UNKEPT, UNPROMISED, WEAKER, wrong_places
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan
from tests.coverage.conftest import grid_of, plain_plan

SAMPLES = Path(make_field_logs.__file__).parent
LOGS = [drive.name for drive in make_field_logs.DRIVES]
FILES = [LogFile(str(SAMPLES / name)) for name in (*LOGS, make_field_logs.LEVELS)]
TODAY = FieldOptions(date(2026, 5, 14))


@pytest.fixture(scope="module")
def demo() -> tuple[Plan, FieldAnswer]:
    plan = read_plan(SAMPLES / make_field_logs.JOB)
    return plan, check_field(plan, FILES, TODAY)


def test_the_demos_logs_are_what_their_script_makes() -> None:
    """Up to a line here and there, where the platform's arithmetic rounds another way; and they are small."""
    made = make_field_logs.make()
    assert set(made) == {*LOGS, make_field_logs.LEVELS}
    assert sum(map(len, made.values())) < 300_000
    for name, content in made.items():
        stored = (SAMPLES / name).read_bytes().splitlines()
        alike = difflib.SequenceMatcher(None, stored, content.splitlines(), autojunk=False)
        assert alike.ratio() > 0.98, name
        assert b"invented" in stored[0] + stored[1]


def test_the_hidden_offset_is_found_and_other_bases_are_named(demo: tuple[Plan, FieldAnswer]) -> None:
    plan, answer = demo
    learned = answer.learned
    assert learned.offset_interval_db.holds(make_field_logs.HIDDEN_OFFSET_DB)
    assert learned.sigma_interval_db.holds(make_field_logs.HIDDEN_SIGMA_DB)
    assert learned.worth_it
    assert learned.check is not None
    assert learned.check.after.brier < learned.check.before.brier
    made = answer.calibration
    assert made is not None
    assert (made.logs, made.made, made.samples) == (3, date(2026, 5, 14), learned.samples)
    assert made.epochs == sum(one.judged for one in answer.samples.sources)
    assert (answer.verdict.everywhere, answer.verdict.levels) == (WORSE, WORSE)
    assert not answer.holds
    (other,) = answer.other_bases
    assert (other.station, other.name, other.own) == ("77", "the neighbour's base", False)
    assert other.epochs == make_field_logs.OTHER_BASE_S // make_field_logs.EPOCH_S
    assert all(one.kind == UNKEPT for one in answer.wrong)
    # on the first log's drive nobody was in the south-west, where the second one was
    assert {one.azimuth_deg > 210.0 for one in answer.wrong} == {True, False}
    assert plan.calibration is None


def test_a_calibrated_map_holds_and_learning_again_learns_nothing_twice(
    demo: tuple[Plan, FieldAnswer],
) -> None:
    plan, before = demo
    calibrated = replace(plan, calibration=before.calibration)
    coverage = compute_coverage(calibrated, before.coverage.grid)
    after = check_samples(calibrated, coverage, before.samples, TODAY)
    assert after.learned == replace(before.learned, check=after.learned.check)
    assert after.calibration == before.calibration
    # what was said of the map with it is what the map with it says
    assert before.covered_share == pytest.approx(after.summary.covered_share, abs=1e-12)
    assert before.covered_share < before.summary.covered_share - 0.02
    assert (after.verdict.everywhere, after.verdict.levels) == (AS_PREDICTED, AS_PREDICTED)
    assert not after.holds, "another base was used"
    without = replace(before.samples, other_bases=())
    assert check_samples(calibrated, coverage, without, TODAY).holds
    assert after.scores.brier is not None
    assert before.scores.brier is not None
    assert after.scores.brier.score < 0.7 * before.scores.brier.score


def test_a_few_samples_change_nothing(demo: tuple[Plan, FieldAnswer]) -> None:
    plan, answer = demo
    few = _part(answer.samples, np.arange(12))
    found = check_samples(plan, answer.coverage, few, TODAY)
    assert found.calibration is None
    assert found.learned.reasons


def _part(samples: Samples, which: np.ndarray) -> Samples:
    names = ("x_m", "y_m", "row", "column", "source", "utc_s", "outcome", "level_dbm", "arrived")
    return replace(samples, **{name: getattr(samples, name)[which] for name in names})


def share(share: float, mean: float, low: float, high: float) -> ObservedShare:
    return ObservedShare(100, 20, mean, share, Interval(low, high))


def scores(covered: ObservedShare | None = None, level: tuple[float, float, float] | None = None) -> Scores:
    """Scores of which only the promise on covered ground and the levels' mean with its interval matter."""
    table = None if covered is None else Contingency(0.95, 1, 1, 1, 1, covered, covered)
    wide = Interval(-1.0, 1.0)
    errors = (
        None if level is None else LevelErrors(50, 9, level[0], Interval(*level[1:]), 3.0, wide, 3.0, wide)
    )
    return Scores(100, 50, 0, 20, table, (), None, errors, (), {}, {})


@pytest.mark.parametrize(
    ("found", "levels", "covered", "holds"),
    [
        (scores(), UNKNOWN, UNKNOWN, False),
        (scores(level=(-0.4, -1.5, 0.7)), AS_PREDICTED, UNKNOWN, True),
        (scores(level=(-2.0, -3.0, -1.0)), WORSE, UNKNOWN, False),
        (scores(level=(0.9, 0.5, 1.3)), AS_PREDICTED, UNKNOWN, True),  # clear of 0, but by under 1 dB
        (scores(level=(3.0, 2.0, 4.0)), BETTER, UNKNOWN, False),
        (scores(level=(1.0, -9.0, 11.0)), UNKNOWN, UNKNOWN, False),  # 20 dB wide: says nothing
        (scores(share(0.90, 0.97, 0.85, 0.94)), UNKNOWN, WORSE, False),
        (scores(share(0.96, 0.97, 0.955, 0.965)), UNKNOWN, AS_PREDICTED, True),  # one point of a hundred
        (scores(share(1.0, 0.96, 0.985, 1.0)), UNKNOWN, AS_PREDICTED, True),  # better breaks no promise
        (scores(share(0.5, 0.97, 0.01, 0.99)), UNKNOWN, UNKNOWN, False),
        (scores(share(0.5, 0.995, 0.01, 0.99)), UNKNOWN, WORSE, False),
    ],
)
def test_the_rule_of_the_verdict(found: Scores, levels: str, covered: str, *, holds: bool) -> None:
    nothing = np.empty(0)
    verdict = verdict_of(found, nothing, nothing.astype(np.int8), nothing.astype(np.int64))
    assert (verdict.everywhere, verdict.levels, verdict.where_covered) == (UNKNOWN, levels, covered)
    assert verdict.holds is holds


def small(samples: int = 40) -> tuple[CoverageMap, Samples]:
    """Flat ground, a line of samples to the east and one to the north, all of them in time."""
    grid = grid_of(np.zeros((61, 61)), (30, 30))
    coverage = compute_coverage(plain_plan(), grid)
    along = np.linspace(100.0, 1400.0, samples)
    x = np.concatenate((along, 0.0 * along))
    y = np.concatenate((0.0 * along, along))
    column = np.rint(30 + x / 50.0).astype(np.int32)
    row = np.rint(30 - y / 50.0).astype(np.int32)
    facts = tuple(SourceFacts(name, NMEA, 0, samples, samples, samples, {}, None, None) for name in "ab")
    outcome = np.full(2 * samples, IN_TIME, dtype=np.int8)
    source = np.repeat(np.array([0, 1], dtype=np.int32), samples)
    nan = np.full(2 * samples, np.nan)
    return coverage, Samples(x, y, row, column, source, nan, outcome, nan, facts, (), outcome.copy())


def test_blocks_where_map_and_log_differ_are_named_the_worst_first() -> None:
    coverage, samples = small()
    # in the east nothing came from 500 m to 1000 m (15 samples); in the north for two single samples
    outcome = np.where((samples.x_m > 499.0) & (samples.x_m < 999.0), NOT_IN_TIME, IN_TIME).astype(np.int8)
    outcome[[45, 70]] = NOT_IN_TIME
    level = samples.level_dbm.copy()
    level[60:75] = -150.0
    samples = replace(samples, arrived=outcome, level_dbm=level)
    found = wrong_places(coverage, samples, predicted_at(coverage, samples), outcome, 500.0)
    first, *rest = found
    assert (first.number, first.kind, first.samples) == (1, UNKEPT, 15)
    assert first.observed_share == 0.0
    assert 500.0 < first.x_m < 1000.0
    assert first.azimuth_deg == pytest.approx(90.0)
    assert [one.kind for one in rest] == [WEAKER, WEAKER]  # on both sides of 1000 m
    assert rest[0].level_error_db is not None
    assert rest[0].level_error_db < -30.0
    # the other way round: a map that promises nothing
    nothing = replace(coverage, chance=np.zeros_like(coverage.chance))
    kinds = {
        one.kind
        for one in wrong_places(nothing, samples, predicted_at(nothing, samples), outcome, 500.0)
        if one.level_error_db is None
    }
    assert kinds == {UNPROMISED}


def test_the_last_message_decides_and_where_it_is_not_told_the_age() -> None:
    _, samples = small(3)
    arrived = np.array([0, 1, -1, -1, -1, -1], dtype=np.int8)
    judged = judged_outcome(replace(samples, arrived=arrived), 10.0)
    assert judged.outcome.tolist() == [NOT_IN_TIME, IN_TIME, NOT_OBSERVED, IN_TIME, IN_TIME, IN_TIME]
    assert len(judged.notes) == 1
    assert judged.notes[0].startswith("b does not tell whether single messages arrived")


def test_unknown_ground_and_classes_are_taken_from_the_cell() -> None:
    coverage, samples = small(3)
    height = coverage.grid.height_m.copy()
    height[10:, :] = np.nan
    height[28:33] = 0.0
    number = np.zeros(height.shape, dtype=np.uint32)
    number[30] = 2
    grid = replace(coverage.grid, height_m=height, clutter_class=number, clutter_codes=(4, 9))
    blank = compute_coverage(plain_plan(), grid)
    predicted = predicted_at(blank, samples)
    # the first three lie in the row of the base, the others north of it; 750 m and 1400 m there are unknown
    assert predicted.clutter_code.tolist() == [9, 9, 9, -1, -1, -1]
    assert np.isnan(predicted.chance).tolist() == [False, False, False, False, True, True]
    assert predicted.distance_m.tolist() == [100.0, 750.0, 1400.0] * 2


@pytest.mark.parametrize("blocks", [4, 5])
def test_a_few_blocks_of_ground_decide_nothing(blocks: int) -> None:
    """10 dB off, or no corrections where 97 % were promised: on four blocks it may be one hill."""
    errors = level_errors(-10.0 + np.tile([-0.5, 0.5], blocks), np.repeat(np.arange(blocks), 2))
    missed = observed_share(np.full(blocks, 0.97), np.zeros(blocks), np.arange(blocks))
    found = replace(scores(missed), level_errors=errors)
    nothing = np.empty(0)
    verdict = verdict_of(found, nothing, nothing.astype(np.int8), nothing.astype(np.int64))
    expected = UNKNOWN if blocks < 5 else WORSE
    assert (verdict.levels, verdict.where_covered) == (expected, expected)
