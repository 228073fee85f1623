"""The brief as PDF: tagged, fonts embedded, the same bytes for the same brief and time stamp.

Words and pictures reach the typesetter as data beside a constant template, never inside its markup; its
root is an empty folder, so nothing of the machine can be read.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from datetime import datetime
from importlib import resources, util
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from linkplan.errors import OutputError
from linkplan.outputs.brief.blocks import Beside, Block, Box, Brief, Picture
from linkplan.outputs.brief.plain import NOTHING, breakable, cleaned, isolated, shortened

if TYPE_CHECKING:
    import typst

PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in millimetres [ISO 216; ANSI/ASME Y14.1]."""

SOURCE_SANS = ("SourceSansPro-Regular.otf", "SourceSansPro-Semibold.otf", "SourceSansPro-Bold.otf")
DEJAVU = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
LAST_RESORT = "LastResortHE-Regular.ttf"
"""Has a framed sign for every character there is, so that none vanishes."""
HEAD_LIMIT, FOOT_LIMIT, COUNT_LIMIT = 160, 480, 40
"""Characters, at most, of a text in the head, in the foot and in the count of the sheets."""


def brief_pdf(brief: Brief, paper: str, made: datetime) -> bytes:
    """The document as a PDF file.

    `paper` is "a4" or "letter"; `made`, with its time zone, is the date that the file bears. Raises
    OutputError when the text cannot be set, ValueError for another paper or a time without a zone.
    """
    import typst

    if made.tzinfo is None:
        raise ValueError("the time a brief is made at needs its time zone")
    with typesetter(brief, paper) as compiler:
        try:
            pdf = compiler.compile(format="pdf", pdf_standards="ua-1", timestamp=int(made.timestamp()))
        except typst.TypstError as error:
            raise OutputError(f"the brief cannot be typeset: {_one_line(error)}") from None
    assert isinstance(pdf, bytes)
    return pdf


@contextmanager
def typesetter(brief: Brief, paper: str) -> Iterator[typst.Compiler]:
    """The template with the brief as its data, in a folder with nothing else in it."""
    import typst

    if paper not in PAPERS:
        raise ValueError(f"paper = {paper!r}: give one of {', '.join(PAPERS)}")
    template = (resources.files("linkplan.outputs.brief") / "brief.typ").read_bytes()
    with _folder() as folder:
        fonts, empty = Path(folder) / "fonts", Path(folder) / "empty"
        fonts.mkdir()
        empty.mkdir()
        yield typst.Compiler(
            template,
            root=empty,
            package_path=empty,
            package_cache_path=empty,
            font_paths=_fonts(fonts),
            sys_inputs={"brief": _data(cleaned(brief), paper)},
        )


def _folder() -> TemporaryDirectory[str]:
    try:
        return TemporaryDirectory()
    except OSError as error:
        raise OutputError(
            f"a folder for temporary files cannot be made ({error}): make room for it"
        ) from None


def _one_line(error: typst.TypstError) -> str:
    return " ".join(str(error.message).split())


def _fonts(folder: Path) -> typst.Fonts:
    """Source Sans, then letters it lacks, then framed signs: only these, whatever is installed."""
    import typst

    sans = _folder_of("font_source_sans_pro") / "files"
    others = _folder_of("matplotlib") / "mpl-data" / "fonts" / "ttf"
    files = [*(sans / name for name in SOURCE_SANS), *(others / name for name in (*DEJAVU, LAST_RESORT))]
    try:
        for file in files:
            shutil.copy(file, folder)
    except OSError as error:
        raise OutputError(f"a font of the brief is missing ({error}): install linkplan again") from None
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)])


def _folder_of(package: str) -> Path:
    found = util.find_spec(package)
    if found is None or not found.submodule_search_locations:
        raise OutputError(f"the package {package} is missing: install linkplan again")
    return Path(found.submodule_search_locations[0])


def _data(brief: Brief, paper: str) -> str:
    language, _, rest = brief.language.partition("-")
    region = rest.rpartition("-")[2]
    data = {
        "paper": PAPERS[paper],
        "language": language.lower(),
        "region": region.upper() if len(region) == 2 else None,
        "document": f"{brief.kind}: {brief.title}",
        "title": _set(shortened(brief.title, HEAD_LIMIT)),
        "kind": _set(shortened(brief.kind, HEAD_LIMIT)),
        "head": [_set(shortened(line, HEAD_LIMIT)) for line in brief.head],
        "foot": _set(shortened(brief.foot, FOOT_LIMIT)),
        "page_of": shortened(brief.page_of, COUNT_LIMIT),
        "nothing": NOTHING,
        "pages": _stepped(
            [
                {"blocks": [_block(block) for block in page.blocks], "one_sheet": page.one_sheet}
                for page in brief.pages
            ]
        ),
    }
    return json.dumps(data, ensure_ascii=False, allow_nan=False)


def _block(block: Block) -> dict[str, Any]:
    kind = type(block).__name__.lower()
    match block:
        case Box():
            inner = [_block(one) for one in block.blocks]
            return {"is": kind, "title": _set(block.title), "tone": block.tone, "blocks": inner}
        case Beside():
            left, right = ([_block(one) for one in side] for side in (block.left, block.right))
            return {"is": kind, "left": left, "right": right, "share": block.left_share}
        case Picture():
            said = block.said.strip() or block.caption.strip() or NOTHING
            data = {"svg": block.svg.decode("utf-8"), "said": said, "caption": _set(block.caption)}
            return {"is": kind, **data, "width": block.width_in, "height": block.height_in}
        case _:
            return {"is": kind, **_strings(asdict(block))}


def _stepped(pages: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Headings also get the level at which they are tagged: none is skipped on the way down [PDF/UA-1]."""
    last = 0

    def walk(blocks: list[dict[str, Any]]) -> None:
        nonlocal last
        for block in blocks:
            if block.get("is") == "heading":
                last = block["step"] = min(max(block["level"], 1), last + 1)
            for inside in ("blocks", "left", "right"):
                walk(block.get(inside, []))

    walk(pages)
    return pages


def _strings(value: Any) -> Any:
    if isinstance(value, str):
        return _set(value)
    if isinstance(value, dict):
        return {key: _strings(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_strings(item) for item in value]
    return value


def _set(text: str) -> str:
    return isolated(breakable(text))
