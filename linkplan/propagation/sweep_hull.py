"""Upper convex hull of the samples of a radial, kept as a stack that grows with the radial.

The steepest slope from a receiver back to all samples before it, and the sample that stands highest over
a line, are both taken at a corner of this hull; a search over the corners replaces the loop over samples.
"""

from __future__ import annotations

from linkplan.propagation.sweep_numba import FloatArray, inner


@inner
def push(at: FloatArray, height: FloatArray, count: int, i: float, value: float) -> int:
    """Add sample i (beyond all others) of this height; the new count of corners."""
    while count >= 2:
        run = at[count - 1] - at[count - 2]
        rise = height[count - 1] - height[count - 2]
        if (value - height[count - 1]) * run < rise * (i - at[count - 1]):
            break
        count -= 1
    at[count] = i
    height[count] = value
    return count + 1


@inner
def tangent(at: FloatArray, height: FloatArray, count: int, i: float, value: float) -> float:
    """Steepest slope, per step, up from point (i, value) back to a corner; i lies beyond all corners.

    Seen from the point, the slope rises from the newest corner to the tangent's and falls after it.
    The tangent's corner mostly is among the newest: steps that double, then bisection.
    """
    low = count - 1
    stride = 1
    while low > 0 and _older_is_steeper(at, height, low, i, value):
        low -= stride
        stride *= 2
    high = low + max(stride // 2 - 1, 0)
    low = max(low, 0)
    while low < high:
        middle = (low + high + 1) // 2
        if _older_is_steeper(at, height, middle, i, value):
            high = middle - 1
        else:
            low = middle
    slope: float = (height[low] - value) / (i - at[low])
    return slope


@inner
def _older_is_steeper(at: FloatArray, height: FloatArray, corner: int, i: float, value: float) -> bool:
    """Whether the corner before `corner` is seen from (i, value) under a steeper slope."""
    older = (height[corner - 1] - value) * (i - at[corner])
    return bool(older > (height[corner] - value) * (i - at[corner - 1]))


@inner
def highest_over(at: FloatArray, height: FloatArray, count: int, slope: float) -> float:
    """Greatest height less slope times sample number, over all corners."""
    low = 0
    high = count - 1
    while low < high:
        middle = (low + high) // 2
        if height[middle + 1] - height[middle] > slope * (at[middle + 1] - at[middle]):
            low = middle + 1
        else:
            high = middle
    over: float = height[low] - slope * at[low]
    return over
