"""What is going on while it takes time: one line on a terminal, nothing in a pipe."""

from __future__ import annotations

import sys
import time
from types import TracebackType

_WIDTH = 24
_FIRST_RUN_AFTER_S = 2.0
_REDRAW_S = 0.1


class StatusLine:
    """A line on standard error that is redrawn in place and wiped at the end.

    Usable as the `progress` of `linkplan.study.run`.
    """

    def __init__(self) -> None:
        self._shown = sys.stderr is not None and sys.stderr.isatty()
        self._stage = ""
        self._since = self._drawn = time.monotonic()

    def __enter__(self) -> StatusLine:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            print("\r\033[K", end="", file=sys.stderr, flush=True)

    def __call__(self, stage: str, share: float) -> None:
        if not self._shown:
            return
        now = time.monotonic()
        if stage == self._stage and now - self._drawn < _REDRAW_S:
            return
        if stage != self._stage:
            self._stage, self._since = stage, now
        self._drawn = now
        done = round(_WIDTH * share)
        bar = f" [{'#' * done}{'.' * (_WIDTH - done)}] {share:4.0%}" if share > 0.0 else " ..."
        left = ""
        if share > 0.0 and now - self._since > _FIRST_RUN_AFTER_S:
            left = f", {(now - self._since) * (1.0 - share) / share:.0f} s left"
        print(f"\r\033[K{stage}{bar}{left}", end="", file=sys.stderr, flush=True)
