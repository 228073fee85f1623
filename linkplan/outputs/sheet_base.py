"""How the base point is occupied, in words for the set-up sheet."""

from __future__ import annotations

from collections.abc import Iterator

from linkplan.agreement.base_point import AntennaSetUp, BasePointSetUp, ComparedPosition, PositionSetUp
from linkplan.outputs.formats import Formats, grouped
from linkplan.plan.sky_model import WAY_WORDS

_MEASURE_TWICE = (
    "As measured: ____________ before work, ____________ after it; let a second person read, too."
)
_KNOWN = (
    "Base position: a known point. Compare its name and coordinates with the control list, and check on a "
    "second control point before work starts."
)
_ADVICE = (
    "Longer averaging helps little: the errors change over hours. Use known control: set up on a control "
    "point, or measure this point from one, before anything is staked out or machines are guided."
)
_ROUGH_M = 0.5
"""Positions that may differ by more are not shown to the millimetre."""


def base_point_paragraphs(point: BasePointSetUp) -> list[str]:
    """Paragraphs without line breaks."""
    show = Formats(point.length_unit, point.height_unit, geographic=False, coordinate_unit="", crs_name="")
    found: list[str] = []
    if point.antenna is not None:
        found += _antenna(point.antenna, show)
    if point.position is not None:
        found.append(_position(point.position, show))
    return found + [_compared(one, show) for one in point.compared]


def _antenna(antenna: AntennaSetUp, show: Formats) -> Iterator[str]:
    first, *others = antenna.readings
    reading = _height(first.reading_m, show)
    said = [f"Base antenna height: measure {first.words}; the tape reads {reading}."]
    if others:
        alike = ", ".join(f"{_height(one.reading_m, show)} {one.words}" for one in others)
        said.append(f"That is {alike}.")
    wrong = {one.entered: one.error_m for one in antenna.confusions}
    errors = [_too(wrong[one.way], show) for one in others if one.way in wrong]
    if errors:
        these = "that" if len(others) == 1 else "one of these"
        said.append(f"{reading} entered as {these} makes every height of the day {' or '.join(errors)}.")
    yield " ".join(said)
    radio = (
        "" if antenna.radio_m is None else f"Radio antenna: {_height(antenna.radio_m, show)} above ground. "
    )
    yield radio + _MEASURE_TWICE


def _too(error_m: float, show: Formats) -> str:
    return f"{_small(abs(error_m), show)} too {'high' if error_m > 0.0 else 'low'}"


def _position(position: PositionSetUp, show: Formats) -> str:
    if position.origin == "known":
        return _KNOWN
    error, effect = position.error, position.effect
    within = f"{show.height(error.horizontal_m)} horizontally and {show.height(error.vertical_m)} in height"
    farthest = show.distance(effect.baseline_m)
    return (
        f"Base position: {_origin(position.averaging_s)}. Expect it within {within} (95 %, open sky, common "
        "practice). Every coordinate of the job is shifted by the whole error. Baselines change by some "
        f"{effect.ppm:.2f} ppm: {_small(effect.distortion_m, show)} over the longest, {farthest}. {_ADVICE}"
    )


def _compared(one: ComparedPosition, show: Formats) -> str:
    found = one.found
    whence = "a known point" if one.origin == "known" else _origin(one.averaging_s)
    apart = _apart(found.horizontal_m, "apart", found.allowed_horizontal_m, show)
    if found.vertical_m is not None:
        side = "higher" if found.vertical_m > 0.0 else "lower"
        apart += " and " + _apart(abs(found.vertical_m), side, found.allowed_vertical_m, show)
    differs = not found.horizontal_agrees or found.vertical_agrees is False
    verdict = "MORE than both allow: find out why before work starts" if differs else "within what both allow"
    return f"Compared with {one.name} ({whence}): {apart}; {verdict}.{_hint(one, show)}"


def _apart(metres: float, how: str, allowed_m: float, show: Formats) -> str:
    digits = 1 if allowed_m > _ROUGH_M else 3
    return f"{show.height(metres, digits)} {how} ({show.height(allowed_m, digits)} allowed)"


def _hint(one: ComparedPosition, show: Formats) -> str:
    if not one.found.hints:
        return ""
    blunder = one.found.hints[0]
    what = f"entered as {WAY_WORDS[blunder.entered]}" if blunder.entered else "never entered"
    error = _small(abs(blunder.error_m), show)
    way = WAY_WORDS[blunder.measured]
    return (
        f" In height that is about the {error} of an antenna height measured {way} but {what}: look for that "
        "first."
    )


def _origin(averaging_s: float | None) -> str:
    return f"averaged for {grouped(averaging_s or 0.0)} s without corrections"


def _height(metres: float, show: Formats) -> str:
    """To a millimetre, with metres beside feet: many a receiver asks for them."""
    own = show.height(metres, 3)
    return own if show.height_unit == "metre" else f"{own} ({metres:.3f} m)"


def _small(metres: float, show: Formats) -> str:
    """A small length in millimetres, beside feet where those are in use."""
    millimetres = 1000.0 * metres
    text = f"{millimetres:.1f} mm" if millimetres < 9.95 else f"{millimetres:.0f} mm"
    return text if show.height_unit == "metre" else f"{show.height(metres, 3)} ({text})"
