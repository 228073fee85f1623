"""How the sweep's kernels are compiled: once, kept on disk, without holding the interpreter's lock.

A path that divides by nothing gives infinity, as in numpy, and the kernels are written for that.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from numba import njit
from numpy.typing import NDArray

Function = TypeVar("Function", bound=Callable[..., Any])
FloatArray = NDArray[np.float64]


def kernel(function: Function) -> Function:
    """Compile `function` at its first call."""
    compiled: Function = njit(cache=True, nogil=True, error_model="numpy")(function)
    return compiled
