"""The set-up sheet to print: one page for the base, one for each rover, with boxes to tick."""

from __future__ import annotations

from html import escape

from linkplan import __version__
from linkplan.agreement.setup import SetUp, SetUpRow
from linkplan.outputs import style
from linkplan.outputs.formats import typeset
from linkplan.outputs.sheet import BEFORE_SWITCHING_ON, CODE_USE, GROUP_TITLES, OPEN, THEN_PROVE
from linkplan.outputs.sheet_base import base_point_paragraphs
from linkplan.outputs.webmap import asset
from linkplan.plan.sheet_fields import ROLES, Role

POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def setup_html(sheet: SetUp) -> str:
    """One file without script and without anything from elsewhere."""
    pages = "\n".join(_page(sheet, role) for role in ROLES)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Set-up sheet: {escape(sheet.job_name)}</title>
<style>body {{ font-family: {style.FONT_STACK}; }}
{asset("common.css")}{asset("sheet.css")}</style>
</head>
<body>
{pages}
</body>
</html>
"""


def _page(sheet: SetUp, role: Role) -> str:
    who = "Base" if role == "base" else "Rover"
    name = _text(sheet.base_name) if role == "base" else '<span class="blank"></span>'
    rows = "".join(
        f'<tbody><tr class="group"><th colspan="4" scope="rowgroup">{_text(title)}</th></tr>'
        + "".join(_row(row, role) for row in sheet.rows if row.group == group)
        + "</tbody>"
        for group, title in GROUP_TITLES.items()
    )
    head = "".join(f'<th scope="col">{name}</th>' for name in ("no", "setting", "set to", "as set"))
    return f"""<main>
<header>
<div><h1>{who} set-up sheet</h1><p>{_text(sheet.job_name)}</p>
<p>Set: {name}</p></div>
<div class="code"><strong>{escape(sheet.code)}</strong>
<small>{escape(sheet.code_spelled)}</small>
<small>radio {sheet.radio_code} · corrections {sheet.corrections_code} · base point
{sheet.position_code}</small></div>
</header>
<table>
<thead><tr>{head}</tr></thead>
{rows}
</table>
{_base_point(sheet, role)}<p>{_text(CODE_USE)}</p>
<p>{_text(BEFORE_SWITCHING_ON)} {_text(THEN_PROVE)}</p>
<p class="sign">Set by <span class="blank"></span> checked by <span class="blank"></span> date and time
<span class="blank"></span></p>
<footer>linkplan {__version__}</footer>
</main>"""


def _base_point(sheet: SetUp, role: Role) -> str:
    """How the base point is occupied, and what looks odd in the job: on the base's page."""
    if role != "base":
        return ""
    point = base_point_paragraphs(sheet.base_point) if sheet.base_point is not None else []
    notes = [f"Note: {warning}" for warning in sheet.warnings]
    return "".join(f"<p>{_text(paragraph)}</p>\n" for paragraph in (*point, *notes))


def _row(row: SetUpRow, role: Role) -> str:
    title = row.base_title if role == "base" else row.rover_title
    value = _text(row.value) if row.value else f'<span class="open">{OPEN}</span>'
    return (
        f'<tr><td class="number">{row.number}</td><td>{_text(title)}</td><td class="value">{value}</td>'
        '<td class="tick"><span class="box"></span></td></tr>'
    )


def _text(text: str) -> str:
    return escape(typeset(text))
