"""The brief as files: one PDF for each size of paper and one page, in every language that is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from linkplan.outputs.brief.catalogue import SOURCE_LANGUAGE
from linkplan.outputs.brief.compose import compose
from linkplan.outputs.files import Written, write_file
from linkplan.study import BriefFacts

PAPERS = ("a4", "letter")
_PAPER_NAMES = {"a4": "A4", "letter": "Letter"}


def write_brief(
    facts: BriefFacts,
    folder: Path,
    papers: Sequence[str] = PAPERS,
    languages: Sequence[str] = (SOURCE_LANGUAGE,),
) -> list[Written]:
    """Write it into an existing folder. Raises OutputError, LinkplanError for an unknown language."""
    from linkplan.outputs.brief.page import brief_html
    from linkplan.outputs.brief.pdf import brief_pdf

    written: list[Written] = []
    for language in languages:
        brief = compose(facts, language)
        ending = "" if language == SOURCE_LANGUAGE else f"-{language}"
        for paper in papers:
            content = brief_pdf(brief, paper, facts.computed_at)
            path = write_file(folder / f"brief-{paper}{ending}.pdf", content)
            what = f"The site-safety brief to print on {_PAPER_NAMES[paper]}: act on its first page, sign it."
            written.append(Written(path, what))
        path = write_file(folder / f"brief{ending}.html", brief_html(brief))
        written.append(Written(path, "The same brief for a browser or a phone; works without a network."))
    return written


def papers_for(length_unit: str) -> tuple[str, ...]:
    """The paper that a job's crew has: A4, and Letter where distances are in feet."""
    return ("a4",) if length_unit == "metre" else PAPERS
