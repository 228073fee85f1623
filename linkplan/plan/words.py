"""How the job file's values and faults are put into words. Pure text, no files."""

from __future__ import annotations

import datetime
import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from linkplan.errors import Fault
from linkplan.plan.secrecy import HIDDEN, is_secret_name, is_secret_text

LONGEST_SHOWN = 70
"""Characters of a value that a message shows before it is cut."""


class WrittenFloat(float):
    """A float that remembers how it stands in the file, so that messages show 0.50 as 0.50."""

    text: str

    def __new__(cls, text: str) -> WrittenFloat:
        number = super().__new__(cls, text)
        number.text = text
        return number


@dataclass
class Report:
    """Collects what is wrong with a job (faults) and what merely looks odd (warnings)."""

    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def fault(self, key: str, value: Any, problem: str, cure: str = "") -> None:
        """Note one fault; `value` is as parsed, NOTHING where nothing stands in the file."""
        text = "" if value is NOTHING else shown(value)
        if text and (is_secret_name(key.rpartition(".")[2]) or is_secret_text(_written(value))):
            text = HIDDEN
        self.faults.append(Fault(key, text, problem, cure))

    def warn(self, key: str, problem: str) -> None:
        """Note one thing that does not stop the job."""
        self.warnings.append(f"{key}: {problem}")


class _Nothing:
    """The absence of a value."""


NOTHING = _Nothing()


def quoted(text: str) -> str:
    """Text in double quotes on one line; whatever cannot be printed becomes an escape."""
    body = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04X}" for c in body) + '"'


def key_text(key: str) -> str:
    """One part of a dotted key as TOML writes it: bare where that is allowed, else in quotes."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else quoted(key)


def shown(value: Any) -> str:
    """A parsed value about as it stands in the file, on one line, cut when long."""
    text = _written(value)
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."


def _written(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, WrittenFloat):
        return value.text
    if isinstance(value, int) and abs(value) > 10**LONGEST_SHOWN:
        return "a whole number of very many digits"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key_text(k)} = {_written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_written(v) for v in value) + "]"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return str(value)


def kind_of(value: Any) -> str:
    """What sort of thing a parsed value is, as a user would call it."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, str):
        return "text"
    if isinstance(value, int | float):
        return "a number"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return "a date or time"


def nearest(word: str, valid: Iterable[str], likeness: float = 0.6) -> str | None:
    """The valid word most like `word`, letter case aside, or None when none is at least so alike (0 to 1)."""
    known = {candidate.lower(): candidate for candidate in reversed(list(valid))}
    found = difflib.get_close_matches(word.lower()[:100], known, n=1, cutoff=likeness)
    return known[found[0]] if found else None


def one_of(words: Sequence[str]) -> str:
    """`"a", "b" or "c"` for a message, the first dozen of them."""
    names = [quoted(word) for word in words[:12]]
    if len(words) > 12:
        return ", ".join(names) + f" or {len(words) - 12} more"
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " or " + names[-1]


def choose(word: str, valid: Sequence[str]) -> str:
    """The cure for a word that is none of `valid`: the nearest one, and what there is."""
    guess = nearest(word, valid, likeness=0.75)
    if guess is None:
        return f"write {one_of(valid)}"
    all_of_them = f" (there is {one_of(valid)})" if len(valid) > 1 else ""
    return f"did you mean {quoted(guess)}?{all_of_them}"


def figure(number: float) -> str:
    """A number for a message, to four figures, without exponents in the usual range."""
    return f"{number:.4g}" if 1e-4 <= abs(number) < 1e4 or number == 0.0 else f"{number:.10g}"
