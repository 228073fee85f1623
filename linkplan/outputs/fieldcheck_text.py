"""A field check as plain text for a terminal: the answer first, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

from linkplan.fieldcheck.check import FieldAnswer
from linkplan.outputs import fieldcheck_words as words
from linkplan.outputs.fieldcheck_words import Head, Rows
from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_words import clean
from linkplan.outputs.text import filled, table

_WORDS = {
    "file",
    "kind",
    "from (UTC)",
    "the map says",
    "what",
    "where",
    "",
    " ",
    "predicted chance",
    "90 % interval",
}
"""Heads of columns that hold words."""

CHECK_ON_SITE = (
    "A log shows the places where somebody was, on that day, with that machine in that spot. It says nothing "
    "about ground where nobody went, and never that work may rely on corrections without watching for their "
    "loss."
)


def fieldcheck_text(answer: FieldAnswer) -> str:
    """The whole answer, ready to print."""
    plan = answer.plan
    show = Formats.of(plan)
    base = plan.base
    parts = [
        clean(plan.name),
        filled(f"Base {clean(base.name)} at {show.position(base.easting, base.northing)}"),
        "",
        filled(words.answer_line(answer)),
        filled(words.judged_map_line(answer)),
        "",
        "Looked at",
        _table(words.source_table(answer)),
        *(filled(line, "  - ", "    ") for line in words.left_out_lines(answer)),
        *_outcomes(answer),
        *_levels(answer),
        *_wrong(answer, show),
        *_other(answer, show),
        "",
        "What the logs teach",
        *(filled(line, "  - ", "    ") for line in words.learned_lines(answer)),
        *_kept_out(answer),
        "",
        *(filled(note, "note: ", "      ") for note in answer.notes),
        filled(words.HOW_JUDGED),
        filled(CHECK_ON_SITE),
    ]
    return "\n".join(parts)


def _outcomes(answer: FieldAnswer) -> list[str]:
    counted = words.contingency_table(answer)
    if counted is None:
        return []
    lines = ["", f"Map and logs, in samples (a sample {words.RECEIVED})", _table(counted)]
    lines += ["", "Predicted chance against observed share", _table(words.reliability_rows(answer))]
    rest = (words.brier_line(answer), words.in_time_line(answer), _unknown(answer))
    return [*lines, *(filled(line) for line in rest if line)]


def _unknown(answer: FieldAnswer) -> str:
    number = answer.scores.unknown_ground
    return f"{number} samples lie where the map has no data: nothing was claimed there." if number else ""


def _levels(answer: FieldAnswer) -> list[str]:
    found = answer.scores.level_errors
    lines = ["", filled(words.level_line(found))] if found is not None else [""]
    head, rows = words.group_table(answer)
    return [*lines, "By distance, line of sight and ground", _table((head, rows))] if rows else []


def _wrong(answer: FieldAnswer, show: Formats) -> list[str]:
    if not answer.wrong:
        return ["", f"{words.wrong_title(answer)}."]
    return ["", words.wrong_title(answer), _table(words.wrong_table(answer, show))]


def _other(answer: FieldAnswer, show: Formats) -> list[str]:
    lines = words.other_base_lines(answer, show)
    return ["", "Another base", *(filled(line, "  - ", "    ") for line in lines)] if lines else []


def _kept_out(answer: FieldAnswer) -> list[str]:
    found = words.kept_out_table(answer)
    if found is None:
        return []
    title, head, rows = found
    return [f"  {title}", _table((head, rows))]


def _table(found: tuple[Head, Rows]) -> str:
    head, rows = found
    return table(head, rows, _sides(head))


def _sides(head: Sequence[str]) -> list[str]:
    return ["<" if name in _WORDS else ">" for name in head]
