"""A brief composed from results: which block says what, and in which order. Nothing is computed here."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from linkplan.outputs.brief.blocks import Brief, Page, Picture
from linkplan.outputs.brief.compose_act import act_page, answer_lines
from linkplan.outputs.brief.compose_base import around_the_base
from linkplan.outputs.brief.compose_look import cautions, dead_zones, relied_on
from linkplan.outputs.brief.compose_setup import set_up_rows, what_it_rests_on
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.words import Words
from linkplan.outputs.formats import typeset
from linkplan.study import BriefFacts

if TYPE_CHECKING:
    from linkplan.outputs.brief.pictures import Drawn

REVISION_DIGITS = 8
"""Of the job file's hash: what stands for its revision."""
MAP_IN = (7.08, 3.4)
"""Widest and highest of the map of the job, inches."""
BASE_IN = (7.08, 3.8)
"""The same of the close-up of the base."""

_T = TypeVar("_T")


def compose(facts: BriefFacts, language: str = "en") -> Brief:
    """The brief in one language. LinkplanError where there are no texts in it."""
    from linkplan.outputs.brief.pictures import base_picture, job_picture

    plan = facts.study.plan
    words = Words.of(plan, language)
    said = picture_words(facts, words)
    map_said = words.say("act.map_said", job=plan.name, answer=" ".join(answer_lines(facts.study, words)))
    base_said = words.say("around.said", base=plan.base.name)
    map_picture = _picture(job_picture(facts, said, *MAP_IN), map_said)
    base_close = _picture(base_picture(facts, said, *BASE_IN), base_said)
    sheets = (
        act_page(facts, words, said, map_picture),
        tuple(around_the_base(facts, words, base_close)),
        (*relied_on(facts, words, said), *dead_zones(facts, words, said), *set_up_rows(facts, words)),
        (*cautions(facts, words), *what_it_rests_on(facts, words)),
    )
    brief = Brief(
        language=language,
        title=plan.name,
        kind=words.say("page.kind"),
        head=(
            words.say("page.revision", revision=revision_of(facts), file=plan.file.name),
            words.say("page.computed", time=words.moment(facts.computed_at)),
        ),
        foot=words.say("page.foot"),
        page_of=words.catalogue.texts["page.page_of"],  # type: ignore[arg-type]
        pages=tuple(Page(blocks, one_sheet=True) for blocks in sheets),
    )
    return replace(set_in_type(brief), title=plan.name)


def revision_of(facts: BriefFacts) -> str:
    """What stands for the job file's revision."""
    return facts.study.plan.job_hash[:REVISION_DIGITS] or "-"


def picture_words(facts: BriefFacts, words: Words) -> PictureWords:
    """The words of the drawings in the brief's language; the source's are their own."""
    catalogue = words.catalogue
    found: dict[str, Any] = {
        field.name: catalogue.texts[f"picture.{field.name}"]
        for field in fields(PictureWords)
        if catalogue.has(f"picture.{field.name}")
    }
    classes = facts.study.coverage.classes
    return replace(
        PictureWords(),
        **found,
        class_names={one.key: words.say(f"class.{one.key}") for one in classes},
        class_meanings={one.meaning: words.say(f"meaning.{one.key}") for one in classes},
    )


def _picture(drawn: Drawn, said: str) -> Picture:
    return Picture(drawn.svg, drawn.width_in, drawn.height_in, said)


def set_in_type(part: _T) -> _T:
    """The same with real minus signs and units that stay with their numbers."""
    if isinstance(part, str):
        return typeset(part)  # type: ignore[return-value]
    if isinstance(part, tuple):
        return tuple(set_in_type(one) for one in part)  # type: ignore[return-value]
    if is_dataclass(part) and not isinstance(part, type):
        return replace(part, **{one.name: set_in_type(getattr(part, one.name)) for one in fields(part)})
    return part
