"""Classes of coverage: a range of chance each, named for what a crew can expect there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.results import CoverageClass, FloatMap

NO_DATA = 0
"""Class index of a cell about which nothing is claimed."""

_LOWER = (
    (0.80, "likely", "likely", "Corrections most of the time; expect short losses."),
    (0.50, "uncertain", "uncertain", "As likely as not; do not plan work on it."),
    (0.10, "unlikely", "unlikely", "Corrections in lucky spots only."),
    (0.00, "out-of-reach", "out of reach", "No corrections to be expected."),
)
_LEAST_STEP = 0.02
_RELIABLE = 0.9
"""Only from this chance on is a crew told that it can rely on the best class."""


def classes_for(wanted_chance: float) -> tuple[CoverageClass, ...]:
    """Classes from best to worst for a wanted chance (0.5 to 0.999).

    The best class starts at the wanted chance itself; fixed chances below it bound the others, and
    a class that would be narrower than two points of a hundred is left out.
    """
    meaning = "The wanted chance or better"
    meaning += ": work can rely on it." if wanted_chance >= _RELIABLE else "; losses are still common."
    classes = [CoverageClass(1, "dependable", "dependable", meaning, wanted_chance, 1.0)]
    upper = wanted_chance
    for low, key, name, meaning in _LOWER:
        if low > upper - _LEAST_STEP:
            continue
        classes.append(CoverageClass(len(classes) + 1, key, name, meaning, low, upper))
        upper = low
    return tuple(classes)


def classify(chance: FloatMap, classes: tuple[CoverageClass, ...]) -> NDArray[np.uint8]:
    """Class index of each cell of a chance map (any shape); 0 where the chance is NaN."""
    index = np.full(chance.shape, NO_DATA, dtype=np.uint8)
    for one in reversed(classes):
        # np.float32 so that a chance equal to the bound to single precision counts as reaching it
        index[chance >= np.float32(one.chance_low)] = one.index
    return index
