"""What a brief is made of: plain text in blocks, in one language, which PDF and page both set.

Every string is plain text: whoever sets it must not read markup in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Tone = Literal["plain", "small", "strong", "alarm"]
"""How a text speaks: "alarm" is for what can hurt somebody or is not as asked."""


@dataclass(frozen=True)
class Heading:
    """A title within the brief."""

    text: str
    level: int = 1
    """1 for a section, 2 within it."""


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True)
class Points:
    """Short sentences, each on a line of its own."""

    items: tuple[str, ...]
    numbered: bool = False
    """Steps, to be taken in order."""
    boxes: bool = False
    """Each with a box to tick."""
    tone: Tone = "plain"


@dataclass(frozen=True)
class Pairs:
    """What and how much: labels with their values."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Figures:
    """The few numbers to see first, large: value, then what it is."""

    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """Rows under a head."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str
    """"<" or ">" for each column."""
    strong_rows: tuple[int, ...] = ()
    """Rows that matter most."""


@dataclass(frozen=True)
class Code:
    """The check code, to be read out."""

    code: str
    spelled: str
    label: str


@dataclass(frozen=True)
class Picture:
    """A drawing of ours."""

    svg: bytes
    width_in: float
    height_in: float
    said: str
    """What it shows, for those who cannot see it."""
    caption: str = ""


@dataclass(frozen=True)
class Box:
    """A hazard or rule that stands out, framed."""

    title: str
    blocks: tuple[Block, ...]
    tone: Tone = "plain"


@dataclass(frozen=True)
class Lines:
    """Blank lines to write on, each with its label under or before it."""

    labels: tuple[str, ...]


@dataclass(frozen=True)
class Beside:
    """Two columns of blocks."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]
    left_share: float = 0.5
    """Of the width."""


Block = Heading | Text | Points | Pairs | Figures | Table | Code | Picture | Box | Lines | Beside


@dataclass(frozen=True)
class Page:
    """Blocks that begin on a new sheet."""

    blocks: tuple[Block, ...]
    one_sheet: bool = False
    """All of it stands on one sheet: where it would not, it is set smaller, down to four fifths; the first
    sheet down to three quarters."""


@dataclass(frozen=True)
class Brief:
    """The whole document, composed."""

    language: str
    """Its tag [BCP 47], such as "en"."""
    title: str
    """The job's name as its user wrote it."""
    kind: str
    """What the document is, in words: stands with the title."""
    head: tuple[str, ...]
    """Who made it of what and when: revision, hash of the job file, time; on every sheet."""
    foot: str
    """On every sheet."""
    page_of: str
    """How sheets are counted, with {page} and {pages}."""
    pages: tuple[Page, ...]
