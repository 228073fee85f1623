"""The sheets as PDF: what the file says of itself, every word on it, nothing outside, nothing left alone."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from typing import Any

import numpy as np
import pypdf
import pytest
from PIL import Image

from linkplan.errors import OutputError
from linkplan.outputs.brief.blocks import Block, Box, Brief, Heading, Page, Picture, Points, Table, Text
from linkplan.outputs.brief.pdf import brief_pdf, typesetter
from tests.outputs.brief.sample import (
    ACCENTED,
    ARABIC,
    HEBREW,
    MADE,
    TOKYO,
    awkward,
    brief,
    endless,
    hostile,
    picture,
    rich,
    settings,
    squeezed,
    svg,
    texts_of,
)

LONG_NAMES = (
    "Kilometer-long-job-name-without-any-space-in-it-at-all-XY60ab",
    "kilometerlongjobnamewithoutanyspaceorhyphenatallinitXY60abcd",
    "A job name of sixty letters with spaces where a line may end",
)


def read(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data))


@cache
def rich_sheets(paper: str) -> bytes:
    return brief_pdf(rich(), paper, MADE)


def fonts_of(resources: Any) -> Iterator[Any]:
    """Fonts of a page and of the drawings on it."""
    for font in (resources.get("/Font") or {}).values():
        yield font.get_object()
    for item in (resources.get("/XObject") or {}).values():
        inner = item.get_object().get("/Resources")
        if inner:
            yield from fonts_of(inner.get_object())


def test_the_file_says_what_it_is() -> None:
    document = read(rich_sheets("a4"))
    root = document.trailer["/Root"]
    assert document.metadata is not None
    assert document.metadata.title == "Site-safety brief: Invented quarry, north face"
    assert document.metadata.creation_date == MADE
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"].value
    assert len(root["/StructTreeRoot"]["/K"]) > 0
    # a reader shows the title in place of the file's name, and finds the sections
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value
    assert document.outline[0].title == "Dead zones where machines rely on corrections"
    assert "pdfuaid:part" in root["/Metadata"].get_object().get_data().decode()


def test_the_language_is_that_of_the_brief() -> None:
    for tag in ("es", "pt-BR", "ar"):
        root = read(brief_pdf(replace(rich(), language=tag), "a4", MADE)).trailer["/Root"]
        assert root["/Lang"] == tag


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_paper_has_its_size(paper: str) -> None:
    # ISO 216: A4 is 210 mm x 297 mm; US Letter is 8.5 in x 11 in; a point is 1/72 in
    wide, high = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (612, 792)}[paper]
    for page in read(rich_sheets(paper)).pages:
        assert float(page.mediabox.width) == pytest.approx(wide, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(high, abs=0.01)


def test_fonts_are_all_embedded_and_map_back_to_letters() -> None:
    found = set()
    for page in read(brief_pdf(awkward("Name"), "a4", MADE)).pages:
        for font in fonts_of(page["/Resources"]):
            inner = font["/DescendantFonts"][0].get_object()
            descriptor = inner["/FontDescriptor"].get_object()
            assert "/FontFile2" in descriptor or "/FontFile3" in descriptor, font["/BaseFont"]
            assert "/ToUnicode" in font
            found.add(font["/BaseFont"].partition("+")[2])
    assert any(name.startswith("SourceSansPro") for name in found)
    assert any(name.startswith("DejaVuSans") for name in found)
    assert any(name.startswith("LastResort") for name in found)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_word_is_on_the_sheets(paper: str) -> None:
    for one in (rich(), awkward(LONG_NAMES[0])):
        sheets = [squeezed(page.extract_text()) for page in read(brief_pdf(one, paper, MADE)).pages]
        # a paragraph may go on over foot and head
        head, foot = squeezed("".join((one.title, one.kind, *one.head))), squeezed(one.foot)
        body = "".join((sheets[0], *(sheet.replace(head, "") for sheet in sheets[1:])))
        said = re.sub(re.escape(foot) + r"Sheet\d+of\d+", "", body) + foot
        for text in texts_of(one):
            if not any(name in text for name in (ARABIC, HEBREW, TOKYO)):  # read below
                assert squeezed(text) in said, text


def test_letters_of_other_scripts_are_kept_and_shaped() -> None:
    one = brief((Page((Text(ACCENTED), Text(f"Zone {ARABIC} 120 m"))),))
    page = read(brief_pdf(one, "a4", MADE)).pages[0]
    said = page.extract_text()
    assert squeezed(ACCENTED) in squeezed(said)
    assert set(ARABIC.split()) <= set("".join(s for s in said if s not in "\u2068\u2069").split())


def test_a_number_stands_behind_the_right_to_left_name_it_belongs_to() -> None:
    page = read(brief_pdf(brief((Page((Text(f"Zone {ARABIC} 120 m"),)),)), "a4", MADE)).pages[0]
    left: dict[str, float] = {}

    def note(text: str, shift: list[float], place: list[float], _font: object, _size: float) -> None:
        left.setdefault(text.strip(), shift[4] + place[4])

    page.extract_text(visitor_text=note)
    first, second = ARABIC.split()
    assert left["Zone"] < left[second] < left[first] < left["120 m"]


def test_letters_that_no_font_has_get_a_framed_sign_and_keep_their_codes() -> None:
    page = read(brief_pdf(brief((Page((Text(f"in {TOKYO}"),)),)), "a4", MADE)).pages[0]
    assert any("LastResort" in font["/BaseFont"] for font in fonts_of(page["/Resources"]))
    # one sign stands for both letters: the first is its code, the other's is given beside it
    assert f"in {TOKYO[0]}" in page.extract_text()
    assert f"ActualText<FEFF{ord(TOKYO[1]):04X}>".encode() in page.get_contents().get_data()


def test_the_same_brief_and_time_give_the_same_bytes_in_any_process() -> None:
    code = (
        "import hashlib; from tests.outputs.brief.sample import MADE, rich;"
        "from linkplan.outputs.brief.pdf import brief_pdf;"
        "print(hashlib.sha256(brief_pdf(rich(), 'a4', MADE)).hexdigest())"
    )
    sums = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }
    assert len(sums) == 1
    assert brief_pdf(rich(), "a4", datetime(2026, 5, 4, 6, 31, tzinfo=UTC)) != rich_sheets("a4")


def test_head_and_foot_are_on_every_sheet() -> None:
    one = brief((Page((settings(120),)), Page((Text("Last"),))))
    sheets = [page.extract_text() for page in read(brief_pdf(one, "letter", MADE)).pages]
    assert len(sheets) >= 4
    for number, sheet in enumerate(sheets, start=1):
        for text in (one.title, one.kind, *one.head, one.foot, f"Sheet {number} of {len(sheets)}"):
            assert squeezed(text) in squeezed(sheet)


def test_a_long_table_goes_on_with_its_head() -> None:
    sheets = [
        page.extract_text() for page in read(brief_pdf(brief((Page((settings(120),)),)), "a4", MADE)).pages
    ]
    assert len(sheets) >= 2
    assert all("setting set to as set" in " ".join(sheet.split()) for sheet in sheets)
    rows = [line for sheet in sheets for line in sheet.splitlines() if "Setting of the radio" in line]
    assert [int(line.split()[0]) for line in rows] == list(range(1, 121))


NEXT: dict[str, tuple[Block, str]] = {
    "text": (Text("Next of it."), "Next of it."),
    "points": (Points(("Next of it.", "More.")), "Next of it."),
    "table": (Table(("a", "b"), (("Next of it.", "1"), ("x", "2")), "<>"), "Next of it."),
    "box": (Box("Next of it.", (Text("Inside"),), "alarm"), "Next of it."),
    "picture": (picture("Next of it."), "Next of it."),
}


@pytest.mark.parametrize("kind", NEXT)
def test_a_heading_is_never_the_last_on_a_sheet(kind: str) -> None:
    block, first = NEXT[kind]
    at = set()
    least = 18 if kind == "picture" else 38
    for lines in range(least, least + 16):
        filler = tuple(Text(f"Line {n}.") for n in range(lines))
        one = brief((Page((*filler, Heading("Alone"), block)),))
        sheets = [page.extract_text() for page in read(brief_pdf(one, "a4", MADE)).pages]
        heading = next(i for i, sheet in enumerate(sheets) if "Alone" in sheet)
        body = next(i for i, sheet in enumerate(sheets) if first in sheet)
        assert heading == body, f"after {lines} lines"
        at.add(heading)
    assert at == {0, 1}, "the lines did not reach the end of the sheet"


@pytest.mark.parametrize("kind", ["box", "picture"])
def test_what_is_framed_is_not_cut_by_the_end_of_a_sheet(kind: str) -> None:
    inside = ("Top of it.", "End of it.")
    block = {
        "box": Box(inside[0], tuple(Text(text) for text in ("a", "b", "c", inside[1])), "strong"),
        "picture": replace(picture(inside[1]), svg=svg().replace(b"Base", inside[0].encode())),
    }[kind]
    for lines in range(20, 48, 3):
        one = brief((Page((*(Text(f"Line {n}.") for n in range(lines)), block)),))
        sheets = [page.extract_text() for page in read(brief_pdf(one, "a4", MADE)).pages]
        assert sum(all(text in sheet for text in inside) for sheet in sheets) == 1


def test_a_box_longer_than_a_sheet_goes_on_over_the_next() -> None:
    one = brief((Page((Box("Long", tuple(Text(f"Line {n}.") for n in range(120))),)),))
    sheets = [page.extract_text() for page in read(brief_pdf(one, "a4", MADE)).pages]
    assert len(sheets) == 3
    assert "Line 0." in sheets[0]
    assert all(f"Line {n}." in "".join(sheets) for n in range(120))


def test_a_picture_larger_than_the_sheet_is_made_to_fit() -> None:
    one = brief((Page((Text("x"), Picture(svg(1000, 3000), 10.0, 30.0, "A tall one", "Its caption"))),))
    sheets = read(brief_pdf(one, "letter", MADE)).pages
    assert "Its caption" in sheets[len(sheets) - 1].extract_text()
    assert len(sheets) == 2


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", LONG_NAMES)
def test_nothing_runs_over_the_edge(paper: str, name: str) -> None:
    cases: tuple[Brief, ...] = (awkward(name), hostile(), *([endless()] if name == LONG_NAMES[0] else []))
    for one in cases:
        with typesetter(one, paper) as compiler:
            sheets = compiler.compile(format="png", ppi=72)
        for sheet in sheets if isinstance(sheets, list) else [sheets]:
            assert sheet is not None
            grey = np.asarray(Image.open(io.BytesIO(sheet)).convert("L"))
            # margins are 15 mm = 42.5 pixels at the sides; half the line of a frame may stand in them
            assert grey[:, :41].min() == 255
            assert grey[:, -41:].min() == 255
            assert grey[:20].min() == 255
            assert grey[-20:].min() == 255


def test_faults_are_one_clear_line() -> None:
    with pytest.raises(ValueError, match="give one of a4, letter"):
        brief_pdf(rich(), "a5", MADE)
    with pytest.raises(ValueError, match="time zone"):
        brief_pdf(rich(), "a4", datetime(2026, 5, 4))
    with pytest.raises(ValueError, match="a table of 2 columns"):
        brief_pdf(brief((Page((Table(("a", "b"), (("1",),), "<>"),)),)), "a4", MADE)
    with pytest.raises(OutputError, match="cannot be typeset") as caught:
        brief_pdf(brief((Page((Picture(b"<svg", 1.0, 1.0, "broken"),)),)), "a4", MADE)
    assert "\n" not in str(caught.value)


def test_what_belongs_on_one_sheet_is_set_smaller_where_it_must() -> None:
    def sheets_of(lines: int, one_sheet: bool, before: tuple[Page, ...] = ()) -> int:
        blocks = tuple(Text(f"Line {n} of it.") for n in range(lines))
        pages = (*before, Page(blocks, one_sheet=one_sheet))
        return len(read(brief_pdf(brief(pages), "a4", MADE)).pages)

    fits = next(lines for lines in range(30, 60) if sheets_of(lines + 1, False) == 2)
    assert sheets_of(fits + 1, True) == 1
    assert sheets_of(int(fits * 1.2), True) == 1
    # type below four fifths is hard to read in the field: the rest goes on over another sheet; only the sheet
    # to act on and to sign is set a little smaller still
    assert sheets_of(int(fits * 1.32), True) == 1
    assert sheets_of(int(fits * 1.32), False) == 2
    assert sheets_of(int(fits * 1.4), True, (Page((Text("The first."),)),)) == 3
    assert sheets_of(int(fits * 1.5), True) == 2
