"""Synthetic terrain for the tests and benchmarks of the sweep: arrays of heights in metres."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

ROLLING_EXPONENT = 2.2
"""Amplitude falls with frequency to this power: rounded hills."""

ROUGH_EXPONENT = 1.8


def spectral(rows: int, columns: int, exponent: float, rms_m: float, seed: int = 1) -> FloatArray:
    """Random hills whose amplitude falls as frequency^-exponent, with this standard deviation."""
    noise = np.random.default_rng(seed).standard_normal((rows, columns))
    frequency = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)[None, :])
    frequency[0, 0] = np.inf
    hills = np.fft.irfft2(np.fft.rfft2(noise) * frequency**-exponent, s=(rows, columns))
    spread = hills.std()
    return np.asarray((hills - hills.mean()) * (rms_m / spread if spread > 0.0 else 0.0))


def rolling(rows: int, columns: int, seed: int = 1) -> FloatArray:
    """Rounded hills, 40 m of standard deviation over the map."""
    return spectral(rows, columns, ROLLING_EXPONENT, 40.0, seed)


def rough(rows: int, columns: int, seed: int = 1) -> FloatArray:
    """Broken ground, 60 m of standard deviation over the map."""
    return spectral(rows, columns, ROUGH_EXPONENT, 60.0, seed)


def flat(rows: int, columns: int, seed: int = 1) -> FloatArray:
    """The same height everywhere."""
    return np.full((rows, columns), 100.0 + seed)


def tilted(rows: int, columns: int, seed: int = 1) -> FloatArray:
    """A plane that slopes both ways."""
    down, right = np.random.default_rng(seed).uniform(-3.0, 3.0, 2)
    return down * np.arange(rows)[:, None] + right * np.arange(columns)[None, :]


def bowl(rows: int, columns: int, seed: int = 1) -> FloatArray:
    """Ground that rises from its middle (or falls, for odd seeds)."""
    down = np.arange(rows)[:, None] - rows / 2
    right = np.arange(columns)[None, :] - columns / 2
    return (0.05 if seed % 2 == 0 else -0.05) * (down**2 + right**2)


def spikes(rows: int, columns: int, seed: int = 1) -> FloatArray:
    """Flat ground with a few single cells far above or below it."""
    random = np.random.default_rng(seed)
    heights = np.zeros((rows, columns))
    count = max(1, rows * columns // 20)
    at = random.integers(0, rows, count), random.integers(0, columns, count)
    heights[at] = random.uniform(-50.0, 100.0, count)
    return heights


def rounded(rows: int, columns: int, seed: int = 1) -> FloatArray:
    """Hills in whole metres, as many DEMs have them: many exact ties."""
    return np.round(spectral(rows, columns, 2.0, 4.0, seed))


def white(rows: int, columns: int, seed: int = 1) -> FloatArray:
    """No two neighbours alike."""
    return np.random.default_rng(seed).uniform(0.0, 30.0, (rows, columns))


KINDS = (rolling, rough, flat, tilted, bowl, spikes, rounded, white)
