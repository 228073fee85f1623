"""What a siting search knows: frozen, units in the names."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.plan.siting_model import NamedAntenna, Place


@dataclass(frozen=True)
class Candidate:
    """A place with a mast, an antenna and a power."""

    place: Place
    antenna_height_m: float
    antenna: NamedAntenna
    power_dbm: float


@dataclass(frozen=True)
class Outcome:
    """What a candidate would do for the job; shares 0 to 1, as `linkplan cover` counts them."""

    covered_share: float
    """Of the job's area: at least the wanted chance, within the baseline limit."""
    weighted_share: float
    """The same with the zones' weights; equal to `covered_share` without zones."""
    zone_shares: tuple[float, ...]
    """In the order of the job's zones."""
    no_data_share: float
    worst_margin_db: float | None
    """At the worst known cell of the job; None where no cell is known. Where several set-ups share the job:
    at the worst within the baseline limit."""
    longest_baseline_m: float
    """To the farthest cell of the job."""
    workable_share: float | None = None
    """Weighted, of points spread over the job: corrections, sky and baseline suffice; None without [sky]."""


@dataclass(frozen=True)
class Finding:
    """One rule and what came of it at one candidate."""

    rule: str
    """"known control", "keep-out", "overhead line", "exposure", "sky", "track", "terrain" or "zone"."""
    held: bool | None
    """None where it cannot be judged: then the candidate is not ruled out, and the result says so."""
    value: float | None
    """What was found, in `unit`."""
    limit: float | None
    """What the rule asks for, in `unit`."""
    unit: str
    """"m", "share" (0 to 1) or ""."""
    about: str = ""
    """The zone's or line's name, or a word on what is unknown."""


@dataclass(frozen=True)
class Judged:
    """One candidate with what it does and which rules it breaks."""

    number: int
    """From 1, in the order of the search; stays the same through all results."""
    candidate: Candidate
    outcome: Outcome | None
    """None where nothing can be computed: the ground is unknown."""
    findings: tuple[Finding, ...]
    rank: int | None
    """Among the places, each with the best of its candidates, from 1; None for all others, and where a rule
    is broken."""
    best_cases: int
    """Of the draws of the prediction error: how often this place came first."""
    decided_by: str
    """The criterion in which the next one in the ranking is worse; "" for the last, "tie" where none tells
    them apart."""

    @property
    def accepted(self) -> bool:
        """Computed, and no rule broken."""
        return self.outcome is not None and all(one.held is not False for one in self.findings)


@dataclass(frozen=True)
class HeightStep:
    """A point of the curve of coverage over mast height."""

    antenna_height_m: float
    outcome: Outcome
    gained_per_m: float | None
    """Weighted share that each metre since the step below buys; None for the first."""


@dataclass(frozen=True)
class HeightCurve:
    """What each further metre of mast buys at one place."""

    place_name: str
    steps: tuple[HeightStep, ...]


@dataclass(frozen=True)
class SetUp:
    """One of several stations that work together, in their order."""

    order: int
    """From 1; along a corridor, or a base before its repeaters."""
    number: int
    """Of its candidate (`Judged.number`)."""
    candidate: Candidate
    role: str
    """"base" or "repeater"."""
    covered_share: float
    """Of the job, by itself."""
    only_share: float
    """Of the job, by no other of the set-ups."""
    check_point: str
    """Name of the check point that it shares with the next set-up, or ""."""
    link_margin_db: float | None
    """Of a repeater, from its base."""


@dataclass(frozen=True)
class Together:
    """The answer where one base does not do, or several are wanted."""

    mode: str
    set_ups: tuple[SetUp, ...]
    points: int
    """Places of the job on which the choice was made."""
    covered_share: float
    """Weighted, of those points, by the set-ups together."""
    unreachable_share: float
    """Weighted, of those points: covered from no accepted candidate."""
    all_cells_share: float
    """Of the job's area, checked on every computed cell afterwards, zones with their weights."""
    goal: str
    """What the set-ups are best at: "fewest" of them, or "greatest" share covered (for the number asked for,
    or because the wanted share cannot be reached)."""
    gap: float
    """Between the answer and the best that may exist, as a share of the latter; 0: proven best."""
    proven: bool
    air_time_fits: bool | None
    """With the repeaters' own sending counted; None where no repeaters are looked for, or where the job does
    not say what it sends, or how."""
    most_repeaters: int | None
    """That the air time allows; None as above."""
    cases_held: int
    """Of the draws of the prediction error: how often the set-ups cover the wanted share."""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class SitingResult:
    """The whole answer."""

    job_name: str
    mode: str
    order: tuple[str, ...]
    wanted_chance: float
    wanted_share: float
    baseline_limit_m: float | None
    """From the job's goal or from the wanted accuracy, the smaller."""
    zone_names: tuple[str, ...]
    judged: tuple[Judged, ...]
    """All candidates, in the order of their numbers."""
    ranking: tuple[int, ...]
    """Numbers of the places' best candidates, the first is the winner."""
    curves: tuple[HeightCurve, ...]
    """Of the winner and of the second."""
    cases: int
    together: Together | None
    """Where several set-ups are wanted."""
    computed: int
    """Places computed in this run."""
    kept: int
    """Places taken from an earlier run."""
    notes: tuple[str, ...]

    @property
    def winner(self) -> Judged | None:
        """The best candidate, or None where no place serves."""
        return self.judged[self.ranking[0] - 1] if self.ranking else None
