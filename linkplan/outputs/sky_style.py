"""Colour, shape and hatch of the satellite systems, and the signs of a sky, in figures and on pages.

The five colours differ in lightness too, and no system is told by colour alone: each has its own marker, line
and hatch.
"""

from __future__ import annotations

from dataclasses import dataclass

LineStyle = str | tuple[int, tuple[float, ...]]


@dataclass(frozen=True)
class SystemLook:
    """How a satellite system is drawn."""

    colour: str
    marker: str
    """Of matplotlib."""
    line: LineStyle
    hatch: str


SYSTEM_LOOKS: dict[str, SystemLook] = {
    "GPS": SystemLook("#1f4e8c", "o", "-", ""),
    "GLONASS": SystemLook("#b3462a", "s", (0, (6.0, 1.5)), "////"),
    "Galileo": SystemLook("#d99a1c", "^", (0, (4.0, 1.2, 1.0, 1.2)), "...."),
    "BeiDou": SystemLook("#2f8f74", "D", (0, (2.5, 1.2)), "\\\\\\\\"),
    "QZSS": SystemLook("#7c4a9e", "P", (0, (1.0, 1.0)), "xxxx"),
}
OTHER = SystemLook("#555555", "X", "-", "----")

HORIZON_FILL = "#8d7b63"
OBSTRUCTION_FILL = "#5c5f66"
SKY_FILL = "#eef4fa"
MASK_FILL = "#d3dbe4"
UNKNOWN_FILL = "#ffffff"
HELD_FILL = "#d6006c"


def look_of(name: str) -> SystemLook:
    """Of a system by its name."""
    return SYSTEM_LOOKS.get(name, OTHER)
