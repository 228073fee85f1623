"""To look up: where corrections are missing where somebody relies on them, the job's dead zones, cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from linkplan.outputs import formats
from linkplan.outputs.brief.blocks import Beside, Block, Heading, Points, Table, Text
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.words import Words
from linkplan.safety.cautions import Caution
from linkplan.safety.results import GuidanceZone
from linkplan.study import BriefFacts

SENTENCES_OF_ONE, SENTENCES_OF_TWO = 3, 1
"""Of the stop rule on the first page, where one group or both rely on corrections."""

_LINE = 65
"""Characters on a line of a column."""


def relied_on(facts: BriefFacts, words: Words, said: PictureWords) -> Iterator[Block]:
    """Each zone with its gaps, and what to do there."""
    zones = facts.safety.zones
    yield Heading(words.say("zones.title"))
    if not zones:
        yield Text(words.say("zones.none"))
    for number, zone in enumerate(zones, start=1):
        yield from _zone(number, zone, words, said)
    rest = [
        sentence
        for one, shown in stop_sentences(facts.safety.zones, words)
        for sentence in one.what_to_do[shown:]
    ]
    if rest:
        yield Text(words.say("zones.more"))
        yield Points(tuple(rest), tone="small")


def stop_sentences(zones: Sequence[GuidanceZone], words: Words) -> list[tuple[Caution, int]]:
    """What to do without corrections, by who relies on them, and how many sentences the first page has."""
    found = {zone.relies: words.caution(zone.what_to_do, "relies") for zone in zones}
    return [(one, SENTENCES_OF_ONE if len(found) == 1 else SENTENCES_OF_TWO) for one in found.values()]


def _zone(number: int, zone: GuidanceZone, words: Words, said: PictureWords) -> Iterator[Block]:
    show = words.show
    yield Heading(f"{said.zone_number(number)} {zone.name}", 2)
    line = words.say(
        f"zones.{zone.relies}",
        speed=f"{zone.speed_km_h:g}",
        age=words.seconds(zone.age_limit_s),
    )
    pace = f" {words.say('zones.pace')}" if zone.speed_assumed else ""
    if not zone.gap_count:
        yield Text(f"{line}{pace} {words.say('zones.no_gap', area=show.area(zone.area_m2))}")
        return
    gaps = words.counted(
        "zones.gaps",
        zone.gap_count,
        share=words.percent(zone.gap_share),
        area=show.area(zone.area_m2),
        unknown=words.percent(zone.unknown_share),
    )
    few = f" {words.say('zones.longest', listed=len(zone.gaps))}" if len(zone.gaps) < zone.gap_count else ""
    yield Text(f"{line}{pace} {gaps}{few}")
    yield _zone_table(number, zone, words, said)


def _zone_table(number: int, zone: GuidanceZone, words: Words, said: PictureWords) -> Table:
    show, (first, second) = words.show, words.show.axis_names
    area_unit, areas = show.area_column([gap.area_m2 for gap in zone.gaps])
    unit, ways = show.distance_column([gap.way_m for gap in zone.gaps])
    head = words.catalogue.lines("zones.head", first=first, second=second, area=area_unit, way=unit)
    rows = tuple(
        (
            said.zone_gap_number(number, gap.number),
            words.say(f"zones.stop_{zone.relies}" if gap.too_long else "zones.watch"),
            words.without(gap.seconds, zone.age_limit_s),
            f"{show.coordinate(gap.easting)}, {show.coordinate(gap.northing)}",
            show.distance(gap.distance_m), formats.azimuth(gap.azimuth_deg), words.bounded(area), way,
            words.percent(gap.unknown_share),
        )
        for gap, area, way in zip(zone.gaps, areas, ways, strict=True)
    )  # fmt: skip
    strong = (i for i, gap in enumerate(zone.gaps) if gap.too_long)
    return Table(head, rows, "<<><>>>>>", tuple(strong))


def dead_zones(facts: BriefFacts, words: Words, said: PictureWords) -> Iterator[Block]:
    """The job's largest gaps, and what the classes of the map mean."""
    summary = facts.study.summary
    yield Heading(words.say("gaps.title"))
    if not summary.gap_count:
        yield Text(words.say("gaps.none"))
    else:
        line = words.counted("gaps.counted", summary.gap_count)
        if len(summary.gaps) < summary.gap_count:
            line = f"{line} {words.say('gaps.largest', listed=len(summary.gaps))}"
        yield Text(f"{line} {words.say('gaps.todo')}")
        yield _gap_table(facts, words, said)


def _gap_table(facts: BriefFacts, words: Words, said: PictureWords) -> Table:
    gaps, show = facts.study.summary.gaps, words.show
    first, second = show.axis_names
    area_unit, areas = show.area_column([gap.area_m2 for gap in gaps])
    unit, distances = show.distance_column([gap.distance_m for gap in gaps])
    head = words.catalogue.lines("gaps.head", area=area_unit, distance=unit, first=first, second=second)
    rows = tuple(
        (
            said.gap_number(gap.number), words.say(f"gaps.{gap.kind.replace(' ', '_')}"), words.bounded(area),
            distance, formats.azimuth(gap.azimuth_deg), show.coordinate(gap.easting),
            show.coordinate(gap.northing),
            words.say("number.unknown") if gap.worst_margin_db is None
            else formats.number(gap.worst_margin_db, signed=True),
        )
        for gap, area, distance in zip(gaps, areas, distances, strict=True)
    )  # fmt: skip
    return Table(head, rows, "<<>>>>>>")


def cautions(facts: BriefFacts, words: Words) -> Iterator[Block]:
    """Every hazard in two columns, of about one length."""
    found = [words.caution(one) for one in facts.safety.cautions]
    cut = _half([_length(one) for one in found])
    left, right = (
        tuple(block for one in part for block in _caution(one)) for part in (found[:cut], found[cut:])
    )
    yield Heading(words.say("look.cautions"))
    yield Beside(left, right)


def _caution(caution: Caution) -> Iterator[Block]:
    yield Heading(caution.title, 2)
    yield Points(caution.what_to_do, tone="small")
    yield Text(caution.who_decides, "small")


def _length(caution: Caution) -> int:
    """About as long as it is set: characters, half a line for each sentence, two for the title."""
    sentences = (*caution.what_to_do, caution.who_decides)
    return sum(map(len, sentences)) + _LINE * (len(sentences) // 2 + 2)


def _half(lengths: Sequence[int]) -> int:
    """After how many of them two columns are nearest to one length."""
    whole = sum(lengths)
    return min(range(len(lengths) + 1), key=lambda count: abs(2 * sum(lengths[:count]) - whole))
