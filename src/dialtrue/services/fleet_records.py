"""The records of a programme as fleet arrays: fittings joined to their meters, dial reads to their fittings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from dialtrue.domain.contracts import ALARMS, ROLES
from dialtrue.domain.pulse_chain.timing import FLOW_LIMITS
from dialtrue.domain.quantity import LITRES_PER_UNIT, exact_decimal, litres_per
from dialtrue.engine.fleet import NEVER, Fleet, Floats, Ints
from dialtrue.engine.inference_number import inference_number
from dialtrue.engine.pairing import CLOCK_SD_H, DAY_ONLY_SD_H, MISREAD
from dialtrue.engine.scan_kernel import HOUR_US
from dialtrue.services.table_columns import (
    ChosenRows,
    TableRows,
    by_kind,
    codes_in,
    digits_as_numbers,
    flat,
    moments_us,
    own_codes,
    table_of,
    texts,
    times_exactly,
    whole_numbers,
)
from dialtrue.services.table_columns import (
    Row as Row,
)

UNKNOWN_DAY = -(2**31)
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
    """The fleet with what the arrays cannot carry: the rows themselves, channels, and what was assumed.

    Rows are made when they are asked for: take those of single ports, not all.
    """

    fleet: Fleet
    channels: dict[tuple[str, int], int]
    fitting_rows: Sequence[Row]
    site_rows: Sequence[Row | None]
    dials: DialReads
    dial_rows: Sequence[Row]
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


def _volumes_l(table: pa.Table) -> Floats:
    """Return the volume of each row with a volume and a unit, nan or 0 where there is none. [L]"""
    cells = flat(table["volume"])
    if pa.types.is_string(cells.type) and pc.all(pc.match_substring_regex(cells, r"^[0-9]{1,18}$")).as_py():
        unit, factors = by_kind([table["unit"]], lambda name: litres_per(name) if name else None)
        numbers, apart = digits_as_numbers(table["volume"])
        return times_exactly(numbers, apart, unit, factors)
    kind, exact = by_kind([table["volume"], table["unit"]], _volume_l)
    return _numbers(exact)[kind]


def _history(
    table: pa.Table | None, register: Callable[[pa.Table], Ints], registers: int, watch_start: dt.date | None
) -> tuple[Floats, Floats]:
    """Mean use [L/day] of each register and the spread of its logarithm, from periods that were not estimated.

    Periods of the same season speak alone where there are two or more; nan and 0.4 where there is none at all.
    """
    mean, spread = np.full(registers, np.nan), np.full(registers, 0.4)
    if table is None or not table.num_rows:
        return mean, spread
    key = register(table)
    start, end = (whole_numbers(table[name].cast(pa.int32()), UNKNOWN_DAY) for name in ("start", "end"))
    days = np.where((start != UNKNOWN_DAY) & (end != UNKNOWN_DAY), end - start, 0)
    estimated = pc.fill_null(flat(table["estimated"]), False).to_numpy(zero_copy_only=False)
    litres = _volumes_l(table)
    good = ~estimated & (days >= 5) & (key >= 0)
    key, start, end, days = key[good], start[good], end[good], days[good]
    rate = np.nan_to_num(litres[good]) / days
    apart = np.zeros(len(key), np.int64)
    if watch_start is not None:
        middle = start + (end - start) // 2
        apart = np.abs(middle - (watch_start - _EPOCH.date()).days) % 365
        apart = np.minimum(apart, 365 - apart)
    count = np.bincount(key, minlength=registers)
    season = apart <= SEASON_DAYS
    in_season = np.bincount(key[season], minlength=registers)
    used = season | (in_season < 2)[key]
    with np.errstate(divide="ignore", invalid="ignore"):
        total = np.bincount(key[used], weights=rate[used], minlength=registers)
        mean = total / np.bincount(key[used], minlength=registers)
        log = np.log(np.maximum(rate, 0.02 * mean[key] + 1e-6))
        middle_log = np.bincount(key, weights=log, minlength=registers) / count
        square = np.bincount(key, weights=(log - middle_log[key]) ** 2, minlength=registers) / count
    spread = np.where(count > 2, np.sqrt(square), 0.4)
    return mean, np.where(count > 0, np.clip(spread, 0.12, 1.2), 0.4)


def gather(tables: dict[str, pa.Table], *, watch_start: dt.datetime | None = None) -> FleetRecords:
    """Join sites, fittings, dial reads and use history into fleet arrays.

    Parameters
    ----------
    tables : dict
        Normalised contract tables; any may be missing.
    watch_start : datetime, optional
        Start of the reads, for the season of the history; the last fitting if not given.

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
    sites = table_of(tables, "sites")
    fittings = table_of(tables, "fittings")
    registers = _Registers(sites, fittings)
    n = fittings.num_rows
    fit_us, removed_us = moments_us(fittings["fitted_at"], 0), moments_us(fittings["removed_at"], NEVER)
    if watch_start is None and n:
        watch_start = moment_of(int(fit_us.max()))
    key = registers.of(fittings)
    site = registers.site[key]
    of_site = sites.take(pa.array(site, mask=site < 0))
    surveyed = site >= 0

    zeros = whole_numbers(of_site["fixed_zeros"], 0)
    dial_kind, leasts = by_kind([of_site["fixed_zeros"], of_site["dial_unit"], of_site["dial_resolution"]], _dial_step)
    least = _numbers(leasts)[dial_kind]
    size_kind, limits = by_kind([of_site["meter_size"]], _flow_limit)
    reach_kind, reaches = by_kind(
        [of_site["fixed_zeros"], of_site["dial_unit"], of_site["dial_resolution"], of_site["dial_digits"]], _dial_reach
    )
    index_kind, steps = by_kind([fittings["index_resolution"], fittings["index_unit"]], _volume_l)
    step = _numbers(steps)[index_kind]
    guessed = np.isnan(step)
    told_kind, weights = by_kind([fittings["weight_set"], fittings["weight_unit"]], _volume_l)
    survey_kind, surveys = by_kind([of_site["pulse_weight"], of_site["pulse_unit"]], _volume_l)
    told, survey = _numbers(weights)[told_kind], _numbers(surveys)[survey_kind]
    quantum_index = np.where(guessed, np.where(np.isnan(least), 1.0, least), step)
    weight_set = np.where(np.isnan(told), survey, told)
    digits = whole_numbers(fittings["index_digits"], 0)
    start, _ = digits_as_numbers(fittings["start_index"])
    use, spread = _history(
        tables.get("use_history"), registers.of, len(registers), watch_start.date() if watch_start else None
    )
    expected = np.nan_to_num(_floats(of_site["use_l_per_day"]))
    use, spread = use[key], spread[key]
    guess = np.isnan(use) & surveyed & (expected > 0)
    use, spread = np.where(guess, expected, use), np.where(guess, 0.5, spread)
    port = np.maximum(whole_numbers(fittings["port"], 1), 1)
    channel, channels = _channels(fittings, port)
    if guessed.any():
        said.append(
            f"{int(guessed.sum())} fittings do not say the unit or resolution of the index; the dial's own was taken."
        )
    if not surveyed.all() and sites.num_rows:
        said.append(
            f"{int((~surveyed).sum())} fittings name a meter that sites does not have; their dials and weights are not "
            "known."
        )
    own_site, known_site = texts(fittings["site"]), texts(of_site["site"])
    serials, roles = texts(fittings["meter_serial"]), [ROLES[k] for k in key % len(ROLES)]
    dial_of = _DialTexts(dial_kind, leasts, zeros)
    fleet = Fleet(
        meter_serial=serials,
        role=roles,
        endpoint_serial=texts(fittings["endpoint_serial"]),
        port=port,
        site=[known if there else own for own, known, there in zip(own_site, known_site, surveyed, strict=True)],
        channel=channel,
        fit_us=fit_us,
        removed_us=removed_us,
        quantum_dial_l=least,
        capacity_dial_l=_numbers(reaches)[reach_kind],
        dial_fit_l=dial_of.volume_l(fittings["dial_at_fit"], np.arange(n)),
        quantum_index_l=quantum_index,
        capacity_counts=np.where((digits > 0) & (digits <= 17), 10 ** np.clip(digits, 0, 17), 0),
        start_count=np.maximum(start, -1),
        weight_set_l=np.where(np.isnan(weight_set), quantum_index, weight_set),
        weight_meter_l=survey,
        flow_limit_l_s=np.where(np.isnan(least), UNKNOWN_FLOW_L_S, np.array(limits or [np.nan])[size_kind]),
        use_l_day=use,
        use_spread=spread,
    )
    dial_table = table_of(tables, "dial_reads")
    dials = _dial_reads(dial_table, fleet, key, registers, dial_of)
    site_rows = TableRows(sites)
    rivals = _rivals(fleet, key)
    partner, compound, unfitted = _compounds(fleet, key, registers)
    return FleetRecords(
        fleet, channels, TableRows(fittings), ChosenRows(site_rows, site), dials, TableRows(dial_table), rivals,
        partner, compound, [site_rows[k] for k in unfitted], said,
    )  # fmt: skip


