"""What the rest of P.1812 costs beside the sweep of the same map. `pytest tests/benchmarks -s` prints it.

LINKPLAN_BENCHMARK=full adds all ground, latitudes and 2001 cells a side.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from linkplan.propagation.sweep import sweep
from linkplan.propagation.sweep_whole import whole_median_loss
from tests.propagation.terrain_samples import spectral

FULL = os.environ.get("LINKPLAN_BENCHMARK") == "full"
ROUNDS = 5

GROUND: dict[str, Callable[[int], NDArray[np.float64]]] = {
    "flat": lambda side: np.full((side, side), 100.0),
    "rolling, 5 m": lambda side: spectral(side, side, 2.2, 5.0),
    "rolling, 50 m": lambda side: spectral(side, side, 2.2, 50.0),
    "rough, 60 m": lambda side: spectral(side, side, 1.8, 60.0),
}
"""With the standard deviation of the heights."""

pytestmark = pytest.mark.benchmark


def ratio(ground: str, side: int, cell_size_m: float, latitude_deg: float) -> float:
    """Time of the rest over that of the sweep, the quickest of some rounds of each."""
    height = GROUND[ground](side)
    site = {
        "cell_size_m": cell_size_m,
        "tx_row": side // 2,
        "tx_column": side // 2,
        "tx_height_m": 5.0,
        "rx_height_m": 2.0,
        "frequency_ghz": 0.45,
    }
    swept_s = whole_s = float("inf")
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        swept = sweep(height, **site)  # type: ignore[arg-type]
        between = time.perf_counter()
        whole_median_loss(height, swept.diffraction_db, tx_latitude_deg=latitude_deg, **site)  # type: ignore[arg-type]
        done = time.perf_counter()
        swept_s, whole_s = min(swept_s, between - begun), min(whole_s, done - between)
    cells = side * side
    print(
        f"\n{ground:14} {side} cells of {cell_size_m:g} m, {latitude_deg:g} degrees: "
        f"sweep {1e9 * swept_s / cells:.0f} ns a cell, the rest {1e9 * whole_s / cells:.0f} ns, "
        f"ratio {whole_s / swept_s:.2f}"
    )
    return whole_s / swept_s


@pytest.mark.parametrize(("ground", "highest"), [("rough, 60 m", 3.0), ("rolling, 50 m", 5.0), ("flat", 8.0)])
def test_the_rest_stays_beside_the_sweep(ground: str, highest: float) -> None:
    assert ratio(ground, 1001, 10.0, 45.0) <= highest


@pytest.mark.skipif(not FULL, reason="set LINKPLAN_BENCHMARK=full")
@pytest.mark.parametrize("latitude_deg", [0.0, 25.0, 45.0])
@pytest.mark.parametrize("cell_size_m", [10.0, 30.0])
@pytest.mark.parametrize("side", [1001, 2001])
@pytest.mark.parametrize("ground", GROUND)
def test_all_ground_is_measured(ground: str, side: int, cell_size_m: float, latitude_deg: float) -> None:
    # near the equator most cells of wide smooth ground need all of ducting: 25 was measured at most
    assert ratio(ground, side, cell_size_m, latitude_deg) <= 40.0
