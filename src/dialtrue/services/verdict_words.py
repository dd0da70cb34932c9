"""The verdict as one sentence that can be said aloud, the next check and the remedy, for one finding."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.multipliers import name_ratio
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.words import day_text, volume_text

RATIO_TOLERANCE = Fraction(1, 50)
"""How near a figure must lie to a setting's ratio to be called by its name. Our assumption: two in a hundred."""


def _ratio_words(fault: str, parameter: float) -> str:
    """Say what a ratio means, in the trade's words."""
    if fault in ("weight_decade", "unit_slip") and parameter > 0:
        named = [item for item in name_ratio(parameter, tolerance=RATIO_TOLERANCE) if item.code == fault]
        if named:
            return f"the index moves {parameter:.4g} times as far as the dial ({named[0].words})"
        return f"the index moves {parameter:.4g} times as far as the dial"
    if fault in ("lost_counts", "intermittent") and 0 < parameter < 1:
        return f"about {100 * (1 - parameter):.0f} % of the pulses are missed"
    if fault == "extra_counts" and parameter > 1:
        return f"about {100 * (parameter - 1):.0f} % more is counted than passes"
    if fault == "register_mismatch":
        return f"use is {parameter:.2f} times what it was before the fitting, on dial and index alike"
    return ""


def verdict_sentence(
    fault: str, *, parameter: float | None, since: dt.datetime | None, dial_unit: str, at_fitting: bool
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
            detail = _ratio_words(fault, parameter)
    sentence = f"{head}: {detail}." if detail else f"{head}."
    if since is not None:
        sentence += " Since the fitting." if at_fitting else f" Since {day_text(since)}."
    return sentence


def next_check(fault: str, runner_up: str, *, has_pair: bool, weight_l: float, unit: str) -> str:
    """Name the one observation that would settle the case best.

    A dial read that separates the two leading causes comes first where there has been none, for it is the cheapest
    look of all [common practice, no source].
    """
    if not has_pair and fault not in ("sound", "duplicate_serial", "port_unread"):
        draw = ""
        if fault in ("weight_decade", "unit_slip", "double_count", "lost_counts", "extra_counts") and weight_l > 0:
            draw = f" If a visit is due anyway, draw {volume_text(20 * weight_l, unit or 'L')} and watch both."
        return f"A photograph of the dial beside the index at the same time.{draw}"
    check = CATALOGUE[fault].settling_check
    if fault == "sound" and runner_up in CATALOGUE and runner_up != "sound":
        return CATALOGUE[fault].settling_check
    return check


def unit_factor(unit: str) -> float:
    """Return litres in one dial unit for drawing, 1 where the unit is not known."""
    return float(litres_per(unit)) if unit else 1.0
