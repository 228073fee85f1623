"""What a field check puts on a map: where map and logs differ, by shape; the worst blocks, numbered."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.check import FieldAnswer
from linkplan.fieldcheck.samples import IN_TIME, NOT_OBSERVED
from linkplan.fieldcheck.wrong import LEAST_SPREADS
from linkplan.outputs import formats
from linkplan.outputs.fieldcheck_words import station_words, wrong_words
from linkplan.outputs.formats import Formats, counted
from linkplan.outputs.siting_marks import OUT, RANKED, REPEATER

KEPT, UNKEPT, UNPROMISED, LEFT = "kept", "unkept", "unpromised", "left"
"""Covered and received; covered, not received; not covered, yet received; neither."""
WEAK, STRONG = "weak", "strong"
"""Levels beyond what 9 of 10 are expected to keep within."""

NAMES = {
    KEPT: "covered, and corrections came",
    UNKEPT: "covered, but corrections did not come",
    UNPROMISED: "not covered, yet corrections came",
    LEFT: "not covered, and none came",
    WEAK: "level clearly weaker than predicted",
    STRONG: "level clearly stronger than predicted",
}
CAME = "came"
"""A sign of its own: a small open diamond."""
SIGN = {UNKEPT: OUT, UNPROMISED: CAME, WEAK: WEAK, STRONG: STRONG}
"""Sign on maps of samples that differ; the others are the track."""
WRONG_SIGN, OTHER_SIGN = RANKED, REPEATER
MOST_SIGNS = 500
"""Of a kind on a map: more of them hide it, and each other."""


def kinds_of(answer: FieldAnswer) -> NDArray[np.str_]:
    """(n,), key of NAMES for each sample with an outcome and a prediction, "" for the others.

    Of samples without an outcome those with a level that is clearly off have WEAK or STRONG.
    """
    outcome, chance = answer.judged.outcome, answer.predicted.chance
    # as the map's first class has it, to single precision
    covered = chance.astype(np.float32) >= np.float32(answer.plan.goal.chance)
    came = outcome == IN_TIME
    found = np.select([covered & came, covered & ~came, ~covered & came], [KEPT, UNKEPT, UNPROMISED], LEFT)
    spreads = (answer.samples.level_dbm - answer.predicted.received_dbm) / answer.coverage.sigma_db
    level = np.select([spreads < -LEAST_SPREADS, spreads > LEAST_SPREADS], [WEAK, STRONG], "")
    return np.where((outcome == NOT_OBSERVED) | np.isnan(chance), level, found)


@dataclass(frozen=True)
class FieldMark:
    """One sign on a map."""

    group: str
    """Shown and hidden together: "wrong", "other" or a key of SIGN."""
    sign: str
    text: str
    """Number or station in the sign, or ""."""
    label: str
    x_m: float
    y_m: float
    title: str
    lines: tuple[str, ...]
    row: tuple[str, str, str, str] | None = None
    """In the list beside the map: what, samples and place, values, what they are."""


def marks_of(answer: FieldAnswer) -> tuple[FieldMark, ...]:
    """Worst blocks first, then other bases, then single samples."""
    show = Formats.of(answer.plan)
    return (*_wrong(answer, show), *_other(answer, show), *_samples(answer, show))


def _wrong(answer: FieldAnswer, show: Formats) -> list[FieldMark]:
    found = []
    for one in answer.wrong:
        where = f"{show.distance(one.distance_m)} at {formats.azimuth(one.azimuth_deg)} from the base"
        number = counted(one.samples, "sample")
        if one.predicted_share is not None and one.observed_share is not None:
            predicted, seen = (
                formats.percent(share, 0) for share in (one.predicted_share, one.observed_share)
            )
            values, what = f"{predicted} → {seen}", "predicted → seen"
        else:
            values, what = formats.decibels(one.level_error_db or 0.0, signed=True), "mean of levels"
        found.append(
            FieldMark(
                "wrong", WRONG_SIGN, str(one.number), "", one.x_m, one.y_m, f"{one.number}. {one.kind}",
                (wrong_words(one), number, where, *_position(answer, show, one.x_m, one.y_m)),
                (one.kind, f"{number}, {where}", values, what),
            )
        )  # fmt: skip
    return found


def _other(answer: FieldAnswer, show: Formats) -> list[FieldMark]:
    names = {one.station: station_words(one) for one in answer.other_bases}
    places: dict[str, list[tuple[float, float]]] = {}
    found = []
    for spot in sorted(answer.samples.other_bases, key=lambda spot: -spot.epochs):
        near = places.setdefault(spot.station, [])
        # one sign for a stretch of neighbouring cells
        if any(np.hypot(spot.x_m - x, spot.y_m - y) < answer.options.block_m for x, y in near):
            continue
        near.append((spot.x_m, spot.y_m))
        title = f"Corrections of station {names.get(spot.station, spot.station)}"
        where = _position(answer, show, spot.x_m, spot.y_m)
        found.append(FieldMark("other", OTHER_SIGN, spot.station[:4], "", spot.x_m, spot.y_m, title, where))
    return found[:MOST_SIGNS]


def _samples(answer: FieldAnswer, show: Formats) -> list[FieldMark]:
    kinds, samples = kinds_of(answer), answer.samples
    found = []
    for kind, sign in SIGN.items():
        which = np.flatnonzero(kinds == kind)
        for at in which[:: max(1, -(-which.size // MOST_SIGNS))].tolist():
            x_m, y_m = float(samples.x_m[at]), float(samples.y_m[at])
            lines = (_said(answer, at), *_position(answer, show, x_m, y_m))
            title = NAMES[kind][:1].upper() + NAMES[kind][1:]
            found.append(FieldMark(kind, sign, "", "", x_m, y_m, title, lines))
    return found


def _said(answer: FieldAnswer, at: int) -> str:
    predicted = answer.predicted
    if np.isfinite(answer.samples.level_dbm[at]):
        level, expected = float(answer.samples.level_dbm[at]), float(predicted.received_dbm[at])
        return f"{formats.decibels(level, 'dBm')} measured, {formats.decibels(expected, 'dBm')} predicted"
    chance, margin = float(predicted.chance[at]), float(predicted.margin_db[at])
    return f"predicted chance {formats.chance(chance)}, margin {formats.decibels(margin, signed=True)}"


def _position(answer: FieldAnswer, show: Formats, x_m: float, y_m: float) -> tuple[str, ...]:
    frame = answer.coverage.grid.frame
    easting, northing = (float(value) for value in frame.to_job(x_m, y_m))
    longitude, latitude = (float(value) for value in frame.to_geographic(x_m, y_m))
    return tuple(show.positions(easting, northing, longitude, latitude))
