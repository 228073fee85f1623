"""Why a place is ruled out or cannot be judged: each rule in words, with what was found and asked for."""

from __future__ import annotations

import math

from linkplan.outputs import formats
from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_words import AtPlace, antenna_name, by_place, clean, kit, listed, watts
from linkplan.siting.results import Candidate, Finding, Judged, SitingResult
from linkplan.units import METRES_PER_UNIT


def finding_words(found: Finding, show: Formats) -> str:
    """A rule that is broken or cannot be judged, with what was found and what is asked for."""
    about = clean(found.about) if found.about else ""
    if found.held is None:
        what = "the view of the sky" if found.rule == "sky" else found.rule
        return f"{what} cannot be judged" + (f": {about}" if about else "")
    pair = _pair(found, show)
    if found.rule == "known control":
        return "not a point of the job's control"
    if found.rule == "keep-out":
        return "in ground where no mast may stand"
    if found.rule == "terrain":
        return about or "cannot be computed"
    if pair is None:
        return found.rule + (f" {about}" if about else "")
    value, limit = pair
    words = {
        "overhead line": f"{value} from overhead line {about or 'without a name'}, {limit} asked for",
        "exposure": f"people have to keep {value} away while it transmits, and {limit} can be fenced",
        "sky": f"terrain above the elevation mask in {value} of the directions, {limit} allowed",
        "track": f"{value} from the nearest track, {limit} allowed",
        "zone": f"zone {about} covered to {value}, {limit} is a must",
    }
    return words.get(found.rule, f"{found.rule} {about}: {value} found, {limit} asked for".replace(" :", ":"))


def _pair(found: Finding, show: Formats) -> tuple[str, str] | None:
    """Found and asked for, so that they differ: shares with as many decimals as that takes, distances rounded
    away from each other."""
    if found.value is None or found.limit is None:
        return None
    if found.unit != "share":
        near = found.value < found.limit
        return bounded(found.value, show, up=not near), bounded(found.limit, show, up=near)
    for digits in (1, 2, 3):
        value, limit = (formats.percent(part, digits) for part in (found.value, found.limit))
        if value != limit:
            break
    return value, limit


def bounded(metres: float, show: Formats, *, up: bool) -> str:
    """A distance rounded up, as one to keep is, or down, as one that there is: tenths below 100, then whole
    metres or feet, then hundredths of a kilometre."""
    unit = METRES_PER_UNIT[show.length_unit]
    name, size = formats.SHORT[show.length_unit], unit
    digits = 1 if metres < 100.0 * unit else 0
    if show.metric and metres >= 1000.0:
        name, size, digits = "km", 1000.0, 2
    steps = metres / size * 10.0**digits
    whole = math.ceil(steps - 1e-6) if up else math.floor(steps + 1e-6)
    return f"{formats.grouped(whole / 10.0**digits, digits)} {name}"


def broken(one: Judged) -> tuple[Finding, ...]:
    """The rules that a candidate breaks."""
    return tuple(found for found in one.findings if found.held is False)


def out_words(at: AtPlace, show: Formats) -> tuple[str, ...]:
    """Why a place is ruled out altogether: what the first of its candidates breaks.

    Where that may depend on mast or power, the words say which candidate the figures are of.
    """
    first = at.judged[0]
    words = [finding_words(found, show) for found in broken(first)]
    if len(at.judged) > 1 and any(found.rule in _DEPEND for found in broken(first)):
        words[-1] += f" ({kit(first.candidate, show)}; nothing else tried there serves)"
    return tuple(words) or ("cannot be computed",)


_DEPEND = {"overhead line", "exposure", "zone"}
"""Rules whose figures are others with another mast, antenna or power."""


def partly_out(at: AtPlace, show: Formats) -> tuple[tuple[str, str], ...]:
    """Candidates ruled out at a place that serves with others: equipment, and why.

    Those that break the same rules stand together, with the figures of the first.
    """
    if not at.serves:
        return ()
    found: dict[tuple[tuple[str, str], ...], list[Judged]] = {}
    for one in at.judged:
        if not one.accepted:
            found.setdefault(tuple((rule.rule, rule.about) for rule in broken(one)), []).append(one)
    rows = []
    for same in found.values():
        why = "; ".join(finding_words(rule, show) for rule in broken(same[0]))
        few = f" ({kit(same[0].candidate, show)})" if len(same) > 1 else ""
        rows.append((_kits([one.candidate for one in same], show), why + few))
    return tuple(rows)


def _kits(candidates: list[Candidate], show: Formats) -> str:
    """Masts, antennas and powers of several candidates: every one with every other, or one by one."""
    masts = list(dict.fromkeys(show.height(one.antenna_height_m) for one in candidates))
    antennas = list(dict.fromkeys(antenna_name(one) for one in candidates))
    powers = list(dict.fromkeys(watts(one.power_dbm) for one in candidates))
    if len(masts) * len(antennas) * len(powers) != len(candidates) or len(candidates) == 1:
        return "; ".join(kit(one, show) for one in candidates)
    named = f", antenna {_or(antennas)}" if len(antennas) > 1 or candidates[0].antenna.name else ""
    return f"mast {_or(masts)}{named}, {_or(powers)}"


def _or(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]


def not_judged(result: SitingResult, show: Formats) -> tuple[str, ...]:
    """What cannot be judged, and where, one line a rule; the words are those of the first such place."""
    where: dict[str, list[str]] = {}
    words: dict[str, str] = {}
    for at in by_place(result):
        for found in (found for one in at.judged for found in one.findings if found.held is None):
            names = where.setdefault(found.rule, [])
            if at.name not in names:
                names.append(at.name)
            words.setdefault(found.rule, finding_words(found, show))
    return tuple(
        f"{listed(names)}: {words[rule]}" + (f" (at {names[0]})" if len(names) > 1 else "")
        for rule, names in where.items()
    )
