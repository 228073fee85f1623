"""The settings on which a base and its rovers must agree: one row each, in the order of every sheet.

A row says how the setting is written and compared, what a difference costs, what the crew would see, and
what to do about it. Severities and symptoms are common practice; no document was read for them.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Role = Literal["base", "rover"]
ROLES: tuple[Role, ...] = ("base", "rover")

Severity = Literal["no link", "wrong coordinates", "weaker", "note"]
SEVERITIES: tuple[Severity, ...] = ("no link", "wrong coordinates", "weaker", "note")
"""Worst first: without corrections the crew notices; wrong coordinates come right after that."""

Group = Literal["radio", "corrections", "position"]
GROUPS: tuple[Group, ...] = ("radio", "corrections", "position")

Kind = Literal[
    "frequency",  # to the hertz; "none" where the set does not use it
    "spacing",  # to the hertz
    "rate",  # bit/s
    "text",  # folded: case, spaces, hyphens and underscores do not count
    "key id",  # the name of a key, or "off"
    "slot",  # "none", or which of how many
    "messages",  # set of message numbers, or "any"
    "systems",  # set of satellite systems
    "station",  # 0 to 4095 (DF003)
    "filter",  # the same, or "any"
    "angle",  # degrees
    "length",  # metres
    "coordinate",  # metres or degrees
    "system",  # coordinate system: a code or a name
    "unit",  # metre, foot, us-survey-foot or degree
]

Rule = Literal["equal", "heard", "admitted", "usable"]
"""Equal; a frequency on which the other is heard, straight or by the repeater; a filter that lets the
base's station through; messages of which a rover may take any."""

BOTH: tuple[Role, ...] = ("base", "rover")
BASE_ONLY: tuple[Role, ...] = ("base",)
ROVER_ONLY: tuple[Role, ...] = ("rover",)
NOBODY: tuple[Role, ...] = ()


@dataclass(frozen=True)
class Field:
    """One setting."""

    name: str
    title: str
    group: Group
    kind: Kind
    severity: Severity
    """Of a difference; rule "admitted" may find a milder one."""
    seen: str
    """What the crew would see."""
    cure: str
    """What to mind when it is put right; what to set is said before it."""
    asked: tuple[Role, ...] = BOTH
    """Whose silence counts: another's is only noted."""
    rule: Rule = "equal"
    tolerance: Fraction = Fraction(0)
    """Largest difference that still agrees: Hz, bit/s, degrees or metres."""
    base_key: str = ""
    """Its name on the base's sheet, where that differs from `name`."""
    rover_key: str = ""
    also: tuple[str, ...] = ()
    """Other names under which a sheet may give it."""

    def key(self, role: Role) -> str:
        """The setting's name on a sheet of that role."""
        return (self.base_key if role == "base" else self.rover_key) or self.name

    def heading(self, role: Role) -> str:
        """The setting's title on a sheet of that role."""
        return self.key(role).replace("_", " ") if self.key(role) != self.name else self.title


MILLIMETRE = Fraction(1, 1000)

_SAME_NAME = "Where two manuals name one thing differently, write one name on both sheets."
_TRUE_POINT = "Compare it with the control list, and check on a second control point before work starts."

