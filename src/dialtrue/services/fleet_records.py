"""The records of a programme as fleet arrays: fittings joined to their meters, dial reads to their fittings."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from dialtrue.domain.contracts import ALARMS
from dialtrue.domain.pulse_chain.timing import FLOW_LIMITS
from dialtrue.domain.quantity import LITRES_PER_UNIT, exact_decimal, litres_per
from dialtrue.engine.fleet import NEVER, Fleet
from dialtrue.engine.inference_number import inference_number
from dialtrue.engine.pairing import CLOCK_SD_US, MISREAD

Row = dict[str, Any]
UNKNOWN_FLOW_L_S = inference_number(1000 * LITRES_PER_UNIT["gal"] / 60)
"""Flow limit where the size is not in the table: a 6-inch meter's. Our assumption: rather too high. [L/s]"""
_LIMIT_L_S = {
    size.replace(" ", "").lower(): inference_number(limits.max_flow_lpm / 60) for size, limits in FLOW_LIMITS.items()
}
SEASON_DAYS = 46
"""A billed period this near in the year to the watch speaks of the same season. Our assumption."""
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(slots=True)
class DialReads:
    """Dial reads sorted by fitting and time, shapes (m,); ``row`` points into the dial_reads table."""

    fitting: NDArray[np.int64]
    at_us: NDArray[np.int64]
    raw_l: NDArray[np.float64]
    misread: NDArray[np.float64]
    clock_sd_h: NDArray[np.float64]
    row: NDArray[np.int64]


@dataclass(slots=True)
class FleetRecords:
    """The fleet with what the arrays cannot carry: the rows themselves, channels, and what was assumed."""

    fleet: Fleet
    channels: dict[tuple[str, int], int]
    fitting_rows: list[Row]
    site_rows: list[Row | None]
    dials: DialReads
    dial_rows: list[Row]
    rivals: NDArray[np.int64]
    partner: NDArray[np.int64]
    compound: NDArray[np.bool_]
    unfitted: list[Row]
    said: list[str]


