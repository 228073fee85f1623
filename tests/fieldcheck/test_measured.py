"""What real measurements at 462.7 MHz can say of the fit and of its defaults."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from linkplan.fieldcheck.blocks import BLOCK_M
from tests.fieldcheck.measured import (
    Law,
    Links,
    enough_heard,
    fit_law,
    fit_variogram,
    halves,
    likeness_of_receivers,
    read,
    variogram,
)
from tests.fieldcheck.measured_run import learned_from


@pytest.fixture(scope="module")
def receivers() -> list[Links]:
    return [links for links in read() if enough_heard(links)]


def test_a_law_is_recovered_through_noise() -> None:
    rng = np.random.default_rng(1)
    distance = 10.0 ** rng.uniform(1.8, 3.3, 4000)
    truth = Law(-90.0, 40.0, 8.0)
    level = np.maximum(truth.at(distance) + rng.normal(0.0, 8.0, 4000), -95.0)
    where = rng.uniform(0.0, 2000.0, (2, 4000))
    links = Links(0, *where, distance, level, np.full(4000, -88.0), np.arange(4000))
    found = fit_law(links)
    assert found.at_1_km_db == pytest.approx(-90.0, abs=0.8)
    assert found.slope_db == pytest.approx(40.0, abs=2.0)
    assert found.sigma_db == pytest.approx(8.0, abs=0.5)


def test_levels_fall_with_distance(receivers: list[Links]) -> None:
    assert len(receivers) == 17
    ranks = [stats.spearmanr(links.distance_m, links.level_db)[0] for links in receivers]
    assert max(ranks) < -0.4
    assert np.median(ranks) < -0.6


def test_the_default_sigma_is_of_the_right_size(receivers: list[Links]) -> None:
    """Without terrain, the spread about a distance law is more than a prediction's error should be."""
    spread = np.array([fit_law(links).sigma_db for links in receivers])
    assert 6.0 < np.median(spread) < 10.0
    share, _, _ = fit_variogram(variogram(receivers))
    slow = float(np.median(spread)) * math.sqrt(1.0 - share)
    assert 5.0 < slow < 8.5


def test_blocks_are_larger_than_the_distance_over_which_levels_are_alike(receivers: list[Links]) -> None:
    _, _, distance = fit_variogram(variogram(receivers))
    assert 40.0 < distance < BLOCK_M / 1.5
    assert -0.1 < np.median(likeness_of_receivers(receivers)) < 0.5


@pytest.mark.parametrize("levels", [False, True])
def test_calibration_of_one_receiver_holds_on_ground_kept_out(receivers: list[Links], levels: bool) -> None:
    links = next(one for one in receivers if one.receiver == 7)
    found = learned_from(halves(links), levels=levels)
    assert found.worth_it
    assert found.check is not None
    assert found.check.after.log_score > found.check.before.log_score
    assert found.sigma_interval_db.low < fit_law(links).sigma_db
