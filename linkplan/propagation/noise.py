"""How loud are the surroundings? Man-made radio noise by kind of place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

from linkplan.errors import RangeError
from linkplan.ranges import require_range
from linkplan.tables.p372 import MAN_MADE_NOISE, NoiseCategory, NoiseLine

CATEGORIES = MappingProxyType({key: category.name for key, category in MAN_MADE_NOISE.items()})
"""Keys of the kinds of surroundings and their names in words."""

FREQUENCY_LIMITS_MHZ = (0.3, 6000.0)
"""From the lowest frequency of the lines to the highest of linkplan; beyond a line it is extrapolated."""


@dataclass(frozen=True)
class ManMadeNoise:
    """Median man-made noise of one kind of place at one frequency."""

    category: str
    """A key of `CATEGORIES`."""
    frequency_mhz: float
    noise_figure_db: float
    """F_am, dB over k T0 B: what a short vertical lossless antenna takes in."""
    extrapolated: bool
    """True outside the frequencies for which the line is given."""
    line: str
    """Which line gave the value, in words, with its limits."""
    upper_decile_db: float | None
    """How far above the median the noisiest tenth begins, dB; None where none is given."""
    lower_decile_db: float | None
    """How far below the median the quietest tenth ends, dB; None where none is given."""

    def to_dict(self) -> dict[str, str | float | bool | None]:
        """The result as a mapping that JSON can hold."""
        return dict(self.__dict__)


def man_made_noise(category: str, frequency_mhz: float) -> ManMadeNoise:
    """Median external noise figure of a kind of place, dB over k T0 B.

    `category` is a key of `CATEGORIES`; `frequency_mhz` 0.3 to 6000 MHz. Cities follow a second,
    flatter line above 128.9 MHz; the others end at 250 MHz and are extrapolated beyond, which the
    result says. Raises RangeError for an unknown category or a frequency outside the limits.
    [P.372, section 5, tables 1 and 2; see `tables.p372` for how it was read]
    """
    if category not in MAN_MADE_NOISE:
        raise RangeError(f"noise category {category!r} is not one of {', '.join(CATEGORIES)}")
    require_range("frequency_mhz", frequency_mhz, *FREQUENCY_LIMITS_MHZ, unit="MHz", source="P.372")
    kind = MAN_MADE_NOISE[category]
    line = _line_for(kind, frequency_mhz)
    extrapolated = not line.low_mhz <= frequency_mhz <= line.high_mhz
    text = (
        f"{line.constant_db:g} - {line.slope_db_per_decade:g} log10 f(MHz), {kind.name}, "
        f"given for {line.low_mhz:g} to {line.high_mhz:g} MHz"
    )
    return ManMadeNoise(
        category=category,
        frequency_mhz=frequency_mhz,
        noise_figure_db=line.constant_db - line.slope_db_per_decade * math.log10(frequency_mhz),
        extrapolated=extrapolated,
        line=text + (", extrapolated" if extrapolated else ""),
        upper_decile_db=kind.upper_decile_db,
        lower_decile_db=kind.lower_decile_db,
    )


def _line_for(kind: NoiseCategory, frequency_mhz: float) -> NoiseLine:
    """The line that holds at a frequency, or the nearest one."""
    for line in kind.lines:
        if frequency_mhz <= line.high_mhz:
            return line
    return kind.lines[-1]
