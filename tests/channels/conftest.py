"""Invented cases of interference, drawn at random."""

from __future__ import annotations

import numpy as np
import pytest

from linkplan.channels.ratios import Case, Mix
from linkplan.radio.interference import Emission, Protection


def random_case(
    seed: int, *, bases: int, others: int = 0, rows_each: int = 3, mixes: int = 0, spread_db: float = 40.0
) -> Case:
    """Levels at random; others sit on a 12.5 kHz raster from 461 MHz."""
    chance = np.random.default_rng(seed)
    rows = bases * rows_each
    owner = np.repeat(np.arange(bases), rows_each)
    transmitters = bases + others
    found = []
    for _ in range(mixes if transmitters >= 3 else 0):
        count = int(chance.integers(2, 4)) if transmitters >= 4 else 2
        picked = [int(one) for one in chance.permutation(transmitters)]
        victim = next(one for one in picked if one < bases)
        sources = [one for one in picked if one != victim][:count]
        plus = (sources[0], sources[0]) if count == 2 else (sources[0], sources[1])
        found.append(Mix(plus, sources[-1], victim, float(chance.uniform(0.0, 50.0))))
    return Case(
        owner=owner,
        wanted_dbm=chance.uniform(-100.0, -70.0, rows),
        own_dbm=chance.uniform(-90.0 - spread_db, -50.0, (rows, bases)),
        other_dbm=chance.uniform(-90.0 - spread_db, -50.0, (rows, others)),
        other_mhz=461.0 + 0.0125 * chance.integers(0, 6, others),
        other_emissions=(Emission.of_spacing(12.5),) * others,
        emission=Emission.of_spacing(12.5),
        limits=Protection.for_spacing(12.5),
        bases=bases,
        mixes=tuple(found),
    )


@pytest.fixture
def make_case():
    return random_case
