"""Faults of setting and keying: weight, unit, digits, start index. Most hold from the fitting on."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.engine.simulation.meters import shifted
from dialtrue.engine.simulation.port import Port
from dialtrue.engine.simulation.sky import DAY_S
from dialtrue.engine.simulation.train import UL_PER_L

_CONFUSED = {
    "gal": ("ft3", "L", "gal_imp"),
    "kgal": ("m3", "ccf"),
    "ft3": ("gal", "L", "m3"),
    "L": ("gal", "gal_imp"),
    "m3": ("kgal", "ft3"),
}


def weight_decade(port: Port, rng: np.random.Generator) -> None:
    """The pulse weight, or the resolution, is off by a power of ten. Half of the slips stand in the record."""
    power = int(rng.choice((-2, -1, 1, 2), p=(0.12, 0.4, 0.4, 0.08)))
    wrong = replace(port.actual, weight=shifted(port.actual.weight, power))
    port.parameter = float(10.0**power)
    kind = rng.random()
    if port.fate.onset_s > port.fitted_s:
        port.variant = "weight_set_anew"
        port.later = (port.fate.onset_s, wrong)
        return
    if kind < 0.35:
        port.variant = "weight_on_record"
        port.recorded = wrong
    elif kind < 0.7:
        port.variant = "weight_hidden"
    else:
        port.variant = "resolution_hidden"
        wrong = replace(port.actual, resolution=shifted(port.actual.resolution, -power))
    port.actual = wrong


def unit_slip(port: Port, rng: np.random.Generator) -> None:
    """The number of the pulse weight is right, its unit is not; now and then a decade slips with it."""
    right = port.actual
    names = _CONFUSED[right.weight_unit]
    name = names[int(rng.integers(0, len(names)))]
    power = int(rng.choice((-1, 0, 1), p=(0.15, 0.7, 0.15)))
    wrong = replace(right, weight=shifted(right.weight, power), weight_unit=name)
    ratio = LITRES_PER_UNIT[name] / LITRES_PER_UNIT[right.weight_unit] * Fraction(10) ** power
    port.parameter = round(float(ratio), 9)
    if port.fate.onset_s > port.fitted_s:
        port.variant = f"{right.weight_unit}_as_{name}" + (f"_times_1e{power}" if power else "") + "_set_anew"
        port.later = (port.fate.onset_s, wrong)
        return
    port.variant = f"{right.weight_unit}_as_{name}" + (f"_times_1e{power}" if power else "")
    if rng.random() < 0.4:
        port.recorded = replace(port.recorded, weight=wrong.weight, weight_unit=name)
        port.variant += "_on_record"
    port.actual = wrong


def digit_slip(port: Port, rng: np.random.Generator) -> None:
    """The counter holds less than recorded: it rolls over early, or has lost its top digits from the start."""
    recorded = port.recorded
    units_day = max(port.spec.mean_l_day, 100.0) / float(recorded.resolution_l)
    span_days = (port.end_s - port.fitted_s) / DAY_S
    window = units_day * span_days
    choices = [replace(recorded, digits=recorded.digits - 1), replace(recorded, digits=recorded.digits - 2)]
    choices += [replace(recorded, bits=bits) for bits in (16, 20, 24)]
    on_dial = min(recorded.capacity, 10**port.spec.face.digits * port.spec.face.resolution_l // recorded.resolution_l)
    fitting = [setting for setting in choices if 1.6 * window < setting.capacity < on_dial]
    actual = fitting[int(rng.integers(0, len(fitting)))] if fitting else choices[0]
    port.actual = actual
    port.parameter = float(actual.capacity)
    capacity_ul = int(actual.capacity * recorded.resolution_l * UL_PER_L)
    turns = max(int(on_dial) // actual.capacity - 1, 1)
    if rng.random() < 0.6:
        port.variant = "rolls_over_early"
        below = int((0.15 + 0.4 * rng.random()) * window * float(recorded.resolution_l) * UL_PER_L)
        port.dial_ul = capacity_ul - below
    else:
        port.variant = "top_digits_lost"
        port.dial_ul = capacity_ul * int(rng.integers(1, max(min(turns, 9), 2))) + int(rng.random() * capacity_ul / 2)
    if actual.bits:
        port.variant += f"_{actual.bits}_bit"


def since_of_digit_slip(port: Port) -> int:
    """Return when the index first stood below the recorded count. [s since 1970]"""
    low = np.flatnonzero(port.index >= port.actual.capacity)
    if port.start_keyed >= port.actual.capacity:
        return port.fitted_s
    return int(port.marks_s[low[0]]) if len(low) else port.end_s


def start_slip(port: Port, rng: np.random.Generator, *, previous_start: int | None) -> None:
    """The start index is keyed wrongly: one of the slips that hands and eyes make."""
    face, recorded = port.spec.face, port.recorded
    right = port.start_keyed
    if port.carried_s is not None:
        _carry_over(port, rng)
        return
    digits = f"{right:0{recorded.digits}d}"
    keyed: dict[str, str] = {}
    swaps = [at for at in range(len(digits) - 1) if digits[at] != digits[at + 1]]
    if swaps:
        at = swaps[int(rng.integers(0, len(swaps)))]
        keyed["transposed"] = digits[:at] + digits[at + 1] + digits[at] + digits[at + 2 :]
    body = digits.lstrip("0")
    if len(body) > 2:
        at = int(rng.integers(0, len(body) - 1))
        keyed["digit_dropped"] = body[:at] + body[at + 1 :]
    if face.fixed_zeros and recorded.resolution == face.resolution:
        keyed["all_positions_typed"] = (body + "0" * face.fixed_zeros)[-recorded.digits :]
    if len(body) > 3:
        keyed["zero_dropped"] = str(right // 10)
        keyed["decimals_included"] = (body + str(int(rng.integers(0, 10))))[-recorded.digits :]
    early_ul = int(rng.uniform(80, 800) * UL_PER_L) + int(2 * max(recorded.resolution_l, face.resolution_l) * UL_PER_L)
    early_dial = max(port.dial_ul - early_ul, 0)
    early_seen = int(Fraction(early_dial, UL_PER_L) // face.resolution_l) % 10**face.digits
    keyed["wrong_time"] = str(recorded.index_of_dial(early_seen, face) % recorded.capacity)
    if previous_start is not None:
        keyed["cloned"] = str(previous_start % recorded.capacity)
    misread = _one_digit_off(rng, port.dial_seen, face.digits)
    keyed["dial_misread"] = str(recorded.index_of_dial(misread, face) % recorded.capacity)
    names = [name for name, text in keyed.items() if int(text) != right]
    port.variant = names[int(rng.integers(0, len(names)))]
    port.start_keyed = int(keyed[port.variant])
    port.parameter = float((port.start_keyed - right) * recorded.resolution_l / LITRES_PER_UNIT[recorded.unit])
    if port.variant == "wrong_time":
        port.dial_recorded = face.text(early_seen)
    if port.variant == "dial_misread":
        port.dial_recorded = face.text(misread)


def _carry_over(port: Port, rng: np.random.Generator) -> None:
    """Key, at a new endpoint, the value at which the old one fell silent: what passed in the dead days is missing."""
    face, right = port.spec.face, port.start_keyed
    old = port.dial_at(port.carried_s) if port.carried_s is not None else port.dial_seen
    port.start_keyed = port.recorded.index_of_dial(old, face) % port.recorded.capacity
    port.parameter = float(
        (port.start_keyed - right) * port.recorded.resolution_l / LITRES_PER_UNIT[port.recorded.unit]
    )
    port.variant = "carried_over"
    if rng.random() < 0.5:
        # Nobody looked at the dial: its text was copied too.
        port.dial_recorded = face.text(old)
        port.variant = "carried_over_with_the_dial"


def _one_digit_off(rng: np.random.Generator, value: int, digits: int) -> int:
    """Return a dial reading with one of its upper digits read one too high or too low."""
    place = int(rng.integers(1, max(digits - 1, 2)))
    step = 10**place if rng.random() < 0.5 else -(10**place)
    other = value + step
    return other if 0 <= other < 10**digits else value - step


def misread(rng: np.random.Generator, value: int, digits: int) -> int:
    """Return what a tired reader takes a dial for: two digits exchanged, or one digit off."""
    text = f"{value:0{digits}d}"
    swaps = [at for at in range(len(text) - 1) if text[at] != text[at + 1]]
    if swaps and rng.random() < 0.5:
        at = swaps[int(rng.integers(0, len(swaps)))]
        return int(text[:at] + text[at + 1] + text[at] + text[at + 2 :])
    return _one_digit_off(rng, value, digits)
