"""How many bytes a message takes: exact frame sizes from the layouts of RTCM 3.

An observation message is budgeted with every signal on every satellite: receivers were seen to send the
whole cell mask even where a satellite lacked a signal.
"""

from __future__ import annotations

from linkplan.errors import RangeError
from linkplan.radio.stream import Message
from linkplan.ranges import require_range
from linkplan.tables import rtcm3
from linkplan.tables.rtcm3 import LAYOUTS

SOURCE = "RTCM 10403.3"


def msm_kind(number: int) -> int | None:
    """1 to 7 for an MSM, None for any other message."""
    kind = number % 10
    return kind if number // 10 in rtcm3.MSM_CONSTELLATIONS and 1 <= kind <= 7 else None


def constellation(number: int) -> str:
    """The constellation that a message belongs to, or "" for none (or one that is not known here)."""
    if msm_kind(number) is not None:
        return rtcm3.MSM_CONSTELLATIONS[number // 10]
    layout = LAYOUTS.get(number)
    return layout.constellation if layout else ""


def is_observation(number: int) -> bool:
    """Whether the message carries observations, so that the rover needs it every epoch."""
    layout = LAYOUTS.get(number)
    return msm_kind(number) is not None or (layout is not None and layout.satellite_bits > 0)


def is_known(number: int) -> bool:
    """Whether the size follows from the layout."""
    return msm_kind(number) in rtcm3.MSM_CELL_BITS or number in LAYOUTS


def message_name(number: int) -> str:
    """What the message is, in a few words."""
    kind = msm_kind(number)
    if kind is not None:
        return f"{constellation(number)} MSM{kind}"
    layout = LAYOUTS.get(number)
    return f"{layout.constellation} {layout.name}".strip() if layout else "size as stated"


def frame_bytes(payload_bits: int) -> int:
    """Bytes of a frame around a payload of so many bits, filled up to a whole byte."""
    return (payload_bits + 7) // 8 + rtcm3.FRAME_OVERHEAD_BYTES


def msm_payload_bits(kind: int, satellites: int, signals: int) -> int:
    """Bits of an MSM with every signal on every satellite [RTCM 10403.3].

    kind 4 to 7; satellites 1 to 64 and signals 1 to 32, their product at most 64. Raises RangeError.
    """
    require_range("kind of MSM", kind, min(rtcm3.MSM_CELL_BITS), max(rtcm3.MSM_CELL_BITS), source=SOURCE)
    require_range("satellites", satellites, 1, rtcm3.MSM_MOST_SATELLITES, source=SOURCE)
    require_range("signals", signals, 1, rtcm3.MSM_MOST_SIGNALS, source=SOURCE)
    cells = satellites * signals
    require_range("satellites times signals of one MSM", cells, 1, rtcm3.MSM_MOST_CELLS, source=SOURCE)
    cell_bits = rtcm3.MSM_CELL_BITS[kind] + 1  # and its bit in the cell mask
    return rtcm3.MSM_HEADER_BITS + satellites * rtcm3.MSM_SATELLITE_BITS[kind] + cells * cell_bits


def split_satellites(satellites: int, signals: int) -> tuple[int, ...]:
    """Satellites of each MSM when the cell mask does not hold all of them in one.

    As many messages as needed, each filled with whole satellites before the next is begun; the
    standard allows it (multiple message bit), how receivers divide theirs is not known. Another
    division into as many messages changes the sum by less than a byte a message.
    """
    most = rtcm3.MSM_MOST_CELLS // signals
    full, rest = divmod(satellites, most)
    return (most,) * full + ((rest,) if rest else ())


def message_frames(message: Message) -> tuple[int, ...]:
    """Bytes of each frame that a message takes whenever it is due.

    One frame for most; one a satellite for an ephemeris; several for an MSM of more than 64 cells.
    Raises RangeError for what no message can hold.
    """
    number = message.number
    require_range("message number", number, 1, rtcm3.HIGHEST_NUMBER, source=SOURCE)
    if message.payload_bytes is not None:
        require_range("payload_bytes", message.payload_bytes, 2, rtcm3.LONGEST_PAYLOAD_BYTES, source=SOURCE)
        return (message.payload_bytes + rtcm3.FRAME_OVERHEAD_BYTES,)
    if not is_known(number):
        raise RangeError(f"the layout of message {number} is not known here: state payload_bytes")
    kind = msm_kind(number)
    if kind is not None:
        return _msm_frames(kind, message.satellites, message.signals)
    size = frame_bytes(_payload_bits(message))
    return (size,) * (max(message.satellites, 1) if LAYOUTS[number].ephemeris else 1)


def texts_assumed(message: Message) -> bool:
    """Whether the message has texts that the job does not state, so that the longest are budgeted."""
    layout = LAYOUTS.get(message.number)
    return message.payload_bytes is None and layout is not None and layout.texts > len(message.texts)


def _msm_frames(kind: int, satellites: int, signals: int) -> tuple[int, ...]:
    require_range("satellites", satellites, 1, rtcm3.MSM_MOST_SATELLITES, source=SOURCE)
    require_range("signals", signals, 1, rtcm3.MSM_MOST_SIGNALS, source=SOURCE)
    parts = split_satellites(satellites, signals)
    return tuple(frame_bytes(msm_payload_bits(kind, part, signals)) for part in parts)


def _payload_bits(message: Message) -> int:
    """Bits of a message that is no MSM."""
    layout = LAYOUTS[message.number]
    bits = layout.fixed_bits
    if layout.satellite_bits:
        require_range("satellites", message.satellites, 1, layout.most_satellites, source=SOURCE)
        bits += message.satellites * layout.satellite_bits
    if layout.texts:
        require_range("texts", len(message.texts), 0, layout.texts, source=SOURCE)
        for text in message.texts:
            require_range("characters of a text", len(text), 0, rtcm3.LONGEST_TEXT, source=SOURCE)
        assumed = (layout.texts - len(message.texts)) * rtcm3.LONGEST_TEXT
        bits += 8 * (sum(len(text) for text in message.texts) + assumed)
    if message.number == rtcm3.CODE_PHASE_BIASES:
        require_range("biases", message.biases, 0, rtcm3.MOST_BIASES, source=SOURCE)
        bits += message.biases * rtcm3.BIAS_BITS
    if message.number == rtcm3.SYSTEM_PARAMETERS:
        require_range("announcements", message.announcements, 0, rtcm3.MOST_ANNOUNCEMENTS, source=SOURCE)
        bits += message.announcements * rtcm3.ANNOUNCEMENT_BITS
    return bits
