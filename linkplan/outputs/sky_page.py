"""The sky as one page: answer, dials and timeline as drawings inside, tables, map.

One file without script and without anything from elsewhere.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Sequence
from html import escape

from linkplan import __version__
from linkplan.outputs import sky_words as words
from linkplan.outputs import style
from linkplan.outputs.files import Written
from linkplan.outputs.formats import Formats, typeset
from linkplan.outputs.siting_words import clean
from linkplan.outputs.webmap import asset
from linkplan.study import SkyStudy

POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
_BEFORE_DRAWING = re.compile(r"^.*?(?=<svg)", re.DOTALL)
_METADATA = re.compile(r"<metadata>.*?</metadata>", re.DOTALL)
_NAME = re.compile(r'(\bid="|\bhref="#|url\(#)')


def sky_html(sky: SkyStudy, dials: bytes, day: bytes, rovers: bytes, files: Sequence[Written]) -> str:
    """The page. `dials` and `day` are SVG, `rovers` is a PNG."""
    plan = sky.plan
    head, rows = words.system_table(sky)
    unknown = [line for line in (words.unknown_line(sky), *words.orbit_lines(sky)) if line]
    parts = [
        _head(sky),
        "<main>",
        _drawing(day, "day", f"Satellites and PDOP over the working day. {words.answer_line(sky)}"),
        _section("The base", f"<p>{_text(words.gate_line(sky))}</p>{_table(head, rows)}{_held(sky)}"),
        _section("Sky of the base", _drawing(dials, "dials", "Tracks of the satellites, real horizon")),
        _section("Rovers", _list(words.rover_lines(sky)) + _picture(rovers)),
        _section("What is unknown, and what the orbits are", _list(unknown)),
        _section("Accuracy and baseline", _list(words.accuracy_lines(plan)) + _limits(sky)),
        _section("Base point", _list(words.position_lines(plan))),
        _section("Files", _files(files)),
        _section("Before work relies on it", _list([words.VERIFY, *style.CAUTIONS])),
        "</main>",
        f"<footer><p>{_text(_source(sky))}. Made by linkplan {__version__}.</p></footer>\n</body>\n</html>",
    ]
    return "\n".join(part for part in parts if part) + "\n"


def _head(sky: SkyStudy) -> str:
    plan, show = sky.plan, Formats.of(sky.plan)
    base = plan.base
    verdict = "yes" if sky.reached else "no"
    where = f"Base {clean(base.name)} at {show.position(base.easting, base.northing)}"
    if plan.sky is not None:
        where += f", GNSS antenna {show.height(plan.sky.base_gnss_height_m)} above ground"
    title = clean(plan.name)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Sky: {escape(title)}</title>
<style>body {{ font-family: {style.FONT_STACK}; }}
{asset("common.css")}{asset("index.css")}{asset("sky.css")}</style>
</head>
<body>
<header>
<h1>{escape(title)}</h1>
<div class="soft">{_text(where)}</div>
<p class="verdict {verdict}">{_text(words.answer_line(sky))}</p>
<p>{_text(style.PREDICTION)}</p>
</header>"""


def _held(sky: SkyStudy) -> str:
    lines = words.held_lines(sky)
    if not lines:
        return "<p>Corrections are held back at no time.</p>"
    return f"<h3>Corrections are held back</h3>{_list(lines)}"


def _limits(sky: SkyStudy) -> str:
    head, rows = words.limit_table(sky.plan)
    return _table(head, rows, numbers={2}, kind="limits") if rows else ""


def _drawing(svg: bytes, name: str, alternative: str) -> str:
    """An SVG inside the page; its names get one of their own in front, for two drawings share a page."""
    text = _METADATA.sub("", _BEFORE_DRAWING.sub("", svg.decode("utf-8"), count=1))
    text = _NAME.sub(rf"\g<1>{name}-", text)
    label = escape(typeset(alternative))
    return f'<figure class="drawing" role="img" aria-label="{label}">{text}</figure>'


def _picture(png: bytes) -> str:
    data = base64.b64encode(png).decode("ascii")
    alternative = "Map of the job: satellites in common with the base at the worst time, and open sky"
    return f'<figure><img src="data:image/png;base64,{data}" alt="{alternative}"></figure>'


def _files(files: Sequence[Written]) -> str:
    items = "".join(
        f'<li><a href="{escape(one.path.name)}">{_text(one.path.name)}</a><br>{_text(one.what)}</li>'
        for one in files
    )
    return f'<ul class="files">{items}</ul>'


def _source(sky: SkyStudy) -> str:
    plan = sky.plan
    return f"Job file {clean(plan.file.name)}" + (f", SHA-256 {plan.job_hash}" if plan.job_hash else "")


def _section(title: str, content: str) -> str:
    return f"<section><h2>{_text(title)}</h2>{content}</section>" if content else ""


def _list(items: Sequence[str]) -> str:
    if not items:
        return ""
    return '<ul class="notes">' + "".join(f"<li>{_text(item)}</li>" for item in items) + "</ul>"


def _table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: set[int] | None = None,
    kind: str = "systems",
) -> str:
    """Columns in `numbers` stand to the right; by default all but the first."""
    right = numbers if numbers is not None else set(range(1, len(head)))

    def cells(row: Sequence[str], tag: str) -> str:
        return "".join(
            f"<{tag}{' class=number' if at in right else ''}>{_text(cell)}</{tag}>"
            for at, cell in enumerate(row)
        )

    body = "".join(f"<tr>{cells(row, 'td')}</tr>" for row in rows)
    return (
        f'<div class="scroll"><table class="sky {kind}"><thead><tr>{cells(head, "th")}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def _text(text: str) -> str:
    return escape(typeset(text))
