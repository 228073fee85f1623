"""Blocks of a map's work on all cores, stoppable between blocks."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, as_completed


def worker_count() -> int:
    """Cores that this process may use, or fewer if NUMBA_NUM_THREADS says so."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    wanted = os.environ.get("NUMBA_NUM_THREADS", "")
    return min(cores, int(wanted)) if wanted.isdigit() and int(wanted) > 0 else cores


def run_blocks(
    block: Callable[[int, int], None],
    count: int,
    size: int,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Call block(first, stop) for all of 0..count in pieces of `size`, on several threads or in this one.

    `block` must release the interpreter's lock while it works. After an interrupt or an error no new
    piece is begun, so the wait is that for the pieces under way. `progress` gets the share done.
    """
    pieces = [(first, min(first + size, count)) for first in range(0, count, size)]
    workers = min(worker_count(), len(pieces))
    if workers < 2:
        for done, piece in enumerate(pieces, start=1):
            block(*piece)
            if progress is not None:
                progress(done / len(pieces))
        return
    pool = ThreadPoolExecutor(workers)
    try:
        futures = [pool.submit(block, first, stop) for first, stop in pieces]
        for done, future in enumerate(as_completed(futures), start=1):
            future.result()
            if progress is not None:
                progress(done / len(pieces))
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
