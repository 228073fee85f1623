"""A map of which only some cells are wanted: those have the numbers of the whole map, to the last bit."""

from __future__ import annotations

import signal
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from linkplan.errors import RangeError
from linkplan.propagation.sweep import SweepResult, sweep
from linkplan.propagation.sweep_whole import whole_median_loss
from tests.propagation import terrain_samples
from tests.propagation.test_sweep_whole import WITHIN_DB, Site

Mask = NDArray[np.bool_]

BASIN = Path(__file__).parents[2] / "dem_samples" / "basin_dem_30m.tif"


def mask_of(kind: str, shape: tuple[int, int], base: tuple[int, int], random: np.random.Generator) -> Mask:
    """Cells that somebody may want."""
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    mask = np.zeros(shape, dtype=bool)
    row, column = (int(random.integers(0, size)) for size in shape)
    if kind == "single":
        mask[row, column] = True
    elif kind == "base":
        mask[base] = True
    elif kind == "scattered":
        mask = random.random(shape) < random.choice([0.01, 0.1, 0.5])
    elif kind == "disc":
        mask = np.hypot(rows - row, columns - column) < random.uniform(0.5, 0.6 * max(shape))
    elif kind == "ring":
        away = np.hypot(rows - base[0], columns - base[1])
        mask = (away > 0.3 * max(shape)) & (away < 0.5 * max(shape))
    elif kind == "strip":  # along a diagonal, where two wedges meet
        mask = np.abs(np.abs(rows - base[0]) - np.abs(columns - base[1])) < 2
    elif kind == "all":
        mask[:] = True
    elif kind == "all but one":
        mask[:] = True
        mask[row, column] = False
    return mask


KINDS = ("none", "single", "base", "scattered", "disc", "ring", "strip", "all", "all but one")


@st.composite
def jobs(draw: st.DrawFn, smallest: int = 1) -> tuple[Any, Any, dict[str, Any], Mask]:
    """Ground, clutter, a base (corners and edges often) and a mask."""
    rows, columns = draw(st.integers(smallest, 90)), draw(st.integers(smallest, 90))
    seed = draw(st.integers(0, 10_000))
    random = np.random.default_rng(seed)
    ground = draw(st.sampled_from(terrain_samples.KINDS))(rows, columns, seed)
    clutter = None
    if draw(st.booleans()):
        clutter = np.where(random.random(ground.shape) < 0.3, random.uniform(0.0, 25.0, ground.shape), 0.0)
    base = (
        draw(st.one_of(st.sampled_from([0, rows - 1]), st.integers(0, rows - 1))),
        draw(st.one_of(st.sampled_from([0, columns - 1]), st.integers(0, columns - 1))),
    )
    holes = draw(st.sampled_from([0.0, 0.0, 0.002, 0.05]))
    missing = random.random(ground.shape) < holes
    missing[base] = False
    ground[missing] = np.nan
    job = {
        "cell_size_m": draw(st.sampled_from([10.0, 30.0, 90.0, 400.0])),
        "tx_row": base[0],
        "tx_column": base[1],
        "tx_height_m": draw(st.sampled_from([1.0, 2.5, 5.0, 30.0])),
        "rx_height_m": draw(st.sampled_from([1.0, 2.0, 4.0])),
        "frequency_ghz": draw(st.sampled_from([0.16, 0.45, 0.9])),
    }
    return ground, clutter, job, mask_of(draw(st.sampled_from(KINDS)), ground.shape, base, random)


def assert_cells_of_the_whole(some: NDArray[Any], whole: NDArray[Any], wanted: Mask) -> None:
    """Equal where wanted, bit by bit; unknown elsewhere."""
    np.testing.assert_array_equal(some[wanted], whole[wanted])
    assert np.isnan(some[~wanted]).all()


@settings(max_examples=200, deadline=None)
@given(drawn=jobs(), precision=st.sampled_from(["single", "double"]), density=st.sampled_from([0, 1, 1.7, 4]))
def test_wanted_cells_of_the_sweep(drawn: Any, precision: str, density: float) -> None:
    """Density 0: the sweep's own choice, an exact path to every cell of maps as small as these."""
    ground, clutter, job, wanted = drawn
    job["radials"] = max(8, int(2 * density * sum(ground.shape))) if density else None
    whole = sweep(ground, clutter_height_m=clutter, precision=precision, **job)
    some = sweep(ground, clutter_height_m=clutter, precision=precision, wanted=wanted, **job)
    assert_cells_of_the_whole(some.diffraction_db, whole.diffraction_db, wanted)
    assert_cells_of_the_whole(some.fresnel_clearance, whole.fresnel_clearance, wanted)
    assert some.radials == whole.radials


@settings(max_examples=150, deadline=None)
@given(
    drawn=jobs(smallest=8), latitude_deg=st.sampled_from([0.0, 20.0, 50.0]), scale=st.sampled_from([0.05, 1])
)
def test_wanted_cells_of_the_whole_loss(drawn: Any, latitude_deg: float, scale: float) -> None:
    """Also where the diffraction of all other cells is unknown."""
    ground, clutter, job, wanted = drawn
    ground = scale * ground  # smooth ground: ducting and scatter count
    diffraction = sweep(ground, clutter_height_m=clutter, **job).diffraction_db
    whole = whole_median_loss(ground, diffraction, tx_latitude_deg=latitude_deg, **job)
    diffraction[~wanted] = np.nan
    some = whole_median_loss(ground, diffraction, tx_latitude_deg=latitude_deg, wanted=wanted, **job)
    assert_cells_of_the_whole(some, whole, wanted)


