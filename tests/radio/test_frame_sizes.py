"""Frame sizes against pyrtcm, the real frames of its logs, and a table computed elsewhere."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pyrtcm import RTCMMessage, RTCMReader, RTCMTypeError
from pyrtcm.rtcmtypes_core import RTCM_DATA_FIELDS
from pyrtcm.rtcmtypes_get import RTCM_PAYLOADS_GET

from linkplan.errors import RangeError
from linkplan.radio.frame_sizes import (
    constellation,
    frame_bytes,
    is_known,
    is_observation,
    message_frames,
    message_name,
    msm_kind,
    msm_payload_bits,
    split_satellites,
    texts_assumed,
)
from linkplan.radio.stream import Message
from linkplan.tables.rtcm3 import LAYOUTS, LONGEST_PAYLOAD_BYTES, MSM_CONSTELLATIONS
from tests.radio import rtcm_builder as build

DATA = Path(__file__).parents[1] / "data" / "rtcm"
REAL = json.loads((DATA / "real_frames.json").read_text())["frames"]
MSM_NUMBERS = [10 * group + kind for group in MSM_CONSTELLATIONS for kind in range(4, 8)]


def parse(frame: bytes) -> RTCMMessage:
    """The one message of a frame as the library reads it, check sum included."""
    ((raw, message),) = list(RTCMReader(io.BytesIO(frame), quitonerror=2))
    assert raw == frame
    return message


def assert_exactly(bits: build.Bits, sizes: tuple[int, ...]) -> RTCMMessage:
    """The library reads a payload of the predicted size, and cannot read one a byte shorter."""
    payload = bits.payload()
    frame = RTCMMessage(payload=payload).serialize()
    assert sizes == (len(frame),)
    with pytest.raises(RTCMTypeError):
        RTCMMessage(payload=payload[:-1])
    return parse(frame)


def of(number: int, **shape) -> tuple[int, ...]:
    return message_frames(Message(number, 1.0, **shape))


@given(
    number=st.sampled_from(MSM_NUMBERS), satellites=st.integers(1, 64), signals=st.integers(1, 32),
    seed=st.integers(0, 2**32),
)  # fmt: skip
@settings(deadline=None, max_examples=300)
def test_msm_of_any_shape_is_what_the_library_reads(number, satellites, signals, seed):
    signals = min(signals, 64 // satellites)
    message = assert_exactly(
        build.msm(number, satellites, signals, seed), of(number, satellites=satellites, signals=signals)
    )
    assert message.identity == str(number)
    assert (message.NSat, message.NSig, message.NCell) == (satellites, signals, satellites * signals)


@pytest.mark.parametrize("number", MSM_NUMBERS)
def test_every_msm_type_at_its_corners(number):
    for satellites, signals in [(1, 1), (64, 1), (2, 32), (16, 4), (10, 2)]:
        assert_exactly(
            build.msm(number, satellites, signals), of(number, satellites=satellites, signals=signals)
        )


def test_msm_sizes_are_those_of_the_table_computed_elsewhere():
    rows = list(csv.DictReader((DATA / "msm_frame_bytes.csv").read_text().splitlines()))
    assert len(rows) == 81
    for row in rows:
        kind, satellites, signals = int(row["msm"]), int(row["satellites"]), int(row["signals"])
        expected = int(row["frame_bytes_full_cell_mask"])
        for group in MSM_CONSTELLATIONS:
            assert of(10 * group + kind, satellites=satellites, signals=signals) == (expected,)


# 1077 with 10 satellites, 2 signals: 169 + 10*36 + 20 (mask) + 20*80 = 2149 bits, in 269 bytes; + 6 = 275.
def test_one_msm_by_hand():
    assert msm_payload_bits(7, 10, 2) == 2149
    assert of(1077, satellites=10, signals=2) == (275,)


@given(
    number=st.sampled_from([1001, 1002, 1003, 1004, 1009, 1010, 1011, 1012]), satellites=st.integers(1, 31)
)
@settings(deadline=None)
def test_observations_before_msm(number, satellites):
    message = assert_exactly(build.legacy(number, satellites), of(number, satellites=satellites))
    assert getattr(message, "DF006" if number < 1005 else "DF035") == satellites


WORD = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=31)


@given(data=st.data(), number=st.sampled_from([1007, 1008, 1033]))
@settings(deadline=None)
def test_texts_count_a_byte_a_character(data, number):
    count = {1007: 1, 1008: 2, 1033: 5}[number]
    words = tuple(data.draw(st.lists(WORD, min_size=count, max_size=count)))
    bits = build.texts(number, [word.encode() for word in words])
    assert_exactly(bits, of(number, texts=words))
    assert not texts_assumed(Message(number, 1.0, texts=words))


@pytest.mark.parametrize(("number", "count"), [(1007, 1), (1008, 2), (1033, 5)])
def test_texts_that_are_not_stated_are_budgeted_at_their_longest(number, count):
    longest = build.texts(number, [b"x" * 31] * count)
    assert_exactly(longest, of(number))
    assert texts_assumed(Message(number, 1.0))


@pytest.mark.parametrize("count", range(5))
def test_code_phase_biases(count):
    assert_exactly(build.biases(count), of(1230, biases=count))


@given(count=st.integers(0, 31))
@settings(deadline=None)
def test_system_parameters(count):
    assert_exactly(build.system_parameters(count), of(1013, announcements=count))


FIXED = [1005, 1006, 1019, 1020, 1032, 1041, 1042, 1044, 1045, 1046]


@pytest.mark.parametrize("number", FIXED)
def test_messages_of_one_size(number):
    width = sum(RTCM_DATA_FIELDS[field][1] for field in RTCM_PAYLOADS_GET[str(number)])
    assert LAYOUTS[number].fixed_bits == width
    assert_exactly(build.plain(number, width), of(number))


def test_every_layout_is_held_to_the_library():
    tested = {1001, 1002, 1003, 1004, 1009, 1010, 1011, 1012, 1007, 1008, 1033, 1230, 1013, *FIXED}
    assert set(LAYOUTS) == tested


def shape_of(message: RTCMMessage) -> dict[str, object]:
    """What linkplan would be told about a real frame."""
    number = int(message.identity)
    if msm_kind(number) is not None:
        return {"satellites": message.NSat, "signals": message.NSig}
    if number in (1004, 1012):
        return {"satellites": message.DF006 if number == 1004 else message.DF035}
    if number in (1007, 1008, 1033):
        counters = ("DF029", "DF032", "DF227", "DF229", "DF231")
        return {
            "texts": tuple("x" * getattr(message, name, 0) for name in counters if hasattr(message, name))
        }
    if number == 1230:
        return {"biases": sum(getattr(message, f"DF422_{place}") for place in range(1, 5))}
    if number == 1013:
        return {"announcements": message.DF053}
    if number == 1029:  # a text of any length: stated, since its layout is not in the tables
        return {"payload_bytes": 9 + message.DF139}
    return {}


@pytest.mark.parametrize("number", REAL)
def test_real_frames(number):
    frame = bytes.fromhex(REAL[number]["hex"])
    assert len(frame) == REAL[number]["bytes"]
    assert of(int(number), **shape_of(parse(frame))) == (len(frame),)


@given(kind=st.integers(4, 7), satellites=st.integers(1, 64), signals=st.integers(1, 32))
@settings(deadline=None)
def test_more_cells_than_a_mask_holds_are_split_into_messages_that_the_library_reads(
    kind, satellites, signals
):
    parts = split_satellites(satellites, signals)
    assert sum(parts) == satellites
    assert all(0 < part * signals <= 64 for part in parts)
    # as few as whole satellites allow
    assert len(parts) == -(-satellites // (64 // signals))
    sizes = of(1070 + kind, satellites=satellites, signals=signals)
    stream = b"".join(
        RTCMMessage(
            payload=build.msm(1070 + kind, part, signals, more=place < len(parts) - 1).payload()
        ).serialize()
        for place, part in enumerate(parts)
    )
    read = list(RTCMReader(io.BytesIO(stream), quitonerror=2))
    assert [len(raw) for raw, _ in read] == list(sizes)
    assert sum(message.NSat for _, message in read) == satellites
    assert max(sizes) <= LONGEST_PAYLOAD_BYTES + 6


@given(
    number=st.sampled_from([*MSM_NUMBERS, 1004, 1012]),
    satellites=st.integers(1, 64),
    signals=st.integers(1, 32),
)
def test_a_satellite_or_a_signal_more_never_takes_fewer_bytes(number, satellites, signals):
    legacy = number < 1070
    assume(satellites < 31 or not legacy)
    shape = {"satellites": satellites} | ({} if legacy else {"signals": signals})
    here = sum(of(number, **shape))
    if satellites < (31 if legacy else 64):
        assert sum(of(number, **shape | {"satellites": satellites + 1})) > here
    if not legacy and signals < 32:
        assert sum(of(number, **shape | {"signals": signals + 1})) > here


def test_an_ephemeris_is_a_frame_for_each_satellite():
    assert of(1019, satellites=3) == (67, 67, 67)  # 61 bytes of payload, as the real frame
    assert of(1019) == (67,)


def test_any_other_message_with_its_size():
    assert of(4095, payload_bytes=100) == (106,)
    assert of(1005, payload_bytes=19) == of(1005)
    assert not is_known(4095)
    assert message_name(4095) == "size as stated"


@pytest.mark.parametrize(
    ("number", "shape", "words"),
    [
        (4095, {}, "layout of message 4095 is not known here: state payload_bytes"),
        (1073, {"satellites": 9, "signals": 2}, "layout of message 1073 is not known here"),
        (0, {"payload_bytes": 10}, "message number = 0 is outside 1 to 4095"),
        (4096, {"payload_bytes": 10}, "message number = 4096"),
        (1029, {"payload_bytes": 1024}, "payload_bytes = 1024 is outside 2 to 1023"),
        (1074, {"satellites": 0, "signals": 2}, "satellites = 0 is outside 1 to 64"),
        (1074, {"satellites": 65, "signals": 2}, "satellites = 65"),
        (1074, {"satellites": 9}, "signals = 0 is outside 1 to 32"),
        (1004, {"satellites": 32}, "satellites = 32 is outside 1 to 31"),
        (1007, {"texts": ("a", "b")}, "texts = 2 is outside 0 to 1"),
        (1007, {"texts": ("x" * 32,)}, "characters of a text = 32 is outside 0 to 31"),
        (1230, {"biases": 5}, "biases = 5 is outside 0 to 4"),
        (1013, {"announcements": 32}, "announcements = 32"),
    ],
)
def test_what_no_message_can_hold_is_refused(number, shape, words):
    with pytest.raises(RangeError, match=words):
        of(number, **shape)


def test_one_msm_cannot_hold_more_than_its_mask():
    with pytest.raises(RangeError, match="satellites times signals of one MSM = 66 is outside 1 to 64"):
        msm_payload_bits(4, 22, 3)


def test_names():
    assert [message_name(n) for n in (1077, 1124, 1004, 1005, 1020)] == [
        "GPS MSM7",
        "BeiDou MSM4",
        "GPS L1 and L2 observations, extended",
        "reference point",
        "GLONASS ephemeris",
    ]
    assert [constellation(n) for n in (1094, 1104, 1114, 1134, 1230, 1005, 4000)] == [
        "Galileo", "SBAS", "QZSS", "NavIC", "GLONASS", "", "",
    ]  # fmt: skip
    assert [n for n in (1005, 1019, 1012, 1071, 1078, 1137, 1230) if is_observation(n)] == [1012, 1071, 1137]
    assert frame_bytes(152) == 25


@given(
    shapes=st.dictionaries(
        st.sampled_from([n for n in MSM_NUMBERS if n % 10 in (4, 7)]),
        st.tuples(st.integers(1, 20), st.integers(1, 3)),
        min_size=1,
    ),
    words=st.lists(WORD, min_size=5, max_size=5),
    count=st.integers(0, 4),
    noise=st.binary(max_size=30),
)
@settings(deadline=None, max_examples=80)
def test_a_whole_stream_goes_through_the_library_at_the_size_foretold(shapes, words, count, noise):
    planned = [Message(n, 1.0, satellites=s, signals=min(g, 64 // s)) for n, (s, g) in shapes.items()]
    payloads = [build.msm(one.number, one.satellites, one.signals).payload() for one in planned]
    planned += [
        Message(1006, 10.0),
        Message(1033, 10.0, texts=tuple(words)),
        Message(1230, 10.0, biases=count),
    ]
    payloads += [
        build.plain(1006, 168).payload(),
        build.texts(1033, [word.encode() for word in words]).payload(),
        build.biases(count).payload(),
    ]
    stream = b"".join(RTCMMessage(payload=payload).serialize() for payload in payloads)
    assert len(stream) == sum(sum(message_frames(one)) for one in planned)
    # Bytes that are no frame stand before it: the library finds the stream all the same.
    clutter = noise.replace(b"\xd3", b"").replace(b"$", b"").replace(b"\xb5", b"")
    read = list(RTCMReader(io.BytesIO(clutter + stream), quitonerror=0))
    assert [int(message.identity) for _, message in read] == [one.number for one in planned]
    assert [len(raw) for raw, _ in read] == [sum(message_frames(one)) for one in planned]