class _Registers:
    """Every register that sites or fittings name, by number: three to a meter, one for each role."""

    def __init__(self, sites: pa.Table, fittings: pa.Table) -> None:
        named = pa.chunked_array([*sites["meter_serial"].chunks, *fittings["meter_serial"].chunks], pa.string())
        self._serials = pc.unique(named)
        self.site: Ints = np.full(len(self), -1, np.int64)
        key = self.of(sites)
        # Of two rows for one register the later stands.
        self.site[key] = np.arange(len(key))

    def __len__(self) -> int:
        return len(self._serials) * len(ROLES)

    def of(self, table: pa.Table) -> Ints:
        """Return the register of each row, -1 where neither sites nor fittings name it."""
        serial = codes_in(table["meter_serial"], self._serials)
        role = np.maximum(codes_in(table["register_role"], pa.array(ROLES)), 0)
        return np.where(serial >= 0, serial * len(ROLES) + role, -1)


@dataclass(slots=True)
class _DialTexts:
    """Turns what a dial shows into volumes, by the survey of each fitting's meter."""

    kind: Ints
    leasts: list[Fraction | None]
    zeros: Ints

    def volume_l(self, column: pa.ChunkedArray, fitting: Ints) -> Floats:
        """Volume that each text stands for, painted zeros and all; nan where the survey does not say. [L]"""
        numbers, apart = digits_as_numbers(column)
        # The value of a text's last position: the least moving digit's over the painted zeros.
        wide = int(self.zeros.max(initial=0)) + 1
        kind = self.kind[fitting] * wide + self.zeros[fitting]
        factors = [
            None if least is None else least / 10**zeros for least in self.leasts for zeros in range(wide)
        ]  # fmt: skip
        return times_exactly(numbers, apart, kind, factors)


