"""The brief's texts by key, one file a language: another language is another file in `texts/`.

A text holds {placeholders}; what is filled in is never read for placeholders again. The English of cautions,
notes and pictures stands where they are made, so `texts/en.toml` has none of it.
"""

from __future__ import annotations

import string
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from linkplan.errors import LinkplanError

FOLDER = Path(__file__).parent / "texts"
SOURCE_LANGUAGE = "en"
FROM_SOURCE = ("caution.", "relies.", "note.", "picture.")
"""Keys of texts whose English stands in the room `safety` and in `picture_words`."""


@dataclass(frozen=True)
class Catalogue:
    """All texts of one language."""

    language: str
    """Its tag [BCP 47], such as "en"."""
    texts: Mapping[str, str | tuple[str, ...]]
    """By dotted key: a text, or a list of them."""

    def say(self, key: str, **values: object) -> str:
        """A text with its placeholders filled in; KeyError where text or value is missing."""
        text = self.texts[key]
        assert isinstance(text, str), f"{key} is a list"
        return text.format_map(values)

    def lines(self, key: str, **values: object) -> tuple[str, ...]:
        """A list of texts with their placeholders filled in."""
        texts = self.texts[key]
        assert not isinstance(texts, str), f"{key} is one text"
        return tuple(text.format_map(values) for text in texts)

    def has(self, key: str) -> bool:
        """Whether there is such a text."""
        return key in self.texts


def languages() -> tuple[str, ...]:
    """Tags of the languages that there are texts in, the source first."""
    found = sorted(file.stem for file in FOLDER.glob("*.toml"))
    return tuple(sorted(found, key=lambda tag: tag != SOURCE_LANGUAGE))


@cache
def catalogue_of(language: str) -> Catalogue:
    """The texts of a language; LinkplanError where there are none."""
    import tomllib

    if language not in languages():
        known = ", ".join(languages())
        raise LinkplanError(f"language {language!r}: the brief has no texts in it; choose one of {known}")
    with (FOLDER / f"{language}.toml").open("rb") as file:
        return Catalogue(language, dict(_flat(tomllib.load(file))))


def placeholders(text: str) -> frozenset[str]:
    """Names of the values that a text asks for."""
    return frozenset(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def _flat(table: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, str | tuple[str, ...]]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", value if isinstance(value, str) else tuple(value)
