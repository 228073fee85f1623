"""The fit against formulas that are not ours, poor data refused, classes only where they hold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from linkplan.errors import RangeError
from linkplan.fieldcheck.learning import Evidence, Prior, learn
from linkplan.fieldcheck.learning_alike import ground_of, hermite_of, places_of, score_covariance
from linkplan.fieldcheck.learning_certainty import fit
from linkplan.fieldcheck.learning_fit import LAPSE, estimate
from linkplan.fieldcheck.learning_rows import rows_of
from tests.fieldcheck.coverage_run import evidence_of
from tests.fieldcheck.simulated_field import FloatArray, Truth, drive

LOCATION_DB = 1.8
VAGUE = Prior(offset_sd_db=1000.0, sigma_factor=1000.0)


def far_apart(
    margin_db: FloatArray, residual_db: FloatArray, outcome: FloatArray, apart_m: float = 5000.0
) -> Evidence:
    """Samples on a line, each in its own block, all weights one."""
    n = margin_db.size
    return Evidence(
        margin_db,
        residual_db,
        outcome.astype(np.int8),
        np.full(n, -1),
        apart_m * np.arange(n),
        np.zeros(n),
    )


def independent(n: int, offset_db: float, sigma_db: float, seed: int) -> tuple[FloatArray, FloatArray]:
    """Margins in the fit's steps, and residuals."""
    rng = np.random.default_rng(seed)
    margin = np.round(rng.uniform(-20.0, 20.0, n) * 4.0) / 4.0
    return margin, rng.normal(offset_db, math.hypot(sigma_db, LOCATION_DB), n)


def test_independent_levels_give_mean_and_spread() -> None:
    margin, residual = independent(300, -3.0, 7.0, 1)
    point = estimate(rows_of(far_apart(margin, residual, np.full(300, -1.0))), LOCATION_DB, VAGUE)
    assert point.offset_db == pytest.approx(residual.mean(), abs=1e-3)
    assert point.sigma_db == pytest.approx(math.sqrt(residual.var() - LOCATION_DB**2), rel=1e-3)


def test_independent_outcomes_give_the_probit_fit() -> None:
    margin, residual = independent(600, -3.0, 7.0, 2)
    good = margin + residual > 0.0
    point = estimate(rows_of(far_apart(margin, np.full(600, math.nan), good)), LOCATION_DB, VAGUE)

    def misfit(values: FloatArray) -> float:
        p = stats.norm.cdf((margin + values[0]) / values[1])
        p = LAPSE + (1.0 - 2.0 * LAPSE) * p
        return -float(np.log(np.where(good, p, 1.0 - p)).sum())

    best = optimize.minimize(misfit, [0.0, 6.0], method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-9})
    assert point.offset_db == pytest.approx(best.x[0], abs=2e-3)
    assert math.hypot(point.sigma_db, LOCATION_DB) == pytest.approx(best.x[1], rel=1e-3)


def test_levels_where_heard_and_outcomes_elsewhere_are_not_biased() -> None:
    margin, residual = independent(4000, -3.0, 7.0, 3)
    good = margin + residual > 0.0
    seen = far_apart(margin, np.where(good, residual, math.nan), good)
    found = fit(rows_of(seen), LOCATION_DB, VAGUE)
    # Heard levels alone are too strong by far: a mean of about +2 dB.
    assert residual[good].mean() > 0.0
    assert found.point.offset_db == pytest.approx(-3.0, abs=3.0 * found.offset_se_db)
    assert found.offset_se_db < 0.35
    assert found.point.sigma_db == pytest.approx(7.0, rel=0.06)


