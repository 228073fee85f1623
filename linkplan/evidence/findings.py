"""One thing that is not as the job says: how bad, what it is, what the crew sees, what to set where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from linkplan.plan.sheet_fields import SEVERITIES, Severity

__all__ = ["Finding", "Severity", "counted", "differs", "duration", "percent", "worst_first"]


@dataclass(frozen=True)
class Finding:
    """One difference, or a note: something that could not be judged, or to keep in mind."""

    severity: Severity
    key: str
    """Short and stable, for programs: "station id", "base point"."""
    what: str
    crew_sees: str
    to_do: str


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """In order of severity; findings of one severity stay in their order."""
    return tuple(sorted(findings, key=lambda one: SEVERITIES.index(one.severity)))


def differs(findings: Iterable[Finding]) -> bool:
    """Whether anything is worse than a note."""
    return any(one.severity != "note" for one in findings)


def counted(number: int, word: str) -> str:
    """A number of things, the word in its plural where it needs one."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def percent(share: float) -> str:
    """A share with so many digits that neither none nor all is claimed where it is not so."""
    if 0.0 < share < 0.001:
        return "under 0.1 %"
    if 0.999 < share < 1.0:
        return "over 99.9 %"
    return f"{100.0 * share:.1f} %" if 0.0 < share < 1.0 else f"{100.0 * share:.0f} %"


def duration(seconds: float) -> str:
    """A length of time as people say it."""
    if seconds < 120.0:
        return f"{seconds:.3g} s" if seconds < 100.0 else f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), 60)
    if minutes < 120:
        return f"{minutes} min {rest:02d} s"
    return f"{minutes // 60} h {minutes % 60:02d} min"
