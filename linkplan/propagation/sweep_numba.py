"""How the sweep's kernels are compiled: once, kept on disk, without holding the interpreter's lock.

What divides by nothing gives infinity, as in numpy, and the kernels are written for that.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from llvmlite import ir  # type: ignore[import-untyped]
from numba import float32, int32, njit
from numba.extending import intrinsic
from numpy.typing import NDArray

Function = TypeVar("Function", bound=Callable[..., Any])
FloatArray = NDArray[np.float64]
SingleArray = NDArray[np.float32]
IntArray = NDArray[np.int64]

_OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy"}
_FROM_KERNELS_ONLY = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def drop_stale_cache(folder: Path) -> None:
    """Forget kernels on disk that were compiled before any of the kernels' files in `folder` changed.

    Numba compares a kernel with its own file only, not with those of the functions it calls.
    """
    try:
        newest = max(source.stat().st_mtime for source in folder.glob("sweep_*.py"))
        for index in (folder / "__pycache__").glob("sweep_*.nbi"):
            if index.stat().st_mtime < newest <= time.time():
                index.unlink(missing_ok=True)
    except OSError:  # a folder that cannot be written holds no cache of ours
        return


drop_stale_cache(Path(__file__).parent)


def _compiled(function: Function, **options: Any) -> Function:
    """Compile at the first call, kept on disk where there is a folder that may be written."""
    compiled: Function
    try:
        compiled = njit(**_OPTIONS, **options)(function)
    except RuntimeError:  # neither beside the source nor in a home: each run compiles anew
        compiled = njit(**{**_OPTIONS, "cache": False}, **options)(function)
    return compiled


def kernel(function: Function) -> Function:
    """Compile `function` at its first call; arithmetic exactly as written."""
    return _compiled(function)


def inner(function: Function) -> Function:
    """As `kernel`, for functions that only kernels call: a third of the time to compile goes without."""
    return _compiled(function, **_FROM_KERNELS_ONLY)


def lanes(function: Function) -> Function:
    """As `inner`, for arithmetic on many numbers at once: products and sums may fuse."""
    return _compiled(function, **_FROM_KERNELS_ONLY, fastmath={"contract"}, forceinline=True)


def reduction(function: Function) -> Function:
    """As `inner`, for sums and maxima over arrays without NaN, taken in any order."""
    return _compiled(function, **_FROM_KERNELS_ONLY, fastmath={"contract", "nnan", "nsz", "reassoc"})


def _single_bits(_context: Any, _value: Any) -> Any:
    """The bits of a single-precision number as an integer."""
    return int32(float32), lambda _c, builder, _s, args: builder.bitcast(args[0], ir.IntType(32))


def _single_from_bits(_context: Any, _value: Any) -> Any:
    """The single-precision number that has these bits."""
    return float32(int32), lambda _c, builder, _s, args: builder.bitcast(args[0], ir.FloatType())


single_bits: Callable[[np.float32], np.int32] = intrinsic(_single_bits)
single_from_bits: Callable[[np.int32], np.float32] = intrinsic(_single_from_bits)