def large(kind: str) -> tuple[Any, dict[str, Any]]:
    """Ground that is swept by radials, and a base outside of its middle."""
    ground = {"hills": terrain_samples.rolling, "rough": terrain_samples.rough}[kind](420, 500)
    site = {"cell_size_m": 30.0, "tx_row": 60, "tx_column": 90, "tx_height_m": 5.0, "rx_height_m": 2.0}
    return ground, {**site, "frequency_ghz": 0.45}


@pytest.mark.parametrize("kind", ["disc", "scattered", "ring", "single", "none", "all but one"])
@pytest.mark.parametrize("ground", ["hills", "rough"])
def test_wanted_cells_of_a_larger_map(ground: str, kind: str) -> None:
    """With its own choice of radials; the mask changes neither their number nor the error told of them."""
    height, job = large(ground)
    wanted = mask_of(kind, height.shape, (60, 90), np.random.default_rng(5))
    whole, some = sweep(height, **job), sweep(height, wanted=wanted, **job)
    assert whole.radials > 0
    assert (some.radials, some.radial_error) == (whole.radials, whole.radial_error)
    for part in ("diffraction_db", "fresnel_clearance", "line_of_sight"):
        assert_cells_of_the_whole(getattr(some, part), getattr(whole, part), wanted)
    losses = [
        whole_median_loss(height, one.diffraction_db, tx_latitude_deg=5.0, wanted=mask, **job)
        for one, mask in ((whole, None), (some, wanted))
    ]
    assert_cells_of_the_whole(losses[1], losses[0], wanted)


def test_a_bank_beside_the_base_does_not_shut_out_ducting() -> None:
    """Its top is the base's horizon, one step away: every cell beyond it is the whole Recommendation."""
    ground = np.zeros((5, 130))
    ground[:, 4] = 8.0
    site = Site(ground, 0.0 * ground, 250.0, 2, 3, 2.0, 2.0, 0.45, 0.0)
    diffraction, expected = np.full(ground.shape, np.nan), np.full(ground.shape, np.nan)
    for column in range(20, 130):
        whole = site.whole(2, column)
        diffraction[2, column] = whole.diffraction_median_db
        expected[2, column] = whole.basic_transmission_loss_db
    np.testing.assert_allclose(site.map(diffraction), expected, atol=WITHIN_DB, rtol=0.0)


@pytest.mark.parametrize("alone", [False, True])
def test_a_bank_beside_the_rover_does_not_shut_out_ducting(alone: bool) -> None:
    """On real ground; the cell's neighbours have told where to look for horizons, or nobody has."""
    with rasterio.open(BASIN) as raster:
        ground = raster.read(1).astype(np.float64)
    clutter = np.where(np.random.default_rng(1).random(ground.shape) < 0.1, 8.0, 0.0)
    site = Site(ground, clutter, 30.0, 215, 235, 5.0, 2.0, 0.45, 0.0)
    job = {"cell_size_m": 30.0, "tx_row": 215, "tx_column": 235, "tx_height_m": 5.0, "rx_height_m": 2.0}
    diffraction = sweep(ground, clutter_height_m=clutter, frequency_ghz=0.45, **job).diffraction_db
    cell = (376, 220)
    expected = site.whole(*cell)
    diffraction[cell] = expected.diffraction_median_db
    assert expected.basic_transmission_loss_db < expected.free_space_db + diffraction[cell] - 0.5
    wanted = np.zeros(ground.shape, dtype=bool)
    wanted[cell] = True
    loss = whole_median_loss(
        ground, diffraction, frequency_ghz=0.45, tx_latitude_deg=0.0, wanted=wanted if alone else None, **job
    )
    assert loss[cell] == pytest.approx(expected.basic_transmission_loss_db, abs=WITHIN_DB)


@pytest.mark.parametrize("wanted", [np.ones((5, 6), dtype=bool), np.ones((6, 5)), [[True]]])
def test_a_mask_that_does_not_fit_is_refused(wanted: Any) -> None:
    job = {"cell_size_m": 10.0, "tx_row": 2, "tx_column": 2, "tx_height_m": 5.0, "rx_height_m": 2.0}
    ground = np.zeros((6, 5))
    with pytest.raises(RangeError, match="wanted is"):
        sweep(ground, frequency_ghz=0.45, wanted=wanted, **job)
    with pytest.raises(RangeError, match="wanted is"):
        whole_median_loss(ground, ground, frequency_ghz=0.45, tx_latitude_deg=0.0, wanted=wanted, **job)


@pytest.mark.parametrize("threads", ["1", "2"])
def test_the_number_of_threads_changes_nothing(threads: str, monkeypatch: pytest.MonkeyPatch) -> None:
    height, job = large("hills")
    wanted = mask_of("disc", height.shape, (60, 90), np.random.default_rng(5))
    told: list[float] = []
    whole = sweep(height, **job)
    monkeypatch.setenv("NUMBA_NUM_THREADS", threads)
    some = sweep(height, wanted=wanted, progress=told.append, **job)
    assert_cells_of_the_whole(some.diffraction_db, whole.diffraction_db, wanted)
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_an_interrupt_is_answered_within_a_second_on_one_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    height, job = large("rough")
    monkeypatch.setenv("NUMBA_NUM_THREADS", "1")

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    def work() -> SweepResult:
        return sweep(height, radials=200_000, **job)

    sweep(height, radials=100, **job)  # compiled before the clock starts
    before = signal.signal(signal.SIGALRM, interrupt)
    try:
        signal.setitimer(signal.ITIMER_REAL, 0.2)
        begun = time.perf_counter()
        with pytest.raises(KeyboardInterrupt):
            work()
        assert time.perf_counter() - begun < 1.2
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
