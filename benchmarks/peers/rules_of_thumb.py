"""A peer: what a careful clerk would do in a spreadsheet, from the rules of thumb of the trade.

Thresholds are round figures, as people keep them in their heads; nothing is fitted to the simulated towns.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from benchmarks.peers.port_figures import DAY_S, PortFigures, port_figures
from dialtrue.domain.finding import Action, Crossing, Finding

UNIT_RATIOS = (0.1337, 7.4805, 3.7854, 0.2642, 1.2009, 0.8327, 4.5461, 0.22, 28.317, 0.03531, 35.315, 264.17)
CLERKS_CHANCE = 0.8
"""The clerk writes down no chances; this one stands in for "I think so"."""


def judge(folder: Path) -> tuple[list[Finding], list[Crossing]]:
    """Judge every fitted port of a programme folder by rules of thumb."""
    ports = port_figures(folder)
    named = [_rules(port) for port in ports]
    pairs = _crossed(ports)
    for ring in pairs:
        for place in ring:
            named[place] = ("crossed", "visit")
    _swapped(ports, named)
    findings = [_finding(port, *verdict) for port, verdict in zip(ports, named, strict=True)]
    crossings = [
        Crossing(number, ports[a].meter, ports[a].endpoint, ports[b].endpoint, ports[b].port, "", CLERKS_CHANCE)
        for number, ring in enumerate(pairs, start=1)
        for a, b in (ring, ring[::-1])
    ]
    return findings, crossings


def _rules(port: PortFigures) -> tuple[str, Action]:
    """Return the first rule of thumb that fits, cheapest evidence first."""
    if not len(port.at_s):
        return ("port_unread", "visit") if port.role != "single" else ("dead_input", "visit")
    if port.rivals:
        return "duplicate_serial", "visit"
    if abs(math.log10(port.weight_ratio)) > 0.02:
        return (_setting(port.weight_ratio) or "weight_decade"), "visit"
    if port.falls > max(5, len(port.at_s) // 50):
        return "meter_reversed", "visit"
    if port.falls:
        return ("digit_slip" if port.fall_power else "index_reset"), "visit"
    hours = np.diff(port.at_s) / 3600
    if (port.steps_l / np.maximum(hours, 0.25) > 1.2 * port.max_l_h).any() and hours.min() < 30:
        return "steady_counts", "visit"
    by_dial = _by_dial(port)
    if by_dial is not None:
        return by_dial
    if abs(port.start_offset_l) > 2 * port.grain_l:
        return "start_slip", "remote_check"
    return _by_series(port)


def _by_dial(port: PortFigures) -> tuple[str, Action] | None:
    """Return what the pairs of dial and index say, None where they agree or there are none."""
    ratio = port.ratio()
    if math.isnan(ratio):
        return None
    dial = port.looks[-1][1]
    loose = 0.03 + 2 * port.grain_l / max(abs(dial), 1.0)
    if abs(ratio - 1) < loose:
        return None
    if abs(ratio) < 0.02:
        return "dead_input", "visit"
    if abs(ratio + 1) < 0.05:
        return "meter_reversed", "visit"
    if len(port.looks) > 1:
        offsets = port.offsets()
        if np.ptp(offsets) < 3 * port.grain_l:
            return "start_slip", "remote_check"
    elif abs(port.start_offset_l) > 2 * port.grain_l:
        return "start_slip", "remote_check"
    if abs(ratio - 2) < 0.04:
        return "double_count", "visit"
    setting = _setting(ratio)
    if setting is not None:
        return setting, "visit"
    if ratio < 0 or ratio > 12:
        return "meter_exchanged", "visit"
    if ratio < 1:
        return ("intermittent" if _longest_still_h(port) > 48 else "lost_counts"), "visit"
    if port.wet_over_dry > 1.5:
        return "wet_counts", "visit"
    return ("steady_counts" if _least_of_a_day(port) > 0 else "extra_counts"), "visit"


def _by_series(port: PortFigures) -> tuple[str, Action]:
    """Return what the reads alone say."""
    span = (port.at_s[-1] - port.at_s[0]) / DAY_S
    still = port.at_s[:-1] >= port.at_s[-1] - 7 * DAY_S
    usual = port.history_l_day
    if span > 14 and port.steps_l[still].sum() == 0 and usual > 3 * port.grain_l / 7:
        return ("vacant", "remote_check") if port.steps_l.sum() > 0 else ("dead_input", "visit")
    longest = _longest_still_h(port)
    if longest > 72 and port.steps_l.max() > 5 * max(usual, port.use_l_day):
        return "stale_index", "remote_check"
    if not math.isnan(usual) and usual > 0 and port.use_l_day > 0 and span > 20:
        ratio = port.use_l_day / usual
        if port.even:
            return "double_count", "visit"
        if ratio > 5 or ratio < 0.2:
            return (_setting(ratio, loose=0.25) or "weight_decade"), "visit"
        if ratio > 2 or ratio < 0.5:
            return "use_change", "none"
    if port.wet_over_dry > 3:
        return "wet_counts", "visit"
    if _least_of_a_day(port) > 2 * port.grain_l / 24:
        return "customer_leak", "none"
    return "sound", "none"


def _setting(ratio: float, *, loose: float = 0.02) -> str | None:
    """Return which setting fault a ratio belongs to."""
    for power in (-3, -2, -1, 1, 2, 3):
        if abs(ratio / 10.0**power - 1) < loose:
            return "weight_decade"
    if any(abs(ratio / known - 1) < loose for known in UNIT_RATIOS):
        return "unit_slip"
    return None


def _longest_still_h(port: PortFigures) -> float:
    """Return the longest time without a count. [h]"""
    moved = port.at_s[1:][port.steps_l > 0]
    edges = np.concatenate((port.at_s[:1], moved, port.at_s[-1:]))
    return float(np.diff(edges).max() / 3600)


def _least_of_a_day(port: PortFigures) -> float:
    """Return the least step of the last three days where reads are hourly, 0 otherwise. [L]"""
    if np.median(np.diff(port.at_s)) > 4000:
        return 0.0
    late = port.at_s[1:] > port.at_s[-1] - 3 * DAY_S
    return float(port.steps_l[late].min()) if late.any() else 0.0


def _crossed(ports: list[PortFigures]) -> list[tuple[int, int]]:
    """Return neighbours of one crew and day whose ratios multiply to one, and whose dials fit each other's index."""
    out, taken = [], set()
    by_job: dict[tuple[str, int], list[int]] = {}
    for place, port in enumerate(ports):
        if port.role == "single":
            by_job.setdefault((port.fitter, port.fit_day), []).append(place)
    for places in by_job.values():
        for a in places:
            for b in places:
                if a >= b or a in taken or b in taken:
                    continue
                one, two = ports[a].ratio(), ports[b].ratio()
                if math.isnan(one) or math.isnan(two) or one <= 0 or abs(math.log(one)) < 0.1:
                    continue
                if abs(one * two - 1) < 0.08:
                    out.append((a, b))
                    taken.update((a, b))
    return out


def _swapped(ports: list[PortFigures], named: list[tuple[str, Action]]) -> None:
    """Name compound meters whose two ratios multiply to one."""
    sides = {(port.meter, port.role): place for place, port in enumerate(ports)}
    for (meter, role), high in sides.items():
        low = sides.get((meter, "low"))
        if role == "high" and low is not None:
            one, two = ports[high].ratio(), ports[low].ratio()
            if one > 0 and abs(math.log(one)) > 0.05 and abs(one * two - 1) < 0.08:
                named[high] = named[low] = ("ports_swapped", "visit")


def _finding(port: PortFigures, fault: str, action: Action) -> Finding:
    return Finding(
        port.meter, port.endpoint, port.port, port.role, fault, CLERKS_CHANCE, "", 0.0, action, None, None, None, None,
        None, "", "", "", priority=1.0 if action != "none" else 0.0,
    )  # fmt: skip
