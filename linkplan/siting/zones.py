"""The zones of a job as masks and weights, over its points or over cells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from linkplan.plan.model import Plan
from linkplan.siting.places import FloatArray, siting_of
from linkplan.terrain.grid import BoolArray


def zone_weights(weights: Sequence[float], zones: Sequence[BoolArray], shape: tuple[int, ...]) -> FloatArray:
    """Weight of each cell or point: 1 outside of all zones, else the greatest of its zones."""
    weight = np.zeros(shape)
    for one, zone in zip(weights, zones, strict=True):
        weight[zone] = np.maximum(weight[zone], one)
    outside = np.ones(shape, dtype=bool)
    for zone in zones:
        outside &= ~zone
    weight[outside] = 1.0
    return weight


def point_masks(plan: Plan, points: FloatArray) -> list[BoolArray]:
    """Which points, (n, 2) in job coordinates, lie in each zone."""
    import shapely

    return [
        np.asarray(shapely.contains_xy(zone.area, points[:, 0], points[:, 1]))
        for zone in siting_of(plan).zones
    ]


def point_weights(plan: Plan, masks: Sequence[BoolArray], count: int) -> FloatArray:
    """Weight of each of `count` points, by the masks of `point_masks`."""
    return zone_weights([zone.weight for zone in siting_of(plan).zones], masks, (count,))
