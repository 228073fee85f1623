"""The documents that docstrings cite, by key: `[P.1812-8, section 4.3]`.

How each was read is part of the entry: a number whose source nobody read says so.
"""

from __future__ import annotations

SOURCES = {
    "P.1812-8": "Recommendation ITU-R P.1812-8 (09/2025): A path-specific propagation prediction "
    "method for point-to-area terrestrial services in the frequency range 30 MHz to 6 000 MHz. "
    "Read through its open reference implementation and validation data; numbers of sections "
    "partly from memory.",
    "P.1812-8 data": "Validation data of the open reference implementation of P.1812-8 (Py1812, Swiss "
    "Federal Office of Communications, which asks to be acknowledged): 42 cases with intermediate values.",
    "P.525": "Recommendation ITU-R P.525: Calculation of free-space attenuation.",
    "P.526-16": "Recommendation ITU-R P.526-16 (11/2025): Propagation by diffraction. Its table of contents "
    "and the Fresnel radius (in editions 7 and 8) were read; J(nu) through reference implementations.",
    "P.526 data": "ITU-R study group 3: Validation examples for the delta Bullington diffraction "
    "prediction method (20 cases, tolerance 0.1 dB), as transcribed in a public repository.",
    "P.372": "Recommendation ITU-R P.372: Radio noise. Coefficients read in code that cites "
    "P.372-10; the second business-area line in code that cites P.372-8.",
    "RTCM 10403.3": "RTCM Standard 10403.3: Differential GNSS services, version 3. Not read: message layouts "
    "as the package pyrtcm 1.2.1 implements them.",
    "IEC/SI": "SI brochure, 9th edition (2019): exact values of constants.",
    "NMEA 0183": "NMEA 0183: Standard for interfacing marine electronic devices. Not read: sentences and "
    "fields as the package pynmeagps 1.1.8 implements them.",
    "ICNIRP 2020": "ICNIRP: Guidelines for limiting exposure to electromagnetic fields (100 kHz to 300 GHz), "
    "Health Physics 118(5):483-524 (2020). Limits for the whole body from memory; of a reprint only the "
    "limits for local exposure were read.",
    "47 CFR 1.1310": "47 CFR 1.1310: Radiofrequency radiation exposure limits, table 1. Paragraphs (b) and "
    "(c) read in a copy; 300 to 1500 MHz of the table second-hand, the rest of it from memory.",
    "OET 65": "FCC Office of Engineering and Technology, Bulletin 65, edition 97-01: Evaluating compliance "
    "with FCC guidelines for human exposure to radiofrequency electromagnetic fields. Second-hand: a filing "
    "that applies its formula, and the results of a public calculator.",
    "29 CFR 1926.1408": "29 CFR 1926.1408: Power line safety (up to 350 kV), equipment operations, table A. "
    "Read in a copy of the regulation.",
    "common practice": "What the trade does; no document was read for it.",
    "from memory": "A value that nobody looked up for this project: check before relying on it.",
}
