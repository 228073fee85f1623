"""Every language says everything that English says, and asks for the same values."""

from __future__ import annotations

import re
from dataclasses import fields
from inspect import getsource

import pytest

from linkplan.errors import LinkplanError
from linkplan.outputs.brief.catalogue import (
    FROM_SOURCE,
    SOURCE_LANGUAGE,
    Catalogue,
    catalogue_of,
    languages,
    placeholders,
)
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.plan.sheet_fields import FIELDS, GROUPS
from linkplan.propagation.noise import CATEGORIES
from linkplan.safety import check
from linkplan.safety.cautions import CAUTIONS, WHAT_TO_DO
from linkplan.tables.exposure import GROUPS as PEOPLE
from linkplan.tables.exposure import LIMITS
from linkplan.tables.overhead_lines import SOURCE as CLEARANCES

OTHERS = tuple(tag for tag in languages() if tag != SOURCE_LANGUAGE)
NOTES = set(re.findall(r'"([a-z]+(?:-[a-z]+)+)"', getsource(check._notes)))
"""Keys of the notes that results can have."""


def asked_by(text: str | tuple[str, ...]) -> list[frozenset[str]]:
    return [placeholders(one) for one in ((text,) if isinstance(text, str) else text)]


def test_there_is_a_language_beside_the_source():
    assert languages()[0] == SOURCE_LANGUAGE
    assert "es" in OTHERS


@pytest.mark.parametrize("language", OTHERS)
def test_same_keys_and_same_placeholders(language):
    source, other = catalogue_of(SOURCE_LANGUAGE).texts, catalogue_of(language).texts
    assert not [key for key in source if key.startswith(FROM_SOURCE)]
    assert {key for key in other if not key.startswith(FROM_SOURCE)} == set(source)
    for key, text in source.items():
        assert asked_by(other[key]) == asked_by(text), key
        assert other[key] != text or not re.search(r"[a-z]{3}", str(text)) or key in SAME, key


SAME = {
    "act.base_title", "act.wgs84", "act.on_air", "act.blank", "setup.group.radio", "setup.field.protocol",
    "around.fall_value", "field.pair", "noise.rural",
}  # fmt: skip
"""Texts that may be alike in two languages: names, numbers and blanks."""


@pytest.mark.parametrize("language", OTHERS)
def test_every_caution_is_said_sentence_by_sentence(language):
    texts = catalogue_of(language).texts
    for room, found in (("caution", CAUTIONS), ("relies", WHAT_TO_DO)):
        assert {key.split(".")[1] for key in texts if key.startswith(f"{room}.")} == set(found)
        for hazard, caution in found.items():
            assert len(texts[f"{room}.{hazard}.what_to_do"]) == len(caution.what_to_do), hazard
            assert set(texts[f"{room}.{hazard}.what_to_do"]).isdisjoint(caution.what_to_do)
            assert texts[f"{room}.{hazard}.title"] != caution.title
            assert texts[f"{room}.{hazard}.who_decides"] != caution.who_decides


@pytest.mark.parametrize("language", OTHERS)
def test_every_word_of_the_drawings_is_said_with_its_values(language):
    texts, source = catalogue_of(language).texts, PictureWords()
    words = {one.name: getattr(source, one.name) for one in fields(PictureWords)}
    wanted = {f"picture.{name}": text for name, text in words.items() if isinstance(text, str)}
    assert {key for key in texts if key.startswith("picture.")} == set(wanted)
    for key, text in wanted.items():
        assert asked_by(texts[key]) == asked_by(text), key


@pytest.mark.parametrize("language", languages())
def test_every_key_that_results_can_ask_for_is_there(language):
    catalogue = catalogue_of(language)
    wanted = [f"setup.field.{field.name}" for field in FIELDS]
    wanted += [f"setup.field.{field.name}_rover" for field in FIELDS if field.base_key]
    wanted += [f"setup.group.{group}" for group in GROUPS]
    wanted += [f"noise.{key}" for key in CATEGORIES]
    wanted += [f"field.{group}" for group in PEOPLE]
    for key in LIMITS:
        wanted += [f"field.limits_{key.replace('.', '_')}", f"rests.read_{key.replace('.', '_')}"]
    if language != SOURCE_LANGUAGE:
        assert len(NOTES) == 10
        wanted += [f"note.{key}" for key in NOTES]
    assert [key for key in wanted if not catalogue.has(key)] == []


def test_names_of_documents_are_those_of_the_tables():
    source = catalogue_of(SOURCE_LANGUAGE)
    assert source.say("around.table") == CLEARANCES
    for key, limits in LIMITS.items():
        assert source.say(f"field.limits_{key.replace('.', '_')}") == limits.name


@pytest.mark.parametrize("language", languages())
def test_no_bare_promise(language):
    said = " ".join(
        " ".join((text,) if isinstance(text, str) else text) for text in catalogue_of(language).texts.values()
    )
    assert not re.search(r"\bsafe\b|\bsegur[oa]s?\b", said, re.IGNORECASE)


def test_what_is_filled_in_is_not_read_for_placeholders():
    catalogue = Catalogue("en", {"a": "of {name}", "b": ("{name}",)})
    assert catalogue.say("a", name="{0.__class__} {other}") == "of {0.__class__} {other}"
    assert catalogue.lines("b", name="{name}") == ("{name}",)
    with pytest.raises(KeyError):
        catalogue.say("a")


def test_an_unknown_language_names_the_known_ones():
    with pytest.raises(LinkplanError, match="'xx': the brief has no texts in it; choose one of en, es"):
        catalogue_of("xx")
