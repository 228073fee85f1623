"""Areas on the local grid: which cells lie inside a boundary, and the outlines of classed cells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkplan.terrain.grid import BoolArray, TerrainGrid

if TYPE_CHECKING:
    from affine import Affine
    from shapely.geometry.base import BaseGeometry


def inside_mask(grid: TerrainGrid, area_local: BaseGeometry) -> BoolArray:
    """(rows, columns): whether the centre of a cell lies inside an area given in local metres."""
    return cells_in(grid.shape, grid.affine, area_local)


def cells_in(
    shape: tuple[int, int],
    affine: tuple[float, float, float, float, float, float],
    area_local: BaseGeometry,
    *,
    touched: bool = False,
) -> BoolArray:
    """As `inside_mask`, for cells that have no heights yet; `touched`: any part of the cell counts."""
    from rasterio.features import geometry_mask

    if area_local.is_empty:
        return np.zeros(shape, dtype=np.bool_)
    mask: BoolArray = geometry_mask([area_local], shape, _affine(affine), all_touched=touched, invert=True)
    return mask


def polygons_of(grid: TerrainGrid, class_index: NDArray[Any]) -> list[tuple[int, BaseGeometry]]:
    """Outlines of equal cells in local metres: one (Multi)Polygon a value, in ascending order.

    `class_index` is (rows, columns) of whole numbers; every value that occurs comes back, 0 too.
    Cells that meet only at a corner are not joined. Areas add up to that of the grid.
    """
    import shapely
    from rasterio.features import shapes

    pieces: dict[int, list[BaseGeometry]] = {}
    for outline, value in shapes(class_index.astype(np.int32), transform=_affine(grid.affine)):
        shell, *holes = (np.array(ring) for ring in outline["coordinates"])
        pieces.setdefault(int(value), []).append(shapely.Polygon(shell, holes))
    # Pieces of one value meet at corners at most, so they need no union, which would take minutes.
    return [
        (value, pieces[value][0] if len(pieces[value]) == 1 else shapely.MultiPolygon(pieces[value]))
        for value in sorted(pieces)
    ]


def _affine(parts: tuple[float, float, float, float, float, float]) -> Affine:
    from affine import Affine

    return Affine(*parts)
