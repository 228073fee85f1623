"""A field whose truth is known: errors alike over neighbouring ground, and a rover that drives through it.

Written apart from the estimator: a field by Fourier synthesis, a transmitter with a distance law.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SIDE_M = 5000.0
STEP_M = 25.0


@dataclass(frozen=True)
class Truth:
    offset_db: float
    sigma_db: float
    correlation_m: float
    """Distance over which the correlation falls to 1/e."""
    location_sigma_db: float = 1.8


@dataclass(frozen=True)
class Drive:
    x_m: FloatArray
    y_m: FloatArray
    margin_db: FloatArray
    error_db: FloatArray
    """Offset and prediction error, without the scatter within a cell."""
    level_residual_db: FloatArray
    outcome: NDArray[np.int8]
    base_m: tuple[float, float]


def field(truth: Truth, rng: np.random.Generator) -> FloatArray:
    """Stationary Gaussian field on a square of `SIDE_M`, (n, n), sd `sigma_db`, correlation exp(-d / L).

    Circulant embedding on a torus twice as large; the few negative eigenvalues are set to nought.
    """
    n = int(SIDE_M / STEP_M)
    lag = np.minimum(np.arange(2 * n), 2 * n - np.arange(2 * n)) * STEP_M
    covariance = np.exp(-np.hypot(lag[:, None], lag[None, :]) / truth.correlation_m)
    spectrum = np.maximum(np.fft.fft2(covariance).real, 0.0)
    white = rng.standard_normal((2 * n, 2 * n)) + 1j * rng.standard_normal((2 * n, 2 * n))
    wave = np.fft.fft2(np.sqrt(spectrum) * white) / (2 * n)
    return np.asarray(truth.sigma_db * wave.real[:n, :n])


def track(samples: int, rng: np.random.Generator, legs: int = 25) -> tuple[FloatArray, FloatArray]:
    """Straight legs between random places, sampled evenly in distance."""
    corner = rng.uniform(0.0, SIDE_M, (legs + 1, 2))
    length = np.hypot(*np.diff(corner, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(length)])
    at = np.linspace(0.0, along[-1], samples)
    x, y = (np.interp(at, along, corner[:, k]) for k in (0, 1))
    return x, y


def margins(x: FloatArray, y: FloatArray, base: tuple[float, float], at_2_km_db: float) -> FloatArray:
    """Margin that falls by 35 dB a decade, with ridges that shade it."""
    away_km = np.maximum(np.hypot(x - base[0], y - base[1]), 50.0) / 1e3
    shade = 5.0 * np.sin(x / 700.0) * np.cos(y / 900.0)
    return np.asarray(at_2_km_db - 35.0 * np.log10(away_km / 2.0) + shade)


def drive(truth: Truth, seed: int, samples: int = 2500, legs: int = 25, at_2_km_db: float = 3.0) -> Drive:
    """One rover's day over the field."""
    rng = np.random.default_rng(seed)
    error = field(truth, rng)
    base = (float(rng.uniform(0.2, 0.8) * SIDE_M), float(rng.uniform(0.2, 0.8) * SIDE_M))
    x, y = track(samples, rng, legs)
    last = error.shape[0] - 1
    here = error[np.minimum((y / STEP_M).astype(int), last), np.minimum((x / STEP_M).astype(int), last)]
    margin = margins(x, y, base, at_2_km_db)
    total = truth.offset_db + here
    residual = total + truth.location_sigma_db * rng.standard_normal(samples)
    return Drive(x, y, margin, total, residual, (margin + residual > 0.0).astype(np.int8), base)
