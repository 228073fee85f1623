"""Which channels a base may use at all, and why not; and what the channels left over would give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.channels.clauses import over_channel_limit
from linkplan.channels.ratios import Case, Judged, judge
from linkplan.channels.results import ChannelNote
from linkplan.channels.stations import OwnStation, own_emission
from linkplan.plan.model import Plan
from linkplan.radio.interference import Emission, overlap_share
from linkplan.radio.licence import LicensedChannel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class Candidates:
    """Channels to choose from, and who may use which."""

    channels: tuple[LicensedChannel, ...]
    allowed: NDArray[np.bool_]
    """(bases, channels)."""
    reasons: dict[tuple[int, int], str]
    """By base and channel, why not."""

    @property
    def mhz(self) -> FloatArray:
        """(channels,)."""
        return np.array([one.frequency_mhz for one in self.channels])


def candidates(plan: Plan, stations: tuple[OwnStation, ...]) -> Candidates:
    """The licence's channels; without a licence the frequencies that the job states."""
    channels = plan.licence.channels if plan.licence is not None else _stated_channels(stations)
    reasons: dict[tuple[int, int], str] = {}
    for number, channel in enumerate(channels):
        for base, station in enumerate(stations):
            why = _why_not(plan, station, channel)
            if why:
                reasons[base, number] = why
    allowed = np.ones((len(stations), len(channels)), dtype=bool)
    for key in reasons:
        allowed[key] = False
    return Candidates(channels, allowed, reasons)


def _stated_channels(stations: tuple[OwnStation, ...]) -> tuple[LicensedChannel, ...]:
    found: dict[float, LicensedChannel] = {}
    for station in stations:
        mhz, spacing = station.frequency_mhz, station.transmitter.channel_spacing_khz
        if mhz is not None:
            key = "radio.frequency_mhz" if station.key == "base" else f"{station.key}.frequency_mhz"
            found.setdefault(mhz, LicensedChannel(key, f"{mhz:.10g}", mhz, spacing))
    return tuple(found.values())


def _why_not(plan: Plan, station: OwnStation, channel: LicensedChannel) -> str:
    emission = own_emission(plan)
    if emission.bandwidth_khz > channel.spacing_khz * (1.0 + 1e-6):
        return (
            f"the emission fills {emission.bandwidth_khz:g} kHz, {channel.clause}.spacing_khz = "
            f"{channel.spacing_khz:g}"
        )
    for one in plan.heard:
        offset_khz = 1e3 * (one.frequency_mhz - channel.frequency_mhz)
        there = Emission.of_spacing(channel.spacing_khz)
        if overlap_share(np.asarray(offset_khz), there.bandwidth_khz, emission.bandwidth_khz) > 0.0:
            what = f": {one.what}" if one.what else ""
            return f"heard busy (heard[{one.number}], {one.frequency_mhz:.10g} MHz{what})"
    over = over_channel_limit(station, channel)
    return f"{over.who} {over.problem}, {over.clause} = {over.stands}" if over is not None else ""


def unwanted_words(case: Case, judged: Judged, row: int, names: tuple[str, ...], mhz: FloatArray) -> str:
    """The strongest unwanted signal of a row and where it sits, or "" where there is none."""
    share = judged.share_db[row]
    if share.size == 0 or not np.isfinite(share.min()):
        return ""
    who = int(np.argmin(share))
    everyone = np.concatenate([mhz, case.other_mhz])
    offset_khz = abs(1e3 * (everyone[who] - mhz[case.owner[row]]))
    where = "on the same channel" if offset_khz < 0.1 else f"{offset_khz:.5g} kHz away"
    return f"{names[who]} {where}"


def left_over(
    case: Case,
    found: Candidates,
    mhz: FloatArray,
    slot: IntArray,
    names: tuple[str, ...],
) -> tuple[ChannelNote, ...]:
    """Every channel that no base is given (frequencies `mhz` and `slot`, each (n,)), with its reason."""
    notes = []
    for number, channel in enumerate(found.channels):
        if np.abs(mhz - channel.frequency_mhz).min() * 1e3 < 0.1:
            continue
        bases = np.flatnonzero(found.allowed[:, number])
        if bases.size == 0:
            why = dict.fromkeys(found.reasons[base, number] for base in range(case.bases))
            spare, reason = False, "; ".join(why)
        else:
            spare, reason = _if_moved(case, channel.frequency_mhz, bases, mhz, slot, names)
        notes.append(ChannelNote(channel.name, channel.clause, channel.frequency_mhz, spare, reason))
    return tuple(notes)


def _if_moved(
    case: Case,
    channel_mhz: float,
    bases: IntArray,
    mhz: FloatArray,
    slot: IntArray,
    names: tuple[str, ...],
) -> tuple[bool, str]:
    """What is left when the base that it suits best moves there: would it do, and in words."""
    tried = []
    for base in bases:
        moved = mhz.copy()
        moved[base] = channel_mhz
        tried.append((int(base), moved, judge(case, moved, slot)))
    base, moved, judged = max(tried, key=lambda one: one[2].worst_db)
    spare = judged.worst_db >= case.limits.co_channel_db
    text = f"{names[base]} there would leave {judged.worst_db:.1f} dB at worst"
    if spare:
        return True, f"spare: {text}"
    suffers = int(np.nanargmin(judged.per_base_db))
    rows = np.flatnonzero(case.owner == suffers)
    worst = int(rows[np.argmin(judged.ratio_db[rows])])
    if judged.ratio_db[worst] > judged.per_base_db[suffers] + 1e-9:
        return False, f"{text}: a third-order product falls into the channel of {names[suffers]}"
    unwanted = unwanted_words(case, judged, worst, names, moved)
    return (
        False,
        f"{text}, {case.limits.co_channel_db:g} needed: {unwanted} at the rovers of {names[suffers]}",
    )
