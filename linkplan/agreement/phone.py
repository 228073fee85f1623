"""The check code of a sheet: a few symbols that two people compare over the phone.

What it is computed from
    One line a setting, in the order of `plan.sheet_fields.FIELDS`: `name=value` with the canonical value
    of `plan.sheet_values`, or `name=?` where it is not stated. Before them the line `linkplan sheet 1`;
    each line ends with a line feed; UTF-8. What one set transmits another receives, so both frequencies
    go under their names in the link: sheets of a base and of a rover that agree have one code.
How
    The first 30 bits of the SHA-256 of these lines, five to a symbol, most significant first, then one
    check symbol. Of one group of settings: its lines only, after `linkplan sheet 1 GROUP`, and 15 bits.
The symbols
    `ALPHABET`: letters and digits without 0, 1, I and O, which are taken for one another in writing. B, D,
    P and their like sound alike, so a code is also written out in the spelling words of the Radio
    Regulations.
The check symbol
    Symbols are elements of the field of 32 elements (polynomial x^5 + x^2 + 1). The check symbol is the sum
    of x^i times the i-th symbol from the right, i from 1: a Reed-Solomon code with one check symbol. Any
    one wrong symbol, and any two that have changed places, are noticed.

Two sheets that differ have equal codes once in 2^30, about a thousand million, times.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence

from linkplan.plan.sheet_fields import FIELDS, GROUPS, Field, Group
from linkplan.plan.sheets import Sheet

ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
SHEET_BITS, GROUP_BITS = 30, 15
VERSION = "linkplan sheet 1"

_WORDS = (
    "Alfa", "Bravo", "Charlie", "Delta", "Echo", "Foxtrot", "Golf", "Hotel", "Juliett", "Kilo", "Lima",
    "Mike", "November", "Papa", "Quebec", "Romeo", "Sierra", "Tango", "Uniform", "Victor", "Whiskey", "X-ray",
    "Yankee",
    "Zulu", "two", "three", "four", "five", "six", "seven", "eight", "nine",
)  # fmt: skip
SPELLING = dict(zip(ALPHABET, _WORDS, strict=True))
"""Spelling words of the ITU Radio Regulations, appendix 14 [from memory]; digits as they are said."""


def canonical_lines(sheet: Sheet, group: Group | None = None) -> str:
    """The text from which a code is computed: of the whole sheet, or of one group of its settings."""
    chosen: Iterable[Field] = (field for field in FIELDS if group in (None, field.group))
    head = VERSION if group is None else f"{VERSION} {group}"
    lines = [head]
    for field in chosen:
        stated = sheet.values.get(field.name)
        lines.append(f"{field.name}={'?' if stated is None else stated.canonical}")
    return "\n".join(lines) + "\n"


def check_code(sheet: Sheet, group: Group | None = None) -> str:
    """The code of a sheet, seven symbols in two blocks, or of one group, four symbols."""
    bits = SHEET_BITS if group is None else GROUP_BITS
    digest = int.from_bytes(hashlib.sha256(canonical_lines(sheet, group).encode()).digest(), "big") >> (
        256 - bits
    )
    data = [(digest >> shift) & 31 for shift in range(bits - 5, -1, -5)]
    symbols = "".join(ALPHABET[value] for value in [*data, check_value(data)])
    return symbols if group else f"{symbols[:3]} {symbols[3:]}"


def group_codes(sheet: Sheet) -> dict[str, str]:
    """The codes of all groups, by the group's name: they tell where two sheets differ."""
    return {group: check_code(sheet, group) for group in GROUPS}


def check_value(data: Sequence[int]) -> int:
    """The check symbol of symbols 0 to 31, as a number 0 to 31."""
    total = 0
    for value in data:  # Horner: the last symbol is multiplied by x once, the first most often
        total = _times_x(total ^ value)
    return total


def _times_x(value: int) -> int:
    """A product with x in the field of 32 elements."""
    value <<= 1
    return value ^ 0b100101 if value & 32 else value


def is_sound(code: str) -> bool:
    """Whether a code as heard or typed can be one: its symbols, their number, its check symbol."""
    symbols = normal(code)
    if len(symbols) not in (SHEET_BITS // 5 + 1, GROUP_BITS // 5 + 1) or not set(symbols) <= set(ALPHABET):
        return False
    values = [ALPHABET.index(symbol) for symbol in symbols]
    return check_value(values[:-1]) == values[-1]


def normal(code: str) -> str:
    """A code without blanks and hyphens, in capitals."""
    return re.sub(r"[\s-]+", "", code).upper()


def spelled(code: str) -> str:
    """A code as it is said over the phone."""
    return " ".join(SPELLING[symbol] for symbol in normal(code))
