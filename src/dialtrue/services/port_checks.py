"""Checks that a port fails as a whole: sum against the dial, use where none should be or none where some should."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from dialtrue.domain.quantity import litres_per
from dialtrue.domain.read_checks.account import PortCheck
from dialtrue.domain.read_checks.settings import ValidateSettings
from dialtrue.domain.words import day_text, volume_text
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.gap_shape import DAY_US
from dialtrue.engine.read_checks import NO_END, NO_LINK, CheckedReads, still_since, use_by_month
from dialtrue.services.fleet_records import FleetRecords, moment_of
from dialtrue.services.port_records import KnownPorts

MONTHS_BACK = 15
"""Edges of months looked at: the last two months and the same ones last year."""
ENOUGH_DAYS = 20
"""Days of a month that must be known before its use is compared. Our assumption. [d]"""


def check_ports(
    reads: CheckedReads,
    runs: np.ndarray,
    known: KnownPorts,
    records: FleetRecords,
    months_us: Ints,
    settings: ValidateSettings,
) -> list[PortCheck]:
    """Return every check that one of these ports fails, port by port.

    Parameters
    ----------
    reads, runs, known : CheckedReads, int array, KnownPorts
        Some ports.
    records : FleetRecords
        The fleet with its dial reads.
    months_us : int64
        Where the months begin. [µs]
    settings : ValidateSettings
        Limits.

    Returns
    -------
    list of PortCheck

    Raises
    ------
    Never raises.

    Source
    ------
    ``CA-VEE``, sum check and section B.
    """
    fleet = records.fleet
    unit = [
        str((records.site_rows[f] or {}).get("dial_unit") or "L") if f >= 0 else "L" for f in known.fitting.tolist()
    ]
    count_l = fleet.quantum_index_l[known.fitting] if fleet.size else np.ones(len(runs))
    moved_us, last_us = still_since(reads)
    failed: list[tuple[int, str, str]] = []
    for k in range(len(runs)):
        f = int(known.fitting[k])
        if f < 0 or last_us[k] < 0:
            continue
        still_d = (last_us[k] - moved_us[k]) / DAY_US
        expected = float(fleet.use_l_day[f])
        active = known.active[k] if known.active[k] is not None else expected > 0
        if active and still_d >= settings.zero_days:
            failed.append((k, "zero_use", f"no use for {still_d:.0f} days, since {day_text(moment_of(moved_us[k]))}"))
        if known.active[k] is False and still_d < settings.zero_days and moved_us[k] > reads.at_us[reads.first[k]]:
            failed.append((k, "use_on_inactive", f"the index moved on {day_text(moment_of(moved_us[k]))}"))
    volume, lasted = use_by_month(reads, months_us[-MONTHS_BACK:])
    for k, says in _high_low(volume, lasted, count_l, known, records, settings, unit):
        failed.append((k, "high_low", says))
    for k, rule, says in _sums(reads, known, records, settings, unit):
        failed.append((k, rule, says))
    failed.sort(key=lambda item: item[:2])
    return [PortCheck(rule, *known.names[k], known.meters[k], says) for k, rule, says in failed]


def _high_low(
    volume: Floats, lasted: Ints, count_l: Floats, known: KnownPorts, records: FleetRecords, settings: ValidateSettings,
    unit: list[str],
) -> list[tuple[int, str]]:  # fmt: skip
    """Compare the last whole enough month of each port with the same month a year before, else with one before it."""
    found = []
    enough = lasted >= ENOUGH_DAYS * DAY_US
    for k in np.flatnonzero(enough.any(axis=1) & (known.fitting >= 0)).tolist():
        months = np.flatnonzero(enough[k])
        month = int(months[-1])
        rate = volume[k] * count_l[k] / np.maximum(lasted[k], 1) * DAY_US
        if month - 12 in months:
            before, what = float(rate[month - 12]), "the same month last year"
        elif month - 1 in months:
            before, what = float(rate[month - 1]), "the month before"
        else:
            before, what = float(records.fleet.use_l_day[known.fitting[k]]), "the use before the fitting"
        if not before > 0:
            continue
        percent = 100 * float(rate[month]) / before
        if not settings.low_percent <= percent <= settings.high_percent:
            says = f"{volume_text(float(rate[month]), unit[k])} a day, {percent:.1f} % of {what}"
            found.append((k, says))
    return found


def _sums(
    reads: CheckedReads, known: KnownPorts, records: FleetRecords, settings: ValidateSettings, unit: list[str]
) -> list[tuple[int, str, str]]:
    """Hold the sum of the intervals against the dial, between each dial read and the next of the same fitting."""
    fleet, dials = records.fleet, records.dials
    run_of = {f: k for k, f in enumerate(known.fitting.tolist()) if f >= 0}
    ends = np.flatnonzero(reads.before != NO_END)
    walk = np.cumsum(reads.step[ends])
    part = np.cumsum(reads.before[ends] == NO_LINK)
    first = np.searchsorted(ends, reads.first)
    edges = np.flatnonzero(np.diff(dials.fitting, prepend=-1, append=-1)) if len(dials.fitting) else np.zeros(0, int)
    worst: dict[int, tuple[float, str, str]] = {}
    for low, high in pairwise(edges.tolist()):
        f = int(dials.fitting[low])
        k = run_of.get(f)
        if k is None or high - low < 2:
            continue
        at, rows = reads.at_us[ends[first[k] : first[k + 1]]], slice(int(first[k]), int(first[k + 1]))
        place = np.searchsorted(at, dials.at_us[low:high], side="right") - 1
        capacity, digit = float(fleet.capacity_dial_l[f]), float(fleet.quantum_dial_l[f])
        count_l = float(fleet.quantum_index_l[f])
        slack = settings.sum_units * max(digit, count_l)
        if not (math.isfinite(digit) and math.isfinite(capacity) and capacity > 0):
            continue
        here, parts = walk[rows], part[rows]
        for j in range(high - low - 1):
            one, two = int(place[j]), int(place[j + 1])
            if one < 0 or two + 1 >= len(at) or parts[one] != parts[two + 1]:
                continue
            dial = (float(dials.raw_l[low + j + 1]) - float(dials.raw_l[low + j])) % capacity
            least = float(here[two] - here[min(one + 1, two)]) * count_l
            most = float(here[two + 1] - here[one]) * count_l
            over = max(least - dial, dial - most) - slack
            if not over > 0:
                continue
            index = float(here[two] - here[one]) * count_l
            says = (
                f"index {_exact_text(index, unit[k])}, dial "
                f"{_exact_text(dial, unit[k])} from "
                f"{day_text(moment_of(dials.at_us[low + j]))} to {day_text(moment_of(dials.at_us[low + j + 1]))}"
            )
            if k not in worst or over > worst[k][0]:
                worst[k] = (over, "decimal" if _decade(index, dial) else "sum", says)
    return [(k, rule, says) for k, (_, rule, says) in worst.items()]


def _exact_text(litres: float, unit: str) -> str:
    """Print a volume with the digits that a check turns on."""
    return f"{litres / float(litres_per(unit)):,.4f}".rstrip("0").rstrip(".") + f" {unit}"


def _decade(index: float, dial: float) -> bool:
    """Say whether one volume is about ten, a hundred or so times the other."""
    if index <= 0 or dial <= 0:
        return False
    power = round(math.log10(index / dial))
    return power != 0 and abs(index / dial / 10**power - 1) < 0.05
