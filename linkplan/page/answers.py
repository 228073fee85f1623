"""Computed results as the JSON that the page reads, with the words that it shows."""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from typing import Any

from linkplan.coverage.results import CoverageSummary, Spot
from linkplan.outputs import formats
from linkplan.outputs.formats import Formats, typeset
from linkplan.outputs.text import answer_line
from linkplan.outputs.workable_words import Work, work_object
from linkplan.page.cover import Covered
from linkplan.page.pictures import Picture
from linkplan.page.set_up import base_body
from linkplan.plan.model import Plan
from linkplan.terrain.grid import TerrainGrid

FRAMES = "application/vnd.linkplan.frames"


def framed(head: dict[str, Any], pictures: Sequence[Picture] = ()) -> bytes:
    """Length of the JSON (4 bytes, big-endian), the JSON, the pictures one after the other."""
    offset, bodies = 0, []
    for one in pictures:
        bodies.append({**one.body(), "offset": offset, "length": len(one.png)})
        offset += len(one.png)
    text = as_json({**head, "pictures": bodies})
    return b"".join([struct.pack(">I", len(text)), text, *(one.png for one in pictures)])


def as_json(value: Any) -> bytes:
    """Plain objects as JSON; not-a-number never leaves."""
    return json.dumps(value, allow_nan=False, separators=(",", ":")).encode()


def answer_body(covered: Covered, work: Work | None) -> dict[str, Any]:
    """The answer of a set-up in figures and one line."""
    summary, grid = covered.summary, covered.coverage.grid
    show = Formats.of(covered.plan)
    return {
        "line": typeset(answer_line(summary)),
        "reached": summary.all_covered if work is None or not work.decides else work.reached,
        "covered_share": summary.covered_share,
        "wanted_chance": summary.wanted_chance,
        "wanted_share": summary.wanted_share,
        "class_shares": list(summary.class_shares),
        "class_names": [one.name for one in covered.coverage.classes],
        "no_data_share": summary.no_data_share,
        "beyond_baseline_share": summary.beyond_baseline_share,
        "longest_baseline_m": summary.longest_baseline_m,
        "longest_baseline": typeset(show.distance(summary.longest_baseline_m)),
        "worst": spot_body(summary.worst, show),
        "farthest": spot_body(summary.farthest_dependable, show),
        "gaps": _gaps(summary, show),
        "gap_count": summary.gap_count,
        "work": None if work is None else work_object(work),
        "cell_size_m": grid.cell_size_m,
        "cells": int(grid.height_m.size),
        "warnings": list(summary.warnings),
    }


def _gaps(summary: CoverageSummary, show: Formats) -> list[dict[str, Any]]:
    return [
        {
            "number": gap.number, "kind": gap.kind, "area_m2": gap.area_m2,
            "area": typeset(show.area(gap.area_m2)),
            "longitude": gap.longitude_deg, "latitude": gap.latitude_deg, "easting": gap.easting,
            "northing": gap.northing, "worst_margin_db": gap.worst_margin_db,
        }
        for gap in summary.gaps
    ]  # fmt: skip


def spot_body(spot: Spot | None, show: Formats) -> dict[str, Any] | None:
    """One place that the answer names."""
    if spot is None:
        return None
    words = (
        f"{show.distance(spot.distance_m)} from the base at {formats.azimuth(spot.azimuth_deg)}, margin "
        f"{formats.decibels(spot.margin_db, signed=True)}, chance {formats.chance(spot.chance)}"
    )
    return {
        "longitude": spot.longitude_deg, "latitude": spot.latitude_deg, "easting": spot.easting,
        "northing": spot.northing, "margin_db": spot.margin_db, "chance": spot.chance,
        "distance_m": spot.distance_m, "words": typeset(words),
    }  # fmt: skip


def base_on(plan: Plan, grid: TerrainGrid) -> dict[str, Any]:
    """The base with the ground that it stands on."""
    return {**base_body(plan), "ground_m": float(grid.height_m[grid.base_row, grid.base_column])}