def _numbers(values: list[Fraction | None]) -> Floats:
    return np.array([inference_number(value) for value in values] or [np.nan])


def _floats(column: pa.ChunkedArray) -> Floats:
    return np.asarray(flat(column).to_numpy(zero_copy_only=False), np.float64)


def _dial_step(zeros: int | None, unit: str | None, resolution: str | None) -> Fraction | None:
    return _least_digit_l(zeros or 0, unit, resolution)


def _dial_reach(zeros: int | None, unit: str | None, resolution: str | None, digits: int | None) -> Fraction | None:
    least = _least_digit_l(zeros or 0, unit, resolution)
    return None if least is None or digits is None else least * 10**digits


def _flow_limit(size: str | None) -> float:
    return _LIMIT_L_S.get((size or "").replace(" ", "").lower(), UNKNOWN_FLOW_L_S)


def _channels(fittings: pa.Table, port: Ints) -> tuple[Ints, dict[tuple[str, int], int]]:
    """Number (endpoint, port) in the order in which fittings name them."""
    if not fittings.num_rows:
        return np.zeros(0, np.int64), {}
    endpoint, serials = own_codes(fittings["endpoint_serial"])
    wide = int(port.max()) + 1
    both, first, inverse = np.unique(endpoint * wide + port, return_index=True, return_inverse=True)
    rank = np.empty(len(both), np.int64)
    order = np.argsort(first)
    rank[order] = np.arange(len(both))
    named = [(serials[key // wide], key % wide) for key in both[order].tolist()]
    return rank[inverse.reshape(-1)], {name: number for number, name in enumerate(named)}


def _dial_reads(table: pa.Table, fleet: Fleet, key: Ints, registers: _Registers, dial_of: _DialTexts) -> DialReads:
    """Tie each dial read to the fitting that stood at that moment."""
    by_register = np.argsort(key, kind="stable")
    wanted = registers.of(table)
    low = np.searchsorted(key[by_register], wanted)
    high = np.where(wanted >= 0, np.searchsorted(key[by_register], wanted, side="right"), low)
    count = high - low
    row = np.repeat(np.arange(len(wanted)), count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    fitting = by_register[low[row] + within]
    at_us = moments_us(table["at"], 0)[row]
    # The look that set the start is the fitting's own record, not a second pair.
    stood = (fleet.fit_us[fitting] + 60_000_000 < at_us) & (at_us <= fleet.removed_us[fitting])
    row, fitting, at_us = row[stood], fitting[stood], at_us[stood]
    order = np.lexsort((at_us, fitting))
    row, fitting, at_us = row[order], fitting[order], at_us[order]
    seen = table["dial"].take(pa.array(row)) if len(row) else table["dial"]
    kind, sources = own_codes(table["source"])
    misread = np.array([MISREAD[source or ""] for source in sources] or [np.nan])
    clock = np.array([CLOCK_SD_H[source or ""] for source in sources] or [np.nan])
    kind = kind[row] if len(row) else np.zeros(0, np.int64)
    raw_l = dial_of.volume_l(seen, fitting) if len(row) else np.zeros(0)
    # A time on the full hour to the second is mostly a day without a time, put at noon or midnight.
    clock_sd_h = np.where(at_us % HOUR_US == 0, np.maximum(clock[kind], DAY_ONLY_SD_H), clock[kind])
    return DialReads(fitting, at_us, raw_l, misread[kind], clock_sd_h, row)


def _rivals(fleet: Fleet, key: Ints) -> Ints:
    """Return how many fittings of other registers stood on the same channel at the same time as each."""
    rivals = np.zeros(fleet.size, np.int64)
    order = np.argsort(fleet.channel, kind="stable")
    edges = np.flatnonzero(np.diff(fleet.channel[order], prepend=-1, append=-2))
    for low, high in pairwise(edges.tolist()):
        # Nearly every channel has one fitting.
        if high - low > 1:
            rows = order[low:high]
            apart = key[rows][:, None] != key[rows]
            meet = fleet.fit_us[rows] < fleet.removed_us[rows][:, None]
            rivals[rows] = (apart & meet & meet.T).sum(axis=1)
    return rivals


def _compounds(fleet: Fleet, key: Ints, registers: _Registers) -> tuple[Ints, NDArray[np.bool_], list[int]]:
    """Return each row's compound partner, which rows are compound, and sites' rows of registers without a fitting.

    The partner is -1 for no compound, -2 where sites has the other side and nothing is fitted to it.
    """
    partner = np.full(fleet.size, -1, np.int64)
    last = np.full(len(registers), -1, np.int64)
    last[key] = np.arange(fleet.size)
    role = key % len(ROLES)
    compound = role > 0
    other = key - role + np.where(role == 1, 2, 1)
    mate = last[other]
    partner[compound] = np.where(mate >= 0, mate, np.where(registers.site[other] >= 0, -2, -1))[compound]
    named = (registers.site >= 0).reshape(-1, len(ROLES))
    fitted = (last >= 0).reshape(-1, len(ROLES))
    lonely = named & ~fitted & (named.sum(axis=1, keepdims=True) > 1) & (named & fitted).any(axis=1, keepdims=True)
    return partner, compound, np.sort(registers.site[lonely.reshape(-1)]).tolist()


def alarm_counts(rows: list[Row], records: FleetRecords) -> NDArray[np.int64]:
    """Return how often each alarm was raised while each fitting stood, (n, 4) in the order of ``ALARMS``."""
    fleet = records.fleet
    counts = np.zeros((fleet.size, len(ALARMS)), np.int64)
    order = np.argsort(fleet.channel, kind="stable")
    first = np.searchsorted(fleet.channel[order], np.arange(len(records.channels) + 1))
    for row in rows:
        channel = records.channels.get((row["endpoint_serial"], int(row["port"] or 1)))
        if channel is None:
            continue
        us, kind = us_of(row["at"], 0), ALARMS.index(row["alarm"])
        listening = order[first[channel] : first[channel + 1]]
        counts[listening, kind] += (fleet.fit_us[listening] <= us) & (us <= fleet.removed_us[listening])
    return counts
