"""The next check as a sentence that a person can act on: what to look at, how much to draw, what each outcome means."""

from __future__ import annotations

import math
from collections.abc import Callable

from dialtrue.domain.port_facts import PortFacts
from dialtrue.domain.words import volume_text
from dialtrue.engine.next_check import BY_CHANCE, ratio_of, volume_to_separate_l

TICKS = 20
"""Ticks of a slow and of a fast draw. Our assumption, from field practice: 20 show a loss of a sixth."""
LONG_MIN = 45.0
"""A draw longer than this is cut down to what can be done. Our assumption. [min]"""
VALVE_MIN = 10.0
NO_COUNT = 3.0
"""Counts expected before their absence means something: none by chance once in twenty (Poisson, e^-3 = 0.05)."""

DRAWN_OTHERWISE = {
    "meter_reversed": "Draw three ticks and watch both: a dial that falls, or an index that falls, is turned.",
    "port_unread": "Draw through this side (a tap for the low one, a hydrant for the high one): does any index follow?",
    "backflow_counted": "Draw three ticks, stop, and watch index and sweep hand for ten minutes: does either move?",
}
"""Draws that are not about a ratio."""
MEANS = {
    "sound": "level with the index: it counts true",
    "customer_leak": "level with the index: the water runs at the customer's",
    "use_change": "level with the index: the customer's use changed",
    "vacant": "where it was: no use is registered, and nothing is wrong",
    "dead_input": "further on while the index stands: the chain is dead",
    "lost_counts": "further on than the index: pulses are missed",
    "double_count": "half as far on as the index: each pulse counts twice",
    "extra_counts": "less far on than the index: pulses count more than once",
    "wet_counts": "less far on than the index: damp makes false counts",
    "steady_counts": "less far on than the index: something electrical counts",
    "intermittent": "further on than the index: counting stops and resumes",
    "weight_decade": "off by ten or a hundred times: the pulse weight",
    "unit_slip": "off by a unit's ratio: the unit is set wrongly",
    "digit_slip": "apart from the index by a power of ten: the number of digits",
    "start_slip": "apart from the index by the same as before: the start index",
    "crossed": "where another meter's index stands: exchanged endpoints",
    "ports_swapped": "out of step on both sides, one over and one under: swapped ports",
    "duplicate_serial": "with another plate: the serial is recorded twice",
    "meter_exchanged": "on another plate, or far from its course: an exchange without a record",
    "stale_index": "level with a fresh read: only the delivery was late",
    "clock_shift": "level with the index: only the times are wrong",
    "backflow_counted": "less far on than the index: reverse flow is counted",
    "index_reset": "apart by one fall: the counter was reset",
    "meter_reversed": "lower than before while the index rose: the meter is turned",
    "port_unread": "further on than the index: a side is not read",
    "register_mismatch": "level with the index: then only a known volume can tell",
    "not_listed": "at odds in another way: look further",
}
"""What a dial would show beside the index under each cause."""


def check_sentence(look: str, facts: PortFacts, *, fault: str, runner_up: str, parameter: float, other: float) -> str:
    """Say the next check.

    Parameters
    ----------
    look : str
        Name of the look, as in ``engine.observations.LOOKS``.
    facts : PortFacts
        The port.
    fault, runner_up : str
        The two leading causes.
    parameter, other : float
        Ratio, rate [L/day] or offset [L] of the first and of the second, nan where they have none.

    Returns
    -------
    str
        One to three short sentences.

    Raises
    ------
    Never raises.

    Source
    ------
    Common practice; figures from ``engine.next_check``. Wording of our own.
    """
    return _SAY[look](facts, fault, runner_up, parameter, other)


