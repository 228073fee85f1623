"""A siting answer in words: what won and why, what rules a place out, what several set-ups do together.

Text of the job comes out on one line, without signs that a terminal or a table would act upon.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from linkplan.outputs import formats
from linkplan.outputs.formats import Formats, counted
from linkplan.plan.siting_model import Place
from linkplan.siting.results import Candidate, Judged, SetUp, SitingResult, Together
from linkplan.units import watt_from_dbm

CRITERION = {
    "goal": "the wanted share reached or not",
    "workable": "share where work can go on",
    "share": "share of the job",
    "worst": "worst spot",
    "baseline": "longest baseline",
    "mast": "lower mast",
    "power": "lower power",
}
"""What a ranking looks at, in the order's words."""

_LEVEL = {
    "goal": "the wanted share",
    "workable": "share where work can go on",
    "share": "share of the job",
    "worst": "worst spot",
    "baseline": "longest baseline",
    "mast": "mast",
    "power": "power",
}
"""The same as what two places are level in."""

_LACKS = {
    "goal": "it does not reach the wanted share",
    "workable": "it leaves more of the job without corrections, sky or a short enough baseline",
    "share": "it leaves more of the job without corrections",
    "worst": "its worst spot is weaker",
    "baseline": "it stands farther from the far end of the job",
    "mast": "it needs the taller mast",
    "power": "it needs more power",
    "tie": "it lacks nothing that the order asks for",
}

MODE = {
    "one": "one base",
    "several": "several bases at once",
    "corridor": "one base, moved from set-up to set-up along the line",
    "repeaters": "one base with repeaters",
}

_NAMES_LISTED = 4


@dataclass(frozen=True)
class AtPlace:
    """Everything that was tried at one place."""

    place: Place
    judged: tuple[Judged, ...]

    @property
    def name(self) -> str:
        """For people."""
        return clean(self.place.name)

    @property
    def best(self) -> Judged | None:
        """The candidate with which the place stands in the ranking."""
        return next((one for one in self.judged if one.rank is not None), None)

    @property
    def serves(self) -> bool:
        """At least one candidate breaks no rule."""
        return any(one.accepted for one in self.judged)


def by_place(result: SitingResult) -> tuple[AtPlace, ...]:
    """Ranked places first, best first, then the others in the job's order."""
    tried: dict[Place, list[Judged]] = {}
    for one in result.judged:
        tried.setdefault(one.candidate.place, []).append(one)
    places = [AtPlace(place, tuple(some)) for place, some in tried.items()]
    last = len(places) + 1
    return tuple(sorted(places, key=lambda at: (at.best.rank or last) if at.best is not None else last))


def clean(text: str) -> str:
    """Text on one line; signs that are not to be seen, as control characters, become blanks."""
    return "".join(sign if sign.isprintable() else " " for sign in text).strip() or "(no name)"


def watts(power_dbm: float) -> str:
    """Power at the radio's connector."""
    return f"{float(watt_from_dbm(power_dbm)):.3g} W"


def antenna_name(candidate: Candidate) -> str:
    """The antenna's name; the job's own has none."""
    return clean(candidate.antenna.name) if candidate.antenna.name else "job's own"


def kit(candidate: Candidate, show: Formats) -> str:
    """Mast, antenna where it is another than the job's, and power."""
    antenna = f", antenna {clean(candidate.antenna.name)}" if candidate.antenna.name else ""
    return f"mast {show.height(candidate.antenna_height_m)}{antenna}, {watts(candidate.power_dbm)}"


def named(candidate: Candidate, show: Formats) -> str:
    """Place and equipment."""
    antenna = f", the antenna {clean(candidate.antenna.name)}" if candidate.antenna.name else ""
    mast = f"a mast of {show.height(candidate.antenna_height_m)}"
    return f"{clean(candidate.place.name)} with {mast}{antenna} and {watts(candidate.power_dbm)}"


def reaches(result: SitingResult) -> bool:
    """A place serves and the wanted share is reached; of several set-ups: by them together."""
    if result.together is not None:
        both = result.together
        return (
            bool(both.set_ups)
            and both.air_time_fits is not False
            and both.all_cells_share >= result.wanted_share
        )
    winner = result.winner
    return (
        winner is not None
        and winner.outcome is not None
        and winner.outcome.covered_share >= result.wanted_share
    )


