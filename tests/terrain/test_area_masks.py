"""Which cells a boundary holds, and outlines of classes, against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS

from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.masks import inside_mask, polygons_of

FRAME = LocalFrame.around(CRS.from_epsg(32633), 400_000.0, 5_300_000.0)


def grid_of(
    rows: int, columns: int, cell_size_m: float = 10.0, base: tuple[int, int] = (3, 5)
) -> TerrainGrid:
    return TerrainGrid(FRAME, cell_size_m, *base, np.zeros((rows, columns)), None, "none", 10.0)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), holed=st.booleans())
def test_cells_whose_centre_lies_inside(seed: int, holed: bool) -> None:
    rng = np.random.default_rng(seed)
    grid = grid_of(30, 41, 7.5, (11, 19))
    angle = np.sort(rng.random(9)) * 2 * np.pi
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * (40.0 + 90.0 * rng.random((9, 1)))
    area = shapely.Polygon(ring).buffer(0)
    if holed:
        area = area.difference(shapely.Point(10.0, 5.0).buffer(30.0))
    row, column = np.mgrid[0:30, 0:41]
    x, y = (column - 19) * 7.5, (11 - row) * 7.5
    points = shapely.points(x, y)
    clear = shapely.distance(points, area.boundary) > 1e-6
    assert np.array_equal(inside_mask(grid, area)[clear], shapely.contains(area, points)[clear])


def test_nothing_is_inside_an_empty_area() -> None:
    assert not inside_mask(grid_of(5, 6), shapely.Polygon()).any()


def test_outlines_of_a_small_pattern() -> None:
    """Worked by hand: base in cell (3, 5), so the grid's west edge is -55 m and its north edge 35 m."""
    classes = np.zeros((4, 6), dtype=np.uint8)
    classes[0, 0] = 2
    classes[1, 1] = 2
    classes[2:4, 3:5] = 1
    outlines = dict(polygons_of(grid_of(4, 6), classes))
    assert sorted(outlines) == [0, 1, 2]
    assert outlines[1].equals(shapely.box(-25.0, -5.0, -5.0, 15.0))
    assert outlines[2].equals(
        shapely.MultiPolygon([shapely.box(-55.0, 25.0, -45.0, 35.0), shapely.box(-45.0, 15.0, -35.0, 25.0)])
    )
    assert outlines[0].area == pytest.approx(2400.0 - 400.0 - 200.0)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), kinds=st.integers(1, 6))
def test_outlines_cover_the_grid_once(seed: int, kinds: int) -> None:
    classes = np.random.default_rng(seed).integers(0, kinds, (17, 23)).astype(np.uint8)
    grid = grid_of(17, 23)
    outlines = polygons_of(grid, classes)
    assert [value for value, _ in outlines] == np.unique(classes).tolist()
    row, column = np.mgrid[0:17, 0:23]
    points = shapely.points((column - 5) * 10.0, (3 - row) * 10.0)
    for value, outline in outlines:
        assert outline.is_valid
        assert outline.geom_type in {"Polygon", "MultiPolygon"}
        assert outline.area == pytest.approx(100.0 * (classes == value).sum())
        assert np.array_equal(shapely.contains(outline, points), classes == value)
