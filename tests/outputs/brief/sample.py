"""Briefs to set in tests: one with every kind of block, one of the awkward cases. All of it is invented."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import UTC, datetime
from typing import Any

from linkplan.outputs.brief.blocks import (
    Beside,
    Block,
    Box,
    Brief,
    Code,
    Figures,
    Heading,
    Lines,
    Page,
    Pairs,
    Picture,
    Points,
    Table,
    Text,
)

MADE = datetime(2026, 5, 4, 6, 30, tzinfo=UTC)
ARABIC = "\u0645\u062d\u062c\u0631 \u0627\u0644\u0634\u0645\u0627\u0644"
HEBREW = "\u05de\u05d7\u05e6\u05d1\u05d4 \u05e6\u05e4\u05d5\u05e0\u05d9\u05ea"
TOKYO = "\u6771\u4eac"
"""In letters that none of the fonts has."""
ACCENTED = "Žďár – Łódź – Ångström – Ñuñoa – İğdır – Đà Nẵng – Όρος – Гора"
HOSTILE = (
    '#image("/etc/passwd") *bold* _it_ $x^2$ `raw` @ref <label> = head // note \\ #eval("1") #let a = 1 ',
    "<script>alert(1)</script><img src=x onerror=alert(1)> &amp; \"quoted\" 'single' ]]> </style>",
    "../../../etc/passwd C:\\Windows\\win.ini %2e%2e/ file:///etc/passwd \x00\x07\x1b[31mred",
    "\u202egnp.exe\u202c \u2067abc\u2069 \u200bzero\ufeffwidth \ud800 lone",
)
"""Markup of both typesetters, paths, control codes and codes that turn the reading direction."""


def svg(width: int = 700, height: int = 430) -> bytes:
    """A drawing with text, lines and a hatch, such as a map has."""
    return f"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">
<rect width="{width}" height="{height}" fill="#e9ecef"/>
<path d="M0 {height * 0.7} L{width * 0.3} {height * 0.35} L{width * 0.6} {height * 0.6}
L{width} {height * 0.2} V{height} H0 Z" fill="#5ec962" stroke="#12171d" stroke-width="2"/>
<circle cx="{width * 0.3}" cy="{height * 0.35}" r="14" fill="#fff" stroke="#000" stroke-width="4"/>
<text x="{width * 0.34}" y="{height * 0.33}" font-size="22" font-weight="600">Base</text>
<rect x="1" y="1" width="{width - 2}" height="{height - 2}" fill="none" stroke="#12171d" stroke-width="2"/>
</svg>""".encode()


def picture(caption: str = "Ground without corrections is dark and hatched. Grid 1 km.") -> Picture:
    return Picture(svg(), 7.0, 4.3, "Map: base on the west hill, covered ground to the east.", caption)


def brief(pages: tuple[Page, ...], title: str = "Invented quarry, north face") -> Brief:
    return Brief(
        language="en",
        title=title,
        kind="Site-safety brief",
        head=("Revision 3", "Job file 9f2c 41d0 77ab", "Computed 2026-05-04 06:30 UTC"),
        foot="A prediction, not a measurement: verify on site. Local codes, the licence and a qualified "
        "person's judgement come first.",
        page_of="Sheet {page} of {pages}",
        pages=pages,
    )


def act_blocks() -> tuple[Block, ...]:
    return (
        Figures(
            (
                ("1.9 m", "public stays away from the antenna, keyed down"),
                ("0.8 m", "workers stay away"),
                ("7.5 m", "nobody inside the mast's fall radius"),
                ("3", "dead zones in guidance ground"),
            )
        ),
        Beside(
            (picture(),),
            (
                Box(
                    "Stop when corrections are lost",
                    (
                        Points(
                            (
                                "Age of corrections over 10 s: stop the machine.",
                                "Blade up, brake on, tell the base on the voice channel.",
                                "Go on only when the chief says so.",
                            ),
                            numbered=True,
                        ),
                    ),
                    "alarm",
                ),
                Box(
                    "Radio check before work",
                    (
                        Points(
                            ("Check code read out and the same on every set", "Fix within 60 s at point CP1"),
                            boxes=True,
                        ),
                    ),
                    "strong",
                ),
                Pairs((("Frequency", "451.2750 MHz"), ("Call sign", "none given"), ("Power", "2 W"))),
            ),
            0.58,
        ),
        Heading("Dead zones where machines rely on corrections"),
        zones(3),
        Lines(("Crew chief, date", "Site manager, date")),
    )


def zones(count: int, name: str = "Haul road") -> Table:
    rows = tuple(
        (
            f"{i + 1}",
            f"{name} {'abcdefghijkl'[i % 12]}",
            f"{120 + 37 * i}",
            f"{21.6 + 6.7 * i:.1f}",
            "Slow to 5 km/h, spotter in sight" if i % 2 else "No guidance: work by stakes",
        )
        for i in range(count)
    )
    return Table(
        ("no", "zone", "length m", "without corrections s", "what to do there"),
        rows,
        "<<>><",
        (0,) if rows else (),
    )


