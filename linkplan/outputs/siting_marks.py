"""What a siting answer adds to a map: numbered places, crossed ones, zones, ground and lines that rule out.

Written once here, in local metres of the map's grid, so that the page and the figure draw the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linkplan.outputs import formats, siting_reasons, siting_words
from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_words import AtPlace, clean, heard
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place, Siting
from linkplan.siting.results import Judged, SetUp, SitingResult
from linkplan.terrain.geodesy import LocalFrame

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

FIRST, RANKED, OUT, SPARE, REPEATER = "first", "ranked", "out", "spare", "repeater"
"""The winner or a base of several set-ups; another ranked place; one that is ruled out; one that serves and
is not among the set-ups; a repeater."""

GROUP = {FIRST: "chosen", REPEATER: "chosen", RANKED: "ranked", SPARE: "ranked", OUT: "out"}
"""Marks that are shown or hidden together."""

MOST_MARKS = 800
"""Places on a map: more of them hide it, and each other."""

OUTLINES = {
    "keep-out": "ground where no mast may stand",
    "zone": "zone",
    "line": "overhead line",
    "fence": "ground that can be fenced",
    "stand": "ground where a base may stand",
    "track": "track",
    "corridor": "line of the corridor",
    "link": "from base to repeater",
}
"""Kinds of outlines in the order in which they are drawn, and what they are."""


@dataclass(frozen=True)
class Mark:
    """A place of the search on the map."""

    kind: str
    number: str
    """In the mark, or "" for one without."""
    name: str
    order: int
    """Who gets room for number and name first, from 0."""
    x_m: float
    y_m: float
    title: str
    lines: tuple[str, ...]
    """What there is to know about it."""
    row: tuple[str, str, str] | None
    """Name, equipment and share in the list beside the map, or None for one that is not listed."""


@dataclass(frozen=True)
class Outline:
    """A zone, ground or line."""

    kind: str
    """Key of OUTLINES."""
    name: str
    shape: BaseGeometry
    """In local metres."""


@dataclass(frozen=True)
class Extra:
    """Everything that a map of a search shows beside the coverage."""

    answer: str
    good: bool
    heading: str
    """Of the list of places."""
    marks: tuple[Mark, ...]
    outlines: tuple[Outline, ...]
    several: bool
    """Distances are from no one base."""
    counted: str
    """What the values of the list are."""
    last_class: str
    """What the last class of chance means beside its own words, or ""."""

    def at(self, x_m: float, y_m: float) -> bool:
        """Whether a mark stands there, to a metre."""
        return any(abs(x_m - mark.x_m) < 1.0 and abs(y_m - mark.y_m) < 1.0 for mark in self.marks)


def extra_of(plan: Plan, result: SitingResult, frame: LocalFrame) -> Extra:
    """What the maps of a search show, on a map with this frame."""
    show = Formats.of(plan)
    maker = _Maker(result, show, frame)
    several = result.together is not None and bool(result.together.set_ups)
    marks = tuple(maker.marks())
    few = f" (of {len(marks)} the first {MOST_MARKS} are drawn)" if len(marks) > MOST_MARKS else ""
    return Extra(
        answer=siting_words.answer_line(result, show),
        good=siting_words.reaches(result),
        heading=("Set-ups" if several else siting_words.ranking_title(result)) + few,
        marks=marks[:MOST_MARKS],
        outlines=tuple(
            Outline(kind, name, frame.geometry_to_local(shape))
            for kind, name, shape in outlines_of(plan, result)
        ),
        several=several,
        last_class=_beyond(result, show) if several else "",
        counted="by itself" if several else "weighted" if result.zone_names else "of the job",
    )


def _beyond(result: SitingResult, show: Formats) -> str:
    """On the map of several set-ups the last class takes in what is too far from all of them."""
    limit_m = result.baseline_limit_m
    return "" if limit_m is None else f"Also: farther than {show.distance(limit_m)} from every set-up."


@dataclass(frozen=True)
class _Maker:
    result: SitingResult
    show: Formats
    frame: LocalFrame

    def marks(self) -> Iterator[Mark]:
        """Chosen ones first, then ranked ones, then those ruled out."""
        together = self.result.together
        chosen = together.set_ups if together is not None else ()
        taken = {one.candidate.place for one in chosen}
        yield from (self._set_up(one) for one in chosen)
        for at in siting_words.by_place(self.result):
            if at.place in taken:
                continue
            if at.best is None:
                yield self._out(at)
            else:
                yield self._ranked(at, at.best, spare=bool(chosen))

    def _mark(
        self, kind: str, number: str, place: Place, order: int, title: str, lines: Sequence[str],
        row: tuple[str, str, str] | None = None,
    ) -> Mark:  # fmt: skip
        x_m, y_m = (float(value) for value in self.frame.to_local(place.easting, place.northing))
        at = self.frame.to_geographic(x_m, y_m)
        where = self.show.positions(place.easting, place.northing, *at)
        name = clean(place.name)
        return Mark(kind, number, name, order, x_m, y_m, title, (*lines, *where), row)

    def _set_up(self, one: SetUp) -> Mark:
        name, repeater = clean(one.candidate.place.name), one.role == "repeater"
        lines = [
            siting_words.kit(one.candidate, self.show),
            f"{formats.percent(one.covered_share)} of the job by itself",
            f"{formats.percent(one.only_share)} by no other",
        ]
        if repeater:
            lines.append(f"heard from the base: {heard(one)}")
        if one.check_point:
            lines.append(f"check point with the next: {clean(one.check_point)}")
        row = name, siting_words.kit(one.candidate, self.show), formats.percent(one.covered_share)
        return self._mark(
            REPEATER if repeater else FIRST,
            str(one.order),
            one.candidate.place,
            one.order - 1,
            f"{'Repeater' if repeater else 'Set-up'} {one.order}: {name}",
            lines,
            row,
        )

    def _ranked(self, at: AtPlace, best: Judged, *, spare: bool) -> Mark:
        outcome, rank = best.outcome, best.rank
        assert outcome is not None
        assert rank is not None
        share = f"{formats.percent(outcome.covered_share)} of the job"
        if self.result.zone_names:
            share += f", {formats.percent(outcome.weighted_share)} as weighted"
        lines = [
            f"rank {rank} of {len(self.result.ranking)}",
            siting_words.kit(best.candidate, self.show),
            share,
        ]
        lines += [
            f"{clean(name)}: {formats.percent(part)}"
            for name, part in zip(self.result.zone_names, outcome.zone_shares, strict=True)
        ]
        lines.append(
            f"worst spot {siting_words.worst_spot(outcome.worst_margin_db)}, longest baseline "
            f"{self.show.distance(outcome.longest_baseline_m)}"
        )
        if self.result.cases:
            lines.append(f"first in {best.best_cases} of {self.result.cases} draws of the prediction's error")
        lines += [f"ruled out: {kit}: {why}" for kit, why in siting_reasons.partly_out(at, self.show)]
        if spare:
            return self._mark(SPARE, "", at.place, 1000 + rank, f"{at.name} (not needed)", lines)
        value = formats.percent(outcome.weighted_share)
        row = at.name, siting_words.kit(best.candidate, self.show), value
        kind = FIRST if rank == 1 else RANKED
        return self._mark(kind, str(rank), at.place, rank - 1, f"{rank}. {at.name}", lines, row)

    def _out(self, at: AtPlace) -> Mark:
        why = siting_reasons.out_words(at, self.show)
        return self._mark(OUT, "", at.place, 10**6, f"{at.name}: ruled out", why)


def outlines_of(plan: Plan, result: SitingResult) -> tuple[tuple[str, str, BaseGeometry], ...]:
    """Kind, name and shape, in the job's coordinates, of all zones, ground, lines and links."""
    if plan.siting is None:
        return ()
    order = list(OUTLINES)
    found = [one for one in (*_stated(plan.siting), *_links(result)) if not one[2].is_empty]
    return tuple(sorted(found, key=lambda one: order.index(one[0])))


