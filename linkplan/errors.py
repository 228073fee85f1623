"""Every error that linkplan raises on purpose.

    LinkplanError
    |-- RangeError (ValueError)       a number outside what its source or the equipment allows
    |-- JobFileError (ValueError)     one or more faults in a job file, listed together
    |-- SheetError (ValueError)       one or more faults in settings sheets, listed together
    |-- DemError (OSError)            a terrain or clutter raster cannot be read or does not serve
    |-- VectorError (OSError)         a boundary or control-point file cannot be read or does not serve
    |-- RecordingError (OSError)      a recorded stream or log cannot be read or holds nothing to judge
    |-- AlmanacError (OSError)        an almanac or navigation file cannot be read or does not serve
    |-- PlaceError (ValueError)       a point or job that lies where nothing can be computed
    |-- WorkError (RuntimeError)      processes or a cluster that do not get the work done
    `-- OutputError (OSError)         a result cannot be written

A fault is raised where it is known and printed in one place, `linkplan.cli`, with exit code 2.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "AlmanacError",
    "DemError",
    "Fault",
    "JobFileError",
    "LinkplanError",
    "OutputError",
    "PlaceError",
    "RangeError",
    "RecordingError",
    "SheetError",
    "VectorError",
    "WorkError",
]


class LinkplanError(Exception):
    """Root of all errors that a user can cause and cure."""


class RangeError(LinkplanError, ValueError):
    """A number lies outside the stated range of its source."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with a job file, ready to print as one line.

    `key` is the dotted path in the file (`base.antenna_height`), or "" for the file as a whole;
    `value` is what stands there as text, or "" where nothing does; `cure` says what would be right.
    """

    key: str
    value: str
    problem: str
    cure: str

    def line(self, file: str) -> str:
        """The fault as one line: file, key, value, what is wrong, what would be right."""
        where = f"{file}: {self.key}" if self.key else file
        stands = f" = {self.value}" if self.value else ""
        cure = f"; {self.cure}" if self.cure else ""
        return f"{where}{stands}: {self.problem}{cure}"


class JobFileError(LinkplanError, ValueError):
    """A job file has faults; all that were found are listed at once."""

    def __init__(self, file: str, faults: tuple[Fault, ...]) -> None:
        self.file = file
        self.faults = faults
        super().__init__("\n".join(fault.line(file) for fault in faults))


class SheetError(LinkplanError, ValueError):
    """Settings sheets have faults; all that were found in all of them are listed at once."""

    def __init__(self, faults: tuple[tuple[str, Fault], ...]) -> None:
        self.faults = faults
        """File and fault."""
        super().__init__("\n".join(fault.line(file) for file, fault in faults))


class DemError(LinkplanError, OSError):
    """A terrain or clutter raster cannot be read, or lacks what is needed."""


class VectorError(LinkplanError, OSError):
    """A boundary or control-point file cannot be read, or lacks what is needed."""


class RecordingError(LinkplanError, OSError):
    """A recorded byte stream or log cannot be read, or holds nothing that can be judged."""


class AlmanacError(LinkplanError, OSError):
    """An almanac or navigation file of satellites cannot be read, or holds nothing that can be used."""


class PlaceError(LinkplanError, ValueError):
    """A base, a rover point or a whole job lies where nothing can be computed."""


class WorkError(LinkplanError, RuntimeError):
    """Local processes or a cluster cannot be used, or end again and again before the work is done."""


class OutputError(LinkplanError, OSError):
    """A result cannot be written where the user wants it."""
