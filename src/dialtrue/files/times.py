"""Times and days in columns: ISO 8601, the programme's zone for naive ones, and dates whose order must be accepted."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.files.cells import Cells, Fault, as_text, blank_to_null, mask, places_in, words_of
from dialtrue.files.date_order import read_ordered
from dialtrue.files.zone import FoldOrder, local_to_utc

UTC_US: Final = pa.timestamp("us", tz="UTC")
_NAIVE_US: Final = pa.timestamp("us")
_DATE: Final = r"[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])"
_CLOCK: Final = r"([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9](\.[0-9]+)?)?"
_ABSOLUTE: Final = rf"^{_DATE}[T ]{_CLOCK} ?(Z|[+-]([01][0-9]|2[0-3])(:?[0-5][0-9])?)$"
_NAIVE: Final = rf"^{_DATE}([T ]{_CLOCK})?$"
_NO_SUCH_DAY: Final = r"^[0-9]{4}-(02-3[01]|(04|06|09|11)-31)"
SLASHED: Final = (
    r"^([0-9]{4}[/.][0-9]{1,2}[/.][0-9]{1,2}|[0-9]{1,2}[/.-][0-9]{1,2}[/.-][0-9]{4})"
    r"([T ]+[0-9]{1,2}:[0-9]{2}(:[0-9]{2})?( ?[AaPp][Mm])?)?$"
)
TIME_FORM: Final = "a time such as 2026-03-31T14:05:00Z, or 2026-03-31 14:05 in the programme's zone"
DAY_FORM: Final = "a day such as 2026-03-31"


@dataclass(slots=True)
class Moments:
    """Times of a column before the zone rule: naive rows are local microseconds."""

    us: np.ndarray
    known: np.ndarray
    naive: np.ndarray
    odd: np.ndarray


@dataclass(slots=True)
class ZoneNews:
    """Rows of a column that the zone skipped or repeated."""

    gap: np.ndarray
    fold: np.ndarray


def moments(values: pa.Array) -> Moments:
    """Read a column of times.

    Parameters
    ----------
    values : pa.Array
        Text, timestamps (with a zone or without), or days.

    Returns
    -------
    Moments
        ``odd`` marks the rows that are written and are no ISO 8601 time. Never raises for a cell's content.

    Source
    ------
    The file contract.
    """
    rows = len(values)
    kind = values.type
    none = np.zeros(rows, bool)
    if pa.types.is_timestamp(kind):
        scale = pc.cast(values, pa.timestamp(kind.unit))
        us, overflow = _to_us(scale)
        known = mask(values.is_valid())
        return Moments(us, known & ~overflow, none if kind.tz else known & ~overflow, overflow)
    if pa.types.is_date(kind):
        us, overflow = _to_us(pc.cast(values, pa.timestamp("s")))
        known = mask(values.is_valid())
        return Moments(us, known & ~overflow, known & ~overflow, overflow)
    text = as_text(values)
    words = words_of(text)
    if words is None:
        return _written(text)
    once = _written(words.dictionary)
    place = places_in(words)
    return Moments(once.us[place], once.known[place], once.naive[place], once.odd[place])


def _written(text: pa.Array) -> Moments:
    """Read a column of texts."""
    rows = len(text)
    none = np.zeros(rows, bool)
    text = blank_to_null(text)
    known = mask(text.is_valid())
    for target, naive in ((UTC_US, none), (_NAIVE_US, known)):
        try:
            return Moments(_ints(pc.cast(text, target)), known, naive, none)
        except pa.ArrowInvalid:
            continue
    return _mixed(text, known)


def _to_us(values: pa.Array) -> tuple[np.ndarray, np.ndarray]:
    """Return microseconds, and the rows that microseconds cannot hold."""
    raw = _ints(values)
    unit = values.type.unit
    if unit == "ns":
        return raw // 1000, np.zeros(len(raw), bool)
    factor = {"s": 1_000_000, "ms": 1000, "us": 1}[unit]
    limit = (2**63 - 1) // factor
    overflow = (raw > limit) | (raw < -limit)
    return np.where(overflow, 0, raw) * factor, overflow


def _ints(values: pa.Array) -> np.ndarray:
    """Return 64-bit integers of a timestamp column, zero where blank."""
    return np.asarray(pc.fill_null(values.view(pa.int64()), 0).to_numpy(zero_copy_only=False))


def _mixed(text: pa.Array, known: np.ndarray) -> Moments:
    """Read a column in which some rows are absolute, some naive and some neither."""
    text = pc.utf8_upper(pc.utf8_trim_whitespace(text))
    text = pc.replace_substring_regex(text, r"(\.[0-9]{6})[0-9]+", r"\1")
    real = ~mask(pc.match_substring_regex(text, _NO_SUCH_DAY))
    absolute = mask(pc.match_substring_regex(text, _ABSOLUTE)) & real
    naive = mask(pc.match_substring_regex(text, _NAIVE)) & real
    us = np.zeros(len(text), np.int64)
    read = np.zeros(len(text), bool)
    for rows, target in ((absolute, UTC_US), (naive, _NAIVE_US)):
        where = np.flatnonzero(rows)
        part = text.take(pa.array(where))
        if target is UTC_US:
            part = pc.replace_substring(part, pattern=" Z", replacement="Z")
            part = pc.replace_substring_regex(part, r" ([+-])", r"\1")
        stamps = _cast_what_can(part, target)
        us[where] = _ints(stamps)
        read[where] = mask(stamps.is_valid())
    return Moments(us, read, naive & read, known & ~read)


def _cast_what_can(text: pa.Array, target: pa.DataType) -> pa.Array:
    """Cast, halving around the few rows that fail (29 February of a common year)."""
    try:
        return pc.cast(text, target)
    except pa.ArrowInvalid:
        if len(text) == 1:
            return pa.nulls(1, target)
        middle = len(text) // 2
        return pa.concat_arrays([_cast_what_can(text[:middle], target), _cast_what_can(text[middle:], target)])


def slashed(values: pa.Array, odd: np.ndarray) -> np.ndarray:
    """Return the odd rows that are dates in another order or with other marks than ISO 8601. Never raises."""
    if not odd.any() or not (pa.types.is_string(values.type) or pa.types.is_dictionary(values.type)):
        return np.zeros(len(odd), bool)
    return odd & mask(pc.match_substring_regex(pc.utf8_trim_whitespace(as_text(values)), SLASHED))


def apply_order(values: pa.Array, found: Moments, rows: np.ndarray, order: str) -> None:
    """Fill the rows that are dates in an accepted order into ``found``."""
    text = as_text(values)
    for row in np.flatnonzero(rows).tolist():
        us = read_ordered(text[row].as_py(), order)
        if us is not None:
            found.us[row] = us
            found.known[row] = found.naive[row] = True
            found.odd[row] = False


def to_utc(found: Moments, zone: str, series: Any, order: FoldOrder) -> tuple[np.ndarray, ZoneNews]:
    """Take the naive rows through the zone; return UTC microseconds and the rows skipped or repeated.

    ``series`` tells one series of stamps from another, as in ``FoldOrder.settle``. Never raises.
    """
    news = ZoneNews(np.zeros(len(found.us), bool), np.zeros(len(found.us), bool))
    if zone == "UTC" or not found.naive.any():
        return found.us, news
    where = np.flatnonzero(found.naive)
    local = found.us[where]
    times = local_to_utc(local, zone)
    us = found.us.copy()
    us[where] = order.settle(local, times, series[where] if times.fold.any() else local)
    news.gap[where] = times.gap
    news.fold[where] = times.fold
    return us, news


def time_cells(us: np.ndarray, known: np.ndarray, odd: np.ndarray, low_us: int, high_us: int) -> Cells:
    """Make the column of times, refusing odd rows and those outside the bounds. Never raises."""
    early = known & (us < low_us)
    late = known & (us > high_us)
    keep = known & ~early & ~late
    values = pa.array(us, mask=~keep).cast(_NAIVE_US).cast(UTC_US)
    cells = Cells(values)
    early_remedy = "The clock was not set: correct the time, or leave the row out."
    late_remedy = "The time lies ahead of this run: correct the clock, the year or the zone."
    for rows, expected, remedy, code in (
        (odd, TIME_FORM, "Write it as ISO 8601.", "NOT-A-TIME"),
        (early, f"a time after {_day(low_us)}", early_remedy, "TIME-TOO-EARLY"),
        (late, f"a time before {_day(high_us)}", late_remedy, "TIME-TOO-LATE"),
    ):
        if rows.any():
            cells.faults.append(Fault(rows, expected, remedy, code))
    return cells


def _day(us: int) -> str:
    return (dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=us)).strftime("%Y-%m-%d %H:%M UTC")