def answer_line(result: SitingResult, show: Formats) -> str:
    """The answer in one sentence."""
    if result.together is not None:
        return _together_line(result, result.together)
    winner = result.winner
    if winner is None or winner.outcome is None:
        return (
            f"NO PLACE SERVES: of {counted(len(by_place(result)), 'place')} compared, each is ruled out or "
            "cannot be computed."
        )
    outcome = winner.outcome
    weighted = f" ({formats.percent(outcome.weighted_share)} as weighted)" if result.zone_names else ""
    draws = ""
    if result.cases:
        draws = f"; best in {winner.best_cases} of {result.cases} draws of the prediction's error"
    figures = (
        f"{formats.percent(outcome.covered_share)} of the job{weighted} has corrections with a chance of "
        f"{formats.chance(result.wanted_chance)} or more (wanted: {_wanted(result)}); worst spot "
        f"{worst_spot(outcome.worst_margin_db)}{draws}."
    )
    if reaches(result):
        return f"{named(winner.candidate, show)}: {figures}"
    return f"NOT ENOUGH from one place; the best is {named(winner.candidate, show)}: {figures}"


def _together_line(result: SitingResult, together: Together) -> str:
    if not together.set_ups:
        return f"NO SET-UPS FOUND: {_why_none(result, together)}."
    names = [clean(one.candidate.place.name) for one in together.set_ups]
    if together.mode == "repeaters":
        beside = len(names) - 1
        who = f"A base on {names[0]}" + (
            f" with {counted(beside, 'repeater')} ({listed(names[1:])})" if beside else " alone, no repeater,"
        )
        verb = "gives"
    else:
        who = f"{counted(len(names), 'set-up')} ({listed(names)})"
        verb = "gives" if len(names) == 1 else "give"
    weighted = ", as weighted," if result.zone_names else ""
    text = (
        f"{who} {verb} {formats.percent(together.all_cells_share)} of the job{weighted} corrections with a "
        "chance of "
        f"{formats.chance(result.wanted_chance)} or more (wanted: {_wanted(result)})"
    )
    if together.air_time_fits is False:
        alone = len(together.set_ups) == 1
        why = (
            "what it sends is too much for the channel"
            if alone
            else "the repeaters' sending leaves no time for it"
        )
        return f"DOES NOT FIT on the air: {text}, but {why}."
    return f"{text}." if reaches(result) else f"NOT ENOUGH: {text}."


def _why_none(result: SitingResult, together: Together) -> str:
    """Why no set-ups could be chosen."""
    if not result.ranking:
        places = counted(len(by_place(result)), "place")
        return f"of {places} compared, each is ruled out or cannot be computed"
    if together.unreachable_share >= 1.0:
        return "no place that serves reaches any part of the job with the wanted chance"
    return "no choice of places keeps all the rules; see the notes"


def why_first(result: SitingResult, show: Formats) -> str:
    """Why the winner stands before the second, in one sentence; "" where there is no second."""
    if len(result.ranking) < 2:
        return ""
    first, second = (result.judged[number - 1] for number in result.ranking[:2])
    a, b = (clean(one.candidate.place.name) for one in (first, second))
    by = first.decided_by
    if by not in result.order:
        return f"Nothing in the order tells {a} and {b} apart; {a} is named first in the job."
    weighted = "weighted " if result.zone_names else ""
    before = [
        weighted + _LEVEL[name] if name == "share" else _LEVEL[name]
        for name in result.order[: result.order.index(by)]
    ]
    level = f"Level with {b} in {_and(before)}, " if before else ""
    return f"{level}{a} comes first by {_first_by(by, first, second, result, show)}."


def _first_by(by: str, first: Judged, second: Judged, result: SitingResult, show: Formats) -> str:
    a, b = (criterion_value(by, one, show) for one in (first, second))
    name = clean(second.candidate.place.name)
    if by == "goal":
        return f"reaching the wanted {_wanted(result)} ({a}); {name} does not ({b})"
    return f"its {criterion(by, result)}: {a}, against {b} at {name}"


