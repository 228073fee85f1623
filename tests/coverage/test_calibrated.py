"""What logs have taught is in every prediction: map, path, chance, and siting by its own way."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from statistics import NormalDist

import numpy as np
import pytest

from linkplan.coverage.area import cell_levels, compute_coverage, with_same_losses
from linkplan.coverage.calibrated import at_worst_for_others, unwanted_offset_db
from linkplan.coverage.cautions import study_warnings
from linkplan.coverage.link import Terminal, compute_link
from linkplan.plan.calibration import Calibration
from linkplan.plan.model import Plan
from linkplan.study import base_terminal
from linkplan.terrain.grid import TerrainGrid

LEARNED = Calibration(-4.0, 3.0, date(2026, 5, 13), 2, 3412, 480, 24)
CLASSED = replace(LEARNED, class_offsets_db={3: -2.5, 7: 9.0})
SIZE = 41


@pytest.fixture
def ground(make_grid: Callable[..., TerrainGrid]) -> TerrainGrid:
    """Rolling ground; class 1 in the west, 3 in the east, unknown in the north."""
    rows, columns = np.mgrid[:SIZE, :SIZE]
    grid = make_grid(100.0 + 8.0 * np.sin(rows / 5.0) + 6.0 * np.cos(columns / 4.0), (20, 20))
    number = np.where(columns < 25, 1, 2).astype(np.uint32)
    number[:6] = 0
    return replace(grid, clutter_class=number, clutter_codes=(1, 3))


@pytest.mark.parametrize("learned", [None, LEARNED, CLASSED], ids=["plain", "offset", "classes"])
def test_map_and_path_learn_the_same(
    make_plan: Callable[..., Plan], ground: TerrainGrid, learned: Calibration | None
) -> None:
    plan = make_plan(calibration=learned)
    coverage, plain = compute_coverage(plan, ground), compute_coverage(make_plan(), ground)
    by_class = {0: 0.0, 1: 0.0, 2: 0.0}
    if learned is not None:
        by_class = {0: -4.0, 1: -4.0, 2: -6.5 if learned is CLASSED else -4.0}
    for row, column in ((30, 2), (12, 35), (2, 30), (39, 39), (25, 10)):
        assert ground.clutter_class is not None
        offset_db = by_class[int(ground.clutter_class[row, column])]
        easting, northing = ground.frame.to_job(*ground.centre_of(row, column))
        link = compute_link(
            plan, ground, base_terminal(plan), Terminal("rover", float(easting), float(northing))
        )
        assert coverage.loss_db[row, column] == plain.loss_db[row, column]
        assert coverage.received_dbm[row, column] == pytest.approx(link.received_dbm, abs=0.025)
        assert coverage.margin_db[row, column] - plain.margin_db[row, column] == pytest.approx(
            offset_db, abs=1e-4
        )
        assert link.sigma_db == coverage.sigma_db
        # the lines above add up to the level
        above = [one.value for one in link.budget if one.kind in ("start", "gain", "loss")]
        assert math.fsum(above) == pytest.approx(
            link.received_dbm, abs=0.005
        )  # smaller remainders have no line
        shown = [one.value for one in link.budget if one.label == "learned from field logs"]
        assert shown == ([] if learned is None else [pytest.approx(offset_db)])


def test_the_learned_error_stands_in_place_of_the_guess(
    make_plan: Callable[..., Plan], ground: TerrainGrid
) -> None:
    plain, plan = make_plan(), make_plan(calibration=LEARNED)
    before, after = compute_coverage(plain, ground), compute_coverage(plan, ground)
    # scatter within a cell stays: the spread is hypot(scatter, 6 dB), then hypot(scatter, 3 dB)
    assert before.sigma_db**2 - after.sigma_db**2 == pytest.approx(6.0**2 - 3.0**2)
    wanted = NormalDist().cdf(float(before.margin_db[39, 39] - 4.0) / after.sigma_db)
    assert after.chance[39, 39] == pytest.approx(wanted, abs=1e-5)
    guessed = replace(plain.environment, prediction_sigma_assumed=True)
    warned = study_warnings(replace(plain, environment=guessed), before)
    assert any("logs from the field" in one for one in warned)
    assert not any("logs from the field" in one for one in study_warnings(plan, after))


def test_other_values_over_the_same_losses_are_the_whole_computation(
    make_plan: Callable[..., Plan], ground: TerrainGrid
) -> None:
    other = make_plan(calibration=CLASSED, goal=replace(make_plan().goal, chance=0.8))
    quick, whole = (
        with_same_losses(other, compute_coverage(make_plan(), ground)),
        compute_coverage(other, ground),
    )
    for name in ("loss_db", "margin_db", "chance", "class_index", "line_of_sight", "fresnel_clearance"):
        assert np.array_equal(getattr(quick, name), getattr(whole, name), equal_nan=True)
    assert (quick.sigma_db, quick.classes) == (whole.sigma_db, whole.classes)


def test_some_cells_alone_have_the_levels_of_the_whole_map(
    make_plan: Callable[..., Plan], ground: TerrainGrid
) -> None:
    plan = make_plan(calibration=CLASSED)
    coverage = compute_coverage(plan, ground)
    wanted = np.zeros(ground.shape, dtype=bool)
    wanted[7:11, 20:30] = True
    level = cell_levels(plan, ground, coverage.loss_db, wanted)
    assert np.array_equal(level[wanted], coverage.received_dbm[wanted])


def test_unwanted_signals_take_the_worse_case(make_plan: Callable[..., Plan], ground: TerrainGrid) -> None:
    at = [ground.frame.to_job(*ground.centre_of(row, column)) for row, column in ((30, 2), (30, 30), (2, 2))]
    easting, northing = np.array(at).T
    learned = replace(LEARNED, offset_db=1.0, class_offsets_db={3: -2.5, 1: 2.0})
    # west: 1 + 2; east: 1 - 2.5, no gain; north: unknown class, 1
    assert unwanted_offset_db(make_plan(calibration=learned), ground, easting, northing).tolist() == [3, 0, 1]
    assert unwanted_offset_db(make_plan(), ground, easting, northing).tolist() == [0, 0, 0]
    spared = at_worst_for_others(make_plan(calibration=replace(learned, offset_db=-1.0))).calibration
    # -1 in general: 0; -1 - 2.5: 0; -1 + 2 = 1
    assert spared is not None
    assert spared.offset_db == 0.0
    assert spared.class_offsets_db == {3: 0.0, 1: 1.0}
