"""What an unwanted transmitter does to a receiver: through the channel filter, by mixing, by brute force.

Pure functions on numbers and arrays. Levels in dBm at the receiver's input; a rejection is positive and
says how far below its own level an unwanted signal counts as one on the wanted channel.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError
from linkplan.ranges import require_range
from linkplan.tables import protection as table
from linkplan.units import SPEED_OF_LIGHT_M_S, level_db, power_ratio

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Protection:
    """What radios bear. All in dB but the overload level; every figure at least 0 except `overload_dbm`."""

    co_channel_db: float
    """Wanted over unwanted that a receiver needs on its own channel."""
    adjacent_power_db: float
    """Transmitter: power in the adjacent channel below the carrier."""
    adjacent_selectivity_db: float
    """Receiver: unwanted over wanted that it bears in the adjacent channel."""
    spurious_rejection_db: float = table.SPURIOUS_REJECTION_DB
    """The same beyond the adjacent channel."""
    blocking_db: float = table.BLOCKING_DB
    """The same from 1 MHz away."""
    intermodulation_rejection_db: float = table.INTERMODULATION_REJECTION_DB
    transmitter_intermodulation_db: float = table.TRANSMITTER_INTERMODULATION_DB
    overload_dbm: float = table.OVERLOAD_DBM
    stated: frozenset[str] = frozenset()
    """Names of the fields that the job states; the others come from `tables.protection`."""

    @classmethod
    def for_spacing(cls, spacing_khz: float, **stated: float) -> Protection:
        """The table's limits for a channel spacing, with the job's own figures in their place."""
        limits = table.limits_for(spacing_khz)
        values = {
            "co_channel_db": limits.co_channel_protection_db,
            "adjacent_power_db": limits.adjacent_power_db,
            "adjacent_selectivity_db": limits.adjacent_selectivity_db,
            **stated,
        }
        return cls(**values, stated=frozenset(stated))


@dataclass(frozen=True)
class Emission:
    """A signal's place in the spectrum."""

    spacing_khz: float
    """Spacing of the channels that it belongs to."""
    bandwidth_khz: float
    """What it fills, taken as flat."""

    @classmethod
    def of_spacing(cls, spacing_khz: float, bandwidth_khz: float | None = None) -> Emission:
        """An emission in channels of a spacing; its bandwidth from the table where nobody states it."""
        return cls(
            spacing_khz,
            table.occupied_bandwidth_khz(spacing_khz) if bandwidth_khz is None else bandwidth_khz,
        )


@dataclass(frozen=True)
class Product:
    """A third-order product: where the sums of `plus` less `minus` fall."""

    plus: tuple[int, int]
    """Positions of the two frequencies that are added; equal for 2a - b."""
    minus: int
    frequency_mhz: float


def overlap_share(offset_khz: ArrayLike, sent_khz: float, heard_khz: float) -> FloatArray:
    """Share of a flat emission that falls into a receiver's flat passband, 0 to 1.

    `offset_khz` of any shape, between the two centres; `sent_khz` and `heard_khz` above 0.
    At 0 offset the share is heard/sent where the emission is the wider: the on-tune rejection
    10 log10(sent/heard) of Recommendation ITU-R SM.337, section 2 [from memory].
    """
    offset = np.abs(np.asarray(offset_khz, dtype=np.float64))
    common = np.clip(0.5 * (sent_khz + heard_khz) - offset, 0.0, min(sent_khz, heard_khz))
    return np.asarray(common / sent_khz)


def rejection_db(offset_khz: ArrayLike, sent: Emission, heard: Emission, limits: Protection) -> FloatArray:
    """How far an unwanted emission at an offset counts below its level, dB (offset's shape, at least 0).

    Three ways in, their powers added: the part of the emission inside the passband (`overlap_share`); the
    transmitter's power outside its own channel; the receiver's own filter. A receiver that bears an
    unwanted signal S dB over the wanted, and needs P dB on its own channel, rejects S + P dB. The adjacent
    channel reaches to 1.5 times the mean spacing of the two; from there the transmitter's power falls by
    `tables.protection.FAR_POWER_BELOW_ADJACENT_DB` more and the spurious rejection counts, from 1 MHz the
    blocking. Never less than at a smaller offset.
    """
    offset = np.abs(np.asarray(offset_khz, dtype=np.float64))
    adjacent = offset < 0.75 * (sent.spacing_khz + heard.spacing_khz)
    far = offset >= table.BLOCKING_FROM_KHZ
    near_filter = limits.adjacent_selectivity_db
    # a figure that a job states may be worse for the farther channel: distance never makes it worse
    next_filter = max(near_filter, limits.spurious_rejection_db)
    far_filter = max(next_filter, limits.blocking_db)
    filter_db = np.where(far, far_filter, np.where(adjacent, near_filter, next_filter))
    outside_db = limits.adjacent_power_db + np.where(adjacent, 0.0, table.FAR_POWER_BELOW_ADJACENT_DB)
    through = (
        overlap_share(offset, sent.bandwidth_khz, heard.bandwidth_khz)
        + 10.0 ** (-outside_db / 10.0)
        + 10.0 ** (-(filter_db + limits.co_channel_db) / 10.0)
    )
    return np.asarray(np.maximum(-10.0 * np.log10(np.minimum(through, 1.0)), 0.0))


