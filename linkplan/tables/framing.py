"""Generic radio framing, to plan with until the radio's own numbers are at hand.

No particular radio: round numbers of the order that narrow-band data radios use [common practice]. A data
sheet states the rate over the air; key-up, preamble and what each packet adds must often be asked for or
measured.
"""

from __future__ import annotations

from collections.abc import Mapping

_PLAIN: Mapping[str, float] = {
    "key_up_ms": 20.0,
    "preamble_bits": 64,
    "header_bits": 96,
    "packet_bytes": 256,
    "code_rate": 1.0,
    "gap_ms": 0.0,
}

PRESETS: Mapping[str, Mapping[str, float]] = {
    "generic-4800": {"rate_bps": 4800.0, **_PLAIN},
    "generic-9600": {"rate_bps": 9600.0, **_PLAIN},
    "generic-19200": {"rate_bps": 19200.0, **_PLAIN},
    "generic-4800-corrected": {"rate_bps": 4800.0, **_PLAIN, "code_rate": 0.75},
    "generic-9600-corrected": {"rate_bps": 9600.0, **_PLAIN, "code_rate": 0.75},
    "generic-19200-corrected": {"rate_bps": 19200.0, **_PLAIN, "code_rate": 0.75},
}
"""Numbers of `radio.stream.Framing` by name. "corrected": with forward error correction, four coded bits
for three of data. 4800 and 9600 bit/s are common in 12.5 kHz, 9600 and 19 200 bit/s in 25 kHz [common
practice]."""
