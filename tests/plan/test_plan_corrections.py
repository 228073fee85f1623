# ruff: noqa: E501  -- the expected lines are shown as the user sees them
"""The correction stream of a job file: what it becomes, and each fault with its key path."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkplan.errors import JobFileError
from linkplan.plan.keys import TABLES
from linkplan.plan.reader import read_plan
from linkplan.radio.air_time import air_time
from linkplan.radio.channel_time import MOST_REPEATERS, MOST_SLOTS
from linkplan.radio.frame_sizes import message_frames
from linkplan.radio.stream import Framing, Message, Supply
from linkplan.tables.framing import PRESETS
from linkplan.tables.rtcm3 import HIGHEST_NUMBER, HIGHEST_STATION_ID

SOUND = """
[corrections]
station_id = 12
[[corrections.messages]]
number = 1074
interval_s = 1
satellites = 10
signals = 2
[[corrections.messages]]
number = 1006
interval_s = 10
offset_s = 5
"""


def read(job, text, *, base=""):
    whole = job.text().replace("[base]\n", f"[base]\n{base}")
    return read_plan(job.write(whole + text))


def faults(job, text, *, base=""):
    return job.faults(job.text().replace("[base]\n", f"[base]\n{base}") + text)


def test_a_job_without_corrections_has_none(job):
    assert job.plan().corrections is None


def test_messages_framing_and_supply_become_the_stream(job):
    plan = read(
        job,
        SOUND
        + '[framing]\npreset = "generic-9600"\nrepeaters = 1\nslots = 2\nslot_s = 0.5\n'
        + "[supply]\ncapacity_ah = 40\ntransmit_a = 3.5\nreceive_a = 0.3\n",
        base="slot = 2\n",
    )
    stream = plan.corrections
    assert stream is not None
    assert stream.station_id == 12
    assert stream.messages == (
        Message(1074, 1.0, satellites=10, signals=2),
        Message(1006, 10.0, offset_s=5.0),
    )
    assert stream.framing == Framing("generic-9600", 9600.0, 20.0, 64, 96, 256, 1.0, 0.0, 1, 2, 0.5, 2)
    assert stream.supply == Supply(40.0, 3.5, 0.3, 0.0, 0.8)
    assert plan.warnings == ()


def test_own_numbers_go_before_the_preset_s_and_show_in_its_name(job):
    stream = read(job, SOUND + '[framing]\npreset = "generic-9600"\nkey_up_ms = 35\ngap_ms = 5\n').corrections
    assert (stream.framing.key_up_ms, stream.framing.gap_ms, stream.framing.rate_bps) == (35.0, 5.0, 9600.0)
    assert stream.framing.name == "generic-9600 with own key_up_ms, gap_ms"


def test_framing_in_own_numbers_only(job):
    text = (
        "[framing]\nrate_bps = 4800\nkey_up_ms = 0\npreamble_bits = 0\nheader_bits = 32\npacket_bytes = 128\n"
    )
    stream = read(job, SOUND + text).corrections
    assert stream.framing == Framing("stated", 4800.0, 0.0, 0.0, 32.0, 128, 1.0, 0.0)
    assert stream.supply is None


def test_what_is_not_stated_is_budgeted_at_its_most(job):
    text = "[[corrections.messages]]\nnumber = 1230\ninterval_s = 30\n[[corrections.messages]]\nnumber = 1013\ninterval_s = 60\n"
    stream = read(job, SOUND + text).corrections
    biases, system = stream.messages[2:]
    assert biases.biases == 4
    # 1013 announces the three others.
    assert system.announcements == 3


def test_two_of_a_maker_s_own_messages_may_share_a_number(job):
    own = "[[corrections.messages]]\nnumber = 4090\ninterval_s = 5\npayload_bytes = 40\n"
    assert [one.number for one in read(job, SOUND + own + own).corrections.messages] == [
        1074,
        1006,
        4090,
        4090,
    ]


@pytest.mark.parametrize(
    ("messages", "warning"),
    [
        ("number = 1006\ninterval_s = 5", "corrections.messages: none carries observations (MSM or 1001 to 1012)"),
        ("number = 1124\ninterval_s = 1\nsatellites = 9\nsignals = 2", "corrections.messages: none carries the base's position (1005 or 1006): rovers cannot work without it"),
        ("number = 1005\ninterval_s = 5\n[[corrections.messages]]\nnumber = 1084\ninterval_s = 1\nsatellites = 9\nsignals = 2\n[[corrections.messages]]\nnumber = 1012\ninterval_s = 1\nsatellites = 9", "corrections.messages: 1012 and 1084 both carry observations of GLONASS"),
    ],
)  # fmt: skip
def test_odd_streams_are_read_with_a_word(job, messages, warning):
    plan = read(job, f"[corrections]\n[[corrections.messages]]\n{messages}\n")
    assert plan.warnings == (warning,)
    assert plan.corrections.station_id is None


def test_framing_without_messages_is_of_no_use(job):
    plan = read(job, '[framing]\npreset = "generic-4800"\n')
    assert plan.corrections is None
    assert plan.warnings == ("framing: is of no use without [corrections]",)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[corrections]\nstation_id = 12\n", "corrections.messages: missing; add, for example, messages = [{ number = 1074, interval_s = 1, satellites = 10, signals = 2 }]"),
        ("[corrections]\nstation_id = 5000\nmessages = [{ number = 1006, interval_s = 1 }]\n", "corrections.station_id = 5000: too large; give 0 to 4095"),
        (SOUND.replace("interval_s = 10", "interval_s = 0.01"), "corrections.messages[2].interval_s = 0.01: too small; give 0.05 to 86400 s"),
        (SOUND.replace("interval_s = 10", "interval_s = 10.0005"), "corrections.messages[2].interval_s = 10.0005: finer than a thousandth of a second; write interval_s = 10"),
        (SOUND.replace("offset_s = 5", "offset_s = 10"), "corrections.messages[2].offset_s = 10: too large; it lies within the interval: give 0 to less than 10 s"),
        (SOUND.replace("satellites = 10\n", ""), "corrections.messages[1].satellites: missing; add, for example, satellites = 10: 1074 (GPS MSM4) has a size by them"),
        (SOUND.replace("signals = 2\n", ""), "corrections.messages[1].signals: missing; add, for example, signals = 2: 1074 (GPS MSM4) has a size by them"),
        (SOUND.replace("satellites = 10\n", "satelites = 10\nsatellites = 10\n"), "corrections.messages[1].satelites = 10: unknown key; satellites stands here already, so leave this out"),
        (SOUND.replace("offset_s = 5", "satellites = 5"), "corrections.messages[2].satellites = 5: message 1006 (reference point and antenna height) has none; leave it out"),
        (SOUND.replace("1074", "1004").replace("signals = 2\n", "").replace("satellites = 10", "satellites = 32"), "corrections.messages[1].satellites = 32: too many for 1004 (GPS L1 and L2 observations, extended); give 1 to 31, or use an MSM"),
        (SOUND.replace("1006", "1074\nsatellites = 4\nsignals = 1"), "corrections.messages[2].number = 1074: stands in the list already, as message 1 of it; keep one"),
        (SOUND.replace("1006", "4090"), "corrections.messages[2].payload_bytes: missing: the layout of message 4090 is not known here; add it, such as payload_bytes = 100"),
        (SOUND.replace("1006", "1073"), "corrections.messages[2].payload_bytes: missing: the layout of message 1073 is not known here; add it, such as payload_bytes = 100"),
        (SOUND.replace("signals = 2", "payload_bytes = 50"), "corrections.messages[1].satellites = 10: cannot stand beside payload_bytes, which says the size already; keep one of the two"),
        (SOUND.replace("1006", '1033\ntexts = ["a", "b"]'), 'corrections.messages[2].texts = ["a", "b"]: 2 texts, but 1033 (antenna and receiver) has 5; give 5 in the order of the message, "" for an empty one, or leave the key out'),
        (SOUND.replace("1006", f'1007\ntexts = ["{"x" * 32}"]'), f'corrections.messages[2].texts[1] = "{"x" * 32}": 32 characters; at most 31 fit'),
        (SOUND + '[framing]\npreset = "fast"\n', 'framing.preset = "fast": not a word that goes here; write "generic-4800", "generic-9600", "generic-19200", "generic-4800-corrected", "generic-9600-corrected" or "generic-19200-corrected"'),
        (SOUND + '[framing]\npreset = "generic-9600"\ncode_rate = 2\n', "framing.code_rate = 2: too large; give 0.1 to 1 (1 without error correction)"),
        (SOUND + '[framing]\npreset = "generic-9600"\nslots = 2\n', "framing.slot_s: missing; where stations take turns, add the length of a turn, such as slot_s = 0.5"),
        (SOUND + "[supply]\ncapacity_ah = 40\ntransmit_a = 3\n", "supply.receive_a: missing; add, for example, receive_a = 0.3"),
        (SOUND + "[supply]\ncapacity_ah = 40\ntransmit_a = 3\nreceive_a = 1\nusable_share = 80\n", "supply.usable_share = 80: too large; give 0.01 to 1; write 0.8 for 80 %"),
    ],
)  # fmt: skip
def test_one_fault(job, text, line):
    assert faults(job, text) == [line]


def test_a_framing_without_preset_lacks_every_number_that_is_not_there(job):
    assert faults(job, SOUND + "[framing]\nrate_bps = 9600\npacket_bytes = 1\n") == [
        f'framing.{name}: missing; add it from the radio\'s data sheet, or take a generic preset: preset = "generic-9600"'
        for name in ("key_up_ms", "preamble_bits", "header_bits")
    ]


def test_a_turn_that_there_is_not(job):
    text = SOUND + '[framing]\npreset = "generic-9600"\nslots = 2\nslot_s = 0.5\n'
    assert faults(job, text, base="slot = 3\n") == ["base.slot = 3: framing.slots = 2; give 1 to 2"]


def test_many_faults_at_once_in_the_order_of_the_file(job):
    text = (
        "[corrections]\nstation_id = -1\n[[corrections.messages]]\nnumber = 1074\n[[corrections.messages]]\ninterval_s = 1\n"
        "[framing]\nrate_bps = 0\n[supply]\ncapacity_ah = 0\n"
    )
    keys = [line.split(" ")[0].rstrip(":") for line in faults(job, text)]
    assert keys == [
        "corrections.station_id", "corrections.messages[1].interval_s", "corrections.messages[2].number",
        "framing.rate_bps", "framing.key_up_ms", "framing.preamble_bits", "framing.header_bits", "framing.packet_bytes",
        "supply.capacity_ah", "supply.transmit_a", "supply.receive_a",
    ]  # fmt: skip


def test_limits_are_those_of_the_functions_that_take_the_values():
    limits = {f"{table.name}.{key.name}": (key.low, key.high) for table in TABLES for key in table.keys}
    assert limits["corrections.station_id"] == (0, HIGHEST_STATION_ID)
    assert limits["framing.repeaters"][1] == MOST_REPEATERS
    assert limits["framing.slots"][1] == MOST_SLOTS
    inner = {
        key.name: key
        for table in TABLES
        if table.name == "corrections"
        for key in table.key("messages").inner
    }
    assert inner["number"].high == HIGHEST_NUMBER


NUMBERS = st.sampled_from(
    [1001, 1004, 1005, 1006, 1007, 1008, 1012, 1013, 1019, 1020, 1033, 1045, 1046, 1074, 1077, 1085, 1096, 1107, 1124, 1137, 1230, 4090]
)  # fmt: skip
ENTRY = st.fixed_dictionaries(
    {"number": NUMBERS, "interval_s": st.sampled_from([0.2, 1, 5, 7.5, 30])},
    optional={
        "satellites": st.integers(0, 70), "signals": st.integers(0, 40), "biases": st.integers(0, 5),
        "payload_bytes": st.integers(0, 1100), "offset_s": st.sampled_from([0, 0.1, 1, 40]),
        "texts": st.lists(st.sampled_from(['""', '"ABC"', f'"{"Y" * 31}"']), min_size=1, max_size=6).map(lambda words: f"[{', '.join(words)}]"),
    },
)  # fmt: skip


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(entries=st.lists(ENTRY, min_size=1, max_size=6), preset=st.sampled_from(sorted(PRESETS)))
def test_whatever_reads_can_be_put_on_the_air(job, entries, preset):
    """A job that reads must not be refused later for a value that the reader let pass."""
    lists = "".join(
        "[[corrections.messages]]\n" + "".join(f"{key} = {value}\n" for key, value in entry.items())
        for entry in entries
    )
    try:
        plan = read(job, f"[corrections]\n{lists}[framing]\npreset = {preset!r}\n")
    except JobFileError as error:
        places = [fault.key for fault in error.faults]
    else:
        places = []
    if places:
        assert all(place.startswith("corrections.messages[") for place in places)
        return
    stream = plan.corrections
    assert len(stream.messages) == len(entries)
    assert all(size >= 8 for message in stream.messages for size in message_frames(message))
    assert air_time(stream.messages, stream.framing).bytes_per_s > 0.0
