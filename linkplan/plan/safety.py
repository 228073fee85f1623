"""What a job says about safety, as a frozen object."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.plan.checking import Section
from linkplan.tables.safety import AGE_LIMIT_S


@dataclass(frozen=True)
class SafetyWishes:
    """What exposure distances and gaps in guidance are judged by."""

    antenna_length_m: float | None = None
    """Greatest dimension of the base's radio antenna; None where nobody says: half a wave is taken."""
    public_limit_w_m2: float | None = None
    """Power density that local rules allow for anybody; None: the documents' alone. Stated with the next."""
    worker_limit_w_m2: float | None = None
    age_limit_s: float = AGE_LIMIT_S
    """Corrections that are older do not serve guidance."""
    age_limit_assumed: bool = True


def read_safety(section: Section | None) -> SafetyWishes:
    """The section as an object; faults of its keys are noted already."""
    if section is None or section["age_limit_s"] is None:
        return SafetyWishes()
    return SafetyWishes(
        antenna_length_m=section["antenna_length"],
        public_limit_w_m2=section["public_limit_w_m2"],
        worker_limit_w_m2=section["worker_limit_w_m2"],
        age_limit_s=section["age_limit_s"],
        age_limit_assumed="age_limit_s" not in section.present,
    )
