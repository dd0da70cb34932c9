"""What a programme may say of its checks of reads and its estimates."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ValidateSettings:
    """The table ``[validate]`` of ``programme.toml``.

    Attributes
    ----------
    interpolate_up_to_h : float
        Longest time between two reads that is filled by a straight line. Source: ``CA-VEE``. [h, 0..48]
    interpolate_past_alarm : bool
        Whether a straight line may end at a read beside an alarm of the port. False: the interval may be wrong itself
        (``CA-VEE``). True: the index is a running count, and a count that stopped is seen by the watch, not here.
    reference_days : float
        Like days are looked for so far before and after. Our assumption: four weeks. [d, 7..400]
    longest_gap_d : float
        A longer gap between two reads is left open. Our assumption. [d, 1..3700]
    open_end_d : float
        After the last read, estimates go on so far at most; 0: none. Our assumption: one month's bill. [d, 0..400]
    spike_ratio : float
        (highest - third highest) / third highest above which a month's highest use fails. Source: ``CA-VEE``. [-, > 0]
    spike_least : int
        Third-highest use below which no spike is looked for. Our assumption: a few counts show nothing. [counts, 1..]
    sum_units : float
        Register units by which dial and index may differ. Source: ``CA-VEE``: one to two. [-, 0..100]
    zero_days : float
        Days without use after which a meter in use fails. Our assumption. [d, 1..400]
    high_percent, low_percent : float
        Limits of a month's daily use against the same month last year, else the month before. Our assumption,
        limits of 50 and 200 are usual. [%, > 0]
    """

    interpolate_up_to_h: float = 2.0
    interpolate_past_alarm: bool = False
    reference_days: float = 28.0
    longest_gap_d: float = 366.0
    open_end_d: float = 31.0
    spike_ratio: float = 1.8
    spike_least: int = 5
    sum_units: float = 2.0
    zero_days: float = 14.0
    high_percent: float = 200.0
    low_percent: float = 50.0
