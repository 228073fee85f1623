"""Every word that the brief's drawings carry, in English; another language fills the same fields.

Text in braces is put in when drawing; numbers come from the results, formatted by `outputs/formats.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

CLASS_NAMES = {
    "dependable": "dependable",
    "likely": "likely",
    "uncertain": "uncertain",
    "unlikely": "unlikely",
    "out-of-reach": "out of reach",
}


@dataclass(frozen=True)
class PictureWords:
    """Words of both drawings."""

    # classes of the map
    classes_title: str = "Chance of corrections"
    class_names: Mapping[str, str] = field(default_factory=lambda: dict(CLASS_NAMES))
    """By the key of a class; one that is missing keeps its English name."""
    class_meanings: Mapping[str, str] = field(default_factory=dict)
    """By the English meaning as `coverage/classes.py` has it; one that is missing stays English."""
    chance_from: str = "{low} or more"
    chance_between: str = "{low} to {high}"
    chance_below: str = "under {high}"
    no_data: str = "no data"
    no_data_meaning: str = "Terrain missing: nothing is claimed."

    # signs of the map
    signs_title: str = "On the map"
    base: str = "base"
    control_point: str = "control point"
    control_some_named: str = "control point ({named} of {count} named)"
    gap_tag: str = "G{gap}"
    gap: str = "gap of the job, largest first"
    zone_tag: str = "Z{zone}"
    zone_machines: str = "machines: {name}"
    zone_people: str = "people: {name}"
    zones_more: str = "and {count} more zones"
    zone: str = "zone that relies on corrections"
    zone_gap_tag: str = "Z{zone}.{gap}"
    zone_gap: str = "gap in a zone, longest first"
    unnumbered: str = "a dot alone: no room for its number"
    overhead_line: str = "overhead line"
    boundary: str = "boundary of the job"
    baseline_limit: str = "baseline limit, {distance}"
    overview: str = "Base and job"
    on_overview: str = "part on the large map"
    coordinates: str = "Coordinates: {crs}. True north is up."
    north: str = "N"
    easting_axis: str = "E"
    northing_axis: str = "N"
    longitude_axis: str = "lon"
    latitude_axis: str = "lat"

    # the close-up of the base
    base_title: str = "Around the base"
    mast: str = "mast of the base"
    public: str = "anybody keeps out"
    public_on_line: str = "keep out {radius}"
    public_note: str = "while the transmitter may key"
    worker: str = "workers keep out too"
    worker_on_line: str = "workers {radius}"
    worker_note: str = "trained ones included: nobody goes nearer while it may key"
    aloft: str = "{low} to {high} up"
    aloft_note: str = "a band around the antenna above heads ({heads}): nobody climbs or reaches into it"
    near_field: str = "Near field: a guess. Keep {far} away until the antenna's maker says otherwise."
    fall: str = "mast may fall"
    fall_on_line: str = "fall {radius}"
    fall_note: str = "nobody stays and nothing stands here that it may strike"
    fence: str = "can be fenced"
    fence_on_line: str = "fence {radius}"
    fence_none: str = "The mast stands outside of ground that can be fenced."
    fence_unknown: str = "No fence is stated: keep the circle clear in some other way."
    guys: str = "guy anchors"
    guys_reach: str = "{least} to {most}"
    guys_note: str = "{count} directions or more, evenly; those drawn are an example"
    line_clearance: str = "clearance {clearance}: {name}"
    line_held: str = "{distance} away, {wanted} asked for"
    line_not_held: str = "TOO NEAR: {distance} away, {wanted} asked for"
    line_not_drawn: str = "not in the drawing"
    no_line: str = "No overhead line is given: look for them."
    lines_more: str = "and {count} more kinds of overhead line"
    too_small: str = "too small to draw"
    too_large: str = "larger than the drawing"
    contours: str = "contours every {step}"
    ground_missing: str = "terrain missing"

    def gap_number(self, gap: int) -> str:
        """Tag of a gap of the job."""
        return self.gap_tag.format(gap=gap)

    def zone_number(self, zone: int) -> str:
        """Tag of a zone; the first is 1."""
        return self.zone_tag.format(zone=zone)

    def zone_gap_number(self, zone: int, gap: int) -> str:
        """Tag of a gap in a zone."""
        return self.zone_gap_tag.format(zone=zone, gap=gap)


ENGLISH = PictureWords()
