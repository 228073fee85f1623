"""The page to act on: what to keep clear of, what is not as asked, the base, radio check and stop rule."""

from __future__ import annotations

from collections.abc import Iterator

from linkplan.outputs.brief.blocks import (
    Beside,
    Block,
    Box,
    Code,
    Figures,
    Lines,
    Pairs,
    Picture,
    Points,
    Text,
)
from linkplan.outputs.brief.compose_check import radio_check
from linkplan.outputs.brief.compose_look import stop_sentences
from linkplan.outputs.brief.compose_radio import base_rows, licence_box
from linkplan.outputs.brief.compose_setup import short_calibration
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.plain import shortened
from linkplan.outputs.brief.words import Words, apart
from linkplan.outputs.workable_words import Work, work_of_study
from linkplan.safety.results import FENCE, GUIDANCE, LINE, Finding
from linkplan.study import BriefFacts, Study
from linkplan.tables.exposure import PUBLIC
from linkplan.workable import NO_CORRECTIONS, NO_SKY, TOO_FAR, UNKNOWN

_RULE_KEYS = {LINE: "line", FENCE: "fence", GUIDANCE: "guidance"}
"""Most dangerous first."""
MOST_OF_A_KIND = 3
"""Findings of one kind on the first sheet; the command line has all of them, and so have later sheets."""
LONGEST_NAME = 80
"""Characters of a name in a finding."""


def act_page(facts: BriefFacts, words: Words, said: PictureWords, map_picture: Picture) -> tuple[Block, ...]:
    """Everything of the first page."""
    code = Code(facts.set_up.code, facts.set_up.code_spelled, words.say("act.code"))
    base = Box(words.say("act.base_title"), (Pairs(base_rows(facts, words)),))
    licence = licence_box(facts, words)
    answer = answer_lines(facts.study, words) if facts.study.reached else []
    below = " ".join([*answer, short_calibration(facts.study.plan, words)])
    return (
        Figures(tuple(key_figures(facts, words))),
        verdict_box(facts, words),
        map_picture,
        Text(below, "small"),
        Beside((base, *radio_check(facts, words, said)), (stop_rule(facts, words), licence, code), 0.53),
        Lines(words.catalogue.lines("act.sign")),
    )


def key_figures(facts: BriefFacts, words: Words) -> Iterator[tuple[str, str]]:
    """The few numbers to see first."""
    safety = facts.safety
    reach = safety.exposure.figure(PUBLIC).keyed
    guess = "_guess" if reach.near_field else ""
    longer = "_longer" if safety.exposure.antenna_is_longer else ""
    said = words.say(f"figure.away{guess or longer}", near=words.keep(reach.distance_m))
    yield words.keep_away(safety.exposure), said
    if reach.ground_radius_m > 0.0:
        yield words.keep(reach.ground_radius_m), words.say(f"figure.circle{guess}")
    else:
        yield f"{words.band(reach)} {words.unit}", words.say(f"figure.band{guess}")
    yield words.keep(safety.mast.fall_radius_m), words.say("figure.fall")
    yield words.seconds(facts.study.plan.safety.age_limit_s), words.say("figure.age")


def findings(facts: BriefFacts, words: Words) -> list[str]:
    """What is not as asked, most dangerous first."""
    return [line for kind in _by_kind(facts, words) for line in kind]


def _by_kind(facts: BriefFacts, words: Words) -> Iterator[list[str]]:
    study = facts.study
    for rule in _RULE_KEYS:
        found = [one for one in facts.safety.findings if one.rule == rule and not one.held]
        found.sort(key=lambda one: abs(one.found - one.asked), reverse=True)
        yield [finding_line(one, facts, words) for one in found]
    clauses = {one.clause: one.stands for one in facts.breaches}
    yield [words.say("finding.licence", clause=clause, stands=stands) for clause, stands in clauses.items()]
    if facts.air_time is not None and not facts.air_time.fits:
        yield [words.say("finding.air_time")]
    point = facts.set_up.base_point
    yield [
        words.say("finding.base_point", name=other.name)
        for other in (point.compared if point is not None else ())
        if not other.found.horizontal_agrees or other.found.vertical_agrees is False
    ]
    if not study.reached:
        work = work_of_study(study)
        decides = work is not None and work.decides
        yield [work_line(work, words) if work is not None and decides else cover_line(study, words)]


