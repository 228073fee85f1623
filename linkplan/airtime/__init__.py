"""Does the correction stream fit the radio, how long does the battery last, what would make it fit."""