FIELDS: tuple[Field, ...] = (
    Field(
        "corrections_frequency", "corrections frequency", "radio", "frequency", "no link",
        "The rover's radio hears nothing: no sign of data, no age of corrections, no fix.",
        "Set the frequency itself: the same channel number may be another frequency in another set.",
        rule="heard", base_key="transmit_frequency", rover_key="receive_frequency",
    ),
    Field(
        "return_frequency", "return frequency", "radio", "frequency", "weaker",
        "A rover that transmits where nobody expects it drowns the corrections for the rovers near it.",
        "Switch transmitting off on a rover unless the job wants it.",
        asked=NOBODY, base_key="receive_frequency", rover_key="transmit_frequency",
    ),
    Field(
        "channel_spacing", "channel spacing", "radio", "spacing", "no link",
        "Data comes through close to the base at best, and broken; farther out nothing.",
        "Take the spacing that the licence gives, at both ends.",
        also=("spacing",),
    ),
    Field(
        "protocol", "radio protocol", "radio", "text", "no link",
        "The radio shows a signal but hands no data on; the age of corrections never starts.", _SAME_NAME,
    ),
    Field(
        "modulation", "modulation", "radio", "text", "no link",
        "The radio shows a signal, and every packet is thrown away.", _SAME_NAME,
    ),
    Field(
        "over_air_rate", "over-the-air rate", "radio", "rate", "no link",
        "The radio shows a signal, and every packet is thrown away.",
        "This is the rate on the air, not that of the cable between receiver and radio.",
        also=("air_rate", "over_the_air_rate"),
    ),
    Field(
        "error_correction", "error correction", "radio", "text", "no link",
        "The radio shows a signal; the data are garbled or never complete.",
        "On or off alike at both ends.", also=("forward_error_correction", "fec"),
    ),
    Field(
        "scrambling_key_id", "scrambling key identifier", "radio", "key id", "no link",
        "Bytes arrive, but they are noise: no message is ever recognised.",
        "Name the key only; the key itself goes into the sets by the way your office has for it.",
        also=("scrambling", "key_id", "key_identifier"),
    ),
    Field(
        "repeater", "repeater", "radio", "text", "weaker",
        "Corrections end where the base's own reach ends, or arrive twice and late.", _SAME_NAME,
    ),
    Field(
        "repeater_frequency", "repeater's transmit frequency", "radio", "frequency", "weaker",
        "Rovers behind the repeater hear nothing, or only the base.",
        "Give it only where the repeater sends on another frequency than the base.", asked=NOBODY,
    ),
    Field(
        "time_slot", "time slot", "radio", "slot", "weaker",
        "Two stations talk at once: corrections drop out and their age jumps.",
        "One slot a station, and the same number of slots in all of them.", also=("slot",),
    ),
    Field(
        "format", "format of corrections", "corrections", "text", "no link",
        "Bytes arrive, but the rover understands none of them and stays without a fix.", _SAME_NAME,
    ),
    Field(
        "messages", "messages", "corrections", "messages", "weaker",
        "Fixing takes longer or fails: satellites, or what the rover needs with them, are missing.",
        'A rover that takes whatever comes says "any".', asked=BASE_ONLY, rule="usable",
    ),
    Field(
        "station_id", "station ID", "corrections", "station", "no link",
        "The rover shows another base's number, or counts messages and ignores them.",
        "One number a base; no other base in reach may have it.", asked=BASE_ONLY,
    ),
    Field(
        "id_filter", "station ID filter", "corrections", "filter", "no link",
        "The rover counts messages but takes none: the age of corrections never starts.",
        "With several bases in reach, let each rover take only its own.",
        asked=ROVER_ONLY, rule="admitted",
    ),
    Field(
        "elevation_mask", "elevation mask", "corrections", "angle", "weaker",
        "Low satellites are used at one end only: fewer in common, a slower fix.",
        "Ten degrees or more is usual.", tolerance=Fraction(1, 100), also=("mask",),
    ),
    Field(
        "satellite_systems", "satellite systems", "corrections", "systems", "weaker",
        "Fewer satellites in common than the sky offers: slower fix, worse under trees and in cuts.",
        "Switch on at the rover what the base sends.", also=("systems", "constellations"),
    ),
    Field(
        "base_antenna", "base antenna", "position", "text", "wrong coordinates",
        "Heights are off by the difference between two antennas' phase centres, all day.",
        "Read the name off the antenna.", asked=BASE_ONLY,
    ),
    Field(
        "base_antenna_height", "base antenna height", "position", "length", "wrong coordinates",
        "Every height of the day is off by the whole difference.",
        "Measure again, twice, and have a second person read it.", asked=BASE_ONLY, tolerance=MILLIMETRE,
    ),
    Field(
        "base_antenna_height_method", "how the antenna height was measured", "position", "text",
        "wrong coordinates",
        "Every height of the day is off: slant for vertical, or another mark on the antenna.",
        "Write from where to where it was measured, and whether straight up or along the slope.",
        asked=BASE_ONLY, also=("antenna_height_method",),
    ),
    Field(
        "base_easting", "base easting or longitude", "position", "coordinate", "wrong coordinates",
        "Every point of the day is shifted by the whole difference.", _TRUE_POINT,
        asked=BASE_ONLY, tolerance=MILLIMETRE, also=("base_longitude",),
    ),
    Field(
        "base_northing", "base northing or latitude", "position", "coordinate", "wrong coordinates",
        "Every point of the day is shifted by the whole difference.", _TRUE_POINT,
        asked=BASE_ONLY, tolerance=MILLIMETRE, also=("base_latitude",),
    ),
    Field(
        "base_height", "height of the base point", "position", "length", "wrong coordinates",
        "Every height of the day is off by the whole difference.", _TRUE_POINT,
        asked=BASE_ONLY, tolerance=MILLIMETRE,
    ),
    Field(
        "base_coordinates_source", "source of the base coordinates", "position", "text", "note",
        "Nothing yet; later nobody can say what the day's points rest on.",
        "Write the list or the adjustment, with its date.", asked=BASE_ONLY,
    ),
    Field(
        "coordinate_system", "coordinate system", "position", "system", "wrong coordinates",
        "Points land far away, or off by metres where two systems look alike.",
        "Choose it by its code.", also=("crs",),
    ),
    Field(
        "geoid", "geoid model", "position", "text", "wrong coordinates",
        "Heights are off by the difference of two models; the plan fits.", _SAME_NAME,
    ),
    Field(
        "site_transformation", "site transformation", "position", "text", "wrong coordinates",
        "The day's points do not fit the control: shifted, turned or tilted.",
        "Load the same file everywhere, and check on a control point.", also=("localisation", "localization"),
    ),
    Field(
        "coordinate_unit", "unit of coordinates", "position", "unit", "wrong coordinates",
        "Points land far away; between the two kinds of foot they are off by 2 millionths of the coordinate.",
        "Say which foot it is.", also=("units", "unit"),
    ),
)  # fmt: skip

BY_NAME = {field.name: field for field in FIELDS}


def keys_of(role: Role) -> dict[str, Field]:
    """Every name that a sheet of that role may give a setting, first names first."""
    keys = {field.key(role): field for field in FIELDS}
    for field in FIELDS:
        for name in field.also:
            keys.setdefault(name, field)
    return keys
