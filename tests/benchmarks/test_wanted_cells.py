"""What a map costs of which only some cells are wanted. `pytest tests/benchmarks -s` prints the ratios.

A job fills a third of the rectangle, the base stands outside of it. LINKPLAN_BENCHMARK=full adds larger maps.
On one thread the processor's time counts, which other work on the machine disturbs less.
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
    "rolling, 50 m": lambda side: spectral(side, side, 2.2, 50.0),
    "rough, 60 m": lambda side: spectral(side, side, 1.8, 60.0),
    "flat": lambda side: np.full((side, side), 100.0),
}

HIGHEST_COST_OF_A_THIRD = 0.6
"""Of the whole map's time."""

HIGHEST_COST_OF_A_MASK = 1.05
"""Of a mask of everything, and of all but one cell with its scan of the mask, which costs more."""
HIGHEST_COST_OF_A_SCAN = 1.15

pytestmark = pytest.mark.benchmark


def third(side: int) -> NDArray[np.bool_]:
    """An ellipse with its near side a third of the map away from the base."""
    rows, columns = np.mgrid[:side, :side] / side
    return np.asarray(np.hypot((rows - 0.5) / 0.44, (columns - 0.7) / 0.245) < 1.0)


def all_but_one(side: int) -> NDArray[np.bool_]:
    mask = np.ones((side, side), dtype=bool)
    mask[0, 0] = False
    return mask


def everything(side: int) -> NDArray[np.bool_]:
    return np.ones((side, side), dtype=bool)


def seconds(height: NDArray[np.float64], wanted: NDArray[np.bool_] | None) -> float:
    """Time of diffraction and the rest of the loss."""
    side = height.shape[0]
    site = {
        "cell_size_m": 10.0,
        "tx_row": side // 2,
        "tx_column": side // 10,
        "tx_height_m": 5.0,
        "rx_height_m": 2.0,
        "frequency_ghz": 0.45,
    }
    clock = time.process_time if os.environ.get("NUMBA_NUM_THREADS") == "1" else time.perf_counter
    begun = clock()
    swept = sweep(height, wanted=wanted, **site)  # type: ignore[arg-type]
    whole_median_loss(height, swept.diffraction_db, tx_latitude_deg=45.0, wanted=wanted, **site)  # type: ignore[arg-type]
    return clock() - begun


def ratio(ground: str, side: int, mask: Callable[[int], NDArray[np.bool_]], wanted: float) -> float:
    """Time with this mask over that without; measured again while it is above what is wanted."""
    height, cells = GROUND[ground](side), mask(side)
    seconds(height, cells)  # compiles
    some = whole = float("inf")
    for attempt in range(3 * ROUNDS):
        some, whole = min(some, seconds(height, cells)), min(whole, seconds(height, None))
        if attempt >= ROUNDS - 1 and some / whole <= wanted:
            break
    print(
        f"\n{ground:14} {side} cells a side, {cells.mean():.0%} wanted ({mask.__name__}), "
        f"{os.environ.get('NUMBA_NUM_THREADS', 'all')} threads: "
        f"{1e3 * some:.0f} of {1e3 * whole:.0f} ms, ratio {some / whole:.2f}"
    )
    return some / whole


@pytest.mark.parametrize("threads", ["1", "2"])
@pytest.mark.parametrize("side", [1000, 2000] if FULL else [1000])
@pytest.mark.parametrize("ground", GROUND)
def test_a_third_of_the_map(ground: str, side: int, threads: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUMBA_NUM_THREADS", threads)
    assert ratio(ground, side, third, HIGHEST_COST_OF_A_THIRD) <= HIGHEST_COST_OF_A_THIRD


@pytest.mark.parametrize(
    ("mask", "highest"), [(everything, HIGHEST_COST_OF_A_MASK), (all_but_one, HIGHEST_COST_OF_A_SCAN)]
)
def test_a_mask_by_itself_costs_little(
    mask: Callable[[int], NDArray[np.bool_]], highest: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NUMBA_NUM_THREADS", "1")
    assert ratio("rolling, 50 m", 1000, mask, highest) <= highest