def test_standard_error_of_independent_levels_is_the_textbook_one() -> None:
    margin, residual = independent(120, 2.0, 6.0, 4)
    found = fit(rows_of(far_apart(margin, residual, np.full(120, -1.0))), LOCATION_DB, VAGUE)
    assert found.offset_se_db == pytest.approx(residual.std(ddof=1) / math.sqrt(120), rel=0.02)
    # Of the logarithm of a normal's standard deviation: 1 / sqrt(2 n), here times s^2 / sigma^2 = 1.09.
    assert found.log_sigma_se == pytest.approx(1.09 / math.sqrt(240), rel=0.35)


def test_standing_still_is_no_new_evidence() -> None:
    margin, residual = independent(40, 2.0, 6.0, 5)
    once = far_apart(margin, residual, np.full(40, -1.0))
    often = Evidence(*(np.repeat(a, 500) for a in vars(once).values()))
    a, b = (fit(rows_of(e), LOCATION_DB, Prior()) for e in (once, often))
    assert b.point.offset_db == pytest.approx(a.point.offset_db, abs=1e-6)
    assert b.offset_interval_db.low == pytest.approx(a.offset_interval_db.low, abs=1e-6)
    assert b.sigma_interval_db.high == pytest.approx(a.sigma_interval_db.high, abs=1e-6)


def test_few_samples_are_drawn_to_the_default() -> None:
    margin, residual = independent(8, 12.0, 6.0, 6)
    evidence = far_apart(margin, residual, np.full(8, -1.0))
    firm = estimate(rows_of(evidence), LOCATION_DB, Prior(offset_sd_db=1.0))
    loose = estimate(rows_of(evidence), LOCATION_DB, Prior(offset_sd_db=8.0))
    assert 0.0 < firm.offset_db < loose.offset_db < residual.mean()
    # A normal prior of 1 dB against a mean of variance s^2 / 8, by hand.
    s2 = math.hypot(firm.sigma_db, LOCATION_DB) ** 2
    assert firm.offset_db == pytest.approx(residual.mean() / (1.0 + s2 / 8.0), rel=1e-3)


def test_covariance_of_outcomes_is_sheppards() -> None:
    """Two outcomes at even odds whose normals correlate by r covary by arcsin(r) / (2 pi) [Sheppard 1899]."""
    evidence = far_apart(np.zeros(2), np.full(2, math.nan), np.array([1, 0]), apart_m=200.0)
    rows = rows_of(evidence)
    z, step = np.zeros(2), np.array([[1.0, 0.0], [1.0, 0.0]])
    silent = (np.zeros((0, 2)), np.zeros((2, 2)))
    places = places_of(ground_of(rows.tiles), rows, silent, hermite_of(rows, z, step, 1.0, 1.0))
    distance = 200.0
    for r in (0.2, 0.5):
        largest = r / math.exp(-float(places.ground.lag_m[0, 1]) / distance)
        total = score_covariance(places, distance, largest)[0, 0]
        assert total == pytest.approx(2.0 * math.asin(r) / (2.0 * math.pi), rel=0.02)


def test_covariance_of_levels_is_the_normals() -> None:
    """t and t^2 - 1 of two normals that correlate by r covary by r and 2 r^2."""
    rows = rows_of(far_apart(np.zeros(2), np.zeros(2), np.full(2, -1.0), apart_m=600.0))
    silent = (np.zeros((2, 2)), np.zeros((0, 2)))
    places = places_of(
        ground_of(rows.tiles), rows, silent, hermite_of(rows, np.zeros(0), np.zeros((0, 2)), 1.0, 1.0)
    )
    r = 0.7 * math.exp(-float(places.ground.lag_m[0, 1]) / 500.0)
    found = score_covariance(places, 500.0, 0.7)
    assert found == pytest.approx(np.array([[2.0 * r, 0.0], [0.0, 4.0 * r * r]]), rel=1e-5)


@pytest.mark.parametrize("distance_m", [75.0, 150.0, 300.0])
def test_distance_of_likeness_is_seen(distance_m: float) -> None:
    seen = []
    for seed in range(4):
        one = drive(Truth(-2.0, 7.0, distance_m), seed)
        seen.append(fit(rows_of(evidence_of(one, "levels")), LOCATION_DB, Prior()).alike.distance_m)
    assert distance_m / 1.6 < float(np.exp(np.mean(np.log(seen)))) < distance_m * 1.6


