"""Wanted over unwanted at the rovers of several bases, for any choice of frequencies and time slots.

Pure arithmetic on levels. A row is one cell of one base; frequencies in MHz, ratios in dB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.radio.interference import Emission, Protection, overlap_share, rejection_db

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

ENOUGH_DB = 60.0
"""Ratios above this are as good as one another: noise decides long before."""


@dataclass(frozen=True)
class Mix:
    """Transmitters that stand together, and what their third-order product leaves a base's rovers.

    Transmitters are numbered: own bases first, then the others.
    """

    plus: tuple[int, int]
    """Whose frequencies are added; twice the same for 2a - b."""
    minus: int
    victim: int
    """The own base whose rovers hear the product."""
    ratio_db: float
    """Wanted over the whole product at the worst row, wherever it falls."""

    @property
    def sources(self) -> tuple[int, ...]:
        """The transmitters that take part, each once."""
        return tuple(dict.fromkeys((*self.plus, self.minus)))


@dataclass(frozen=True)
class Case:
    """All that a choice of channels is judged by. `n` own bases, `m` others, `r` rows."""

    owner: IntArray
    """(r,), the base whose rovers the row is about."""
    wanted_dbm: FloatArray
    """(r,), median."""
    own_dbm: FloatArray
    """(r, n), level of every own base as an unwanted one; the owner's own is not used."""
    other_dbm: FloatArray
    """(r, m)."""
    other_mhz: FloatArray
    """(m,)."""
    other_emissions: tuple[Emission, ...]
    emission: Emission
    """Of every own base, and what the rovers listen to."""
    limits: Protection
    bases: int
    mixes: tuple[Mix, ...] = ()


@dataclass(frozen=True)
class Judged:
    """What a choice leaves."""

    ratio_db: FloatArray
    """(r,), wanted over the sum of all unwanted signals, capped at `ENOUGH_DB`."""
    share_db: FloatArray
    """(r, n + m), wanted over each of them; infinite where it does not disturb."""
    mix_db: FloatArray
    """(mixes,), wanted over each third-order product; infinite where it falls beside the channel."""
    per_base_db: FloatArray
    """(n,), the worst of all that concerns a base, capped; NaN for a base without rows."""

    @property
    def worst_db(self) -> float:
        """The worst of all, capped at `ENOUGH_DB`."""
        known = self.per_base_db[np.isfinite(self.per_base_db)]
        return float(known.min()) if known.size else ENOUGH_DB


def own_rejection_db(case: Case, sent_mhz: FloatArray, heard_mhz: FloatArray) -> FloatArray:
    """Rejection of an own emission in an own receiver, dB; frequencies broadcast."""
    offset_khz = 1e3 * (np.asarray(sent_mhz) - np.asarray(heard_mhz))
    return rejection_db(offset_khz, case.emission, case.emission, case.limits)


def other_rejection_db(case: Case, heard_mhz: FloatArray) -> FloatArray:
    """(m, k): rejection of every other transmitter on k frequencies, dB."""
    rows = [
        rejection_db(1e3 * (mhz - heard_mhz), emission, case.emission, case.limits)
        for mhz, emission in zip(case.other_mhz, case.other_emissions, strict=True)
    ]
    return np.array(rows).reshape(len(case.other_emissions), np.size(heard_mhz))


def mix_rejection_db(case: Case, offset_khz: FloatArray) -> FloatArray:
    """What a third-order product loses by falling wide and aside, dB; infinite where it misses.

    It is three times as wide as the emissions that it comes from.
    """
    width_khz = case.emission.bandwidth_khz
    share = overlap_share(offset_khz, 3.0 * width_khz, width_khz)
    with np.errstate(divide="ignore"):
        return np.asarray(-10.0 * np.log10(share))


def judge(case: Case, frequency_mhz: FloatArray, slot: IntArray) -> Judged:
    """What own bases on these frequencies and in these time slots, each (n,), leave their rovers."""
    owner = case.owner
    rejected = own_rejection_db(case, frequency_mhz[None, :], frequency_mhz[owner][:, None])
    apart = (slot[None, :] != slot[owner][:, None]) | (np.arange(case.bases)[None, :] == owner[:, None])
    own_share = np.where(apart, np.inf, case.wanted_dbm[:, None] - case.own_dbm + rejected)
    aside = other_rejection_db(case, frequency_mhz).T[owner]
    other_share = case.wanted_dbm[:, None] - case.other_dbm + aside
    share = np.hstack([own_share, other_share])
    total = (10.0 ** (-share / 10.0)).sum(axis=1)
    with np.errstate(divide="ignore"):
        ratio = np.minimum(-10.0 * np.log10(total), ENOUGH_DB)
    mix = np.array([_mix_db(case, one, frequency_mhz, slot) for one in case.mixes])
    per_base = np.full(case.bases, np.nan)
    for base in range(case.bases):
        mine = [*ratio[owner == base], *(mix[i] for i, one in enumerate(case.mixes) if one.victim == base)]
        if mine:
            per_base[base] = min(min(mine), ENOUGH_DB)
    return Judged(ratio, share, mix, per_base)


def _mix_db(case: Case, mix: Mix, frequency_mhz: FloatArray, slot: IntArray) -> float:
    own = [one for one in mix.sources if one < case.bases]
    if any(slot[one] != slot[mix.victim] for one in own):
        return float(np.inf)
    everyone = np.concatenate([frequency_mhz, case.other_mhz])
    falls_mhz = everyone[mix.plus[0]] + everyone[mix.plus[1]] - everyone[mix.minus]
    offset_khz = 1e3 * (falls_mhz - frequency_mhz[mix.victim])
    return mix.ratio_db + float(mix_rejection_db(case, np.asarray(offset_khz)))