def _stated(siting: Siting) -> Iterator[tuple[str, str, BaseGeometry]]:
    """What the job draws, in its coordinates."""
    rules = siting.rules
    for zone in siting.zones:
        must = "" if zone.must_share is None else f", {formats.percent(zone.must_share, 0)} is a must"
        yield "zone", f"{clean(zone.name)} (weight {zone.weight:g}{must})", zone.area
    for line in rules.lines:
        kilovolts = "voltage unknown" if line.voltage_kv is None else f"{line.voltage_kv:g} kV"
        yield "line", f"{clean(line.name)} ({kilovolts})", line.shape
    for kind, shape in (
        ("keep-out", rules.keep_out),
        ("fence", rules.fenced),
        ("stand", siting.grid_area),
        ("track", rules.tracks),
        ("corridor", siting.corridor),
    ):
        if shape is not None:
            yield kind, OUTLINES[kind], shape


def _links(result: SitingResult) -> Iterator[tuple[str, str, BaseGeometry]]:
    """From the base to each repeater."""
    import shapely

    together = result.together
    if together is None or not any(one.role == "repeater" for one in together.set_ups):
        return
    base = next(one for one in together.set_ups if one.role == "base").candidate.place
    for one in together.set_ups:
        if one.role == "repeater":
            there = one.candidate.place
            ends = [(base.easting, base.northing), (there.easting, there.northing)]
            name = f"{clean(base.name)} to {clean(there.name)}, {heard(one)} of margin"
            yield "link", name, shapely.LineString(ends)
