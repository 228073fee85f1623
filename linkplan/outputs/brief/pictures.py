"""The two drawings of the brief: the map of the job, and what is around the base."""

from __future__ import annotations

from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_svg import Drawn, drawn
from linkplan.outputs.brief.pictures_type import drawing_style
from linkplan.study import BriefFacts

__all__ = ["Drawn", "base_picture", "job_picture"]


def job_picture(facts: BriefFacts, words: PictureWords, width_in: float, most_height_in: float) -> Drawn:
    """The map of the job as SVG, `width_in` wide and no higher than it needs."""
    from linkplan.outputs.brief.pictures_job import job_board

    with drawing_style():
        return drawn(job_board(facts, words, width_in, most_height_in).figure)


def base_picture(facts: BriefFacts, words: PictureWords, width_in: float, most_height_in: float) -> Drawn:
    """The ground around the base as SVG, `width_in` wide and no higher than it needs."""
    from linkplan.outputs.brief.pictures_base import base_board

    with drawing_style():
        return drawn(base_board(facts, words, width_in, most_height_in).figure)