def verdict_box(facts: BriefFacts, words: Words) -> Box:
    """What is not as asked, or that nothing is, and how little that says. Many of a kind are counted, for
    the whole has to stand on one sheet."""
    broken = [line for kind in _by_kind(facts, words) for line in _few(kind, words)]
    if broken:
        return Box(words.say("verdict.broken"), (Points(tuple(broken)),), "alarm")
    found = facts.safety.findings
    if not found:
        return Box(words.say("verdict.nothing"), (Text(words.say("verdict.nothing_text")),))
    kinds = ([finding_line(one, facts, words) for one in found if one.rule == rule] for rule in _RULE_KEYS)
    held = " ".join(line for kind in kinds for line in _few(kind, words))
    return Box(words.say("verdict.held"), (Text(f"{held} {words.say('verdict.held_limit')}"),))


def _few(lines: list[str], words: Words) -> list[str]:
    if len(lines) <= MOST_OF_A_KIND:
        return lines
    more = words.say("verdict.more", count=len(lines) - MOST_OF_A_KIND)
    return [*lines[:MOST_OF_A_KIND], more]


def finding_line(finding: Finding, facts: BriefFacts, words: Words) -> str:
    """One rule with what was found and what is asked for; what breaks it is not rounded to what keeps it."""
    kind = "broken" if not finding.held else "none" if finding.found == 0.0 else "held"
    if finding.rule == FENCE:
        found, asked = words.keep(finding.found), words.room(finding.asked)
    elif finding.rule == LINE:
        found, asked = apart(finding.found, finding.asked, words.show)
    else:
        found, asked = words.without(finding.found, finding.asked), words.seconds(finding.asked)
    name = shortened(finding.name, LONGEST_NAME)
    line = words.say(f"finding.{_RULE_KEYS[finding.rule]}_{kind}", name=name, found=found, asked=asked)
    if finding.rule == FENCE and finding.held and facts.safety.exposure.figure(PUBLIC).keyed.near_field:
        return f"{line} {words.say('finding.fence_guess')}"
    return line


def answer_lines(study: Study, words: Words) -> list[str]:
    """How much of the job is served, in a sentence or two."""
    work = work_of_study(study)
    return [cover_line(study, words), *([work_line(work, words)] if work is not None else [])]


def cover_line(study: Study, words: Words) -> str:
    """Is the job covered as wanted?"""
    summary = study.summary
    key = "cover.yes" if summary.all_covered else "cover.no"
    line = words.say(
        key,
        share=words.served(summary.covered_share, summary.wanted_share),
        chance=words.chance(summary.wanted_chance),
        goal=_goal(summary.wanted_share, words),
    )
    if summary.beyond_baseline_share > 0.0 and summary.baseline_limit_m is not None:
        limit = words.show.distance(summary.baseline_limit_m)
        line = f"{line} {words.say('cover.limit', limit=limit)}"
    return line


def work_line(work: Work, words: Words) -> str:
    """Where can work go on, and what is missing elsewhere?"""
    found = work.found
    reasons = [("cover.no_corrections", NO_CORRECTIONS)]
    for key, bit in (("cover.no_sky", NO_SKY), ("cover.too_far", TOO_FAR)):
        reasons += [(key, bit)] if found.share(bit=bit) > 0.0 else []
    line = words.say(
        "cover.work_wanted" if work.decides else "cover.work",
        share=words.served(found.workable_share, work.wanted_share),
        goal=_goal(work.wanted_share, words),
        reasons=", ".join(words.say(key, share=words.percent(found.share(bit=bit))) for key, bit in reasons),
        unknown=words.percent(found.share(bit=UNKNOWN)),
    )
    if not found.sky_counted:
        return f"{line} {words.say('cover.sky_not_counted')}"
    return f"{line} {words.say('cover.typical')}" if work.typical else line


def _goal(share: float, words: Words) -> str:
    if share >= 1.0:
        return words.say("cover.all")
    return words.say("cover.some", share=f"{100.0 * share:g} %")


def stop_rule(facts: BriefFacts, words: Words) -> Box:
    """What to do when corrections are lost, by who relies on them, and who decides."""
    found = stop_sentences(facts.safety.zones, words)
    general = words.catalogue.lines("act.stop_general")
    items = tuple(sentence for one, shown in found for sentence in one.what_to_do[:shown])
    if found:
        items += (words.say("act.stop_rest"),) if len(found) == 1 else general[1:]
    who = [one.who_decides for one, _ in found] or [words.say("act.decide_general")]
    age = words.seconds(facts.study.plan.safety.age_limit_s)
    rule = Points(items or general)
    return Box(words.say("act.stop_title", age=age), (rule, Text(" ".join(who), "small")), "alarm")
