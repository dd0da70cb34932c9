"""How a fault is put right at this port: its mount, its loop, the weight to set, the digits to press."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction

from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.multipliers import name_ratio
from dialtrue.domain.port_facts import PortFacts
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.words import volume_text

NAMED_WITHIN = Fraction(1, 50)
"""How near a figure must lie to a setting's ratio to be called by its name. Our assumption: two in a hundred."""


def remedy_sentence(fault: str, facts: PortFacts, *, parameter: float) -> str:
    """Say how the fault is put right at this port.

    Parameters
    ----------
    fault : str
        Fault code.
    facts : PortFacts
        The port.
    parameter : float
        Ratio, rate [L/day] or offset [L] of the fault, nan where it has none.

    Returns
    -------
    str
        Short sentences in the order of the work.

    Raises
    ------
    Never raises.

    Source
    ------
    Common practice, no source; wording of our own. The catalogue's sentence stands where the port has no facts of its
    own.
    """
    say = _SAY.get(fault)
    return say(facts, parameter) if say is not None else CATALOGUE[fault].remedy


def _level(facts: PortFacts) -> str:
    """Say the last act: index level with the dial."""
    press = f" {facts.press}" if facts.press else ""
    return f"Then set the index to the dial and take the pair.{press}"


def _joint(facts: PortFacts) -> str:
    if facts.mount == "pit":
        return "dry the splice, remake it with gel and leave a drip loop"
    if facts.mount in ("wall", "pole"):
        return "open the endpoint, re-seat both wires in their terminals and close the gland"
    return "re-seat both wires in their terminals"


def _loop(facts: PortFacts) -> str:
    if facts.tamper_loop == "bridged":
        return " The tamper loop is bridged, so a cut raises no alarm here: test the pulse pair itself."
    if facts.tamper_loop == "wired" and not facts.cut_wire_alarm:
        return " The tamper loop is wired and silent: look at terminals and polarity before the cable."
    if facts.cut_wire_alarm:
        return " The tamper loop has opened: follow the cable first."
    return ""


def _dead(facts: PortFacts, parameter: float) -> str:
    where = _joint(facts)
    return f"Check polarity and contact, {where}.{_loop(facts)} Prove it with three ticks of the dial. {_level(facts)}"


def _intermittent(facts: PortFacts, parameter: float) -> str:
    return f"{_first_up(_joint(facts))}; wiggle the joint while water runs and watch the index. {_level(facts)}"


def _first_up(text: str) -> str:
    return text[0].upper() + text[1:]


def _wet(facts: PortFacts, parameter: float) -> str:
    lift = " Lift the endpoint above the water line." if facts.mount == "pit" else ""
    return f"{_first_up(_joint(facts))}; seal it.{lift} {_level(facts)} Look again after the next rain."


def _weight_text(litres: float, unit: str) -> str:
    """Print a pulse weight as it is keyed: no digits that the setting does not have."""
    return f"{litres / float(litres_per(unit)):.4g} {unit}"


def _weight(facts: PortFacts, parameter: float) -> str:
    unit = facts.unit
    set_, survey = facts.weight_l, facts.survey_weight_l
    wanted = set_ / parameter if math.isfinite(parameter) and parameter > 0 else math.nan
    if math.isfinite(survey) and math.isfinite(set_) and abs(survey / set_ - 1) > 0.01:
        told = (
            f"Set the pulse weight to {_weight_text(survey, unit)}; the endpoint was told {_weight_text(set_, unit)}."
        )
    elif math.isfinite(wanted) and math.isfinite(set_):
        told = (
            f"Set the pulse weight to {_weight_text(wanted, unit)}: the endpoint was told {_weight_text(set_, unit)} "
            "and the count does not fit that. Read the weight on the register's face first."
        )
    else:
        told = "Set the pulse weight to the meter's own."
    return f"{told} {_level(facts)}"


def _unit(facts: PortFacts, parameter: float) -> str:
    named = name_ratio(parameter, tolerance=NAMED_WITHIN) if math.isfinite(parameter) and parameter > 0 else []
    units = [item for item in named if item.code == "unit_slip"]
    what = f" ({units[0].words})" if units else ""
    return f"Set the unit once, in one place{what}: endpoint, file or bill, not two of them. {_level(facts)}"


def _start(facts: PortFacts, parameter: float) -> str:
    off = ""
    if math.isfinite(parameter) and parameter:
        side = "too high" if parameter > 0 else "too low"
        off = f"It stands {volume_text(abs(parameter), facts.unit)} {side}; the rate is right, nothing is to repair. "
    return f"{off}Set the index to the dial once, or carry the difference in billing, not both. {facts.press}".rstrip()


def _digits(facts: PortFacts, parameter: float) -> str:
    turn = (
        f" It turns over at {volume_text(parameter, facts.unit)}." if math.isfinite(parameter) and parameter > 0 else ""
    )
    return f"Declare the digits that the endpoint truly keeps, or set them to the survey's.{turn} {_level(facts)}"


def _crossed(facts: PortFacts, parameter: float) -> str:
    others = " or ".join(facts.other_endpoints)
    by = f"Its water is counted by endpoint {others}. " if others else ""
    return f"{by}Exchange the wires or the records, once, not both; set both indexes to their dials."


def _twice(facts: PortFacts, parameter: float) -> str:
    rivals = " and ".join(facts.other_meters)
    beside = f" here and at meter {rivals}" if rivals else " at both places"
    return f"Read the endpoint's label{beside} and correct the record that is wrong."


def _reset(facts: PortFacts, parameter: float) -> str:
    cell = " It has complained of its cell." if facts.low_battery_alarm else ""
    return f"Replace the cell, or exchange the endpoint for one of the same kind.{cell} {_level(facts)}"


def _repair(words: str) -> Callable[[PortFacts, float], str]:
    return lambda facts, parameter: f"{words} {_level(facts)}"


_SAY: dict[str, Callable[[PortFacts, float], str]] = {
    "dead_input": _dead,
    "intermittent": _intermittent,
    "wet_counts": _wet,
    "weight_decade": _weight,
    "unit_slip": _unit,
    "start_slip": _start,
    "digit_slip": _digits,
    "crossed": _crossed,
    "duplicate_serial": _twice,
    "index_reset": _reset,
    "lost_counts": _repair("Shorten the debounce within the fit check's limit and re-seat the sensor."),
    "double_count": _repair("Count one edge only; if all steps are even, lengthen the debounce."),
    "extra_counts": _repair("Lengthen the debounce, lower the pull-up or shorten the cable."),
    "steady_counts": _repair("Move the cable away from the source, screen it at one end, lengthen the debounce."),
}
