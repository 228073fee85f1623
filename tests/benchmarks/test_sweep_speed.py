"""The sweep must stay near the price of a viewshed. `pytest tests/benchmarks -s` prints the table.

LINKPLAN_BENCHMARK=full adds all terrain and sizes from 500 to 4000 cells a side.
"""

from __future__ import annotations

import os

import pytest

from tests.benchmarks.viewshed_ratio import VIEWSHED, Measurement, header, measure

FULL = os.environ.get("LINKPLAN_BENCHMARK") == "full"

HIGHEST_RATIO = 2.5
"""Of the viewshed's wall time at 2001 x 2001, rolling."""

HIGHEST_GROWTH = 1.5
"""Of the cost a cell from 500 to 4000 cells a side."""

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(VIEWSHED is None, reason="gdal_viewshed is not installed (Debian: gdal-bin)"),
]


def quietest(terrain: str, side: int, wanted: float, attempts: int = 3) -> Measurement:
    """Measured again while the ratio is above what is wanted: other work on the machine only adds time."""
    best = measure(terrain, side)
    for _ in range(attempts - 1):
        if best.ratio <= wanted:
            break
        best = min(best, measure(terrain, side), key=lambda measured: measured.ratio)
    print(f"\n{header()}\n{best.line()}")
    return best


def test_rolling_map_of_2001_cells_a_side_beside_the_viewshed() -> None:
    assert quietest("rolling", 2001, HIGHEST_RATIO).ratio <= HIGHEST_RATIO


@pytest.mark.skipif(not FULL, reason="set LINKPLAN_BENCHMARK=full")
@pytest.mark.parametrize("terrain", ["rolling", "rough", "flat"])
def test_cost_a_cell_hardly_grows_with_the_map(terrain: str) -> None:
    measured = [measure(terrain, side) for side in (500, 1000, 2001, 4000)]
    print("\n" + "\n".join([header(), *(one.line() for one in measured)]))
    assert measured[-1].ns_per_cell < HIGHEST_GROWTH * measured[0].ns_per_cell