# What it must refuse


def poor(kind: str) -> Evidence:
    good = evidence_of(drive(Truth(-3.0, 6.0, 150.0), 1), "outcomes")
    n = len(good)
    if kind == "few blocks":
        return replace(good, x_m=good.x_m % 600.0, y_m=good.y_m % 500.0)
    if kind == "a walk of 30 s":
        some = slice(0, 30)
        walk = Evidence(*(a[some] for a in vars(good).values()))
        return replace(walk, x_m=100.0 + 1.4 * np.arange(30), y_m=np.full(30, 100.0))
    if kind == "all in time":
        return replace(good, outcome=np.ones(n, dtype=np.int8))
    if kind == "none in time":
        return replace(good, outcome=np.zeros(n, dtype=np.int8))
    if kind == "separated":
        return replace(good, outcome=(good.margin_db > 3.0).astype(np.int8))
    if kind == "failures in one place":
        corner = np.hypot(good.x_m - good.x_m[0], good.y_m - good.y_m[0]) < 100.0
        return replace(good, outcome=np.where(corner, 0, 1).astype(np.int8))
    if kind == "unknown ground":
        return replace(good, margin_db=np.full(n, math.nan))
    return Evidence(*(a[:0] for a in vars(good).values()))


@pytest.mark.parametrize(
    ("kind", "word"),
    [
        ("few blocks", "blocks are needed"),
        ("a walk of 30 s", "one spot"),
        ("all in time", "in time at all"),
        ("none in time", "late or missing at all"),
        ("separated", "cleanly"),
        ("failures in one place", "late or missing in"),
        ("unknown ground", "no sample"),
        ("nothing", "no sample"),
    ],
)
def test_poor_data_change_nothing(kind: str, word: str) -> None:
    found = learn(poor(kind), LOCATION_DB)
    assert not found.worth_it
    assert word in found.reasons[0]
    assert (found.offset_db, found.sigma_db, found.class_offsets, found.check) == (0.0, 6.0, (), None)
    # What is known is what was believed: 8 dB about 0, 1.645 of them either way.
    assert found.offset_interval_db.high == pytest.approx(8.0 * 1.6449, rel=1e-3)


def test_unknown_ground_is_left_out_and_counted() -> None:
    whole = evidence_of(drive(Truth(-4.0, 6.0, 100.0), 2), "outcomes")
    part = replace(whole, margin_db=np.where(np.arange(len(whole)) % 5 == 0, math.nan, whole.margin_db))
    found = learn(part, LOCATION_DB)
    assert (found.unknown_ground, found.outcomes, found.levels) == (500, 2000, 0)
    kept = Evidence(*(a[np.isfinite(part.margin_db)] for a in vars(part).values()))
    assert learn(kept, LOCATION_DB).offset_db == pytest.approx(found.offset_db)


def test_a_true_prediction_is_mostly_left_alone() -> None:
    used = [
        learn(evidence_of(drive(Truth(0.0, 6.0, 100.0), seed), "outcomes"), LOCATION_DB).worth_it
        for seed in range(12)
    ]
    assert sum(used) <= 2


def test_a_wrong_prediction_is_mended_on_ground_kept_out() -> None:
    for seed in range(4):
        one = learn(evidence_of(drive(Truth(-6.0, 8.0, 100.0), seed), "outcomes"), LOCATION_DB)
        assert one.worth_it, one.reasons
        assert one.check is not None
        assert one.check.after.brier < one.check.before.brier
        assert one.check.after.log_score > one.check.before.log_score
        assert -9.0 < one.offset_db < -3.0


