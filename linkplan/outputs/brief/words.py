"""A brief's words and numbers: the catalogue's texts with numbers as the job's formats write them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from linkplan.outputs import formats, safety_text
from linkplan.outputs.brief.catalogue import Catalogue, catalogue_of
from linkplan.outputs.formats import SHORT, Formats
from linkplan.plan.model import Plan
from linkplan.safety.cautions import Caution
from linkplan.safety.results import ExposureAnswer, Note, Reach
from linkplan.tables.exposure import PUBLIC
from linkplan.units import METRES_PER_UNIT

_WHOLE_S = 99.9
"""From here on seconds have no tenths."""
_WHOLE_M = 100.0
"""From here on distances that are there have no decimals."""
_BOUNDS = {"under ": "number.under", "over ": "number.over"}
"""English words that `formats` puts before a number, and their texts."""


@dataclass(frozen=True)
class Words:
    """One language, one job."""

    catalogue: Catalogue
    show: Formats

    @classmethod
    def of(cls, plan: Plan, language: str) -> Words:
        """The words for a job. LinkplanError where there are no texts in the language."""
        return cls(catalogue_of(language), Formats.of(plan))

    def say(self, key: str, **values: object) -> str:
        """A text of the catalogue."""
        return self.catalogue.say(key, **values)

    def counted(self, key: str, count: int, **values: object) -> str:
        """A text for one, or for none and many."""
        return self.say(f"{key}_{'one' if count == 1 else 'many'}", count=count, **values)

    def bounded(self, text: str) -> str:
        """A number as `formats` writes it, with its "under" or "over" in this language."""
        for word, key in _BOUNDS.items():
            if text.startswith(word):
                return self.say(key, number=text.removeprefix(word))
        return text

    def percent(self, share: float) -> str:
        """A share."""
        return self.bounded(formats.percent(share))

    def chance(self, value: float) -> str:
        """A chance."""
        return self.bounded(formats.chance(value))

    def chance_range(self, low: float, high: float) -> str:
        """What a class promises."""
        if high >= 1.0:
            return self.say("number.at_least", number=f"{100 * low:g} %")
        if low <= 0.0:
            return self.say("number.under", number=f"{100 * high:g} %")
        return self.say("number.range", low=f"{100 * low:g}", high=f"{100 * high:g} %")

    @property
    def unit(self) -> str:
        """Of heights and of distances to keep, short."""
        return SHORT[self.show.height_unit]

    def keep(self, metres: float) -> str:
        """A distance to keep, rounded up."""
        return safety_text.keep(metres, self.show)

    def keep_number(self, metres: float) -> str:
        """The same without its unit."""
        return safety_text.keep_number(metres, self.show)

    def room(self, metres: float) -> str:
        """Room that there is, rounded down."""
        return rounded_down(metres, self.show, 1)

    def keep_away(self, exposure: ExposureAnswer) -> str:
        """From the antenna, for anybody: no less than the near field, where the formula is a guess."""
        reach = exposure.figure(PUBLIC).keyed
        return self.keep(exposure.far_field_from_m if reach.near_field else reach.distance_m)

    def band(self, reach: Reach) -> str:
        """Heights to keep clear, without their unit."""
        low, high = safety_text.band_ends(reach, self.show)
        return self.say("number.range", low=low, high=high)

    def seconds(self, value_s: float) -> str:
        """A time without corrections."""
        return safety_text.seconds(value_s)

    def without(self, value_s: float, limit_s: float) -> str:
        """A time without corrections: one that is too long is never rounded down to the limit."""
        text = self.seconds(value_s)
        if value_s > limit_s and text == self.seconds(limit_s):
            return self.seconds(math.ceil(10.0 * value_s) / 10.0 if value_s < _WHOLE_S else value_s + 1.0)
        return text

    def served(self, share: float, wanted: float) -> str:
        """A share that is served: never rounded up to what is wanted where it is less."""
        if share < wanted <= round(share, 3):
            share = math.floor(share * 1000.0) / 1000.0
        return self.percent(share)

    def minutes(self, value_s: float) -> str:
        """How often, in minutes."""
        return f"{value_s / 60.0:g} min"

    def moment(self, when: datetime) -> str:
        """Date and time of day with the zone."""
        offset = when.strftime("%z")
        shift = "UTC" if offset in {"", "+0000"} else f"UTC{offset[:3]}:{offset[3:5]}"
        name = getattr(when.tzinfo, "key", "")
        zone = f"{shift}, {name}" if name and name != shift else shift
        return f"{when:%Y-%m-%d %H:%M} ({zone})"

    def caution(self, caution: Caution, room: str = "caution") -> Caution:
        """A caution in this language; `room` is "relies" for those by who relies on corrections."""
        key = f"{room}.{caution.hazard}"
        if not self.catalogue.has(f"{key}.title"):
            return caution
        return Caution(
            caution.hazard,
            self.say(f"{key}.title"),
            self.catalogue.lines(f"{key}.what_to_do"),
            self.say(f"{key}.who_decides"),
        )

    def note(self, note: Note) -> str:
        """What is assumed or not counted, a sentence."""
        if not self.catalogue.has(f"note.{note.key}"):
            return f"{note.text[0].upper()}{note.text[1:]}."
        return self.say(f"note.{note.key}", **plain_numbers(note.values))


def apart(found_m: float, asked_m: float, show: Formats) -> tuple[str, str]:
    """A distance that is there and the one that is asked for: one that is too short never reads as enough."""
    found, asked = safety_text.there(found_m, show), show.height(asked_m, 2)
    unit, digits = METRES_PER_UNIT[show.height_unit], 2 if found_m < _WHOLE_M else 0
    if found_m < asked_m and round(found_m / unit, digits) >= round(asked_m / unit, 2):
        return rounded_down(found_m, show, digits), asked
    return found, asked


def rounded_down(metres: float, show: Formats, digits: int) -> str:
    """A height or short distance, never more than it is."""
    step = METRES_PER_UNIT[show.height_unit] / 10.0**digits
    return show.height(math.floor(metres / step + 1e-6) * step, digits)


def plain_numbers(values: Mapping[str, float]) -> dict[str, str]:
    """Numbers as a note writes them."""
    return {name: f"{value:g}" for name, value in values.items()}
