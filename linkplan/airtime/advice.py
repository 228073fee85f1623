"""What would make a correction stream fit: single changes, and the smallest sufficient combinations.

Nothing is promised from a rule of thumb: every change and combination is applied and put on the air anew.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from linkplan.airtime.changes import Change
from linkplan.errors import RangeError
from linkplan.radio.air_time import AirTime, air_time
from linkplan.radio.frame_sizes import message_frames
from linkplan.radio.stream import CorrectionStream, Framing

MOST_OPTIONS = 4

LEAST_GAIN = 0.005
"""Of the time between epochs: a change that gains less by itself is not listed."""


@dataclass(frozen=True)
class SingleChange:
    """One change by itself."""

    what: str
    cost: str
    fill_before: float
    """Share of the time between epochs that the worst epoch takes."""
    fill_after: float
    bytes_per_s_saved: float
    air_time_per_s_saved: float
    enough: bool


@dataclass(frozen=True)
class Option:
    """Changes that are enough together; none of them can be left out."""

    changes: tuple[str, ...]
    costs: tuple[str, ...]
    stream: CorrectionStream
    """The stream after them."""
    after: AirTime


@dataclass(frozen=True)
class Advice:
    """What to change, cheapest for the rover first."""

    singles: tuple[SingleChange, ...]
    """Changes that gain anything by themselves, cheapest for the rover first."""
    options: tuple[Option, ...]
    """Ways that are enough, each the smallest of its price: cheapest for the rover first, by the dearest
    change in it."""


def advise(stream: CorrectionStream, before: AirTime, changes: Sequence[Change]) -> Advice:
    """Try changes and combinations on a stream that does not fit."""
    tried = _Trials(stream)
    singles = []
    for change in changes:
        after = tried.after((change,))
        if after is not None and (after.fits or after.fill < before.fill - LEAST_GAIN):
            singles.append(
                SingleChange(
                    what=change.what,
                    cost=change.cost,
                    fill_before=before.fill,
                    fill_after=after.fill,
                    bytes_per_s_saved=before.bytes_per_s - after.bytes_per_s,
                    air_time_per_s_saved=before.air_time_per_s - after.air_time_per_s,
                    enough=after.fits,
                )
            )
    return Advice(tuple(singles), _options(tried, changes))


class _Trials:
    """Combinations of changes put on the air, each once."""

    def __init__(self, stream: CorrectionStream) -> None:
        self.stream = stream
        self._seen: dict[tuple[str, ...], AirTime | None] = {}

    def changed(self, changes: Sequence[Change]) -> CorrectionStream:
        """The stream after the changes; spreading comes last, so that it knows what there is to spread."""
        stream = self.stream
        for change in sorted(changes, key=lambda change: (change.family == "spread", -change.rank)):
            stream = change.apply(stream)
        return stream

    def after(self, changes: Sequence[Change]) -> AirTime | None:
        """The changed stream on the air; None where nothing is left of it or a number is out of range."""
        name = tuple(sorted(change.what for change in changes))
        if name not in self._seen:
            stream = self.changed(changes)
            try:
                self._seen[name] = air_time(stream.messages, stream.framing) if stream.framing else None
            except RangeError:
                self._seen[name] = None
        return self._seen[name]

    def enough(self, changes: Sequence[Change]) -> bool:
        """Whether the changed stream fits; where its bits alone take too long, that is seen at once."""
        stream = self.changed(changes)
        if stream.framing is None or _bits_load(stream, stream.framing) > 1.0:
            return False
        after = self.after(changes)
        return after is not None and after.fits


def _bits_load(stream: CorrectionStream, framing: Framing) -> float:
    """Share of this station's time that the messages' own bits take, less than all that is sent."""
    bits_per_s = sum(8.0 * sum(message_frames(one)) / one.interval_s for one in stream.messages)
    return bits_per_s / framing.code_rate / framing.rate_bps * (1 + framing.repeaters) * framing.slots


def _options(tried: _Trials, changes: Sequence[Change]) -> tuple[Option, ...]:
    """For each rank, the smallest sufficient combination whose dearest change has that rank.

    Of the dearest change the mildest form comes first: one constellation less before two.
    """
    found: list[tuple[Change, ...]] = []
    for rank in sorted({change.rank for change in changes}):
        for combination in _combinations([change for change in changes if change.rank <= rank], rank):
            # whatever was found makes all that contains it more than is needed
            if any(set(known) <= set(combination) for known in found):
                continue
            if tried.enough(combination) and not any(
                tried.enough([one for one in combination if one is not left_out]) for left_out in combination
            ):
                found.append(combination)
                break
    options = []
    for combination in found[:MOST_OPTIONS]:
        after = tried.after(combination)
        assert after is not None
        what = tuple(change.what for change in combination)
        costs = tuple(change.cost for change in combination)
        options.append(Option(what, costs, tried.changed(combination), after))
    return tuple(options)


def _combinations(changes: Sequence[Change], dearest: int) -> list[tuple[Change, ...]]:
    """Combinations with a change of the dearest rank: its mildest form, then fewest, then cheapest first."""
    families = list(dict.fromkeys(change.family for change in changes))
    choices = [[None, *(change for change in changes if change.family == family)] for family in families]
    found = []
    for choice in itertools.product(*choices):
        combination = tuple(change for change in choice if change is not None)
        if any(change.rank == dearest for change in combination):
            found.append(combination)
    return sorted(found, key=_price)


def _price(combination: tuple[Change, ...]) -> tuple[int, int, int, int]:
    dearest = max(combination, key=lambda change: change.rank)
    ranks = sum(change.rank for change in combination)
    return dearest.severity, len(combination), ranks, sum(change.severity for change in combination)