def us_of(moment: dt.datetime | None, default: int) -> int:
    """Return UTC microseconds of an aware moment, exactly."""
    return default if moment is None else int((moment - _EPOCH) // dt.timedelta(microseconds=1))


def moment_of(us: int) -> dt.datetime:
    """Return the aware UTC moment of microseconds since 1970."""
    return _EPOCH + dt.timedelta(microseconds=int(us))


@lru_cache(maxsize=4096)
def _volume_l(value: str | None, unit: str | None) -> Fraction | None:
    if not value or not unit:
        return None
    volume = exact_decimal(value) * litres_per(unit)
    return volume if volume > 0 else None


@lru_cache(maxsize=4096)
def _least_digit_l(zeros: int, unit: str | None, resolution: str | None) -> Fraction | None:
    if not unit:
        return None
    return (exact_decimal(resolution) if resolution else Fraction(10) ** zeros) * litres_per(unit)


def _rows(table: pa.Table | None) -> list[Row]:
    return table.to_pylist() if table is not None else []


def _dial_l(text: str | None, site: Row | None) -> float:
    """Volume that a dial text stands for, painted zeros and all; nan where the survey does not say. [L]"""
    if not text or site is None:
        return float("nan")
    least = _least_digit_l(int(site["fixed_zeros"] or 0), site["dial_unit"], site["dial_resolution"])
    if least is None:
        return float("nan")
    return inference_number(Fraction(int(text), 10 ** int(site["fixed_zeros"] or 0)) * least)


def _history(rows: list[Row], watch_start: dt.date | None) -> tuple[float, float]:
    """Mean use [L/day] and the spread of its logarithm, from periods that were not estimated, same season first."""
    rates: list[tuple[float, float]] = []
    for row in rows:
        days = (row["end"] - row["start"]).days if row["start"] and row["end"] else 0
        volume = _volume_l(row["volume"], row["unit"])
        if row["estimated"] or days < 5:
            continue
        rate = inference_number(volume) / days if volume is not None else 0.0
        middle = row["start"] + (row["end"] - row["start"]) / 2
        apart = abs((middle - watch_start).days % 365) if watch_start else 0
        rates.append((rate, min(apart, 365 - apart)))
    if not rates:
        return float("nan"), 0.4
    season = [rate for rate, apart in rates if apart <= SEASON_DAYS]
    used = season if len(season) >= 2 else [rate for rate, _ in rates]
    mean = float(np.mean(used))
    logs = np.log([max(rate, 0.02 * mean + 1e-6) for rate, _ in rates])
    spread = float(np.std(logs)) if len(logs) > 2 else 0.4
    return mean, min(max(spread, 0.12), 1.2)


def gather(tables: dict[str, pa.Table], *, watch_start: dt.datetime | None = None) -> FleetRecords:
    """Join sites, fittings, dial reads and use history into fleet arrays.

    Parameters
    ----------
    tables : dict
        Normalised contract tables; any may be missing.
    watch_start : datetime, optional
        Start of the reads, for the season of the history; the first fitting if not given.

    Returns
    -------
    FleetRecords

    Raises
    ------
    Never raises on normalised tables.

    Source
    ------
    Definitions of the file contract.
    """
    said: list[str] = []
    sites = {(row["meter_serial"], row["register_role"] or "single"): row for row in _rows(tables.get("sites"))}
    roles: dict[str, set[str]] = defaultdict(set)
    for serial, role in sites:
        roles[serial].add(role)
    history: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in _rows(tables.get("use_history")):
        history[(row["meter_serial"], row["register_role"] or "single")].append(row)
    fittings = _rows(tables.get("fittings"))
    if watch_start is None and fittings:
        watch_start = max(row["fitted_at"] for row in fittings)

    n = len(fittings)
    number = {name: np.full(n, np.nan) for name in ("qd", "cap", "dial", "qe", "ws", "wm", "limit", "use", "spread")}
    whole = {name: np.zeros(n, np.int64) for name in ("port", "channel", "fit", "removed", "capacity", "start")}
    channels: dict[tuple[str, int], int] = {}
    site_rows: list[Row | None] = []
    guessed_index = 0
    for f, row in enumerate(fittings):
        role = row["register_role"] or "single"
        site = sites.get((row["meter_serial"], role))
        site_rows.append(site)
        port = int(row["port"] or 1)
        whole["port"][f] = port
        whole["channel"][f] = channels.setdefault((row["endpoint_serial"], port), len(channels))
        whole["fit"][f] = us_of(row["fitted_at"], 0)
        whole["removed"][f] = us_of(row["removed_at"], NEVER)
        least = (
            _least_digit_l(int(site["fixed_zeros"] or 0), site["dial_unit"], site["dial_resolution"]) if site else None
        )
        number["qd"][f] = inference_number(least)
        if site and least is not None:
            number["cap"][f] = inference_number(least * 10 ** int(site["dial_digits"]))
            number["limit"][f] = _LIMIT_L_S.get((site["meter_size"] or "").replace(" ", "").lower(), UNKNOWN_FLOW_L_S)
        else:
            number["limit"][f] = UNKNOWN_FLOW_L_S
        number["dial"][f] = _dial_l(row["dial_at_fit"], site)
        step = _volume_l(row["index_resolution"], row["index_unit"])
        if step is None:
            guessed_index += 1
            step = least
        number["qe"][f] = inference_number(step) if step is not None else 1.0
        digits = row["index_digits"]
        whole["capacity"][f] = 10 ** int(digits) if digits and int(digits) <= 17 else 0
        whole["start"][f] = int(row["start_index"]) if row["start_index"] and len(row["start_index"]) <= 18 else -1
        survey = _volume_l(site["pulse_weight"], site["pulse_unit"]) if site else None
        told = _volume_l(row["weight_set"], row["weight_unit"])
        number["ws"][f] = inference_number(told if told is not None else survey)
        number["wm"][f] = inference_number(survey)
        use, spread = _history(
            history.get((row["meter_serial"], role), []), watch_start.date() if watch_start else None
        )
        if np.isnan(use) and site and site["use_l_per_day"]:
            use, spread = float(site["use_l_per_day"]), 0.5
        number["use"][f], number["spread"][f] = use, spread
    if guessed_index:
        said.append(
            f"{guessed_index} fittings do not say the unit or resolution of the index; the dial's own was taken."
        )
    unknown = sum(site is None for site in site_rows)
    if unknown and sites:
        said.append(f"{unknown} fittings name a meter that sites does not have; their dials and weights are not known.")
    fleet = Fleet(
        meter_serial=[row["meter_serial"] for row in fittings],
        role=[row["register_role"] or "single" for row in fittings],
        endpoint_serial=[row["endpoint_serial"] for row in fittings],
        port=whole["port"],
        site=[str((site or row).get("site") or "") for site, row in zip(site_rows, fittings, strict=True)],
        channel=whole["channel"],
        fit_us=whole["fit"],
        removed_us=whole["removed"],
        quantum_dial_l=number["qd"],
        capacity_dial_l=number["cap"],
        dial_fit_l=number["dial"],
        quantum_index_l=number["qe"],
        capacity_counts=whole["capacity"],
        start_count=whole["start"],
        weight_set_l=np.where(np.isnan(number["ws"]), number["qe"], number["ws"]),
        weight_meter_l=number["wm"],
        flow_limit_l_s=number["limit"],
        use_l_day=number["use"],
        use_spread=number["spread"],
    )
    dial_rows = _rows(tables.get("dial_reads"))
    dials = _dial_reads(dial_rows, fleet, site_rows)
    rivals, partner, compound, unfitted = _associations(fleet, sites, roles)
    return FleetRecords(
        fleet, channels, fittings, site_rows, dials, dial_rows, rivals, partner, compound, unfitted, said
    )  # fmt: skip


def _dial_reads(rows: list[Row], fleet: Fleet, site_rows: list[Row | None]) -> DialReads:
    """Tie each dial read to the fitting that stood at that moment."""
    at: dict[tuple[str, str], list[int]] = defaultdict(list)
    for f in range(fleet.size):
        at[(fleet.meter_serial[f], fleet.role[f])].append(f)
    found: list[tuple[int, int, float, float, float, int]] = []
    for k, row in enumerate(rows):
        us = us_of(row["at"], 0)
        for f in at.get((row["meter_serial"], row["register_role"] or "single"), ()):
            # The look that set the start is the fitting's own record, not a second pair.
            if fleet.fit_us[f] + 60_000_000 < us <= fleet.removed_us[f]:
                source = row["source"] or ""
                raw = _dial_l(row["dial"], site_rows[f])
                found.append((f, us, raw, MISREAD[source], CLOCK_SD_US[source], k))
    found.sort(key=lambda item: (item[0], item[1]))
    columns = list(zip(*found, strict=True)) if found else [()] * 6
    return DialReads(
        np.array(columns[0], np.int64), np.array(columns[1], np.int64), np.array(columns[2], np.float64),
        np.array(columns[3], np.float64), np.array(columns[4], np.float64), np.array(columns[5], np.int64),
    )  # fmt: skip


def _associations(
    fleet: Fleet, sites: dict[tuple[str, str], Row], roles: dict[str, set[str]]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_], list[Row]]:
    """Return rivals for the same channel, each row's compound partner, and surveyed registers without a fitting."""
    n = fleet.size
    rivals, partner = np.zeros(n, np.int64), np.full(n, -1, np.int64)
    by_channel: dict[int, list[int]] = defaultdict(list)
    by_register: dict[tuple[str, str], list[int]] = defaultdict(list)
    for f in range(n):
        by_channel[int(fleet.channel[f])].append(f)
        by_register[(fleet.meter_serial[f], fleet.role[f])].append(f)
    for rows in by_channel.values():
        for f in rows:
            rivals[f] = sum(
                1
                for g in rows
                if g != f
                and fleet.fit_us[g] < fleet.removed_us[f]
                and fleet.fit_us[f] < fleet.removed_us[g]
                and (fleet.meter_serial[g], fleet.role[g]) != (fleet.meter_serial[f], fleet.role[f])
            )
    compound = np.zeros(n, bool)
    for f in range(n):
        other = {"high": "low", "low": "high"}.get(fleet.role[f])
        if other is None:
            continue
        compound[f] = True
        mates = by_register.get((fleet.meter_serial[f], other), [])
        if mates:
            partner[f] = mates[-1]
        elif other in roles.get(fleet.meter_serial[f], set()):
            partner[f] = -2
    unfitted = [row for key, row in sites.items() if key not in by_register and len(roles[key[0]]) > 1 and any(
        (key[0], role) in by_register for role in roles[key[0]])]  # fmt: skip
    return rivals, partner, compound, unfitted


def alarm_counts(rows: list[Row], records: FleetRecords) -> NDArray[np.int64]:
    """Return how often each alarm was raised while each fitting stood, (n, 4) in the order of ``ALARMS``."""
    fleet = records.fleet
    counts = np.zeros((fleet.size, len(ALARMS)), np.int64)
    by_channel: dict[int, list[int]] = defaultdict(list)
    for f in range(fleet.size):
        by_channel[int(fleet.channel[f])].append(f)
    for row in rows:
        channel = records.channels.get((row["endpoint_serial"], int(row["port"] or 1)))
        if channel is None:
            continue
        us, kind = us_of(row["at"], 0), ALARMS.index(row["alarm"])
        for f in by_channel[channel]:
            if fleet.fit_us[f] <= us <= fleet.removed_us[f]:
                counts[f, kind] += 1
    return counts
