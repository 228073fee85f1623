"""What looks like a secret: keys that unlock a scrambled link have no place in a job or on a sheet.

A sheet goes from hand to hand and is read out over the phone. It names a key by its identifier; the key
itself is refused, and no message repeats it.
"""

from __future__ import annotations

import re

HIDDEN = "(not shown)"

_SECRET_WORDS = frozenset(
    (
        "password", "passwd", "passphrase", "passcode", "pass", "pwd", "psk", "secret", "secrets", "pin",
        "token", "credential", "credentials", "cipher", "cypher", "crypt", "crypto", "encrypt", "encryption",
        "aes", "des", "wep", "wpa",
    )
)  # fmt: skip
_KEY_WORDS = frozenset({"key", "keys"})
_IDENTIFIERS = frozenset({"id", "ids", "identifier", "name", "up"})
"""Beside "key" these say that no key itself is meant; "up" is for the key-up time of a radio."""

_HEX = "[0-9A-Fa-f]"
_LONG_HEX = re.compile(rf"(?<![0-9A-Za-z.])(?:0[xX])?({_HEX}{{16,}})(?![0-9A-Za-z.])")
_PAIRS = re.compile(rf"(?<![0-9A-Za-z])(?:{_HEX}{{2}}[ :-]){{7,}}{_HEX}{{2}}(?![0-9A-Za-z])")
_FOURS = re.compile(rf"(?<![0-9A-Za-z])(?:{_HEX}{{4}}[ :-]){{3,}}{_HEX}{{4}}(?![0-9A-Za-z])")
_LETTER = re.compile("[A-Fa-f]")


def is_secret_name(name: str) -> bool:
    """Whether a key of this name would hold a secret (`password`, `link key`), not its identifier."""
    words = set(re.findall("[a-z]+", name.casefold()))
    if words & _SECRET_WORDS:
        return not words & {"id", "identifier"}
    if words & _KEY_WORDS:
        return not words & _IDENTIFIERS
    return any(word.startswith(("password", "passphrase")) for word in words)


def is_secret_text(text: str) -> bool:
    """Whether the text holds what a key looks like: 16 or more hexadecimal digits, also in groups."""
    if _LONG_HEX.search(text) or _PAIRS.search(text):
        return True
    # Groups of four decimal digits alone are a list of message numbers.
    return any(_LETTER.search(found[0]) for found in _FOURS.finditer(text))
