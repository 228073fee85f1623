"""No data, no claim: what lies behind a hole is unknown, and nothing else is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from linkplan.propagation.sweep import diffraction_loss, sweep
from tests.propagation.terrain_samples import rolling, rough

JOB: dict[str, Any] = {
    "cell_size_m": 10.0,
    "tx_row": 150,
    "tx_column": 140,
    "tx_height_m": 5.0,
    "rx_height_m": 2.0,
    "frequency_ghz": 0.45,
}
SIZE = (250, 260)
"""Small enough for exact paths by default."""


@pytest.mark.parametrize("radials", [None, 300, 1020, 4000])
def test_a_cell_behind_a_hole_of_one_cell_is_unknown(radials: int | None) -> None:
    """Even where fewer radials are asked for than would see the hole."""
    for hole in ((150, 200), (110, 180), (240, 155), (140, 30)):
        ground = rolling(*SIZE)
        ground[hole] = np.nan
        swept = sweep(ground, radials=radials, **JOB)
        unknown = np.isnan(swept.diffraction_db)
        assert unknown[hole]
        down, right = hole[0] - 150, hole[1] - 140
        for times in (1.5, 2.0, 3.0):
            behind = round(150 + times * down), round(140 + times * right)
            on_map = 0 <= behind[0] < SIZE[0] and 0 <= behind[1] < SIZE[1]
            if on_map and (150 + times * down, 140 + times * right) == behind:
                assert unknown[behind]
        assert unknown.mean() < 0.02
        np.testing.assert_array_equal(np.isnan(swept.fresnel_clearance), unknown)
        np.testing.assert_array_equal(np.isnan(swept.line_of_sight), unknown)


def test_every_path_that_touches_missing_ground_is_unknown() -> None:
    """Swept maps may call more unknown than exact ones, at the rims of shadows, but never less."""
    ground = rough(*SIZE)
    ground[np.random.default_rng(2).random(SIZE) < 0.0005] = np.nan
    ground[150, 140] = 0.0
    by_paths = sweep(ground, **JOB)
    assert by_paths.radials == 0
    exact = np.isnan(by_paths.diffraction_db)
    assert 0.02 < exact.mean() < 0.9
    for radials in (300, 1020, 2040):
        swept = np.isnan(sweep(ground, radials=radials, **JOB).diffraction_db)
        assert not (exact & ~swept).any()
        assert (swept & ~exact).mean() < 0.1


def test_missing_clutter_hides_what_lies_behind_but_not_itself() -> None:
    """Clutter at the receiver's own cell does not enter a path."""
    ground = rolling(*SIZE)
    clutter = np.zeros(SIZE)
    clutter[150, 200] = np.nan
    for radials in (None, 1020):
        loss = sweep(ground, clutter_height_m=clutter, radials=radials, **JOB).diffraction_db
        assert np.isfinite(loss[150, :201]).all()
        assert np.isnan(loss[150, 201:]).all()


def test_a_base_on_missing_ground_knows_nothing() -> None:
    ground = rolling(*SIZE)
    ground[150, 140] = np.nan
    assert np.isnan(diffraction_loss(ground, **JOB)).all()
    assert np.isnan(sweep(ground, radials=1000, **JOB).line_of_sight).all()


def test_infinite_heights_count_as_missing() -> None:
    ground = rolling(*SIZE)
    ground[150, 200] = np.inf
    ground[100, 140] = -np.inf
    for radials in (None, 1020):
        loss = sweep(ground, radials=radials, **JOB).diffraction_db
        assert np.isnan(loss[150, 200:]).all()
        assert np.isnan(loss[:101, 140]).all()
        assert np.isfinite(loss[150, :200]).all()


def test_a_base_walled_in_by_missing_ground_sees_its_yard_only() -> None:
    ground = rolling(*SIZE)
    wall = np.zeros(SIZE, dtype=bool)
    wall[140:161, 130:151] = True
    wall[142:159, 132:149] = False
    ground[wall] = np.nan
    for radials in (None, 1020):
        known = np.isfinite(sweep(ground, radials=radials, **JOB).diffraction_db)
        assert known[142:159, 132:149].all()
        assert known.sum() == 17 * 17
