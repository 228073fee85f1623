"""Frames and sentences of one recording in order, however it is cut; no byte is lost."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from dem_samples.rtcm_writer import frame, msm
from linkplan.gnss.mixed_stream import MixedScanner
from linkplan.gnss.rtcm_frames import Frame
from tests.gnss.fuzz_readers import mutated
from tests.gnss.recorded import cut, gga


def events(pieces: list[bytes]) -> tuple[list[bytes], MixedScanner]:
    """Bodies, and payloads of frames."""
    scanner = MixedScanner()
    found = [one for piece in pieces for one in scanner.feed(piece)]
    found += scanner.finish()
    return [one.payload if isinstance(one, Frame) else one for one in found], scanner


def test_order_is_that_of_the_recording() -> None:
    chance = random.Random(1)
    parts, wanted = [], []
    for number in range(3000):
        if chance.random() < 0.5:
            payload = msm(1074, 31, 1000 * number, [1, 2], [2])
            parts.append(frame(payload))
            wanted.append(payload)
        else:
            line = gga(number)
            parts.append(line)
            wanted.append(line[1:-5])
    data = b"".join(parts)
    found, scanner = events(cut(data, chance))
    assert found == wanted
    assert (scanner.total_bytes, scanner.damaged_frames, scanner.sentences.outside_bytes) == (len(data), 0, 0)


def test_a_sentence_cut_by_a_frame_comes_behind_it() -> None:
    payload = msm(1074, 31, 1000, [1, 2], [2])
    line = gga(7)
    found, _ = events([line[:30] + frame(payload) + line[30:]])
    assert found == [payload, line[1:-5]]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**9))
def test_any_bytes_give_the_same_however_they_are_cut(seed: int) -> None:
    chance = random.Random(seed)
    data = b"".join(mutated(chance) for _ in range(3))
    whole, first = events([data])
    pieces, second = events(cut(data, chance))
    assert whole == pieces
    assert vars(first.sentences) == vars(second.sentences)
    assert (first.frames, first.damaged_frames) == (second.frames, second.damaged_frames)
