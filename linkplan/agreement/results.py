"""What an agreement check found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from linkplan.plan.sheet_fields import Severity

FindingKind = Literal["differs", "not stated"]
AGREES = "agrees"
NOT_CONFIRMED = "not confirmed"


@dataclass(frozen=True)
class Finding:
    """One setting of one set that does not agree, or of which agreement cannot be said."""

    severity: Severity
    kind: FindingKind
    set_name: str
    role: str
    field: str
    title: str
    """Name of the setting as it stands on this set's sheet."""
    stands: str
    """What the sheet says, or "" where it says nothing."""
    wanted: tuple[tuple[str, str], ...]
    """Who says what against it: ("base", "451.8 MHz"), ("job", ...); "" where that one says nothing."""
    detail: str
    """How far apart, or why they cannot be the same; may be ""."""
    seen: str
    """What the crew would see."""
    cure: str
    """What to set where."""
    matters: bool
    """Whether it keeps the sets from agreeing: any difference, and silence where this set must speak."""


@dataclass(frozen=True)
class SetVerdict:
    """One set, base or rover, over all settings."""

    set_name: str
    role: str
    file: str
    verdict: str
    """The worst severity of a difference; else "not confirmed" where silence matters; else "agrees"."""
    no_link: int
    wrong_coordinates: int
    weaker: int
    note: int
    not_stated: int
    """Settings of which agreement cannot be said because someone is silent, whether it matters or not."""
    agreed: int
    """Settings that agree with everyone who states them."""
    code: str
    radio_code: str
    corrections_code: str
    position_code: str


@dataclass(frozen=True)
class Agreement:
    """The whole check, worst first."""

    agrees: bool
    """Nothing differs, and nobody is silent where it matters."""
    base: SetVerdict
    rovers: tuple[SetVerdict, ...]
    findings: tuple[Finding, ...]
    job_name: str | None
    """None where no job was given."""
    job_code: str | None
    warnings: tuple[str, ...]
