"""What an agreement check found, as text: the answer, a table of all sets, then what differs."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import groupby

from linkplan.agreement.results import AGREES, Agreement, Finding, SetVerdict
from linkplan.outputs.sheet import THEN_PROVE
from linkplan.outputs.text import WIDTH, table

MOST_NAMES = 6
"""Names in a heading before the rest is counted."""


def agreement_text(result: Agreement) -> str:
    """The whole check, ready to print."""
    parts = [*textwrap.wrap(answer_line(result), WIDTH), "", _sets(result)]
    counted = [one for one in result.findings if one.matters]
    for number, (_, group) in enumerate(groupby(counted, key=_alike), start=1):
        parts += ["", *_finding(number, list(group))]
    parts += _noted(result)
    for warning in result.warnings:
        parts += ["", *textwrap.wrap(warning, WIDTH, initial_indent="note: ", subsequent_indent="      ")]
    return "\n".join([*parts, "", *textwrap.wrap(THEN_PROVE, WIDTH)])


def answer_line(result: Agreement) -> str:
    """The answer in one or two sentences."""
    against = " and with the job" if result.job_name is not None else ""
    count = len(result.rovers)
    fleet = "1 rover" if count == 1 else f"{count} rovers"
    if result.agrees:
        if not count:
            return "AGREES: the base is set as the job wants it."
        return f"AGREES: {fleet} and the base{against}."
    bad = [one for one in (result.base, *result.rovers) if one.verdict != AGREES]
    listed = _names([f"{one.set_name} ({one.verdict})" for one in bad])
    return f"DOES NOT AGREE: {len(bad)} of {count + 1} sets{against}: {listed}."


def _sets(result: Agreement) -> str:
    head = ("set", "verdict", "no link", "wrong coord.", "weaker", "note", "not stated", "agreed", "code")
    rows = [_cells(one) for one in (result.base, *result.rovers)]
    if result.job_code is not None:
        rows.append((f"(job: {result.job_name})", "", "", "", "", "", "", "", result.job_code))
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
    what = (
        "differs"
        if first.kind == "differs"
        else ("is not stated" if not first.stands else "cannot be held to")
    )
    who = _names([one.set_name for one in alike])
    head = f"{number:3}. {first.severity.upper()}  {first.title} {what}: {who}"
    rows = [("says", first.stands or "nothing")]
    rows += [(f"{whose} says", text or "nothing") for whose, text in first.wanted]
    if first.detail:
        rows.append(("", first.detail))
    rows += [("seen", first.seen), ("do", _cure(alike))]
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
    by_field: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for one in silent:
        who = () if not one.stands else tuple(side for side, text in one.wanted if not text)
        by_field.setdefault((one.title, who), []).append(one.set_name)
    lines = ["", "Not stated, so not compared (no set has to state these):"]
    for (title, who), names in by_field.items():
        by = f"by the {' and the '.join(who)}" if who else f"by {_names(names)}"
        lines += textwrap.wrap(f"{title}: {by}", WIDTH, initial_indent="  ", subsequent_indent="    ")
    return lines


def _names(names: Sequence[str]) -> str:
    if len(names) <= MOST_NAMES:
        return ", ".join(names)
    return ", ".join(names[:MOST_NAMES]) + f" and {len(names) - MOST_NAMES} more"