def look_up_blocks() -> tuple[Block, ...]:
    return (
        Heading("Base set-up"),
        Code("4K7-Q2M", "four, kilo, seven, quebec, two, mike", "Check code: the same on base and rovers"),
        Text("Set the sheet's values in this order; where a set shows another, stop and ask."),
        settings(14),
        Heading("Antenna and people", 2),
        Text("Keyed down all the time is the worst case; it is what the distances above hold for.", "strong"),
        Text("Within 1.9 m of the antenna the limit for the public may be passed.", "alarm"),
        Points(("Switch off before anyone climbs.", "Keep the feeder's drip loop."), tone="small"),
        Box("Sources", (Text("Limits as named in the job file; terrain of 2021.", "small"),), "small"),
        Box("What the prediction cannot see", (Text("New buildings, vehicles, foliage in leaf."),)),
        Text("Made from the job file as it stood; see its hash.", "small"),
    )


def settings(count: int) -> Table:
    rows = tuple(
        (f"{i + 1}", f"Setting of the radio no {i + 1}", f"{451.2 + 0.0125 * i:.4f} MHz", "\N{BALLOT BOX}")
        for i in range(count)
    )
    return Table(("no", "setting", "set to", "as set"), rows, "><><", (2,))


def rich() -> Brief:
    """Every kind of block, in the order and amount of a usual brief."""
    return brief((Page(act_blocks()), Page(look_up_blocks())))


def awkward(title: str) -> Brief:
    """Twelve zones, a table over several sheets, empty tables, long words, letters of other scripts."""
    word = "Geländeaufnahmekontrollpunktverzeichnis" * 3
    return brief(
        (
            Page((*act_blocks()[:2], Heading("Dead zones"), zones(12, "Steinbruchzufahrt am oberen Rand"))),
            Page(
                (
                    Heading("Forty rows"),
                    settings(40),
                    Heading("Nothing in it"),
                    Table(("no", "zone", "length m"), (), "<<>"),
                    Points(()),
                    Pairs(()),
                    Figures(()),
                    Lines(()),
                    Heading("Long words"),
                    Text(word),
                    Box(word, (Text(word, "strong"), Pairs(((word, word),))), "alarm"),
                    Table((word[:39], "b", "c"), ((word, word[:39], "1.0"), ("x", "y", "-2.5")), "<<>", (1,)),
                    Heading("Letters"),
                    Text(ACCENTED),
                    Text(f"Zone {ARABIC} 120 m, zone {HEBREW} (12), then 3 m."),
                    Table(("name", "m"), ((ARABIC, "120"), (HEBREW, "12"), (TOKYO, "7")), "<>"),
                    Figures(((word[:20], "long value"), ("12 345.67 m", ARABIC), ("1", word[:60]))),
                    picture(),
                    Box("Lengthy", tuple(Text(f"Paragraph {i}. " + "Words of it. " * 30) for i in range(14))),
                    Lines(("One", "Two", "Three, a long label: who and when and on whose behalf " * 2)),
                )
            ),
        ),
        title,
    )


def hostile() -> Brief:
    """Hostile text in every place that takes text."""
    return filled(HOSTILE)


def endless() -> Brief:
    """Texts longer than a sheet in every place that takes text."""
    return filled(("word " * 400, "w" * 2000, "some-more/of_it " * 125, "\N{NO-BREAK SPACE}x" * 2000))


def filled(texts: tuple[str, str, str, str]) -> Brief:
    """These texts in every place that takes text."""
    a, b, c, d = texts
    blocks = (
        Heading(a),
        Text(b),
        Text(c, "alarm"),
        Points(texts, numbered=True, boxes=True),
        Pairs(((a, b), (c, d))),
        Figures(((a, b), (c, d))),
        Table((a, b), ((c, d),), "<>", (0,)),
        Code(a, b, c),
        Picture(svg(), 3.0, 2.0, d + b, a),
        Box(b, (Text(a), Beside((Text(b),), (Text(c),))), "alarm"),
        Lines(texts),
    )
    return Brief("en", b, a, texts, c, "{page} / {pages}" + d, (Page(blocks),))


def texts_of(value: Any) -> Iterator[str]:
    """Every text that is to be read on the sheets, in order; what a picture shows is said elsewhere."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from texts_of(item)
    elif isinstance(value, Code):
        yield from (value.label, value.code, value.spelled)
    elif is_dataclass(value):
        for field in fields(value):
            if field.name not in ("tone", "align", "said", "language", "page_of"):
                yield from texts_of(getattr(value, field.name))


def squeezed(text: str) -> str:
    """Without spaces, tick boxes and codes of reading direction: the rest has to be the same everywhere."""
    composed = unicodedata.normalize("NFC", text)
    kept = (sign for sign in composed if not sign.isspace() and unicodedata.category(sign) != "Cf")
    return "".join(kept).replace("\N{BALLOT BOX}", "")
