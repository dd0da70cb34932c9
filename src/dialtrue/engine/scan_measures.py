"""Lengths, classes and limits by which reads are counted."""

from __future__ import annotations

import numpy as np

HOUR_US = 3_600_000_000
DAY_US = 24 * HOUR_US
BACK_KEPT = 4
"""Backward steps kept with their values. Our assumption: four tell a reset from interleaved curves."""
SHORT_STEP_US = 3 * HOUR_US
"""A step this short can speak of an hour of the day. Our assumption: three hours, so that two lost reads do not
empty the profile."""
FREEZE_US = 6 * HOUR_US
"""A standstill counted as a freeze. Our assumption: most homes draw within six waking hours."""
FREEZES_KEPT = 4
"""Longest standstills kept with what ended them. Our assumption: four tell a habit from an event."""
PERIOD_DAYS = 28
"""Days over which the hours of the day are added up. Our assumption: four whole weeks, short enough to see a clock
that changed in mid-course."""
SIZES = 12
"""Classes of step size: 0, 1, 2, 3-4, 5-8, ... pulses; the last is open."""
FLAG_ESTIMATED = 1
FLAG_REPEATED = 2
MOST_INT8 = 127
MOST_INT16 = 2**15 - 1
MOST_INT32 = 2**31 - 1
BURST = 20.0
"""A roll-over step may be this many times the fastest step seen so far, where settings multiply the flow.
Our assumption: twenty, one decade and a factor of two."""
RATED_US = 600_000_000
"""Shorter steps say nothing of the pace: the pulse's own size is too large beside them. Our assumption: ten minutes."""
UNKNOWN_SLOT = 255
"""In the place of an hour whose weather is not known."""
NEVER_US = np.iinfo(np.int64).max
SMALL_STEPS = 2 ** (SIZES - 3)
SIZE_OF = np.array([0, 1, *(2 + int(p - 1).bit_length() - 1 for p in range(2, SMALL_STEPS + 1)), SIZES - 1], np.uint8)
"""Class of a step of so many pulses; the last place stands for all larger ones."""
FEW_HOURS = 6
"""Hours from which it pays to look at several reads at once. Our assumption, measured."""
