"""The orbit files under tests/data/gnss, read once."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from linkplan.gnss.orbit_files import read_orbits
from linkplan.gnss.orbit_sets import Orbits

DATA = Path(__file__).parents[1] / "data" / "gnss"
NEAR_S = 1213401600.0
"""A date of the samples: GPS week 2006, Tuesday 0:00 = 2006 x 604 800 + 172 800, 19 June 2018."""


@cache
def sample(name: str) -> Orbits:
    """One of the files."""
    return read_orbits(str(DATA / name), NEAR_S)