def test_a_stray_epoch_does_not_rule_the_fit() -> None:
    good = evidence_of(drive(Truth(-3.0, 6.0, 100.0), 4), "outcomes")
    outcome, margin = good.outcome.copy(), good.margin_db.copy()
    outcome[::500], margin[::500] = 0, 60.0
    a, b = (
        fit(rows_of(e), LOCATION_DB, Prior()).point
        for e in (good, replace(good, outcome=outcome, margin_db=margin))
    )
    assert b.sigma_db == pytest.approx(a.sigma_db, rel=0.15)
    assert b.offset_db == pytest.approx(a.offset_db, abs=0.6)


def test_outcomes_that_do_not_follow_the_margin_are_no_calibration() -> None:
    good = evidence_of(drive(Truth(0.0, 6.0, 100.0), 3), "outcomes")
    coin = np.random.default_rng(1).integers(0, 2, len(good)).astype(np.int8)
    found = learn(replace(good, outcome=coin), LOCATION_DB)
    assert not found.worth_it
    assert "another cause" in found.reasons[0]


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(0, 2**31), st.integers(0, 200), st.floats(0.0, 5.0), st.floats(-2.0, 2.0))
def test_any_evidence_gives_a_finite_answer(seed: int, n: int, log_extent: float, log_spread: float) -> None:
    rng = np.random.default_rng(seed)
    margin = rng.normal(rng.uniform(-30.0, 30.0), 10.0**log_spread, n)
    margin[rng.random(n) < 0.2] = math.nan
    level = np.where(rng.random(n) < rng.choice([0.0, 0.5, 1.0]), rng.normal(-5.0, 8.0, n), math.nan)
    x, y = rng.uniform(-1.0, 1.0, (2, n)) * 10.0**log_extent
    x[rng.random(n) < 0.1] = math.nan
    outcome = rng.integers(-1, 2, n).astype(np.int8)
    found = learn(Evidence(margin, level, outcome, rng.integers(-1, 3, n), x, y), LOCATION_DB)
    assert found.offset_interval_db.holds(found.offset_db)
    assert found.sigma_interval_db.holds(found.sigma_db)
    assert found.samples + found.unknown_ground + found.not_observed == n
    assert found.worth_it == (found.reasons == ())


# Classes of clutter


def with_classes(kind: str, wood_db: float, wood: FloatArray | None = None) -> Evidence:
    one = drive(Truth(-2.0, 5.0, 80.0), 7)
    is_wood = (np.floor(one.x_m / 400.0) % 3 == 0) if wood is None else wood
    residual = one.level_residual_db + wood_db * is_wood
    moved = replace(one, level_residual_db=residual, outcome=(one.margin_db + residual > 0).astype(np.int8))
    return replace(evidence_of(moved, kind), class_code=np.where(is_wood, 6, 2))


@pytest.mark.parametrize("kind", ["levels", "outcomes"])
def test_a_class_that_differs_gets_its_own_offset(kind: str) -> None:
    found = learn(with_classes(kind, -9.0), LOCATION_DB)
    by_code = {c.code: c for c in found.class_offsets}
    assert found.worth_it
    assert set(by_code) == {2, 6}
    apart = by_code[6].offset_db - by_code[2].offset_db
    assert -11.0 < apart < -6.0
    assert by_code[6].blocks >= 8


def test_classes_that_do_not_differ_get_none() -> None:
    assert learn(with_classes("levels", 0.0), LOCATION_DB).class_offsets == ()


def test_a_class_of_few_blocks_gets_none() -> None:
    one = drive(Truth(-2.0, 5.0, 80.0), 7)
    corner = np.hypot(one.x_m - one.x_m[0], one.y_m - one.y_m[0]) < 150.0
    found = learn(with_classes("levels", -9.0, corner), LOCATION_DB)
    assert 6 not in {c.code for c in found.class_offsets}


def test_scatter_out_of_range() -> None:
    with pytest.raises(RangeError, match="location_sigma_db"):
        learn(poor("nothing"), -1.0)
