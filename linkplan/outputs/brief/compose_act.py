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
from linkplan.outputs.brief.words import Words
from linkplan.outputs.workable_words import Work, work_of_study
from linkplan.safety.results import FENCE, GUIDANCE, LINE, Finding
from linkplan.study import BriefFacts, Study
from linkplan.tables.exposure import PUBLIC
from linkplan.workable import NO_CORRECTIONS, NO_SKY, TOO_FAR, UNKNOWN

_RULE_KEYS = {FENCE: "fence", LINE: "line", GUIDANCE: "guidance"}


def act_page(facts: BriefFacts, words: Words, said: PictureWords, map_picture: Picture) -> tuple[Block, ...]:
    """Everything of the first page."""
    broken = findings(facts, words)
    code = Code(facts.set_up.code, facts.set_up.code_spelled, words.say("act.code"))
    base = Box(words.say("act.base_title"), (Pairs(base_rows(facts, words)),))
    licence = licence_box(facts, words)
    answer = answer_lines(facts.study, words) if facts.study.reached else []
    below = " ".join([*answer, short_calibration(facts.study.plan, words)])
    return (
        Figures(tuple(key_figures(facts, words))),
        verdict_box(facts, words, broken),
        map_picture,
        Text(below, "small"),
        Beside((base, *radio_check(facts, words, said)), (stop_rule(facts, words), licence, code), 0.53),
        Lines(words.catalogue.lines("act.sign")),
    )


def key_figures(facts: BriefFacts, words: Words) -> Iterator[tuple[str, str]]:
    """The few numbers to see first."""
    safety = facts.safety
    reach = safety.exposure.figure(PUBLIC).keyed
    far = words.keep(safety.exposure.far_field_from_m)
    away = "figure.away_guess" if reach.near_field else "figure.away"
    yield words.keep(reach.distance_m), words.say(away, far=far)
    if reach.ground_radius_m > 0.0:
        yield words.keep(reach.ground_radius_m), words.say("figure.circle")
    else:
        yield f"{words.band(reach)} {words.unit}", words.say("figure.band")
    yield words.keep(safety.mast.fall_radius_m), words.say("figure.fall")
    yield words.seconds(facts.study.plan.safety.age_limit_s), words.say("figure.age")


def findings(facts: BriefFacts, words: Words) -> list[str]:
    """What is not as asked, most dangerous first."""
    study, found = facts.study, [one for one in facts.safety.findings if not one.held]
    lines = [finding_line(one, words) for one in found]
    lines += [words.say("finding.licence", clause=one.clause, stands=one.stands) for one in facts.breaches]
    if facts.air_time is not None and not facts.air_time.fits:
        lines.append(words.say("finding.air_time"))
    point = facts.set_up.base_point
    for other in point.compared if point is not None else ():
        if not other.found.horizontal_agrees or other.found.vertical_agrees is False:
            lines.append(words.say("finding.base_point", name=other.name))
    if not study.reached:
        work = work_of_study(study)
        decides = work is not None and work.decides
        lines.append(work_line(work, words) if work is not None and decides else cover_line(study, words))
    return lines


def verdict_box(facts: BriefFacts, words: Words, broken: list[str]) -> Box:
    """What is not as asked, or that nothing is, and how little that says."""
    if broken:
        return Box(words.say("verdict.broken"), (Points(tuple(broken)),), "alarm")
    found = facts.safety.findings
    if not found:
        return Box(words.say("verdict.nothing"), (Text(words.say("verdict.nothing_text")),))
    held = " ".join(finding_line(one, words) for one in found)
    return Box(words.say("verdict.held"), (Text(f"{held} {words.say('verdict.held_limit')}"),))


def finding_line(finding: Finding, words: Words) -> str:
    """One rule with what was found and what is asked for."""
    key = f"finding.{_RULE_KEYS[finding.rule]}_{'held' if finding.held else 'broken'}"
    show = words.show
    if finding.rule == FENCE:
        found, asked = words.keep(finding.found), show.height(finding.asked, 1)
    elif finding.rule == LINE:
        found, asked = words.there(finding.found), show.height(finding.asked, 2)
    else:
        found, asked = words.seconds(finding.found), words.seconds(finding.asked)
    return words.say(key, name=finding.name, found=found, asked=asked)


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
        share=words.percent(summary.covered_share),
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
        share=words.percent(found.workable_share),
        goal=_goal(work.wanted_share, words),
        reasons=", ".join(words.say(key, share=words.percent(found.share(bit=bit))) for key, bit in reasons),
        unknown=words.percent(found.share(bit=UNKNOWN)),
    )
    typical = f" {words.say('cover.typical')}" if work.typical and found.sky_counted else ""
    return f"{line}{typical}"


def _goal(share: float, words: Words) -> str:
    if share >= 1.0:
        return words.say("cover.all")
    return words.say("cover.some", share=f"{100.0 * share:g} %")


def stop_rule(facts: BriefFacts, words: Words) -> Box:
    """What to do when corrections are lost, by who relies on them, and who decides."""
    found = stop_sentences(facts.safety.zones, words)
    items = tuple(sentence for one, shown in found for sentence in one.what_to_do[:shown])
    who = [one.who_decides for one, _ in found] or [words.say("act.decide_general")]
    age = words.seconds(facts.study.plan.safety.age_limit_s)
    rule = Points(items or words.catalogue.lines("act.stop_general"))
    return Box(words.say("act.stop_title", age=age), (rule, Text(" ".join(who), "small")), "alarm")
