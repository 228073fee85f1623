"""The brief as one page for a browser: the words of the sheets in their order, nothing from elsewhere."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from html import escape
from importlib import resources

from linkplan.outputs import style
from linkplan.outputs.brief.blocks import (
    Beside,
    Block,
    Box,
    Brief,
    Code,
    Figures,
    Heading,
    Lines,
    Pairs,
    Picture,
    Points,
    Table,
    Text,
)
from linkplan.outputs.brief.plain import NOTHING, cleaned, isolated

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def brief_html(brief: Brief) -> str:
    """The whole file. Raises ValueError for a table whose rows do not fit its head."""
    plain = cleaned(brief)
    head = "".join(f'<p dir="auto">{_text(line)}</p>' for line in plain.head)
    sheets = "\n".join(f"<section>{_blocks(page.blocks)}</section>" for page in plain.pages)
    return f"""<!DOCTYPE html>
<html lang="{escape(plain.language)}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(plain.kind)}: {escape(plain.title)}</title>
<style>body {{ font-family: "Source Sans Pro", "Source Sans 3", {style.FONT_STACK}; }}
{_style()}</style>
</head>
<body>
<header>
<div><p class="kind" dir="auto">{_text(plain.kind)}</p>
<h1 dir="auto">{_text(plain.title)}</h1></div>
<div class="made">{head}</div>
</header>
<main>
{sheets}
</main>
<footer dir="auto">{_text(plain.foot)}</footer>
</body>
</html>
"""


def _style() -> str:
    return (resources.files("linkplan.outputs.brief") / "brief.css").read_text(encoding="utf-8")


def _blocks(blocks: Iterable[Block]) -> str:
    return "\n".join(_block(block) for block in blocks)


def _block(block: Block) -> str:
    match block:
        case Heading():
            level = min(max(block.level, 1), 5) + 1
            return f'<h{level} dir="auto">{_text(block.text)}</h{level}>'
        case Text():
            return f'<p class="{block.tone}" dir="auto">{_text(block.text)}</p>'
        case Points():
            return _points(block)
        case Pairs():
            rows = "".join(
                f'<div><dt dir="auto">{_text(label)}</dt><dd dir="auto">{_text(value)}</dd></div>'
                for label, value in block.rows
            )
            return f'<dl class="pairs">{rows}</dl>' if rows else ""
        case Figures():
            items = "".join(
                f'<div><strong dir="auto">{_text(value)}</strong><span dir="auto">{_text(what)}</span></div>'
                for value, what in block.items
            )
            return f'<div class="figures">{items}</div>' if items else ""
        case Table():
            return _table(block)
        case Code():
            return (
                f'<div class="code"><small dir="auto">{_text(block.label)}</small>'
                f'<strong dir="auto">{_text(block.code)}</strong>'
                f'<small dir="auto">{_text(block.spelled)}</small></div>'
            )
        case Picture():
            return _picture(block)
        case Box():
            title = f'<p class="title" dir="auto">{_text(block.title)}</p>' if block.title else ""
            return f'<div class="frame {block.tone}">{title}<div>{_blocks(block.blocks)}</div></div>'
        case Lines():
            lines = "".join(f'<div dir="auto">{_text(label)}</div>' for label in block.labels)
            return f'<div class="lines">{lines}</div>' if lines else ""
        case Beside():
            share = round(block.left_share, 3)
            columns = f"--left: {share}fr; --right: {round(1.0 - share, 3)}fr"
            left, right = _blocks(block.left), _blocks(block.right)
            return f'<div class="beside" style="{columns}"><div>{left}</div><div>{right}</div></div>'


def _points(block: Points) -> str:
    kind = "ol" if block.numbered else "ul"
    tick = '<span class="tick"></span>' if block.boxes else ""
    items = "".join(f'<li dir="auto">{tick}{_text(item)}</li>' for item in block.items)
    boxes = " boxes" if block.boxes else ""
    return f'<{kind} class="{block.tone}{boxes}">{items}</{kind}>' if items else ""


def _table(block: Table) -> str:
    sides = ["number" if sign == ">" else "word" for sign in block.align]
    head = "".join(
        f'<th scope="col" class="{side}" dir="auto">{_text(words)}</th>'
        for side, words in zip(sides, block.head, strict=True)
    )
    rows = []
    for index, row in enumerate(block.rows or ((NOTHING,) * len(block.head),)):
        cells = "".join(
            f'<td class="{side}" dir="auto">{_text(words)}</td>'
            for side, words in zip(sides, row, strict=True)
        )
        rows.append(f'<tr class="strong">{cells}</tr>' if index in block.strong_rows else f"<tr>{cells}</tr>")
    return (
        f'<div class="wide" tabindex="0"><table><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _picture(block: Picture) -> str:
    data = base64.b64encode(block.svg).decode("ascii")
    caption = f'<figcaption dir="auto">{_text(block.caption)}</figcaption>' if block.caption else ""
    # as large as it is meant, or a little larger where there is room; on a phone it is moved under the finger
    size = f"--wide: {round(block.width_in, 3)}in; max-width: {round(1.25 * block.width_in, 3)}in"
    return (
        f'<figure style="{size}"><div class="pan" tabindex="0"><img alt="{escape(block.said)}" '
        f'src="data:image/svg+xml;base64,{data}"></div>{caption}</figure>'
    )


def _text(text: str) -> str:
    return escape(isolated(text))
