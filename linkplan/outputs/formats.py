"""Numbers as a crew reads them: in the job's units, with no more digits than they deserve."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from pyproj import CRS

    from linkplan.plan.model import Plan

NARROW_SPACE = "\u202f"
SQUARE_METRES_PER_ACRE = 43_560 * 0.3048**2
"""Acre of 43 560 square feet [common practice]."""
_METRIC_AREAS = (("m²", 1.0, 1e4), ("ha", 1e4, 1e7), ("km²", 1e6, math.inf))
"""Unit, its square metres, and the largest area of a column up to which it serves."""
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=%|(?:m|km|ft|m²|km²|ft²|ha|acres|dB|dBm|dBi|MHz|kHz)(?!\w))|(?<=\b[EN]) (?=[-\d])"
)
SHORT = {"metre": "m", "foot": "ft", "us-survey-foot": "ft"}
LONG = {"metre": "metres", "foot": "international feet", "us-survey-foot": "US survey feet"}


def grouped(value: float, digits: int = 0) -> str:
    """A number with groups of three from five digits on, and no negative zero."""
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return f"{value:,.{digits}f}".replace(",", NARROW_SPACE) if abs(float(text)) >= 10_000 else text


def counted(number: int, noun: str) -> str:
    """1 place, 2 places, 76 488 places."""
    return f"{grouped(number)} {noun}{'' if number == 1 else 's'}"


def percent(share: float, digits: int = 1) -> str:
    """A share in percent that says 0 or 100 only where it is exactly so."""
    step = 10.0**-digits
    shown = round(100.0 * share, digits)
    if share > 0.0 and shown == 0.0:
        return f"under {step:g} %"
    if share < 1.0 and shown >= 100.0:
        return f"over {100.0 - step:g} %"
    return f"{shown:.{digits}f} %" if 0.0 < shown < 100.0 else f"{shown:.0f} %"


def chance(value: float) -> str:
    """A chance in percent: whole below 90, a tenth above, where the classes ask for it."""
    if value > 0.999:
        return "over 99.9 %"
    if value < 0.01:
        return "under 1 %"
    return f"{100.0 * value:.0f} %" if value < 0.9 else f"{round(100.0 * value, 1):g} %"


def decibels(value: float, unit: str = "dB", *, signed: bool = False) -> str:
    """A level or a difference to a tenth of a decibel."""
    return f"{number(value, signed=signed)} {unit}"


def number(value: float, *, signed: bool = False) -> str:
    """One decimal; zero has no sign."""
    text = f"{value:+.1f}" if signed else f"{value:.1f}"
    return text.lstrip("+-") if float(text) == 0.0 else text


def azimuth(value_deg: float) -> str:
    """Three-digit azimuth from true north."""
    return f"{round(value_deg) % 360:03d}\N{DEGREE SIGN}"


def chance_range(low: float, high: float) -> str:
    """What a class promises, in percent."""
    if high >= 1.0:
        return f"{100 * low:g} % or more"
    return f"under {100 * high:g} %" if low <= 0.0 else f"{100 * low:g} to {100 * high:g} %"


def typeset(text: str) -> str:
    """The text with real minus signs and units that stay with their number, for pages and figures."""
    joined = _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", text)
    return "".join(
        "\N{MINUS SIGN}"
        if sign == "-" and joined[i + 1 : i + 2].isdigit() and not joined[max(i - 1, 0) : i].strip()
        else sign
        for i, sign in enumerate(joined)
    )


@dataclass(frozen=True)
class Formats:
    """Formats of one job."""

    length_unit: str
    """Key of `units.METRES_PER_UNIT`."""
    height_unit: str
    geographic: bool
    """Whether the job's coordinates are degrees."""
    coordinate_unit: str
    """Unit of the job's coordinates as its coordinate system names it, short."""
    crs_name: str
    wgs84: bool = False
    """Whether the job's own coordinates are WGS 84 longitude and latitude."""

    @classmethod
    def of(cls, plan: Plan) -> Formats:
        """The formats that a plan asks for."""
        axis_unit = plan.crs.axis_info[0].unit_name if plan.crs.axis_info else "metre"
        return cls(
            length_unit=plan.length_unit,
            height_unit=plan.height_unit,
            geographic=bool(plan.crs.is_geographic),
            coordinate_unit={"metre": "m", "degree": "deg"}.get(
                axis_unit, "ft" if "foot" in axis_unit else axis_unit
            ),
            crs_name=crs_label(plan.crs),
            wgs84=plan.crs.to_epsg() == 4326,
        )

    @property
    def metric(self) -> bool:
        """Whether distances are metric."""
        return self.length_unit == "metre"

    def distance(self, metres: float) -> str:
        """A distance along the ground."""
        if not self.metric:
            return f"{grouped(metres / METRES_PER_UNIT[self.length_unit])} ft"
        if abs(metres) < 999.5:
            return f"{grouped(metres)} m"
        return f"{metres / 1000.0:.2f} km" if metres < 9_995.0 else f"{grouped(metres / 1000.0, 1)} km"

    def round_distance(self, metres: float) -> str:
        """A distance that is a round number, for scale bars."""
        if not self.metric:
            return f"{grouped(metres / METRES_PER_UNIT[self.length_unit])} ft"
        return f"{metres:g} m" if metres < 1000.0 else f"{metres / 1000.0:g} km"

    def height(self, metres: float, digits: int = 1) -> str:
        """A height or a height difference."""
        return f"{self.height_number(metres, digits)} {SHORT[self.height_unit]}"

    def height_number(self, metres: float, digits: int = 1) -> str:
        """A height without its unit, for columns that carry the unit in their head."""
        return grouped(metres / METRES_PER_UNIT[self.height_unit], digits)

    def area(self, square_metres: float) -> str:
        """An area: square metres, hectares or square kilometres; square feet or acres."""
        if not self.metric:
            acres = square_metres / SQUARE_METRES_PER_ACRE
            square_feet = square_metres / METRES_PER_UNIT[self.length_unit] ** 2
            return (
                f"{grouped(square_feet)} ft²"
                if acres < 1.0
                else f"{grouped(acres, 1 if acres < 100 else 0)} acres"
            )
        hectares = square_metres / 10_000.0
        if hectares < 1.0:
            return f"{grouped(square_metres)} m²"
        if hectares < 1000.0:
            return f"{grouped(hectares, 1 if hectares < 100 else 0)} ha"
        return f"{grouped(hectares / 100.0, 1)} km²"

    def area_column(self, square_metres: Sequence[float]) -> tuple[str, list[str]]:
        """Areas that stand under each other: one unit for all, chosen by the largest, and the numbers."""
        most = max(square_metres, default=0.0)
        if self.metric:
            unit, size = next(
                (unit, size) for unit, size, limit in _METRIC_AREAS if most < limit or limit == math.inf
            )
        elif most < SQUARE_METRES_PER_ACRE:
            unit, size = "ft²", METRES_PER_UNIT[self.length_unit] ** 2
        else:
            unit, size = "acres", SQUARE_METRES_PER_ACRE
        values = [area / size for area in square_metres]
        return unit, _column(values, whole=unit in {"m²", "ft²"})

    def distance_column(self, metres: Sequence[float]) -> tuple[str, list[str]]:
        """Distances that stand under each other: one unit for all, and the numbers."""
        if not self.metric:
            unit = METRES_PER_UNIT[self.length_unit]
            return "ft", [grouped(distance / unit) for distance in metres]
        if max(metres, default=0.0) < 1_999.5:
            return "m", [grouped(distance) for distance in metres]
        return "km", [grouped(distance / 1000.0, 2) for distance in metres]

    def coordinate(self, value: float) -> str:
        """One coordinate as surveyors copy it: no grouping, a tenth of the unit (1e-6 of a degree)."""
        return f"{value:.6f}" if self.geographic else f"{value:.1f}"

    def position(self, easting: float, northing: float) -> str:
        """Both coordinates with the names of their axes."""
        first, second = self.axis_names
        return f"{first} {self.coordinate(easting)}, {second} {self.coordinate(northing)}"

    def positions(
        self, easting: float, northing: float, longitude_deg: float, latitude_deg: float
    ) -> list[str]:
        """A place in the job's coordinates and, where those are others, in WGS 84."""
        job = self.position(easting, northing)
        return [job] if self.wgs84 else [job, geographic_position(longitude_deg, latitude_deg)]

    @property
    def axis_names(self) -> tuple[str, str]:
        """Short names of the two coordinates."""
        return ("lon", "lat") if self.geographic else ("E", "N")


def _column(values: Sequence[float], *, whole: bool) -> list[str]:
    """Numbers of one unit with as many decimals as the smallest asks for, two at most; none becomes zero."""
    least = min((value for value in values if value > 0.0), default=0.0)
    digits = 0 if whole or least >= 100.0 else 1 if least >= 1.0 else 2
    under = 0.5 * 10.0**-digits
    return [
        "0" if value <= 0.0 else f"under {10.0**-digits:g}" if value < under else grouped(value, digits)
        for value in values
    ]


def crs_label(crs: CRS) -> str:
    """Name of a coordinate system with its code where it has one."""
    authority = crs.to_authority(min_confidence=100)
    return f"{crs.name} ({authority[0]}:{authority[1]})" if authority else str(crs.name)


def geographic_position(longitude_deg: float, latitude_deg: float) -> str:
    """WGS 84 position as phones take it: latitude first."""
    return f"{latitude_deg:.6f}, {longitude_deg:.6f}"
