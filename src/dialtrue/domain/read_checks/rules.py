"""The checks and the ways of estimating by name, with the quality codes that go out beside each read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

VALIDATED: Final = 17
REFERENCE_DAY: Final = 8
INTERPOLATED: Final = 9
QUESTIONABLE: Final = 10
DERIVED: Final = 11
RAW: Final = 14

QUALITY_WORDS: Final = {
    VALIDATED: "validated: the read passed every check that could be made",
    REFERENCE_DAY: "estimated from like days",
    INTERPOLATED: "interpolated between two reads",
    QUESTIONABLE: "questionable: a check failed",
    DERIVED: "estimated from the port's other days, or evenly",
    RAW: "raw: nothing to check it by, or no read of its own",
}
"""Codes of the quality of a reading. Source: ``ESPI-QUALITY``; which case takes which code is our assumption."""


@dataclass(frozen=True, slots=True)
class ReadRule:
    """One thing that can be said of a read: its bit, whether it is a failed check, and what it means."""

    name: str
    bit: int
    failed: bool
    meaning: str


READ_RULES: Final = (
    ReadRule("stamp_twice", 1, True, "another read of the same moment says something else"),
    ReadRule("stamp_ahead", 2, True, "the stamp lies after the read's arrival, or after the run"),
    ReadRule("negative_step", 4, True, "the index fell by no more than the meter could pass"),
    ReadRule("impossible_step", 8, True, "the index moved more than the meter can pass"),
    ReadRule("too_many_digits", 16, True, "the index has more digits than the endpoint is set to"),
    ReadRule("spike", 32, True, "the highest use of the month stands far above the third highest"),
    ReadRule("turns_unknown", 64, True, "the index may have come round more than once since the read before"),
    ReadRule("sent_as_estimated", 128, False, "the sender marked it as estimated: no evidence"),
    ReadRule("sent_as_repeated", 256, False, "the sender marked it as repeated: no evidence"),
    ReadRule("copy", 512, False, "the same read came before"),
    ReadRule("corrected", 1024, False, "another read of the same moment arrived later and stands"),
)
"""In the order in which they are said. Source: ``CA-VEE`` for the checks of time, spikes, differences and digits."""

READ_RULE: Final = {rule.name: rule for rule in READ_RULES}
FAILED_BITS: Final = sum(rule.bit for rule in READ_RULES if rule.failed)

FILL_RULES: Final = ("interpolated", "like_days", "own_history", "even")
"""How an estimate was made, by the number that the arrays carry."""
FILL_QUALITY: Final = (INTERPOLATED, REFERENCE_DAY, DERIVED, DERIVED)

PORT_RULES: Final = {
    "sum": "the index and the dial moved by different volumes between two dial reads",
    "decimal": "the index and the dial moved by volumes a power of ten apart",
    "zero_use": "no use for long on a meter in use",
    "use_on_inactive": "use on a meter that is not in use",
    "high_low": "the month's daily use stands far from the same month last year, or from the month before",
}
"""Checks of a port, which no single read fails. Source: ``CA-VEE``, section B."""


def rule_text(bits: int) -> str:
    """Return the names of what is said of a read, in order, with semicolons between; "" where nothing is.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> rule_text(36)
    'negative_step;spike'
    """
    return ";".join(rule.name for rule in READ_RULES if bits & rule.bit)
