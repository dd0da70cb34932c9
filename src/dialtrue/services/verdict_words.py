"""The verdict as one sentence that can be said aloud, for one finding."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.multipliers import name_ratio
from dialtrue.domain.words import day_text, volume_text

RATIO_TOLERANCE = Fraction(1, 50)
"""How near a figure must lie to a setting's ratio to be called by its name. Our assumption: two in a hundred."""


def _ratio_words(fault: str, parameter: float, *, seen: bool) -> str:
    """Say what a ratio means, in the trade's words; ``seen`` says that a dial read stands behind it."""
    if fault in ("weight_decade", "unit_slip") and parameter > 0:
        moves = f"the index moves {parameter:.4g} times as far as the dial"
        if not seen:
            moves = (
                f"the index moves about {parameter:.4g} times as far as it should, with no dial read yet to prove it"
            )
        named = [item for item in name_ratio(parameter, tolerance=RATIO_TOLERANCE) if item.code == fault]
        return f"{moves} ({named[0].words})" if named else moves
    if fault in ("lost_counts", "intermittent") and 0 < parameter < 1:
        return f"about {100 * (1 - parameter):.0f} % of the pulses are missed"
    if fault == "extra_counts" and parameter > 1:
        return f"about {100 * (parameter - 1):.0f} % more is counted than passes"
    if fault == "register_mismatch":
        return f"use is {parameter:.2f} times what it was before the fitting, on dial and index alike"
    return ""


_CLAUSES = {
    "weight_decade": "the pulse weight is wrong by a power of ten",
    "unit_slip": "the volume unit is set wrongly",
    "digit_slip": "the number of digits is wrong",
    "start_slip": "the start index is wrong",
    "crossed": "its endpoint is exchanged with another meter's",
    "ports_swapped": "the two ports are exchanged",
    "duplicate_serial": "its endpoint serial is recorded twice",
    "meter_exchanged": "the dial was replaced without a record",
    "stale_index": "old reads were delivered again",
    "backflow_counted": "reverse flow is counted as forward",
    "meter_reversed": "the meter or its direction signal is turned",
    "wet_counts": "damp makes false counts",
    "steady_counts": "something electrical makes false counts",
    "not_listed": "something not listed here is wrong",
    "register_mismatch": "the register belongs to another meter body",
    "port_unread": "one register has no port",
    "dead_input": "water passes and nothing is counted",
    "intermittent": "counting stops and resumes",
    "clock_shift": "the reads carry the wrong time",
    "customer_leak": "water runs without pause",
    "vacant": "no use is registered",
}
"""Causes that read oddly after "it may be that" in the words of their titles."""


def verdict_sentence(
    fault: str,
    *,
    parameter: float | None,
    since: dt.datetime | None,
    dial_unit: str,
    at_fitting: bool,
    has_pair: bool = True,
    doubt: str = "",
) -> str:
    """Say the verdict in one or two short sentences.

    Parameters
    ----------
    fault : str
        Fault code.
    parameter : float or None
        Ratio, rate [L/day], offset [L], shift [s] or share, as the fault carries.
    since : datetime or None
        Onset; None if sound.
    dial_unit : str
        Unit for volumes in the sentence.
    at_fitting : bool
        The onset is the fitting itself.
    has_pair : bool
        A dial read since the fitting stands beside the index.
    doubt : str
        Fault code that a port which probably counts true is to be checked for, "" if it is not to be checked.

    Returns
    -------
    str

    Raises
    ------
    Never raises.

    Source
    ------
    Wording of our own.
    """
    if doubt:
        return f"Probably {CATALOGUE[fault].title}, but it may be that {_CLAUSES.get(doubt, CATALOGUE[doubt].title)}."
    title = CATALOGUE[fault].title
    head = title[0].upper() + title[1:]
    unit = dial_unit or "L"
    detail = ""
    if parameter is not None and math.isfinite(parameter):
        if fault in ("start_slip", "index_reset"):
            detail = f"the index stands {volume_text(parameter, unit, signed=True)} from where it should"
        elif fault == "digit_slip":
            detail = f"it turns over at {volume_text(parameter, unit)}"
        elif fault == "clock_shift":
            detail = f"the hours of use lie {parameter / 3600:+.0f} h from the town's"
        elif fault in ("steady_counts", "backflow_counted"):
            detail = f"about {volume_text(parameter, unit)} a day that the dial does not show"
        elif fault == "wet_counts":
            detail = f"about {volume_text(parameter, unit)} for each wet hour"
        else:
            detail = _ratio_words(fault, parameter, seen=has_pair)
    sentence = f"{head}: {detail}." if detail else f"{head}."
    if since is not None:
        sentence += " Since the fitting." if at_fitting else f" Since {day_text(since)}."
    return sentence


def sound_sentence(*, looked_at: bool) -> str:
    """Say that a port counts true, and whether a dial stands behind that. Never raises. Wording of our own."""
    return "Counts true." if looked_at else "Counts true, as far as the reads alone can tell."


def routine_sentence() -> str:
    """Say why a port without any sign of a fault is on the month's list. Never raises. Wording of our own."""
    return (
        "No sign of a fault, but nobody has looked at the dial since the fitting: one photograph beside the index "
        "would prove that it counts true."
    )


def settled_sentence(sentence: str, at: dt.datetime) -> str:
    """Add to a verdict that the fault was found and put right. Never raises. Wording of our own."""
    return f"{sentence} Found and put right on {day_text(at)}."
