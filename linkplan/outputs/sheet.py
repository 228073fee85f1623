"""The set-up sheet as text and as TOML that `linkplan agree` reads back."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from linkplan.agreement.setup import SetUp, SetUpRow
from linkplan.outputs.sheet_base import base_point_paragraphs
from linkplan.outputs.text import WIDTH, table
from linkplan.plan.sheet_fields import Role
from linkplan.plan.words import quoted

GROUP_TITLES = {"radio": "Radio", "corrections": "Corrections", "position": "Base point and coordinates"}
OPEN = "not stated in the job"
CODE_USE = (
    "Two sheets with one code hold the same settings. Read it out; where it differs, read out the codes of "
    "the three parts, then that part line by line."
)
BEFORE_SWITCHING_ON = (
    "Before the radio is switched on: its antenna is fitted, nobody is nearer to it than local limits and "
    "the manual allow, mast and guys keep clear of overhead lines, and frequency and power are those of the "
    "licence. Local codes, the licence and a qualified person come before this sheet."
)
THEN_PROVE = (
    "Settings that agree are no proof of a link or of a position: check on a control point before work "
    "starts."
)


def both_titles(row: SetUpRow) -> str:
    """A setting's title, with both names where base and rover call it differently."""
    if row.base_title == row.rover_title:
        return row.base_title
    return f"base: {row.base_title}; rover: {row.rover_title}"


def setup_text(sheet: SetUp) -> str:
    """The sheet for base and rovers, ready to print."""
    parts = [f"Set-up sheet for {sheet.base_name} and its rovers: {sheet.job_name}", "", *_code_lines(sheet)]
    for group, title in GROUP_TITLES.items():
        rows = [
            (str(row.number), both_titles(row), row.value or f"________ ({OPEN})")
            for row in sheet.rows
            if row.group == group
        ]
        parts += ["", table(("no", title, "set to"), rows, (">", "<", "<"))]
    if sheet.base_point is not None:
        for paragraph in base_point_paragraphs(sheet.base_point):
            parts += ["", *textwrap.wrap(paragraph, WIDTH)]
    for warning in sheet.warnings:
        parts += ["", *_note(warning)]
    if sheet.missing:
        parts += ["", *_note(f"the job does not say: {', '.join(sheet.missing)}; add them to [settings].")]
    return "\n".join(
        [*parts, "", *textwrap.wrap(BEFORE_SWITCHING_ON, WIDTH), *textwrap.wrap(THEN_PROVE, WIDTH)]
    )


def _code_lines(sheet: SetUp) -> list[str]:
    parts = (
        f"radio {sheet.radio_code}, corrections {sheet.corrections_code}, base point and coordinates "
        f"{sheet.position_code}"
    )
    return [
        f"Check code {sheet.code}: {sheet.code_spelled}",
        f"Its parts: {parts}",
        *textwrap.wrap(CODE_USE, WIDTH),
    ]


def _note(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="note: ", subsequent_indent="      ")


def setup_toml(sheet: SetUp, role: Role, set_name: str | None = None) -> str:
    """The sheet of the base or of a rover as TOML; what the job does not say stands there behind a #."""
    name = set_name or (sheet.base_name if role == "base" else "rover")
    lines = [
        f"# Settings sheet of a {role}, from the job {quoted(sheet.job_name)}.",
        "# Copy it for each set, give it the set's name, and write what the set really shows.",
        "# Never write a secret on it: a key is named, not copied.",
        f"set = {quoted(name)}",
        f"role = {quoted(role)}",
        f"code = {quoted(sheet.code)}",
    ]
    for group, title in GROUP_TITLES.items():
        lines += ["", f"# {title}"]
        lines += [_toml_line(row, role) for row in sheet.rows if row.group == group]
    return "\n".join(lines) + "\n"


def _toml_line(row: SetUpRow, role: Role) -> str:
    key = row.base_key if role == "base" else row.rover_key
    if not row.value:
        return f'# {key} = ""  # {OPEN}'
    return f"{key} = {_toml_value(row)}"


def _toml_value(row: SetUpRow) -> str:
    if row.kind == "messages" and row.value != "any":
        return f"[{row.value}]"
    if row.kind == "systems":
        return _list(quoted(name) for name in row.value.split(", "))
    if row.kind in ("station", "filter") and row.value.isdigit():
        return row.value
    return quoted(row.value)


def _list(items: Iterable[str]) -> str:
    return f"[{', '.join(items)}]"
