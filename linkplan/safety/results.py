"""What a look at the job's safety knows: frozen, units in the names. None of it says that a place is safe."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from linkplan.safety.cautions import Caution

LINE, FENCE, GUIDANCE = "overhead line", "fence", "lost corrections"
"""Rules that the job can break."""


@dataclass(frozen=True)
class CountedAntenna:
    """One antenna whose field counts."""

    name: str
    power_w: float
    """At the radio's connector."""
    eirp_w: float
    """In its best direction, while keyed."""
    frequency_mhz: float
    height_m: float
    """Above its own ground."""
    away_m: float
    """On the ground, from the base's antenna."""


@dataclass(frozen=True)
class Reach:
    """How far a limit reaches; all antennas added up."""

    distance_m: float
    """From the base's antenna, in any direction."""
    ground_radius_m: float
    """On level ground around the base, for people whose heads are `ExposureAnswer.head_height_m` up."""
    pattern_radius_m: float | None
    """The same by the antenna's vertical pattern; None without one, with several antennas, or where the
    far field's formula does not hold."""
    lowest_m: float
    """The band of heights that keeps clear of people, above the base's ground: from here ..."""
    highest_m: float
    """... to here."""
    near_field: bool
    """`distance_m` lies where the far field's formula does not hold: it is a guess there."""


@dataclass(frozen=True)
class ExposureFigure:
    """One limit for one group of people."""

    limits: str
    """Key of `tables.exposure.LIMITS`, or "own"."""
    name: str
    group: str
    """Of `tables.exposure.GROUPS`."""
    limit_w_m2: float
    """At the base's frequency."""
    averaging_min: float | None
    """None where nobody states it."""
    keyed: Reach
    """Keyed all the time: the worst case, and what to keep."""
    duty: float | None
    """The most of any averaging time that the base's stream keys it, 0 to 1; None where unknown."""
    averaged: Reach | None
    """With `duty`, for the base's own antenna; further ones count as keyed all the time."""


@dataclass(frozen=True)
class ExposureAnswer:
    """The antenna's field against the limits."""

    antennas: tuple[CountedAntenna, ...]
    """The base's first."""
    reflection_factor: float
    head_height_m: float
    antenna_length_m: float
    antenna_length_assumed: bool
    antenna_is_longer: bool
    """The length is assumed as half a wave, and the gain is that of a longer antenna."""
    far_field_from_m: float
    """Nearer than this the far field's formula does not hold."""
    duty_unknown: str
    """Why nothing is averaged, or ""."""
    judged_by: str
    """`limits` of the figure that decides."""
    figures: tuple[ExposureFigure, ...]

    def figure(self, group: str) -> ExposureFigure:
        """The figure that decides, for a group."""
        return next(one for one in self.figures if (one.limits, one.group) == (self.judged_by, group))


@dataclass(frozen=True)
class LineClearance:
    """One kind of overhead line."""

    name: str
    distance_m: float
    """On the ground, from the mast to the nearest of them."""
    wanted_m: float
    """Fall radius and clearance."""
    clearance_m: float
    basis: str
    """"stated", "voltage" or "unknown voltage"."""
    voltage_kv: float | None
    held: bool


@dataclass(frozen=True)
class MastAnswer:
    """What the mast may strike."""

    height_m: float
    """The radio antenna's above ground."""
    fall_factor: float
    fall_radius_m: float
    guy_anchors_m: tuple[float, float]
    """From the mast's foot, least and most; common practice."""
    guy_directions: int
    lines: tuple[LineClearance, ...]
    """Empty where the job names none, which says nothing about the site."""


@dataclass(frozen=True)
class GuidanceGap:
    """A connected piece of a zone without the wanted chance of corrections, unknown ground included."""

    number: int
    """Within its zone; 1 is the longest."""
    area_m2: float
    unknown_share: float
    """Of its area, on unknown ground."""
    way_m: float
    """The longest way through it."""
    seconds: float
    """Without corrections, along that way."""
    too_long: bool
    """Longer than the age limit."""
    easting: float
    """A cell of the gap, nearest to its middle, in the job's coordinate system."""
    northing: float
    longitude_deg: float
    latitude_deg: float
    distance_m: float
    """From the base to that point."""
    azimuth_deg: float


@dataclass(frozen=True)
class GuidanceZone:
    """A zone where somebody relies on corrections."""

    name: str
    relies: str
    """"machines" or "people"."""
    speed_km_h: float
    speed_assumed: bool
    age_limit_s: float
    area_m2: float
    """Of the cells that count for it."""
    gap_share: float
    """Of the zone, without the wanted chance or unknown."""
    unknown_share: float
    gap_count: int
    gaps: tuple[GuidanceGap, ...]
    """The longest first; all, or the first of them."""
    held: bool
    """No gap is longer than the age limit."""
    what_to_do: Caution
    gap_number: NDArray[np.uint16]
    """(rows, columns) of the job's grid: the number of the listed gap, 0 elsewhere."""


@dataclass(frozen=True)
class Finding:
    """One rule of the job: held or not."""

    rule: str
    """LINE, FENCE or GUIDANCE."""
    name: str
    """Of the line, or the zone."""
    held: bool
    found: float
    asked: float
    unit: str


@dataclass(frozen=True)
class Note:
    """What is assumed or not counted."""

    key: str
    """Of the sentence, whatever the language."""
    text: str
    """The sentence in English."""
    values: Mapping[str, float] = field(default_factory=dict)
    """Numbers in it, by name."""


@dataclass(frozen=True)
class SafetyAnswer:
    """Everything; `held` says that no rule that the job states is broken, and no more."""

    job_name: str
    base_name: str
    easting: float
    northing: float
    exposure: ExposureAnswer
    fence_m: float | None
    """Radius of the largest circle around the mast that can be fenced; None where the job does not say."""
    mast: MastAnswer
    zones: tuple[GuidanceZone, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[Caution, ...]
    notes: tuple[Note, ...]
    held: bool
