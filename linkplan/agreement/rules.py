"""Does one setting of a set agree with what the base, or the job, says? One function a rule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from linkplan.plan.sheet_fields import Field, Severity
from linkplan.plan.sheet_values import Stated, decimal_text

Values = Mapping[str, Stated]

DEGREE_TOLERANCE = Fraction(1, 10**8)
"""Of a longitude or latitude, 1.1 mm on the ground."""


@dataclass(frozen=True)
class Difference:
    """How a setting differs."""

    severity: Severity
    detail: str = ""
    seen: str = ""
    """What the crew would see, where it is not what the field's row says."""


def differs(field: Field, mine: Stated, theirs: Stated, sender: Values | None) -> Difference | None:
    """The difference between a set's value and the other side's, or None where they agree.

    `sender` is all that the other side, base or job, says about the base, when the set is a rover; None
    when it is the base itself: then every rule is plain equality.
    """
    if sender is not None and field.rule == "heard" and _by_repeater(mine, sender):
        return None
    if sender is not None and field.rule == "usable" and mine.canonical == "any":
        return None
    if sender is not None and field.rule == "admitted":
        return _filter(field, mine, theirs, sender)
    if _equal(field, mine, theirs):
        return None
    return Difference(field.severity, _detail(field, mine, theirs))


def _equal(field: Field, mine: Stated, theirs: Stated) -> bool:
    if mine.number is None or theirs.number is None or not field.tolerance:
        return mine.canonical == theirs.canonical
    if mine.unit != theirs.unit:
        return False
    tolerance = DEGREE_TOLERANCE if field.kind == "coordinate" and mine.unit == "deg" else field.tolerance
    return abs(mine.number - theirs.number) <= tolerance


def _by_repeater(mine: Stated, sender: Values) -> bool:
    """A rover may listen to the repeater in place of the base."""
    repeated = sender.get("repeater_frequency")
    return repeated is not None and repeated.number is not None and repeated.canonical == mine.canonical


def _filter(field: Field, mine: Stated, theirs: Stated, sender: Values) -> Difference | None:
    """A rover's filter against the base's station ID first, then against what is wanted of rovers."""
    station = sender.get("station_id")
    if mine.canonical != "any" and station is not None and mine.canonical != station.canonical:
        return Difference(field.severity, f"the base's station ID is {station.shown}")
    if mine.canonical == theirs.canonical or field.name not in sender:
        return None
    if mine.canonical == "any":
        seen = "The rover takes whichever base it hears: near another on this frequency it may change over."
        return Difference("weaker", "", seen)
    if theirs.canonical == "any" and station is not None:
        return Difference("note", "", "Nothing with this base; the rover will not take another one.")
    return Difference(field.severity)


def _detail(field: Field, mine: Stated, theirs: Stated) -> str:
    if field.kind in ("messages", "systems"):
        return _sets(mine, theirs)
    if mine.number is None or theirs.number is None:
        return ""
    if mine.unit != theirs.unit:
        return "one is in degrees and the other is not: they cannot be compared"
    apart = abs(mine.number - theirs.number)
    if field.kind in ("frequency", "spacing"):
        return f"{decimal_text(apart / 1000)} kHz apart"
    if field.kind == "rate":
        return ""
    if mine.unit == "deg":
        return f"{float(apart):.8f}".rstrip("0").rstrip(".") + " degrees apart"
    return f"{float(apart):.3f} m apart"


def _sets(mine: Stated, theirs: Stated) -> str:
    if "any" in (mine.canonical, theirs.canonical):
        return ""
    parts = []
    for words, there in (
        ("here only", mine.members - theirs.members),
        ("missing here", theirs.members - mine.members),
    ):
        if there:
            parts.append(f"{words}: {', '.join(sorted(there, key=lambda one: (len(one), one)))}")
    return "; ".join(parts)
