"""Frames out of any bytes: the check against the library's, what is found, what is counted."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyrtcm import RTCMReader
from pyrtcm.rtcmhelpers import calc_crc24q

from linkplan.gnss.crc24q import LONGEST_FRAME, whole
from linkplan.gnss.rtcm_frames import FrameScanner
from tests.gnss.recorded import REAL_FRAMES, cut

EMPTY_FRAME = bytes.fromhex("d3000047ea4b")
"""A frame without a message, from memory; the library's check is zero over it too."""


def scan(pieces: list[bytes]) -> tuple[list[bytes], FrameScanner, bytes]:
    outside: list[bytes] = []
    scanner = FrameScanner(outside.append)
    frames = [frame for piece in pieces for frame in scanner.feed(piece)] + scanner.finish()
    data = b"".join(pieces)
    for frame in frames:
        assert data[frame.offset + 3 : frame.offset + 3 + len(frame.payload)] == frame.payload
    return [frame.payload for frame in frames], scanner, b"".join(outside)


def frame_of(payload: bytes) -> bytes:
    """A frame with the library's check."""
    head = b"\xd3" + len(payload).to_bytes(2, "big") + payload
    return head + calc_crc24q(head).to_bytes(3, "big")


@given(st.lists(st.binary(min_size=0, max_size=1023), min_size=1, max_size=6), st.data())
@settings(max_examples=150, deadline=None)
def test_the_check_is_that_of_the_library(payloads: list[bytes], data: st.DataObject) -> None:
    frames = [frame_of(payload) for payload in payloads]
    harmed = data.draw(st.lists(st.booleans(), min_size=len(frames), max_size=len(frames)))
    raw, bounds = bytearray(), []
    for frame, harm in zip(frames, harmed, strict=True):
        one = bytearray(frame)
        if harm:
            one[data.draw(st.integers(0, len(one) - 1))] ^= 1 << data.draw(st.integers(0, 7))
        raw += data.draw(st.binary(max_size=20))
        bounds += [len(raw), len(raw) + len(one)]
        raw += one
    expected = [calc_crc24q(bytes(raw[a:b])) == 0 for a, b in zip(bounds[::2], bounds[1::2], strict=True)]
    assert whole(np.frombuffer(bytes(raw), np.uint8), bounds) == expected
    assert expected == [not harm for harm in harmed]


def test_the_check_of_a_known_text() -> None:
    # CRC-24 with this generator and start 0 of "123456789" is 0xCDE703 [catalogue of checks, from memory]
    data = np.frombuffer(b"123456789" + bytes.fromhex("cde703"), np.uint8)
    assert whole(data, [0, 12]) == [True]
    assert whole(data, [0, 11]) == [False]


@pytest.mark.parametrize("name", REAL_FRAMES)
def test_real_frames_are_found_whole(name: str) -> None:
    raw = REAL_FRAMES[name]
    payloads, scanner, outside = scan([raw])
    assert payloads == [RTCMReader.parse(raw).payload]
    assert (scanner.damaged, scanner.outside_bytes, scanner.cut_short, outside) == (0, 0, False, b"")


def test_the_longest_and_the_empty_frame() -> None:
    longest = frame_of(random.Random(3).randbytes(1023))
    assert len(longest) == LONGEST_FRAME
    assert calc_crc24q(EMPTY_FRAME) == 0
    payloads, scanner, _ = scan([EMPTY_FRAME + longest + EMPTY_FRAME])
    assert [len(one) for one in payloads] == [0, 1023, 0]
    assert scanner.outside_bytes == 0


def test_a_damaged_frame_is_counted_once_and_hides_nothing() -> None:
    good = REAL_FRAMES["1005"]
    # a length that reaches over the next frames, as one wrong bit makes it
    longer = bytearray(REAL_FRAMES["1230"])
    longer[1] |= 0x01
    payloads, scanner, outside = scan([good + bytes(longer) + good + good + b"end"])
    assert payloads == [good[3:-3]] * 3
    assert scanner.damaged == 1
    assert outside == bytes(longer) + b"end"


@pytest.mark.parametrize("count", [1, 3, 40])
def test_a_row_of_damaged_frames_is_counted_each(count: int) -> None:
    bad = bytearray(REAL_FRAMES["1077"])
    bad[100] ^= 4
    good = REAL_FRAMES["1005"]
    payloads, scanner, _ = scan([good + bytes(bad) * count + good])
    assert len(payloads) == 2
    assert scanner.damaged == count
    assert scanner.outside_bytes == count * len(bad)


def test_a_recording_that_ends_inside_a_frame() -> None:
    good = REAL_FRAMES["1005"]
    for kept in range(1, len(good)):
        payloads, scanner, _ = scan([good + good[:kept]])
        assert (len(payloads), scanner.cut_short, scanner.damaged) == (1, True, 0)
        assert scanner.outside_bytes == kept
    assert not scan([good + b"text"])[1].cut_short


_parts = st.one_of(
    st.sampled_from(sorted(REAL_FRAMES.values())),
    st.binary(max_size=60),
    st.just(b"\xd3\x00"),
    st.just(b"\xd3\x03\xff"),
    st.just(EMPTY_FRAME),
    st.sampled_from(sorted(REAL_FRAMES.values())).map(lambda raw: raw[: len(raw) // 2]),
)


@given(st.lists(_parts, max_size=30), st.randoms(use_true_random=False))
@settings(max_examples=150, deadline=None)
def test_any_cutting_gives_the_same_and_no_byte_is_lost(parts: list[bytes], chance: random.Random) -> None:
    data = b"".join(parts)
    payloads, scanner, outside = scan([data])
    assert sum(len(one) + 6 for one in payloads) + scanner.outside_bytes == len(data)
    assert len(outside) == scanner.outside_bytes
    again, other, outside_again = scan(cut(data, chance))
    assert (again, outside_again) == (payloads, outside)
    assert (other.damaged, other.cut_short) == (scanner.damaged, scanner.cut_short)


def test_cutting_a_long_stream_gives_the_same() -> None:
    chance = random.Random(5)
    real = list(REAL_FRAMES.values())
    data = b"".join(
        chance.choice(real) if chance.random() < 0.8 else chance.randbytes(chance.randrange(3000))
        for _ in range(4000)
    )
    whole_result = scan([data])
    for _ in range(3):
        result = scan(cut(data, chance))
        assert result[0] == whole_result[0]
        assert result[2] == whole_result[2]
        assert result[1].damaged == whole_result[1].damaged
