"""Man-made radio noise of Recommendation ITU-R P.372, sections 5 (number in P.372-10) [P.372].

Lines F_am = c - d log10(f in MHz), dB over k T0 B. The first line of each category, 0.3 to 250 MHz,
and the deciles were read in code that cites P.372-10, section 5, tables 1 and 2. The second line for
business areas, from 128.9 to 900 MHz, was read in code that cites P.372-8; nobody read the text itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class NoiseLine:
    """One straight line of median noise against the logarithm of frequency."""

    constant_db: float
    slope_db_per_decade: float
    low_mhz: float
    high_mhz: float


@dataclass(frozen=True)
class NoiseCategory:
    """One kind of surroundings."""

    name: str
    lines: tuple[NoiseLine, ...]
    """In ascending frequency, one beginning where the other ends."""
    upper_decile_db: float | None
    """Du: exceeded at 10 % of times and places by the median + Du; None where none was read."""
    lower_decile_db: float | None


MAN_MADE_NOISE: Final = {
    "city": NoiseCategory(
        "city (business area)",
        (NoiseLine(76.8, 27.7, 0.3, 128.9), NoiseLine(44.3, 12.3, 128.9, 900.0)),
        11.0,
        6.7,
    ),
    "residential": NoiseCategory("residential", (NoiseLine(72.5, 27.7, 0.3, 250.0),), 10.6, 5.3),
    "rural": NoiseCategory("rural", (NoiseLine(67.2, 27.7, 0.3, 250.0),), 9.2, 4.6),
    "quiet-rural": NoiseCategory("quiet rural", (NoiseLine(53.6, 28.6, 0.3, 250.0),), None, None),
}