def _ratios(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> tuple[float, float, float]:
    """Return both ratios, and the volume that separates them [L]; nan and infinite where no ratio describes a cause."""
    first, second = ratio_of(fault, parameter), ratio_of(runner_up, other)
    weight, step = facts.weight_l, facts.step_l
    if not all(math.isfinite(value) for value in (first, second, weight)):
        return first, second, math.inf
    needed = volume_to_separate_l(
        first, second, weight_l=weight, step_l=step if math.isfinite(step) else weight,
        one_by_chance=fault in BY_CHANCE, other_by_chance=runner_up in BY_CHANCE,
    )  # fmt: skip
    return first, second, needed


def _photo(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    first, second, needed = _ratios(facts, fault, runner_up, parameter, other)
    when = ""
    passed = facts.waited_l if math.isfinite(facts.waited_l) else 0.0
    if math.isfinite(needed) and needed > passed and facts.use_l_day > 0:
        days = math.ceil((needed - passed) / facts.use_l_day)
        when = f", once another {volume_text(needed - passed, facts.unit)} has passed ({_days(days)} at this use)"
    readings = _expected(facts, (fault, first), (runner_up, second)) if not when else ""
    readings = readings or _shown(fault, runner_up)
    return f"A photograph of the dial beside the index at the same moment{when}. {readings}"


def _shown(fault: str, runner_up: str) -> str:
    """Say what the dial shows under each cause; where both show the same, what it shows if neither is true."""
    (where, _, one), (other_where, _, two) = MEANS[fault].partition(": "), MEANS[runner_up].partition(": ")
    if where == other_where and where != "level with the index":
        return f"Dial {where}: {one}, or {two}. Dial level with the index: it counts true."
    return f"Dial {MEANS[fault]}. Dial {MEANS[runner_up]}."


def _days(days: int) -> str:
    return "about a day" if days <= 1 else f"about {days:,} days"


def _expected(facts: PortFacts, *causes: tuple[str, float]) -> str:
    """Say what the dial should read under each cause, where both can be worked out and differ."""
    words = []
    for cause, ratio in causes:
        if not math.isfinite(ratio):
            return ""
        if cause == "vacant" or ratio == 0.0:
            moved = 0.0 if cause == "vacant" else facts.waited_l
        else:
            moved = facts.moved_l / ratio
        shown = facts.dial_after(moved)
        if not shown:
            return ""
        words.append((shown, cause))
    if words[0][0] == words[1][0]:
        return ""
    (one, cause), (two, rival) = words
    return f"A dial near {one}: {_title(cause)}; near {two}: {_title(rival)}."


def _minutes(volume_l: float, facts: PortFacts) -> str:
    minutes = max(1, round(volume_l / facts.tap_l_min))
    return "about a minute" if minutes == 1 else f"about {minutes:,} minutes"


def _draw(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    if not facts.weight_l > 0:
        return "Draw slowly, then fast, and count the ticks of the dial against the index each time."
    if fault in DRAWN_OTHERWISE:
        return DRAWN_OTHERWISE[fault]
    if not math.isfinite(ratio_of(runner_up, other)) or ratio_of(runner_up, other) == ratio_of(fault, parameter):
        # A rival that no ratio describes is left to the other looks: prove the named cause against a true count.
        runner_up, other = "sound", math.nan
    first, second, needed = _ratios(facts, fault, runner_up, parameter, other)
    by_chance = fault in BY_CHANCE or runner_up in BY_CHANCE or not math.isfinite(needed)
    if by_chance:
        ticks = TICKS
        while ticks > 5 and 2 * ticks * facts.weight_l / facts.tap_l_min > 2 * LONG_MIN:
            ticks //= 2
        volume = ticks * facts.weight_l
        more = " That is few: only a large loss shows; let a dial read a month on prove the rest." if ticks < 10 else ""
        return (
            f"Draw {ticks} ticks slowly and {ticks} fast ({volume_text(volume, facts.unit)} each, "
            f"{_minutes(volume, facts)} at a tap), the dial against the index each time. {ticks} and {ticks} is sound; "
            f"short when fast, the debounce; short both times, the contact; over when slow, bounce.{more}"
        )
    tick = max(facts.weight_l, facts.survey_weight_l) if math.isfinite(facts.survey_weight_l) else facts.weight_l
    volume = max(3, math.ceil(needed / tick)) * tick
    one, two = (volume_text(volume * ratio, facts.unit) for ratio in (first, second))
    long = " A hydrant or a zone of the garden is faster." if volume / facts.tap_l_min > LONG_MIN else ""
    return (
        f"Draw {volume_text(volume, facts.unit)} on the dial ({_minutes(volume, facts)} at a tap). The index moves by "
        f"{one}: {_title(fault)}; by {two}: {_title(runner_up)}.{long}"
    )


def _title(code: str) -> str:
    words = MEANS[code].partition(": ")[2]
    return words or MEANS[code]


def _valve(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    minutes = VALVE_MIN
    rate = parameter if fault in ("steady_counts", "backflow_counted") and math.isfinite(parameter) else math.nan
    if rate > 0 and facts.weight_l > 0:
        minutes = max(VALVE_MIN, math.ceil(NO_COUNT * facts.weight_l / rate * 1440.0))
    if minutes <= 60:
        head = f"Shut the valve for {minutes:.0f} minutes and watch index and sweep hand"
    else:
        hours = math.ceil(minutes / 60)
        head = (
            f"Note the index, shut the valve and read it again after {hours} hours (at this rate three counts fall in "
            "that time)"
        )
    return (
        f"{head}. An index that climbs while the hand is still: false counts from the wiring; a hand that rocks: "
        "reverse flow; both still: the water runs at the customer's."
    )


def _known(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    ratio = parameter if fault == "register_mismatch" else other
    step = facts.step_l if math.isfinite(facts.step_l) else 1.0
    volume = 20.0
    if math.isfinite(ratio) and ratio > 0 and ratio != 1:
        needed = volume_to_separate_l(1.0, ratio, weight_l=step, step_l=step)
        volume = max(volume, needed if math.isfinite(needed) else volume)
    weight = f"{volume:,.0f} kg" if facts.tap_l_min == 15.0 else f"{volume * 2.2046:,.0f} lb"
    return (
        f"Draw {volume_text(volume, facts.unit)} into a vessel on scales ({weight}) and compare the dial, not the "
        "index: a dial that is out by a fixed ratio belongs to another meter body."
    )


def _both(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    if fault == "ports_swapped" or runner_up == "ports_swapped":
        return (
            "Open a tap (only the low side turns), then a hydrant (the high side turns), and watch both indexes: each "
            "must follow its own dial."
        )
    others = ", ".join(facts.other_endpoints) or "the neighbours' endpoints"
    pulses = f"{volume_text(3 * facts.weight_l, facts.unit)} " if facts.weight_l > 0 else ""
    return f"Draw {pulses}at this meter and watch both indexes, {facts.endpoint_serial} and {others}: which one moves?"


def _plate(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    told = {
        "unit_slip": "the printed unit decides",
        "weight_decade": "the printed weight and the painted zeros decide",
        "start_slip": "count the painted zeros",
        "register_mismatch": "the size on register and body must be the same",
        "meter_reversed": "the arrow must point with the flow",
        "port_unread": "count the registers",
    }.get(fault, "both serials must be the recorded ones")
    return (
        f"A photograph of the meter's face and plate with the endpoint's label: recorded are meter "
        f"{facts.meter_serial} and endpoint {facts.endpoint_serial}; {told}."
    )


def _cover(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    where = {"pit": "Lift the lid", "wall": "Open the endpoint", "pole": "Open the endpoint"}.get(
        facts.mount, "Open the cover"
    )
    return f"{where}: splice dry, wires tight and in their terminals, label {facts.endpoint_serial}?"


def _desk(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    if fault == "duplicate_serial":
        rivals = " and ".join(facts.other_meters) or "the other fitting"
        return (
            f"Put this fitting's sheet beside that of {rivals}: which of them carries endpoint {facts.endpoint_serial}?"
        )
    return {
        "stale_index": "Look at the time of the value, not of the file: is the same read delivered again?",
        "clock_shift": "Compare a few stamps with the collector's log: is the zone or the clock change wrong?",
        "meter_exchanged": "Look for a work order near that day: was the meter or its register exchanged?",
        "index_reset": "Look for a work order near that day: was the endpoint exchanged or its cell changed?",
        "start_slip": "Put the fitting's photograph beside the record: which digits were typed?",
        "vacant": "Was the account closed or a move recorded?",
        "use_change": "Was a move recorded near that day?",
        "port_unread": "Count the registers of the meter and the ports in the record.",
    }.get(fault, "Put the fitting's sheet and its photographs beside the record: weight, unit, digits, serials.")


def _fresh(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    return (
        f"A fresh read straight from endpoint {facts.endpoint_serial}, with the time by a watch. Further on than what "
        "was delivered: the delivery is late; the same while water passes: the index itself stands."
    )


def _wait(facts: PortFacts, fault: str, runner_up: str, parameter: float, other: float) -> str:
    return "Wait a week: does it catch up, resume, or stay?"


_SAY: dict[str, Callable[[PortFacts, str, str, float, float], str]] = {
    "photo": _photo, "plate": _plate, "fresh_read": _fresh, "desk": _desk, "wait_week": _wait, "cover_off": _cover,
    "terminals": lambda facts, *_: (
        f"A photograph of the terminals of endpoint {facts.endpoint_serial}: right pair, dry, tight?"
    ),
    "valve_shut": _valve, "draw": _draw, "draw_watch_both": _both, "known_volume": _known,
}  # fmt: skip
