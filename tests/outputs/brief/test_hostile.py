"""Hostile text in a job comes out as plain text, on the sheets and on the page."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from html.parser import HTMLParser

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import OutputError
from linkplan.outputs.brief.blocks import Box, Brief, Heading, Page, Pairs, Picture, Points, Table, Text
from linkplan.outputs.brief.page import brief_html
from linkplan.outputs.brief.pdf import brief_pdf
from linkplan.outputs.brief.plain import UNSETTABLE, breakable, isolated, plain
from tests.outputs.brief.sample import ARABIC, HOSTILE, MADE, brief, hostile, rich, squeezed, texts_of


class Reader(HTMLParser):
    """Text and elements of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.text = ""
        self.elements: set[str] = set()
        self.attributes: set[str] = set()
        self._within: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self._within.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._within and self._within[-1] == tag:
            self._within.pop()

    def handle_data(self, data: str) -> None:
        if not self._within or self._within[-1] not in ("style", "title"):
            self.text += data


def said_by(one: Brief) -> tuple[str, str]:
    """Texts of sheets and page without spaces."""
    sheets = pypdf.PdfReader(io.BytesIO(brief_pdf(one, "a4", MADE))).pages
    return squeezed("".join(sheet.extract_text() for sheet in sheets)), squeezed(Reader(brief_html(one)).text)


def test_every_hostile_text_is_readable_as_it_is() -> None:
    one = hostile()
    sheets, page = said_by(one)
    for text in texts_of(one):
        wanted = squeezed(plain(text))
        assert wanted in page
        assert wanted in sheets


def test_no_hostile_text_becomes_an_element() -> None:
    reader, usual = Reader(brief_html(hostile())), Reader(brief_html(rich()))
    assert reader.elements <= usual.elements | {"dl", "dt", "dd", "ol", "figcaption"}
    assert "script" not in reader.elements
    assert reader.attributes <= usual.attributes
    assert not any(name.startswith("on") for name in reader.attributes)


def test_codes_that_act_on_text_are_made_visible() -> None:
    assert plain("a\u202eb\u2066c\x00d\ufeff") == "a\ufffdb\ufffdc\ufffdd\ufffd"
    assert plain("one\ntwo\tthree\u2028four") == "one two three four"
    assert plain("A\u030a \ud800") == f"\u00c5 {UNSETTABLE}"
    kept = "\N{WOMAN}\N{ZERO WIDTH JOINER}\N{ROCKET} na\u00efve 12\u00a0m \u2264 3"
    assert plain(kept) == kept


def test_a_text_without_end_gets_one() -> None:
    assert plain("x" * 2000) == "x" * 2000
    assert plain("x" * 2001) == "x" * 1999 + "\N{HORIZONTAL ELLIPSIS}"
    one = replace(rich(), title="name " * 400, page_of="{page} " * 400)
    sheets = pypdf.PdfReader(io.BytesIO(brief_pdf(one, "a4", MADE))).pages
    assert len(sheets) == len(pypdf.PdfReader(io.BytesIO(brief_pdf(rich(), "a4", MADE))).pages)


def test_a_number_stays_behind_the_name_it_belongs_to() -> None:
    # without isolation the number moves before an Arabic name [Unicode Standard Annex 9, rule W2 and I1]
    assert isolated(f"{ARABIC} 120 m") == f"\u2068{ARABIC}\u2069 120 m"
    assert isolated("plain 3 m") == "plain 3 m"


def test_long_words_get_places_to_break_and_short_ones_none() -> None:
    assert breakable("a usual sentence of words") == "a usual sentence of words"
    assert breakable("2026-05-04T06:30:00Z") == "2026-05-04T06:30:00Z"
    cut = breakable("x" * 60)
    assert cut.replace("\u200b", "") == "x" * 60
    assert max(map(len, cut.split("\u200b"))) <= 3
    # never between a letter and its accents
    assert not re.search("\u200b\u0301", breakable("e\u0301\u0301" * 40))


@pytest.mark.parametrize("link", ["/etc/hostname", "file:///etc/hostname", "../../etc/hostname"])
def test_a_picture_reaches_nothing_outside_itself(link: str) -> None:
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        ' viewBox="0 0 9 9">'
        f'<image xlink:href="{link}" width="9" height="9"/></svg>'
    )
    one = brief((Page((Picture(drawing.encode(), 1.0, 1.0, "reaches out"),)),))
    with pytest.raises(OutputError, match=r"failed to load linked image .*\)$"):
        brief_pdf(one, "a4", MADE)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.text(st.characters(exclude_categories=()), max_size=60) | st.sampled_from(HOSTILE),
        min_size=4,
        max_size=4,
    )
)
def test_no_text_at_all_stops_the_brief(texts: list[str]) -> None:
    a, b, c, d = texts
    blocks = (
        Heading(a),
        Text(b),
        Points((c, d), boxes=True),
        Pairs(((a, d),)),
        Table((a, b), ((c, d),), "<>"),
        Box(d, (Heading(c, 2), Text(a))),
    )
    one = replace(brief((Page(blocks),), title=a), kind=b, head=(c,), foot=d, page_of=d)
    assert brief_pdf(one, "a4", MADE).startswith(b"%PDF-")
    page = Reader(brief_html(one))
    assert page.elements <= Reader(brief_html(rich())).elements
    for text in texts:
        assert squeezed(plain(text)) in squeezed(page.text)