def third_order_products(frequency_mhz: Sequence[float]) -> tuple[Product, ...]:
    """All products 2a - b and a + b - c of different transmitters, by positions in the sequence.

    n frequencies give n(n-1) of the first kind and n(n-1)(n-2)/2 of the second. Equal frequencies are
    allowed: their products fall on frequencies in use.
    """
    positions = range(len(frequency_mhz))
    found = [
        Product((a, a), b, 2.0 * frequency_mhz[a] - frequency_mhz[b])
        for a, b in itertools.permutations(positions, 2)
    ]
    for a, b in itertools.combinations(positions, 2):
        for c in positions:
            if c not in (a, b):
                mixed = frequency_mhz[a] + frequency_mhz[b] - frequency_mhz[c]
                found.append(Product((a, b), c, mixed))
    return tuple(found)


def receiver_intercept_dbm(weakest_dbm: float, limits: Protection) -> float:
    """Third-order intercept point that a receiver's intermodulation rejection R amounts to, dBm.

    Two signals R dB over the wanted, itself at the weakest usable level S, make a product P dB (the
    co-channel protection) below the wanted: 3 (S + R) - 2 IIP3 = S - P, so IIP3 = S + 1.5 R + P/2.
    """
    return weakest_dbm + 1.5 * limits.intermodulation_rejection_db + 0.5 * limits.co_channel_db


def receiver_product_dbm(
    first_dbm: ArrayLike, second_dbm: ArrayLike, minus_dbm: ArrayLike, intercept_dbm: float
) -> FloatArray:
    """Level that a third-order product a + b - c made in the receiver counts with, dBm.

    Levels of a, b and c at its input, broadcast. For 2a - b give a twice: 2A + B - 2 IIP3; three
    different signals mix twice as strongly in amplitude, 6 dB more, which the caller adds
    (`THREE_SIGNALS_DB`). [the definition of the intercept point]
    """
    a, b, c = (np.asarray(level, dtype=np.float64) for level in (first_dbm, second_dbm, minus_dbm))
    return np.asarray(a + b + c - 2.0 * intercept_dbm)


THREE_SIGNALS_DB = 20.0 * math.log10(2.0)
"""A product of three signals over one of two of the same levels: (a + b + c)^3 holds 6abc and 3a^2b."""


def transmitter_product_below_carrier_db(
    power_dbm: float, other_power_dbm: float, coupling_loss_db: float, limits: Protection
) -> float:
    """How far the product 2a - b that transmitter a makes lies below its own carrier, dB (at least 0).

    `other_power_dbm` of b at its connector reaches a's connector `coupling_loss_db` weaker. The limit holds
    for an incoming signal 30 dB below the carrier, and the product follows that signal dB by dB.
    """
    incoming_below_db = power_dbm - (other_power_dbm - coupling_loss_db)
    below = (
        limits.transmitter_intermodulation_db + incoming_below_db - table.TRANSMITTER_INTERMODULATION_AT_DB
    )
    return max(below, 0.0)


def antenna_coupling_loss_db(distance_m: float, frequency_mhz: float, gains_and_losses_db: float) -> float:
    """Loss from one transmitter's connector to another's, dB, at least 0.

    Free space between antennas `distance_m` apart (above 0), less both antenna gains plus both feeder
    losses (`gains_and_losses_db` = gains minus losses). Nearer than a wavelength it is only a guess.
    [P.525, section 2.2]
    """
    require_range("distance_m", distance_m, 1e-3, 1e6, unit="m")
    free_db = level_db((4.0 * math.pi * distance_m * frequency_mhz * 1e6 / SPEED_OF_LIGHT_M_S) ** 2)
    return max(free_db - gains_and_losses_db, 0.0)


def overload_distance_m(
    eirp_dbm: float, receive_gain_db: float, overload_dbm: float, frequency_mhz: float
) -> float:
    """Distance within which a transmitter may overload a receiver, m: free space, no reflection.

    The ground can double the field: then the distance doubles too. [P.525, section 2.2, solved for d]
    """
    excess_db = eirp_dbm + receive_gain_db - overload_dbm
    wavelength = SPEED_OF_LIGHT_M_S / (frequency_mhz * 1e6)
    return wavelength / (4.0 * math.pi) * math.sqrt(power_ratio(excess_db))


def added_dbm(levels_dbm: Sequence[ArrayLike]) -> FloatArray:
    """Sum of the powers of signals that know nothing of one another, dBm; levels broadcast.

    Raises RangeError for an empty sequence; minus infinity stands for no signal.
    """
    if not levels_dbm:
        raise RangeError("added_dbm needs at least one level")
    powers = [10.0 ** (np.asarray(level, dtype=np.float64) / 10.0) for level in levels_dbm]
    total = np.asarray(sum(powers[1:], start=powers[0]), dtype=np.float64)
    return np.asarray(10.0 * np.log10(total, out=np.full(total.shape, -np.inf), where=total > 0.0))
