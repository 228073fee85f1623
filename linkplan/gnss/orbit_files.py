"""Any file of satellite orbits: YUMA, SEM or RINEX navigation, told apart by what is in it."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator

from linkplan.errors import AlmanacError
from linkplan.gnss.almanac_sem import read_sem
from linkplan.gnss.almanac_yuma import read_yuma
from linkplan.gnss.orbit_sets import Orbits
from linkplan.gnss.orbit_text import Line, file_pieces, read_lines, shown
from linkplan.gnss.rinex_navigation import FIRST_LABEL, LABEL_COLUMN, read_navigation

_SEM_HEAD = re.compile(r"\s*[0-9]{1,3}(\s+\S.*)?", re.ASCII)
_MOST_EMPTY_LINES = 100
_WANTED = "a YUMA or SEM almanac or a RINEX 3 or 4 navigation file"


def read_orbits(path: str, near_gps_s: float) -> Orbits:
    """The orbits in a file, plain or gzip.

    `near_gps_s`: the date of the work in GPS seconds, to which an almanac's week counted modulo 1024 is taken
    nearest. Raises AlmanacError, one line: file, line number, what is wrong, what would be right.
    """
    return orbits_from(path, file_pieces(path), near_gps_s)


def orbits_from(name: str, pieces: Iterable[bytes], near_gps_s: float) -> Orbits:
    """The same from bytes cut anywhere."""
    lines = read_lines(name, pieces)
    first = next((line for line in itertools.islice(lines, _MOST_EMPTY_LINES) if line.text.strip()), None)
    if first is None:
        raise AlmanacError(f"{name}: is empty: {_WANTED} is needed")
    orbits = _read(name, first, itertools.chain((first,), lines), near_gps_s)
    if not orbits.kepler and not orbits.states:
        held = ", ".join(f"{one.what}: {one.count}" for one in orbits.skipped) or "no satellite at all"
        raise AlmanacError(f"{name}: holds no orbit that is read ({held}): {_WANTED} is needed")
    return orbits


def _read(name: str, first: Line, lines: Iterator[Line], near_gps_s: float) -> Orbits:
    text = first.text.strip()
    if first.text[LABEL_COLUMN:].strip() == FIRST_LABEL:
        return read_navigation(name, lines)
    if text.startswith("*") or text[:2].lower() == "id":
        return read_yuma(name, lines, near_gps_s)
    if _SEM_HEAD.fullmatch(text):
        return read_sem(name, lines, near_gps_s)
    raise AlmanacError(f"{name}: line {first.number}: is {shown(text)}; {_WANTED} is needed")
