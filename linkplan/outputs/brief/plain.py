"""Text of a brief before it is set: whatever a job file holds comes out as visible, harmless text."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import fields, is_dataclass, replace
from typing import Any

from linkplan.outputs.brief.blocks import Brief, Heading, Table

UNSETTABLE = "\N{REPLACEMENT CHARACTER}"
"""Stands where a character would act on the text instead of being read."""
BREAK = "\N{ZERO WIDTH SPACE}"
"""Where a long word may be cut when the line is too short for it."""
NOTHING = "\N{EN DASH}"
"""Stands in the cells of a table without rows."""
LONGEST_TEXT = 2000
"""Characters of one text: a longer one would push everything else off the sheets."""
LONGEST_WORD = 24
PIECE = 3
ISOLATE, POP = "\N{FIRST STRONG ISOLATE}", "\N{POP DIRECTIONAL ISOLATE}"

_JOINERS = "\N{ZERO WIDTH JOINER}\N{ZERO WIDTH NON-JOINER}\N{SOFT HYPHEN}"
_RTL = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff"
_RTL_RUN = re.compile(f"[{_RTL}](?:[^{_RTL}A-Za-z0-9]*[{_RTL}])*")
# a line ends after a hyphen unless a digit follows [Unicode Standard Annex 14]
_WORD = re.compile(rf"(?:[^ \u200b-]|-(?![^\W\d])){{{LONGEST_WORD},}}")


def cleaned(brief: Brief) -> Brief:
    """The same brief with every text made plain and no heading without words.

    Raises ValueError for a table whose rows do not fit.
    """
    done: Brief = _clean(brief)
    return done


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return plain(value)
    if isinstance(value, tuple):
        return tuple(_clean(item) for item in value if not (isinstance(item, Heading) and blank(item.text)))
    if isinstance(value, Table):
        wrong = [row for row in value.rows if len(row) != len(value.head)]
        if wrong or len(value.align) != len(value.head):
            raise ValueError(f"a table of {len(value.head)} columns has a row or an alignment of others")
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{field.name: _clean(getattr(value, field.name)) for field in fields(value)})
    return value


def plain(text: str) -> str:
    """One line of visible characters: control and direction codes become a sign, spaces stay spaces."""
    composed = unicodedata.normalize("NFC", text)
    return "".join(_visible(sign) for sign in shortened(composed, LONGEST_TEXT))


def shortened(text: str, most: int) -> str:
    """At most so many characters, an ellipsis where some are left out."""
    return text if len(text) <= most else text[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"


def _visible(sign: str) -> str:
    if sign in "\n\r\t\v\f\x85\u2028\u2029":
        return " "
    category = unicodedata.category(sign)
    if category in ("Cc", "Cs") or (category == "Cf" and sign not in _JOINERS):
        return UNSETTABLE
    return sign


def blank(text: str) -> bool:
    """Nothing to see in it."""
    return all(sign.isspace() or unicodedata.category(sign) == "Cf" for sign in text)


def isolated(text: str) -> str:
    """The text with each run of right-to-left letters kept to itself.

    Without it a number behind an Arabic or Hebrew name moves before the name [Unicode Standard Annex 9].
    """
    return _RTL_RUN.sub(lambda run: f"{ISOLATE}{run.group()}{POP}", text)


def breakable(text: str) -> str:
    """The text with places in its long words where a line may end."""
    return _WORD.sub(lambda word: _pieces(word.group()), text)


def _pieces(word: str) -> str:
    parts: list[str] = []
    since = 0
    for sign in word:
        if since >= PIECE and not unicodedata.combining(sign) and unicodedata.category(sign)[0] not in "MC":
            parts.append(BREAK)
            since = 0
        parts.append(sign)
        since += 1
    return "".join(parts)
