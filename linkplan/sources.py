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
    "IERS C": "IERS Bulletin C 72 (July 2026) and earlier: leap seconds of UTC. Read as the file "
    "Leap_Second.dat in the package astropy-iers-data.",
    "IS-GPS-200": "IS-GPS-200, Navstar GPS space segment and navigation user interfaces: tables 20-IV and "
    "20-VI (orbits), 20.3.3.5.1.3 (health). From memory; the algorithm is held to an open implementation.",
    "IS-GPS-870": "IS-GPS-870, GPS operational control segment to user support community interfaces: YUMA "
    "and SEM almanacs. From memory; the layouts are held to an open implementation that reads both.",
    "SPS PS": "GPS Standard Positioning Service Performance Standard: reference orbit slots (table 3.2-1 or "
    "3.2-2 by edition). From memory.",
    "Galileo OS": "Galileo OS SIS ICD (orbits, health) and OS Service Definition Document (reference "
    "constellation). From memory; the algorithm is held to an open implementation.",
    "BDS ICD": "BeiDou SIS ICD, open service signal B1I: orbits, and the turn of geostationary satellites; "
    "BDS OS Performance Standard: constellation. From memory; the algorithm is held to an open "
    "implementation.",
    "GLONASS ICD": "GLONASS ICD 5.1: equations of motion in A.3.1.2, constants of PZ-90, constellation. From "
    "memory; the integration is held to another integrator, the states to each other.",
    "IS-QZSS-PNT": "IS-QZSS-PNT and PS-QZSS: orbits, health, constellation. From memory.",
    "RINEX": "RINEX 3.05 and 4.00/4.01: navigation files. From memory; the layouts are held to open "
    "implementations, and to real files of version 3.",
    "Brier 1950": "Brier: Verification of forecasts expressed in terms of probability, Monthly Weather "
    "Review 78(1):1-3 (1950). From memory.",
    "Murphy 1973": "Murphy: A new vector partition of the probability score, Journal of Applied Meteorology "
    "12(4):595-600 (1973). From memory.",
    "Wilson 1927": "Wilson: Probable inference, the law of succession, and statistical inference, Journal of "
    "the American Statistical Association 22(158):209-212 (1927). From memory; held to another library.",
    "Kish 1965": "Kish: Survey sampling, Wiley (1965): design effect, effective number of samples. From "
    "memory.",
    "Efron and Tibshirani 1993": "Efron, Tibshirani: An introduction to the bootstrap, Chapman and Hall "
    "(1993): the jackknife's standard error. From memory.",
    "Bell and McCaffrey 2002": "Bell, McCaffrey: Bias reduction in standard errors for linear regression "
    "with multi-stage samples, Survey Methodology 28(2):169-181 (2002): the jackknife over clusters. From "
    "memory.",
    "common practice": "What the trade does; no document was read for it.",
    "from memory": "A value that nobody looked up for this project: check before relying on it.",
}
