"""Contours lie at the heights they are numbered with, in the job's unit, and stay away from flat ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from linkplan.outputs import canvas, contours
from linkplan.outputs.contours import contour_lines, contour_step_m, draw_contours
from linkplan.outputs.formats import Formats
from linkplan.terrain.grid import TerrainGrid
from tests.outputs.conftest import Case


def cone(case: Case) -> TerrainGrid:
    """A cone of 100 m, one metre of height for every metre from the base: contours are circles about it."""
    distance = case[1].grid.distance_from_base_m()
    return replace(case[1].grid, height_m=100.0 * (1.0 - distance / distance.max()))


def lines_on(grid: TerrainGrid, show: Formats) -> list[tuple[float, np.ndarray]]:
    with canvas.house_style():
        axes = canvas.blank(4.0, 4.0).add_axes((0, 0, 1, 1))
        draw_contours(axes, grid, show)
    return [
        (level, path.vertices)
        for drawn in axes.collections
        for level, path in zip(drawn.levels, drawn.get_paths(), strict=True)
        if len(path.vertices)
    ]


def test_a_cone_has_round_contours(case: Case) -> None:
    grid = cone(case)
    farthest = grid.distance_from_base_m().max()
    drawn = lines_on(grid, Formats.of(case[0]))
    assert contour_step_m(grid, "metre") == pytest.approx(5.0)
    assert sorted({round(level) for level, _ in drawn}) == list(range(0, 100, 5))
    for level, points in drawn:
        # the height of the cone at each point of the line, from its distance to the base; a cell of slack
        height = 100.0 * (1.0 - np.hypot(points[:, 0], points[:, 1]) / farthest)
        assert np.abs(height - level).max() < 100.0 / farthest * grid.cell_size_m


def test_lines_of_the_page_lie_at_their_heights(case: Case) -> None:
    grid = cone(case)
    farthest = grid.distance_from_base_m().max()
    found = contour_lines(grid, "metre")
    assert found is not None
    step_m, lines = found
    assert step_m == pytest.approx(5.0)
    assert {line.height_m for line in lines if line.numbered} == {0.0, 25.0, 50.0, 75.0} & {
        line.height_m for line in lines
    }
    for line in lines:
        height = 100.0 * (1.0 - np.hypot(*line.points.T) / farthest)
        assert np.abs(height - line.height_m).max() < 100.0 / farthest * grid.cell_size_m


def test_lines_of_the_page_stay_few(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    grid = cone(case)
    monkeypatch.setattr(contours, "MOST_POINTS", 150)
    found = contour_lines(grid, "metre")
    assert found is not None
    step_m, lines = found
    assert step_m in {10.0, 20.0, 40.0, 80.0}
    assert 0 < sum(len(line.points) for line in lines) <= 150


def test_no_line_crosses_missing_ground(case: Case) -> None:
    grid = cone(case)
    height = grid.height_m.copy()
    height[:, 100:130] = np.nan
    found = contour_lines(replace(grid, height_m=height), "metre")
    assert found is not None
    west, east = ((column - grid.base_column) * grid.cell_size_m for column in (99.5, 129.5))
    for line in found[1]:
        x = line.points[:, 0]
        assert (x < west).all() or (x > east).all()


@pytest.mark.parametrize(("unit", "metres"), [("foot", 0.3048), ("us-survey-foot", 1200 / 3937)])
def test_intervals_are_round_in_the_jobs_unit(case: Case, unit: str, metres: float) -> None:
    # 100 m of relief are 328 ft: at most 20 lines, so every 20 ft
    assert contour_step_m(cone(case), unit) == pytest.approx(20.0 * metres)


@pytest.mark.parametrize("height", [0.0, np.nan])
def test_flat_or_unknown_ground_has_none(case: Case, height: float) -> None:
    flat = replace(case[1].grid, height_m=np.full(case[1].grid.shape, height))
    assert contour_step_m(flat, "metre") is None
    assert lines_on(flat, Formats.of(case[0])) == []
    assert contour_lines(flat, "metre") is None