def second_line(result: SitingResult, show: Formats) -> str:
    """Who is second and what it lacks, in one sentence; "" where there is none."""
    if len(result.ranking) < 2:
        return ""
    first, second = (result.judged[number - 1] for number in result.ranking[:2])
    assert second.outcome is not None
    lacks = _LACKS[first.decided_by if first.decided_by in _LACKS else "tie"]
    draws = f", best in {second.best_cases} of {result.cases} draws" if result.cases else ""
    return (
        f"Second is {named(second.candidate, show)} ({formats.percent(second.outcome.covered_share)} of the "
        f"job, worst spot {worst_spot(second.outcome.worst_margin_db)}{draws}): {lacks}."
    )


def robustness_line(result: SitingResult) -> str:
    """How often which place came first over the draws of the prediction's error."""
    if not result.cases:
        return ""
    won = [result.judged[number - 1] for number in result.ranking]
    won = sorted((one for one in won if one.best_cases), key=lambda one: -one.best_cases)
    if not won:
        return ""
    parts = [f"{clean(one.candidate.place.name)} in {one.best_cases}" for one in won[:_NAMES_LISTED]]
    if len(won) > _NAMES_LISTED:
        rest = len(won) - _NAMES_LISTED
        parts.append(f"{counted(rest, 'other place')} in the rest")
    return f"Over {result.cases} draws of the prediction's error, first is {_and(parts)}."


def criterion(name: str, result: SitingResult) -> str:
    """A criterion in words."""
    return f"weighted {CRITERION[name]}" if name == "share" and result.zone_names else CRITERION[name]


def ranking_title(result: SitingResult) -> str:
    """Head of a list of ranked places."""
    return f"Places, best first by {criterion(result.order[0], result)}"


def criterion_value(by: str, one: Judged, show: Formats) -> str:
    """What a ranked candidate has in one criterion."""
    assert one.outcome is not None
    outcome, candidate = one.outcome, one.candidate
    if by == "goal":
        return formats.percent(outcome.covered_share)
    if by == "workable":
        return "unknown" if outcome.workable_share is None else formats.percent(outcome.workable_share)
    if by == "share":
        return formats.percent(outcome.weighted_share)
    if by == "worst":
        return worst_spot(outcome.worst_margin_db)
    if by == "baseline":
        return show.distance(outcome.longest_baseline_m)
    return show.height(candidate.antenna_height_m) if by == "mast" else watts(candidate.power_dbm)


def worst_spot(margin_db: float | None) -> str:
    """The margin at the worst spot."""
    return "unknown" if margin_db is None else formats.decibels(margin_db, signed=True)


def heard(one: SetUp) -> str:
    """A repeater's margin from its base."""
    if one.role != "repeater":
        return "-"
    return "unknown" if one.link_margin_db is None else formats.decibels(one.link_margin_db, signed=True)


def proven_line(together: Together) -> str:
    """How good the choice is known to be."""
    fewest = together.goal == "fewest"
    if together.proven and fewest:
        return "Proven fewest: fewer set-ups cannot cover the wanted share, as far as it can be covered."
    if together.proven:
        return "Proven greatest: no other choice of at most so many set-ups covers more."
    short = formats.percent(together.gap)
    if fewest:
        return f"Time ran out: at most {short} more set-ups than the fewest there may be (not proven)."
    return f"Time ran out: at most {short} short of the greatest share there may be (not proven)."


def air_time_line(together: Together) -> str:
    """What the repeaters cost in air time; "" without repeaters."""
    if together.mode != "repeaters":
        return ""
    if together.air_time_fits is None:
        return (
            "Air time: the job does not say what the base sends and how ([corrections], [framing]); each "
            "repeater sends everything once more, so check that it fits."
        )
    most, each = together.most_repeaters, "each repeater sends everything once more"
    if most == 0 and together.air_time_fits:
        return f"Air time: there is none left for a repeater, as {each}."
    if most == 0:
        return (
            "Air time: what the base sends DOES NOT FIT even without a repeater; linkplan airtime says why."
        )
    verdict = "fits" if together.air_time_fits else "DOES NOT FIT"
    few = "" if most is None else f"; {counted(most, 'repeater')} at most"
    return f"Air time: {each}, which {verdict}{few}."


def _wanted(result: SitingResult) -> str:
    return "all of it" if result.wanted_share >= 1.0 else f"{100.0 * result.wanted_share:g} %"


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def listed(names: Sequence[str]) -> str:
    """The first few names, the rest counted."""
    if len(names) <= _NAMES_LISTED + 1:
        return _and(names)
    return ", ".join(names[:_NAMES_LISTED]) + f" and {len(names) - _NAMES_LISTED} more"
