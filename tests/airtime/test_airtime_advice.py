"""Advice is verified: what it calls enough is enough, nothing in it is superfluous, the cheapest is first."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.airtime.advice import advise
from linkplan.airtime.changes import changes_for, epoch_s, spread
from linkplan.radio.air_time import air_time
from linkplan.radio.frame_sizes import is_observation
from linkplan.radio.stream import CorrectionStream, Framing, Message

FRAMING = Framing("stated", 9600.0, 20.0, 64, 96, 256, 1.0, 0.0)
SLOW = (Message(1006, 10.0), Message(1008, 10.0, texts=("x" * 20, "x" * 10)), Message(1230, 10.0, biases=4))


def stream_of(*messages: Message, framing: Framing = FRAMING) -> CorrectionStream:
    return CorrectionStream(12, messages, framing, None)


def four(kind: int, signals: int = 2) -> tuple[Message, ...]:
    return tuple(
        Message(group * 10 + kind, 1.0, satellites=satellites, signals=signals)
        for group, satellites in ((107, 10), (108, 8), (109, 9), (112, 12))
    )


def advice_on(stream: CorrectionStream, licensed: tuple[float, ...] | None = None):
    assert stream.framing is not None
    before = air_time(stream.messages, stream.framing)
    assert not before.fits
    return before, advise(stream, before, changes_for(stream, 12.5, licensed))


def test_spreading_alone_where_that_is_enough():
    # MSM4 of four constellations takes 677 bytes and 0.634 s of a second (see test_air_time). With 3 x 200
    # bytes of slow ones, all together: 1277 bytes, 5 packets, 0.02 + (800 + 10216)/9600 = 1.168 s; apart:
    # 877 bytes, 4 packets, 0.02 + (640 + 7016)/9600 = 0.8175 s.
    slow = tuple(Message(number, 10.0, payload_bytes=194) for number in (4090, 4091, 4092))
    before, advice = advice_on(stream_of(*four(4), *slow))
    assert before.worst_latency_s == pytest.approx(0.02 + 11016 / 9600)
    first = advice.options[0]
    assert first.changes == ("spread the slow messages over different epochs",)
    assert first.costs == ("nothing",)
    assert first.after.worst_latency_s == pytest.approx(0.8175)
    assert sorted(one.offset_s for one in first.stream.messages[-3:]) == [0.0, 1.0, 2.0]


def test_msm4_where_that_is_enough():
    # 1176 bytes with MSM7 and 27 + 42 + 18 of slow ones; MSM4 leaves 677 + 87 = 764.
    _, advice = advice_on(stream_of(*four(7), *SLOW))
    by_name = {one.what: one for one in advice.singles}
    msm4 = by_name["MSM4 in place of MSM7"]
    assert msm4.enough
    # Published frame sizes: 275 + 226 + 250 + 325 against 173 + 144 + 158 + 202.
    assert msm4.bytes_per_s_saved == pytest.approx(1076 - 677)
    ranks = [one.what for one in advice.singles]
    order = ["MSM5 in place of MSM7", "MSM4 in place of MSM7", "leave out GLONASS", "an epoch every 2 s"]
    assert [what for what in ranks if what in order] == order


def test_changes_come_in_the_order_of_what_they_cost():
    stream = stream_of(*four(7, signals=4), *SLOW)
    families = list(dict.fromkeys(change.family for change in changes_for(stream, 12.5)))
    assert families == ["spread", "slow", "msm", "signals", "constellations", "epoch", "rate"]
    _, advice = advice_on(stream)
    assert advice.options
    dearest = [max(place_of(what) for what in option.changes) for option in advice.options]
    assert dearest == sorted(dearest)


def place_of(what: str) -> int:
    marks = ("spread", "slow", "MSM5", "MSM4", "signals", "leave out", "epoch every", "bit/s")
    return next(place for place, mark in enumerate(marks) if mark in what)


def test_the_mildest_form_of_a_change_comes_first():
    # 677 bytes at 5000 bit/s: 0.02 + (480 + 5416)/5000 = 1.199 s; without GLONASS, 533 bytes in 3 packets:
    # 0.02 + (480 + 4264)/5000 = 0.969 s. Nothing else can be saved: MSM4, 2 signals, no slow messages.
    _, advice = advice_on(stream_of(*four(4), framing=replace(FRAMING, rate_bps=5000.0)))
    assert [option.changes[0].partition(" (")[0] for option in advice.options] == [
        "leave out GLONASS",
        "an epoch every 2 s",
        "10000 bit/s over the air",
    ]
    assert [len(option.changes) for option in advice.options] == [1, 1, 1]
    assert advice.options[0].after.worst_latency_s == pytest.approx(0.9688)
    # GPS is never left out as the last one.
    assert [one.what for one in advice.singles if "leave out" in one.what] == [
        "leave out GLONASS",
        "leave out GLONASS and BeiDou",
        "leave out GLONASS and BeiDou and Galileo",
    ]


def test_leaving_out_a_constellation_leaves_out_what_belongs_to_it():
    changes = changes_for(stream_of(*four(4), *SLOW, Message(1020, 60.0)), 12.5)
    first = next(change for change in changes if change.family == "constellations")
    assert first.what == "leave out GLONASS"
    left = [
        message.number for message in first.apply(stream_of(*four(4), *SLOW, Message(1020, 60.0))).messages
    ]
    assert left == [1074, 1094, 1124, 1006, 1008]


@pytest.mark.parametrize(
    ("licensed", "words"),
    [
        (None, "a wider channel if the licence allows one"),
        ((12.5, 25.0), "a wider channel: the licence allows 25 kHz"),
        ((12.5,), "a faster mode: the licence allows no wider channel"),
    ],
)
def test_a_wider_channel_is_the_licence_s_to_allow(licensed, words):
    stream = stream_of(*four(7), *SLOW)
    faster = [change for change in changes_for(stream, 12.5, licensed) if change.family == "rate"]
    assert all(words in change.what for change in faster)
    assert [change.apply(stream).framing.rate_bps for change in faster] == [19200.0, 38400.0]


def test_a_stated_size_is_not_shortened():
    stream = stream_of(Message(1077, 1.0, payload_bytes=1000), Message(1006, 10.0))
    assert not [change for change in changes_for(stream, 12.5) if change.family == "msm"]


def test_where_nothing_helps_nothing_is_promised():
    # 1006 bytes at 4 x 60 bit/s take more than 33 s, an epoch is at most 5 s.
    crawl = replace(FRAMING, rate_bps=60.0)
    _, advice = advice_on(stream_of(Message(1077, 1.0, payload_bytes=1000), framing=crawl))
    assert advice.options == ()
    assert not any(one.enough for one in advice.singles)


STREAMS = st.builds(
    lambda groups, kind, signals, slow, rate: stream_of(
        *(Message(g * 10 + kind, 1.0, satellites=n, signals=signals) for g, n in groups.items()),
        *(replace(one, interval_s=every) for one, every in zip(SLOW, slow, strict=True)),
        framing=replace(FRAMING, rate_bps=rate),
    ),
    groups=st.dictionaries(st.sampled_from([107, 108, 109, 112]), st.integers(4, 14), min_size=1, max_size=4),
    kind=st.integers(4, 7),
    signals=st.integers(1, 4),
    slow=st.tuples(*[st.sampled_from([1.0, 5.0, 10.0])] * 3),
    rate=st.sampled_from([2400.0, 4800.0, 9600.0]),
)


@given(stream=STREAMS)
@settings(deadline=None, max_examples=60)
def test_what_is_called_enough_is_enough_and_nothing_in_it_is_superfluous(stream):
    before = air_time(stream.messages, stream.framing)
    if before.fits:
        return
    changes = changes_for(stream, 12.5)
    advice = advise(stream, before, changes)
    by_name = {change.what: change for change in changes}
    for one in advice.singles:
        alone = by_name[one.what].apply(stream)
        assert air_time(alone.messages, alone.framing).fits == one.enough
        assert one.enough or one.fill_after < one.fill_before
    for option in advice.options:
        again = air_time(option.stream.messages, option.stream.framing)
        assert again == option.after
        assert again.fits
        for left_out in option.changes:
            rest = stream
            for what in [w for w in option.changes if w != left_out and "spread" not in w]:
                rest = by_name[what].apply(rest)
            if any("spread" in what for what in option.changes) and "spread" not in left_out:
                rest = spread(rest)
            assert not air_time(rest.messages, rest.framing).fits, (option.changes, left_out)
    # Where a single change is enough, there is a way; and no way is offered twice.
    assert advice.options or not any(one.enough for one in advice.singles)
    assert len({option.changes for option in advice.options}) == len(advice.options)


@given(stream=STREAMS)
@settings(deadline=None, max_examples=60)
def test_spreading_changes_only_when_and_never_makes_the_worst_epoch_larger(stream):
    after = spread(stream)
    assert [replace(one, offset_s=0.0) for one in after.messages] == list(stream.messages)
    for one in after.messages:
        assert 0.0 <= one.offset_s < one.interval_s
        assert not is_observation(one.number) or one.offset_s == 0.0
        assert one.offset_s % epoch_s(stream.messages) == 0.0
    was, now = (air_time(one.messages, one.framing) for one in (stream, after))
    assert now.worst.burst.bytes <= was.worst.burst.bytes
    assert now.bytes_per_s == pytest.approx(was.bytes_per_s)
