# ruff: noqa: E501  -- worked figures stand in one line
"""Air time worked by hand, and how it must move when the stream or the radio changes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.radio.air_time import MOST_SENDINGS, air_time
from linkplan.radio.channel_time import Burst, burst_of, packet_s, send
from linkplan.radio.stream import Framing, Message
from linkplan.tables.framing import PRESETS

PLAIN = Framing("stated", 9600.0, 20.0, 64, 96, 256, 1.0, 0.0)

# Four constellations of MSM4 with 2 signals: 173 + 144 + 158 + 202 = 677 bytes, as published with the layouts.
FOUR = (
    Message(1074, 1.0, satellites=10, signals=2),
    Message(1084, 1.0, satellites=8, signals=2),
    Message(1094, 1.0, satellites=9, signals=2),
    Message(1124, 1.0, satellites=12, signals=2),
)
# 1006: 27 bytes; 1230 with 4 biases: 18 bytes; 1033 with 40 characters: 15 + 40 = 55 bytes.
SLOW = (
    Message(1006, 10.0),
    Message(1230, 30.0, biases=4),
    Message(1033, 30.0, texts=("x" * 20, "x" * 5, "x" * 5, "x" * 5, "x" * 5)),
)


def sized(payload_bytes: int, interval_s: float = 1.0, offset_s: float = 0.0, number: int = 4090) -> Message:
    return Message(number, interval_s, offset_s, payload_bytes=payload_bytes)


def test_four_constellations_by_hand():
    result = air_time(FOUR + SLOW, PLAIN)
    # Bytes a second: 677 + 27/10 + 18/30 + 55/30.
    assert result.bytes_per_s == pytest.approx(677 + 2.7 + 0.6 + 55 / 30)
    # An epoch of 677 bytes: 3 packets, 20 ms + (3 (64 + 96) + 677 x 8) / 9600 = 0.02 + 5896/9600 = 0.634 167 s.
    # With 1006, 704 bytes, still 3 packets: 0.02 + 6112/9600 = 0.656 667 s.
    # All together, 677 + 27 + 18 + 55 = 777 bytes, 4 packets: 0.02 + (640 + 6216)/9600 = 0.734 167 s.
    ordinary, tenth, whole = 0.02 + 5896 / 9600, 0.02 + 6112 / 9600, 0.02 + 6856 / 9600
    assert result.worst.burst.bytes == 777
    assert result.worst.burst.packets == 4
    assert result.worst.burst.channel_s == pytest.approx(whole)
    assert result.worst.time_s == 0.0
    assert set(result.worst.messages) == {1074, 1084, 1094, 1124, 1006, 1230, 1033}
    assert result.worst_latency_s == pytest.approx(whole)
    assert result.spare_s == pytest.approx(1.0 - whole)
    assert result.fits
    # In 30 s: one whole epoch, two with 1006, 27 ordinary ones.
    mean = (whole + 2 * tenth + 27 * ordinary) / 30
    assert result.pattern_s == 30.0
    assert result.duty_cycle == pytest.approx(mean)
    assert result.air_time_per_s == pytest.approx(mean)
    assert result.mean_latency_s == pytest.approx(mean)
    assert result.mean_epoch_bytes == pytest.approx(result.bytes_per_s)
    assert not result.bounded
    assert sum(load.share for load in result.messages) == pytest.approx(1.0)


def test_msm7_of_four_constellations_every_second_is_too_much_for_9600():
    """Common practice, no source: a 9600 bit/s channel does not carry it once the framing is counted.

    275 + 226 + 250 + 325 = 1076 bytes: 0.02 + (5 x 160 + 8608)/9600 = 1.0 s for 2 signals and few satellites.
    """
    seven = tuple(replace(message, number=message.number + 3) for message in FOUR)
    result = air_time((*seven, *SLOW), PLAIN)
    assert not result.fits
    assert air_time((*FOUR, *SLOW), PLAIN).fits


def test_offsets_are_honoured():
    spread = (
        *FOUR,
        replace(SLOW[0], offset_s=2.0),
        replace(SLOW[1], offset_s=3.0),
        replace(SLOW[2], offset_s=4.0),
    )
    result = air_time(spread, PLAIN)
    # The largest is now 1033 with the observations: 732 bytes, 3 packets: 0.02 + (480 + 5856)/9600 = 0.68 s.
    assert result.worst.burst.bytes == 732
    assert result.worst.time_s == 4.0
    assert result.worst_latency_s == pytest.approx(0.68)
    assert result.bytes_per_s == pytest.approx(air_time(FOUR + SLOW, PLAIN).bytes_per_s)


def test_a_slow_message_between_epochs_waits_for_the_channel():
    # 677 bytes take 0.634 167 s; 1006 is due at 0.5 s and takes 0.02 + (160 + 216)/9600 = 0.059 167 s of its own.
    result = air_time((*FOUR, Message(1006, 10.0, offset_s=0.5)), PLAIN)
    first, second = 0.02 + 5896 / 9600, 0.02 + 376 / 9600
    assert result.worst_latency_s == pytest.approx(first)
    # Ten epochs and one 1006, which ends at first + second.
    assert result.mean_latency_s == pytest.approx((10 * first + first + second - 0.5) / 11)


def test_what_overruns_delays_the_next_epoch():
    # 1150 bytes: 5 packets, (800 + 9200)/9600 + 0.02 = 1.061 667 s every 2 s, then 94 bytes at 1 s:
    # begin 1.061 667, take 0.02 + (160 + 752)/9600 = 0.115 s, end 1.176 667: 0.176 667 s after it was due.
    messages = (sized(1017, 2.0, number=4090), sized(121, 2.0, number=4091), sized(88, 2.0, 1.0, number=4092))
    result = air_time(messages, PLAIN)
    long = 0.02 + 10000 / 9600
    assert result.worst.burst.bytes == 1023 + 127
    assert result.worst_latency_s == pytest.approx(long)
    assert result.mean_latency_s == pytest.approx((long + long + 0.115 - 1.0) / 2)
    assert result.fits  # within the 2 s


def test_coding_gaps_and_repeaters_by_hand():
    coded = replace(PLAIN, code_rate=0.75, gap_ms=10.0, repeaters=2)
    # 300 bytes: packets of 256 and 44. Bits: 64 + (96 + 2048)/0.75 = 2922.667 and 64 + (96 + 352)/0.75 = 661.333;
    # together 3584 bits in 0.373 333 s. A gap, so each is keyed: + 2 x 0.02 = 0.413 333 s keyed.
    # Three transmissions of it with 2 gaps each: 3 x (0.413 333 + 0.02) = 1.3 s; the last gap is after the last bit.
    burst = burst_of(coded, 300)
    assert burst == Burst(300, 2, pytest.approx(0.413_333_3), pytest.approx(1.3), pytest.approx(1.29))
    assert packet_s(coded, 44) == pytest.approx(661.3333 / 9600)
    result = air_time([sized(294, 2.0)], coded)
    assert result.air_time_per_s == pytest.approx(0.65)
    assert result.duty_cycle == pytest.approx(0.206_666_7)  # the base's own transmitter only
    assert result.worst_latency_s == pytest.approx(1.29)


def test_turns_by_hand():
    # 100-byte packets of 8 x 100 + 160 = 960 bits: 0.1 s each. Turns of 0.25 s, the second of four: 0.25 to 0.5 s.
    # 300 bytes: 0.02 + 0.1 + 0.1 = 0.22 s in the first turn, ends at 0.47 s; the third packet does not fit any
    # more and waits for 1.25 s: 1.25 + 0.02 + 0.1 = 1.37 s.
    turns = replace(PLAIN, packet_bytes=100, slots=4, slot_s=0.25, slot=2)
    one = send(turns, burst_of(turns, 300), 0.0)
    assert one is not None
    assert (one.last_bit_s, one.turns) == (pytest.approx(1.37), 2)
    result = air_time([sized(294, 2.0)], turns)
    assert result.worst_latency_s == pytest.approx(1.37)
    assert result.available_share == 0.25
    # keyed: 0.02 + 0.3 and another key-up of 0.02 s, in 2 s
    assert result.duty_cycle == pytest.approx(0.17)
    assert result.load == pytest.approx(0.17 / 0.25)
    assert result.fits
    # 200 bytes fit one turn: they end 0.47 s after the epoch, 0.25 s of it waiting.
    assert air_time([sized(194, 1.0)], turns).worst_latency_s == pytest.approx(0.47)


def test_a_packet_longer_than_a_turn_is_said():
    turns = replace(PLAIN, slots=2, slot_s=0.1)
    result = air_time([sized(200)], turns)
    assert not result.fits
    assert result.problem == "a packet of 206 bytes takes longer than a turn of 0.1 s"
    assert result.worst_latency_s is None


def test_overload_grows_without_end():
    # 1106 bytes: 5 packets: 0.02 + (800 + 8848)/9600 = 1.025 s every second.
    result = air_time([sized(1000, number=4090), sized(94, number=4091)], PLAIN)
    assert result.load == pytest.approx(1.025)
    assert result.worst_latency_s is None
    assert result.spare_s is None
    assert not result.fits
    assert result.fill == pytest.approx(1.025)
    assert result.duty_cycle == pytest.approx(1.0)


def test_exactly_full_fits():
    # Key-up 0, no overhead: 1200 bytes at 9600 bit/s are 1 s.
    bare = Framing("stated", 9600.0, 0.0, 0, 0, 5000, 1.0, 0.0)
    assert air_time([sized(594, number=4090), sized(594, number=4091)], bare).fits
    assert not air_time([sized(594, number=4090), sized(595, number=4091)], bare).fits


def test_turns_too_short_in_the_long_run():
    # A packet of 256 bytes takes 0.02 + 2208/9600 = 0.25 s: a turn of 0.4 s holds one, and there is one turn in 0.8 s,
    # in which 2 packets fall due.
    turns = replace(PLAIN, slots=2, slot_s=0.4)
    result = air_time([sized(506, 0.8)], turns)
    assert result.worst_latency_s is None
    assert not result.fits


def test_a_pattern_too_long_is_bounded_from_above():
    primes = (7.0, 11.0, 13.0, 17.0, 19.0)
    slow = tuple(sized(40, every, number=4000 + int(every)) for every in primes)
    result = air_time((*FOUR, *slow), replace(PLAIN, rate_bps=19200.0))
    assert MOST_SENDINGS < 7 * 11 * 13 * 17 * 19 * 4
    assert result.bounded
    assert result.fits
    # all of it, as if each were sent by itself: 9 key-ups, 9 packets, 677 + 5 x 46 bytes
    apart = 9 * (0.02 + 160 / 19200) + (677 + 230) * 8 / 19200
    assert result.worst_latency_s == pytest.approx(apart)
    assert result.bytes_per_s == pytest.approx(677 + sum(46 / every for every in primes))
    assert result.duty_cycle < result.worst_latency_s
    with pytest.raises(RangeError, match="multiples of one another"):
        air_time((*FOUR, *slow), replace(PLAIN, slots=2, slot_s=0.5))
    tight = air_time((*FOUR, *slow), PLAIN)
    assert not tight.fits
    assert tight.problem == "not shown to fit: the pattern of intervals is too long to follow"


FRAMINGS = st.builds(
    Framing,
    name=st.just("stated"), rate_bps=st.sampled_from([4800.0, 9600.0, 19200.0, 38400.0]),
    key_up_ms=st.integers(0, 60).map(float), preamble_bits=st.integers(0, 200), header_bits=st.integers(0, 200),
    packet_bytes=st.integers(30, 1000), code_rate=st.sampled_from([0.5, 0.75, 1.0]),
    gap_ms=st.sampled_from([0.0, 5.0, 20.0]), repeaters=st.integers(0, 2),
)  # fmt: skip
MESSAGES = st.lists(
    st.builds(
        Message,
        number=st.sampled_from([1074, 1077, 1087, 1124]), interval_s=st.sampled_from([0.5, 1.0, 2.0, 5.0]),
        offset_s=st.sampled_from([0.0, 0.25, 0.5, 1.0]), satellites=st.integers(1, 16), signals=st.integers(1, 4),
    ),
    min_size=1, max_size=5,
)  # fmt: skip


def no_better(worse, better) -> bool:
    """A stream that asks more of the channel, or the same."""
    more = worse.bytes_per_s >= better.bytes_per_s - 1e-9 and worse.load >= better.load - 1e-9
    if worse.worst_latency_s is None:
        return more
    return (
        more and better.worst_latency_s is not None and worse.worst_latency_s >= better.worst_latency_s - 1e-9
    )


@given(messages=MESSAGES, framing=FRAMINGS, at=st.integers(0, 4))
@settings(deadline=None)
def test_more_to_send_is_never_better(messages, framing, at):
    before = air_time(messages, framing)
    one = messages[at % len(messages)]
    for more in (replace(one, satellites=one.satellites + 1), replace(one, signals=one.signals + 1)):
        changed = list(messages)
        changed[at % len(messages)] = more
        assert no_better(air_time(changed, framing), before)
    assert no_better(air_time([*messages, Message(1006, 10.0)], framing), before)


@given(messages=MESSAGES, framing=FRAMINGS)
@settings(deadline=None)
def test_a_better_radio_is_never_worse(messages, framing):
    before = air_time(messages, framing)
    assert no_better(before, air_time(messages, replace(framing, rate_bps=2 * framing.rate_bps)))
    assert no_better(before, air_time(messages, replace(framing, key_up_ms=0.0)))
    assert no_better(before, air_time(messages, replace(framing, code_rate=1.0)))
    assert no_better(before, air_time(messages, replace(framing, repeaters=0)))
    assert no_better(before, air_time(messages, replace(framing, header_bits=0)))


@given(messages=MESSAGES, framing=FRAMINGS)
@settings(deadline=None)
def test_results_agree_with_one_another(messages, framing):
    result = air_time(messages, framing)
    assert 0.0 < result.duty_cycle <= 1.0 + 1e-9
    assert result.duty_cycle <= result.load + 1e-9
    assert result.load == pytest.approx(result.air_time_per_s / result.available_share)
    if result.load > 1.0 + 1e-6:
        assert not result.fits
    if result.worst_latency_s is not None:
        assert result.mean_latency_s <= result.worst_latency_s + 1e-9
        assert result.worst_latency_s >= result.worst.burst.last_bit_s - 1e-9
        assert result.fits == (result.worst_latency_s <= result.epoch_s + 1e-9)


def plain_queue(messages, framing, seconds):
    """Latencies over a long run, millisecond by millisecond of due times, with nothing clever."""
    from linkplan.radio.frame_sizes import message_frames

    due = {}
    for message in messages:
        time = message.offset_s % message.interval_s
        while time < seconds - 1e-9:
            due[round(time, 3)] = due.get(round(time, 3), 0) + sum(message_frames(message))
            time += message.interval_s
    free, latencies = 0.0, []
    for time in sorted(due):
        burst = burst_of(framing, due[time])
        begin = max(time, free)
        free = begin + burst.channel_s
        latencies.append((time, begin + burst.last_bit_s - time))
    return latencies


@given(messages=MESSAGES, framing=FRAMINGS)
@settings(deadline=None, max_examples=60)
def test_one_period_tells_of_a_long_run(messages, framing):
    result = air_time(messages, framing)
    late = [latency for time, latency in plain_queue(messages, framing, 400.0) if time >= 200.0]
    if result.worst_latency_s is not None:
        assert max(late) == pytest.approx(result.worst_latency_s, abs=1e-6)
    else:
        early = [latency for time, latency in plain_queue(messages, framing, 400.0) if time < 100.0]
        assert max(late) > max(early)


@given(size=st.integers(1, 3000), framing=FRAMINGS, slots=st.integers(2, 4), start=st.floats(0.0, 20.0))
@settings(deadline=None)
def test_nothing_is_sent_out_of_turn_and_none_sooner_than_alone(size, framing, slots, start):
    turns = replace(framing, slots=slots, slot_s=1.0, slot=slots)
    burst = burst_of(turns, size)
    one = send(turns, burst, start)
    alone = send(framing, burst, start)
    assert alone is not None
    if one is None:
        assert (1 + turns.repeaters) * (
            packet_s(turns, min(turns.packet_bytes, size)) + turns.key_up_ms / 1000
        ) > 0.9
        return
    assert one.last_bit_s >= alone.last_bit_s - 1e-9
    into = (one.last_bit_s - (slots - 1) * 1.0) % slots
    assert -1e-6 <= into <= 1.0 + 1e-6 or into >= slots - 1e-6


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"rate_bps": 0.0}, "rate_bps = 0 bit/s is outside 50 to 1e"),
        ({"code_rate": 1.5}, "code_rate = 1.5 is outside 0.1 to 1"),
        ({"packet_bytes": 0}, "packet_bytes = 0"),
        ({"repeaters": 11}, "repeaters = 11 is outside 0 to 10"),
        ({"slots": 2, "slot": 3}, "slot = 3 is outside 1 to 2"),
        ({"slots": 2, "slot_s": 0.0}, "slot_s = 0 s is outside"),
        ({"key_up_ms": float("nan")}, "key_up_ms = nan"),
    ],
)
def test_a_framing_that_no_radio_has_is_refused(change, words):
    with pytest.raises(RangeError, match=words):
        air_time(FOUR, replace(PLAIN, **change))


@pytest.mark.parametrize(
    ("message", "words"),
    [
        (Message(1006, 0.0), "interval_s = 0 s is outside"),
        (Message(1006, 1.0005), "interval_s = 1.0005 s is no whole number of milliseconds"),
        (Message(1006, 10.0, offset_s=-1.0), "offset_s = -1 s"),
    ],
)
def test_times_that_cannot_be_kept_are_refused(message, words):
    with pytest.raises(RangeError, match=words):
        air_time([message], PLAIN)
    with pytest.raises(RangeError, match="at least one message"):
        air_time([], PLAIN)


def test_every_preset_is_a_radio():
    for name, numbers in PRESETS.items():
        framing = Framing(name, **numbers)  # type: ignore[arg-type]
        assert name.startswith("generic-")
        assert air_time([Message(1006, 10.0)], framing).fits
