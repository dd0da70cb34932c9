"""What, in the files of the programme, could show a planted fault at all: the yardstick of a fair score.

A fault that leaves no mark but at the dial cannot be named without a second look at the dial, whoever judges. The rules
below speak of the planted fault and of what was delivered, never of what some method can do.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dialtrue.engine.simulation.dial_rounds import Look
from dialtrue.engine.simulation.port import Port
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S

SECOND_DIAL = "second_dial"
"""Nothing but a second look at the dial could show it."""
KNOWN_VOLUME = "known_volume"
"""Not even the dial shows it: only a known volume does."""
HISTORY_SHOWS = 0.6
"""Least logarithm of after over before that stands out of a customer's own changes (1.8 times, or 0.55). Our
assumption; override by editing the constant."""
_BY_CODE = {
    "duplicate_serial": "records", "port_unread": "records", "stale_index": "delivery", "clock_shift": "delivery",
    "index_reset": "falls",
}  # fmt: skip
_HISTORY_CODES = {
    "lost_counts", "double_count", "extra_counts", "weight_decade", "unit_slip", "crossed", "ports_swapped",
    "register_mismatch",
}  # fmt: skip
_FEWEST_FALSE = 12


def shown_by(port: Port, heard: Port | None, looks: Sequence[Look], *, interval_s: int) -> str:
    """Return what could show the fault of a port: the dial, something else, or only a look that nobody took.

    Parameters
    ----------
    port : Port
        The port as it truly stands, run to the end.
    heard : Port or None
        The port whose reads its record leads to.
    looks : sequence of Look
        Looks at its dial after the fitting.
    interval_s : int
        Time between two reads. [s]

    Returns
    -------
    str
        Empty for a port without a fault.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: a dial shows an error beyond twice what the grains of pulse, dial and index explain, and beyond what
    passes between two reads; see the constants; override by editing them.
    """
    code, variant = port.fate.code, port.variant
    if code in ("sound", "customer_leak", "vacant", "use_change"):
        return ""
    if heard is not None and any(_dial_shows(port, heard, look, interval_s) for look in looks if not look.wrong):
        return "dial"
    if code in _BY_CODE:
        return _BY_CODE[code]
    if any(at_s >= port.fate.onset_s for at_s, _ in port.alarms) and code in (
        "dead_input",
        "meter_reversed",
        "backflow_counted",
    ):
        return "alarm"
    return _by_shape(port, code, variant, interval_s)


def _by_shape(port: Port, code: str, variant: str, interval_s: int) -> str:
    """Return what the numbers themselves could show, where no dial does."""
    fine = interval_s <= DAY_S
    if variant == "export_changed":
        return "falls"
    if "on_record" in variant or (code == "crossed" and variant.startswith("records")):
        return "records"
    if code == "start_slip":
        hidden = ("dial_misread", "wrong_time", "carried_over_with_the_dial")
        return SECOND_DIAL if variant in hidden else "records"
    if code == "digit_slip":
        return "falls" if variant.startswith("rolls_over") else "records"
    if code == "dead_input":
        return "standstill"
    if code == "meter_reversed":
        return "falls" if variant.startswith("signal") else SECOND_DIAL
    if code == "double_count" and variant.startswith("bounce") and fine:
        return "steps"
    if code == "meter_exchanged" and not variant.startswith("same_weight"):
        return "steps"
    if code == "intermittent" and interval_s <= HOUR_S and (port.parameter or 0.0) > 0.2:
        return "standstill"
    if code == "wet_counts" and fine:
        gained = int(port.counts[-1] - port.pulses(port.marks_s[-1:])[0]) if len(port.marks_s) else 0
        return "rain" if gained >= _FEWEST_FALSE else SECOND_DIAL
    if code == "steady_counts" and _beyond_the_meter(port):
        return "possibility"
    if code in _HISTORY_CODES and abs(_log_ratio(port, code)) >= HISTORY_SHOWS:
        return "history"
    return KNOWN_VOLUME if code == "register_mismatch" else SECOND_DIAL


def _log_ratio(port: Port, code: str) -> float:
    """Return the logarithm of counted over true volume while the fault holds."""
    value = port.parameter
    if value is None:
        return 0.0
    if code == "lost_counts":
        value = 1 - value
    if code == "extra_counts":
        value = 1 + value
    return float(np.log(max(value, 1e-3)))


def _beyond_the_meter(port: Port) -> bool:
    """Say whether the index ever climbed faster than the meter can pass."""
    if len(port.marks_s) < 2:
        return False
    rate = np.diff(port.counts) * float(port.actual.weight_l) / np.diff(port.marks_s)
    return bool((rate > 1.2 * port.spec.max_flow_l_s).any())


def _dial_shows(port: Port, heard: Port, look: Look, interval_s: int) -> bool:
    """Say whether this look, beside the index of the same time, lies further apart than grains and clocks explain."""
    row = int(np.searchsorted(heard.marks_s, look.stamped_s, side="right")) - 1
    if row < 0 or (port.fate.code != "start_slip" and look.at_s <= port.fate.onset_s):
        return False
    face = port.spec.face
    top = (heard.start_right - heard.start_right % heard.recorded.capacity) - (
        port.start_right - port.start_right % port.recorded.capacity
    )
    index_l = float((int(heard.recorded_index[row]) - top) * port.recorded.resolution_l)
    capacity_l = float(face.resolution_l) * 10**face.digits
    apart = index_l - look.moving * float(face.resolution_l)
    apart = (apart + capacity_l / 2) % capacity_l - capacity_l / 2
    grain_l = float(face.weight_l + face.resolution_l + port.recorded.resolution_l)
    gap_l = float(port.curve.volume_ul(np.array([heard.marks_s[row] + interval_s + HOUR_S]))[0]) / 1e6
    gap_l -= float(port.curve.volume_ul(np.array([heard.marks_s[row] - HOUR_S]))[0]) / 1e6
    return abs(apart) > 2 * grain_l + 1.2 * abs(gap_l) and port.fate.code not in ("stale_index", "clock_shift")
