"""The brief as a page: the same words as the sheets, nothing asked for, readable on a phone and at night."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdf
import pytest

from linkplan.outputs.brief.blocks import Brief, Heading, Page, Table
from linkplan.outputs.brief.page import POLICY, brief_html
from linkplan.outputs.brief.pdf import brief_pdf
from tests.outputs.brief.sample import MADE, awkward, brief, hostile, rich, squeezed, texts_of

CHROMIUM = Path("/usr/bin/chromium")
NAME = "kilometerlongjobnamewithoutanyspaceorhyphenatallinitXY60abcd"


@contextmanager
def opened(
    one: Brief, folder: Path, width: int = 900, scheme: str = "light"
) -> Iterator[tuple[Any, list[str]]]:
    """The page in Chromium without a network; what it asked for besides itself, and complaints."""
    playwright = pytest.importorskip("playwright.sync_api", reason="the browser tests need playwright")
    if not CHROMIUM.exists():
        pytest.skip("the browser tests need chromium")
    path = folder / "brief.html"
    path.write_text(brief_html(one), encoding="utf-8")
    with playwright.sync_playwright() as driver:
        flags = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=flags)
        context = browser.new_context(
            viewport={"width": width, "height": 800}, offline=True, color_scheme=scheme
        )
        page = context.new_page()
        trouble: list[str] = []
        page.on("request", lambda request: trouble.append(request.url))
        page.on("console", lambda message: trouble.append(message.text))
        page.on("pageerror", lambda error: trouble.append(str(error)))
        page.goto(path.as_uri())
        page.wait_for_timeout(200)
        trouble.remove(path.as_uri())
        yield page, [said for said in trouble if not said.startswith("data:")]
        browser.close()


def test_page_and_sheets_say_the_same(tmp_path: Path) -> None:
    one = rich()
    sheets = pypdf.PdfReader(io.BytesIO(brief_pdf(one, "a4", MADE))).pages
    printed = " ".join(sheet.extract_text() for sheet in sheets).split()
    with opened(one, tmp_path) as (page, _):
        shown = page.inner_text("body")
        # in order
        place = 0
        for text in (one.kind, one.title, *one.head, *texts_of(one.pages), one.foot):
            place = squeezed(shown).index(squeezed(text), place) + len(squeezed(text))
    only_printed = {
        word for word in printed if squeezed(word) not in squeezed(shown) and not re.fullmatch(r"\d+\.", word)
    }
    # sheets are counted, a page is not; a dash stands before what a browser marks in its own way
    assert only_printed <= {"Sheet", "\N{EN DASH}"}
    assert {squeezed(word) for word in shown.split()} - {squeezed(word) for word in printed} <= {""}


@pytest.mark.parametrize("make", [rich, hostile, lambda: awkward(NAME)], ids=["rich", "hostile", "awkward"])
def test_nothing_is_asked_for_and_nothing_complained_of(make: Any, tmp_path: Path) -> None:
    with opened(make(), tmp_path) as (page, trouble):
        assert page.evaluate("Array.from(document.images).every(i => i.complete && i.naturalWidth > 0)")
        assert page.evaluate("document.images.length") > 0
        assert trouble == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_shows_it_without_scrolling_sideways(scheme: str, tmp_path: Path) -> None:
    with opened(awkward(NAME), tmp_path, 380, scheme) as (page, _):
        assert page.evaluate("document.documentElement.scrollWidth") <= 380
        # what does not fit is the text's own size, never below 13 px
        sizes = page.evaluate(
            "Array.from(document.querySelectorAll('p, td, th, li, dt, dd, small, span, figcaption'))"
            ".map(e => parseFloat(getComputedStyle(e).fontSize))"
        )
        assert min(sizes) >= 13


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_stand_out_from_their_ground(scheme: str, tmp_path: Path) -> None:
    with opened(rich(), tmp_path, 900, scheme) as (page, _):
        pairs = page.evaluate(
            """() => Array.from(document.querySelectorAll('p, td, th, li, dt, dd, small, h1, h2')).map(e => {
              const ground = at => getComputedStyle(at).backgroundColor;
              let at = e;
              while (ground(at) === 'rgba(0, 0, 0, 0)') at = at.parentElement;
              return [getComputedStyle(e).color, ground(at)];
            })"""
        )
    # contrast of at least 7 to 1 [WCAG 2.1, success criterion 1.4.6]: the sheet is read in the sun
    assert min(contrast(*pair) for pair in pairs) >= 7.0


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance [WCAG 2.1]."""
    parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_page_forbids_itself_all_but_its_own_style_and_pictures() -> None:
    text = brief_html(rich())
    assert POLICY == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    assert f'http-equiv="Content-Security-Policy" content="{POLICY}"' in text
    assert "<script" not in text
    assert not re.search(r"https?:|//[a-z]|url\(|@import", text)
    assert '<html lang="en">' in text
    assert "<title>Site-safety brief: Invented quarry, north face</title>" in text
    assert 'alt="Map: base on the west hill, covered ground to the east."' in text


def test_an_odd_table_is_refused() -> None:
    with pytest.raises(ValueError, match="a table of 2 columns"):
        brief_html(brief((Page((Table(("a", "b"), (("1", "2", "3"),), "<>"),)),)))


def test_headings_without_words_are_left_out() -> None:
    text = brief_html(replace(brief((Page((Heading(" \u200d"), Heading("Here"))),))))
    assert re.findall(r"<h2[^>]*>([^<]*)", text) == ["Here"]
