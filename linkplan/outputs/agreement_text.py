"""What an agreement check found, as text: the answer, a table of all sets, then what differs."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import groupby

from linkplan.agreement.results import AGREES, Agreement, Finding, SetVerdict
from linkplan.outputs.sheet import THEN_PROVE
from linkplan.outputs.text import WIDTH, table

CODE_MEANING = "  One code: alike in every setting. A set that leaves settings out has a code of its own."
MOST_NAMES = 6
"""Names in a heading before the rest is counted."""


def agreement_text(result: Agreement) -> str:
    """The whole check, ready to print."""
    parts = [*textwrap.wrap(answer_line(result), WIDTH), "", _sets(result), CODE_MEANING]
    counted = [one for one in result.findings if one.matters]
    for number, (_, group) in enumerate(groupby(counted, key=_alike), start=1):
        parts += ["", *_finding(number, list(group))]
    parts += _noted(result)
    for warning in result.warnings:
        parts += ["", *textwrap.wrap(warning, WIDTH, initial_indent="note: ", subsequent_indent="      ")]
    return "\n".join([*parts, "", *textwrap.wrap(THEN_PROVE, WIDTH)])


def answer_line(result: Agreement) -> str:
    """The answer in one or two sentences."""
    count = len(result.rovers)
    fleet = "1 rover" if count == 1 else f"{count} rovers"
    with_job = f', held against the job "{result.job_name}"' if result.job_name is not None else ""
    if result.agrees:
        sets = f"{fleet} and the base" if count else "the base"
        return f"AGREES: {sets}{with_job}."
    bad = [one for one in (result.base, *result.rovers) if one.verdict != AGREES]
    listed = _names([f"{one.set_name} ({one.verdict})" for one in bad])
    word = "DOES NOT AGREE" if any(one.kind == "differs" for one in result.findings) else "NOT CONFIRMED"
    return f"{word}: {len(bad)} of {count + 1} sets{with_job}: {listed}."


def _sets(result: Agreement) -> str:
    head = ("set", "verdict", "no link", "wrong coord.", "weaker", "note", "not stated", "agreed", "code")
    rows = [_cells(one) for one in (result.base, *result.rovers)]
    if result.job_code is not None:
        rows.append(("(job)", "", "", "", "", "", "", "", result.job_code))
    return table(head, rows, ("<", "<", ">", ">", ">", ">", ">", ">", "<"))


def _cells(one: SetVerdict) -> tuple[str, ...]:
    counts = (one.no_link, one.wrong_coordinates, one.weaker, one.note, one.not_stated)
    role = "base: " if one.role == "base" and not one.set_name.casefold().startswith("base") else ""
    return (
        role + one.set_name,
        one.verdict,
        *(str(count or ".") for count in counts),
        str(one.agreed),
        one.code,
    )


def _alike(finding: Finding) -> tuple[object, ...]:
    """Findings that many sets share are told once."""
    return (
        finding.severity, finding.kind, finding.field, finding.role, finding.stands, finding.wanted,
        finding.detail, finding.matters,
    )  # fmt: skip


def _finding(number: int, alike: Sequence[Finding]) -> list[str]:
    first = alike[0]
    mute = " and ".join(f"the {whose}" for whose, text in first.wanted if not text)
    what = "" if first.kind == "differs" else ", not stated" + (f" by {mute}" if first.stands else "")
    who = _names([one.set_name for one in alike])
    # Where nobody knows, the severity is what it may come to.
    grade = first.severity.upper() + ("" if first.kind == "differs" else ", perhaps")
    head = f"{number:3}. {grade}. {who}: {first.title}{what}"
    rows = [("says", first.stands or "nothing")]
    rows += [(f"{whose} says", text or "nothing") for whose, text in first.wanted]
    if first.detail:
        rows.append(("", first.detail))
    rows += [("seen" if first.kind == "differs" else "if wrong", first.seen), ("do", _cure(alike))]
    width = max(len(label) for label, _ in rows)
    lines = textwrap.wrap(head, WIDTH, subsequent_indent=" " * 5)
    for label, text in rows:
        if text:
            start = f"     {label:{width}}  "
            lines += textwrap.wrap(text, WIDTH, initial_indent=start, subsequent_indent=" " * len(start))
    return lines


def _cure(alike: Sequence[Finding]) -> str:
    """The cure of the first, for all of them."""
    cure = alike[0].cure
    return cure if len(alike) == 1 else cure.replace(alike[0].set_name, "each of them", 1)


def _noted(result: Agreement) -> list[str]:
    """Silences that keep nobody from agreeing: one line a setting."""
    silent = [one for one in result.findings if not one.matters]
    if not silent:
        return []
    titles: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for _, group in groupby(silent, key=lambda one: one.field):
        alike = list(group)
        for by in dict.fromkeys(_silent_side(one) for one in alike):
            names = tuple(one.set_name for one in alike if _silent_side(one) == by)
            who = (by, ()) if by else ("", names)
            titles.setdefault(who, []).append(alike[0].title)
    lines = ["", "Not stated, so not compared (nobody listed here has to state it):"]
    for (by, names), fields in titles.items():
        text = f"{by or _names(names)}: {', '.join(dict.fromkeys(fields))}"
        lines += textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
    return lines


def _silent_side(finding: Finding) -> str:
    """Who is silent where the set itself is not; "" where it is the set."""
    return " and ".join(f"the {who}" for who, text in finding.wanted if not text) if finding.stands else ""


def _names(names: Sequence[str]) -> str:
    if len(names) <= MOST_NAMES:
        return ", ".join(names)
    return ", ".join(names[:MOST_NAMES]) + f" and {len(names) - MOST_NAMES} more"
