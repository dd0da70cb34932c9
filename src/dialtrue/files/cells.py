"""Cells of one column, all rows at once: from text (or a typed Parquet column) to the contract's form."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from decimal import Decimal, InvalidOperation
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.contracts import Column
from dialtrue.files.limits import MAX_CELL_CHARACTERS, MAX_SERIAL_CHARACTERS

IDENTIFIERS: Final = frozenset({"site", "account", "meter_serial", "endpoint_serial", "true_endpoint_serial"})
"""Columns whose text is a name: leading zeros count, numbers are refused."""

SERIALS: Final = frozenset({"meter_serial", "endpoint_serial", "true_endpoint_serial"})
ABOVE_ZERO: Final = frozenset({"pulse_weight", "weight_set", "index_resolution", "dial_resolution"})
"""Decimals that mean nothing at zero or below."""

FEW_CELLS: Final = 1000
"""Cells below which a column is looked at cell by cell; of longer ones so many are asked whether words come twice. Our
assumption, measured."""

_NUMBER: Final = r"^[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?$"
_WHOLE: Final = r"^[+-]?[0-9]{1,30}$"
ROUNDED_SERIAL: Final = r"^\s*[0-9]+([.,][0-9]+)?[eE]\+[0-9]+\s*$|^\s*[0-9][.,][0-9]+[eE][0-9]+\s*$"
_TRUE: Final = ("true", "yes", "1", "t", "y")
_FALSE: Final = ("false", "no", "0", "f", "n")


@dataclass(slots=True)
class Fault:
    """Why some rows of a column are refused."""

    rows: np.ndarray
    expected: str
    remedy: str
    code: str


@dataclass(slots=True)
class Cells:
    """A column in its form, the rows that are refused, and what is to be said of rows that were taken."""

    values: pa.Array
    faults: list[Fault] = field(default_factory=list)
    said: list[tuple[np.ndarray, str]] = field(default_factory=list)


def mask(values: pa.Array | pa.ChunkedArray) -> np.ndarray:
    """Return a truth column as a NumPy mask, unknown as False. Never raises."""
    flat = values.combine_chunks() if isinstance(values, pa.ChunkedArray) else values
    return np.asarray(pc.fill_null(flat, False).to_numpy(zero_copy_only=False), dtype=bool)


def words_of(text: pa.Array) -> pa.DictionaryArray | None:
    """Return a column of texts as its words and where they stand, blanks too; None where few are written twice."""
    if len(text) < FEW_CELLS or len(pc.unique(text[:FEW_CELLS])) * 2 > FEW_CELLS:
        return None
    words = text.dictionary_encode(null_encoding="encode")
    return words if len(words.dictionary) * 2 <= len(text) else None


def places_in(words: pa.DictionaryArray) -> np.ndarray:
    """Return each row's place among the words. Never raises."""
    return np.asarray(words.indices.to_numpy(zero_copy_only=False))


def blank_to_null(values: pa.Array) -> pa.Array:
    """Turn cells of nothing but white space into blanks."""
    blank = pc.equal(pc.utf8_length(pc.utf8_trim_whitespace(values)), 0)
    return pc.if_else(blank, pa.scalar(None, pa.string()), values)


def as_text(values: pa.Array) -> pa.Array:
    """Turn a typed column into the text a person would have written. Never raises for the types Parquet holds."""
    kind = values.type
    if pa.types.is_string(kind):
        return values
    if pa.types.is_dictionary(kind):
        return as_text(pc.cast(values, kind.value_type))
    if pa.types.is_floating(kind):
        plain = [None if v is None else _number_text(v) for v in values.to_pylist()]
        return pa.array(plain, pa.string())
    if pa.types.is_decimal(kind):
        return pa.array([None if v is None else f"{v:f}" for v in values.to_pylist()], pa.string())
    if pa.types.is_boolean(kind):
        return pc.if_else(values, "true", "false")
    try:
        return pc.cast(values, pa.string())
    except pa.ArrowException:
        return pa.array([None if v is None else str(v) for v in values.to_pylist()], pa.string())


def _number_text(value: float) -> str:
    """Write a float in its shortest exact form, a whole one without a point."""
    return str(int(value)) if value == value and abs(value) < 2**53 and value == int(value) else repr(value)


def parse(values: pa.Array, column: Column) -> Cells:
    """Bring the cells of a column (other than times and days) into its form.

    Parameters
    ----------
    values : pa.Array
        Text with blanks as null, or a typed column of a Parquet file.
    column : Column
        The contract's column.

    Returns
    -------
    Cells
        Values in the form's Arrow type, null where refused or blank. Never raises for a cell's content.

    Source
    ------
    The file contract; limits of length are our assumption, see ``files/limits.py``.
    """
    if column.form == "int" and pa.types.is_integer(values.type):
        cells = Cells(pc.cast(values, pa.int64(), safe=False))
        if pa.types.is_uint64(values.type):
            _refuse(cells, mask(pc.greater(values, pa.scalar(2**63 - 1, pa.uint64()))), *_range_words(column))
        return _in_range(cells, column)
    if column.form == "float" and (pa.types.is_floating(values.type) or pa.types.is_integer(values.type)):
        return _in_range(_finite(Cells(pc.cast(values, pa.float64(), safe=False))), column)
    if column.form == "flag" and pa.types.is_boolean(values.type):
        return Cells(values)
    text = as_text(values)
    words = words_of(text)
    if words is None:
        return _PARSERS[column.form](blank_to_null(text), column)
    once = _PARSERS[column.form](blank_to_null(words.dictionary), column)
    place = places_in(words)
    return Cells(
        once.values.take(words.indices),
        [replace(fault, rows=fault.rows[place]) for fault in once.faults],
        [(rows[place], what) for rows, what in once.said],
    )


def _refuse(cells: Cells, rows: np.ndarray, expected: str, remedy: str, code: str) -> None:
    if rows.any():
        cells.faults.append(Fault(rows, expected, remedy, code))
        cells.values = pc.if_else(pa.array(~rows), cells.values, pa.scalar(None, cells.values.type))


def _text(text: pa.Array, column: Column) -> Cells:
    cells = Cells(text)
    if column.name in SERIALS:
        remedy = "A spreadsheet has rounded it: format the column as text and export the original serials again."
        rounded = mask(pc.match_substring_regex(text, ROUNDED_SERIAL))
        _refuse(cells, rounded, "a serial, digit by digit", remedy, "SERIAL-ROUNDED")
    limit = MAX_SERIAL_CHARACTERS if column.name in IDENTIFIERS else MAX_CELL_CHARACTERS
    _refuse(cells, mask(pc.greater(pc.utf8_length(text), limit)), f"at most {limit:,} characters",
            "Check for a missing quote mark or line end.", "CELL-TOO-LONG")  # fmt: skip
    return cells


def _digits(text: pa.Array, column: Column) -> Cells:
    cells = Cells(pc.utf8_trim_whitespace(text))
    ok = mask(pc.match_substring_regex(cells.values, r"^[0-9]{1,30}$"))
    _refuse(cells, ~ok & mask(text.is_valid()), "digits only, every position as seen, without a point",
            "Write the digits left to right, leading and painted zeros too.", "NOT-DIGITS")  # fmt: skip
    return cells


def _whole(text: pa.Array, column: Column) -> Cells:
    trimmed = pc.utf8_trim_whitespace(text)
    pointed = mask(pc.match_substring_regex(trimmed, r"^[+-]?[0-9]+\.0*$"))
    if pointed.any():
        trimmed = pc.replace_substring_regex(trimmed, r"^([+-]?[0-9]+)\.0*$", r"\1")
    plain = mask(pc.match_substring_regex(trimmed, _WHOLE))
    known = mask(text.is_valid())
    odd = np.flatnonzero(known & ~plain)
    values = pc.if_else(pa.array(plain), pc.replace_substring_regex(trimmed, r"^\+", ""), pa.scalar(None, pa.string()))
    large = mask(pc.greater(pc.utf8_length(values), 18))
    numbers = pc.cast(pc.if_else(pa.array(~large), values, pa.scalar(None, pa.string())), pa.int64())
    filled: dict[int, int] = {}
    said = pointed & plain
    for row in np.concatenate((odd, np.flatnonzero(large))).tolist():
        exact = _exact_whole(trimmed[row].as_py())
        if exact is not None:
            filled[row] = exact
            said[row] |= bool(not plain[row])
    if filled:
        patched = numbers.to_pylist()
        for row, value in filled.items():
            patched[row] = value
        numbers = pa.array(patched, pa.int64())
    cells = Cells(numbers)
    if said.any():
        cells.said.append((said, "written with a point or an exponent, taken because they are exactly whole"))
    empty = known & ~mask(numbers.is_valid())
    _refuse(cells, empty & plain, *_range_words(column))
    remedy = "Write digits only, such as 417733."
    _refuse(cells, empty & ~plain, "a whole number", remedy, "NOT-A-WHOLE-NUMBER")
    return _in_range(cells, column)


def _exact_whole(written: str) -> int | None:
    """Return the whole number that a text is exactly, within 64 bits, or None."""
    if len(written) > 60 or not re.match(_NUMBER, written):
        return None
    try:
        number = Decimal(written)
    except InvalidOperation:
        return None
    if number.adjusted() > 20 or number != number.to_integral_value():
        return None
    whole = int(number)
    return whole if -(2**63) <= whole < 2**63 else None


def _in_range(cells: Cells, column: Column) -> Cells:
    outside = np.zeros(len(cells.values), bool)
    if column.minimum is not None:
        outside |= mask(pc.less(cells.values, column.minimum))
    if column.maximum is not None:
        outside |= mask(pc.greater(cells.values, column.maximum))
    _refuse(cells, outside, *_range_words(column))
    return cells


def _range_words(column: Column) -> tuple[str, str, str]:
    low = "" if column.minimum is None else f"at least {column.minimum:,}"
    high = "" if column.maximum is None else f"at most {column.maximum:,}"
    bounds = " and ".join(part for part in (low, high) if part) or "a number within 64 bits"
    return bounds, "Check the number at its source, or leave the cell blank if it may be blank.", "OUT-OF-RANGE"


def _finite(cells: Cells) -> Cells:
    odd = mask(pc.invert(pc.is_finite(cells.values)))
    _refuse(cells, odd, "a finite number", "Leave the cell blank if the number is not known.", "NOT-A-NUMBER")
    return cells


def _number_rows(text: pa.Array) -> tuple[pa.Array, np.ndarray, np.ndarray]:
    """Return trimmed text, rows that are numbers, rows that are written and are none."""
    trimmed = pc.utf8_trim_whitespace(text)
    ok = mask(pc.match_substring_regex(trimmed, _NUMBER))
    return trimmed, ok, ~ok & mask(text.is_valid())


def _number_remedy(trimmed: pa.Array, bad: np.ndarray) -> str:
    comma = bad & mask(pc.match_substring(trimmed, ","))
    return "Write a decimal point, not a comma." if comma.any() else "Write digits with a point, such as 0.1 or 100."


def _float(text: pa.Array, column: Column) -> Cells:
    trimmed, ok, bad = _number_rows(text)
    plain = pc.replace_substring_regex(trimmed, r"^\+", "")
    cells = Cells(pc.cast(pc.if_else(pa.array(ok), plain, pa.scalar(None, pa.string())), pa.float64()))
    _refuse(cells, bad, "a number", _number_remedy(trimmed, bad), "NOT-A-NUMBER")
    return _in_range(_finite(cells), column)


def _decimal(text: pa.Array, column: Column) -> Cells:
    trimmed, ok, bad = _number_rows(text)
    cells = Cells(trimmed)
    _refuse(cells, bad, "a decimal number", _number_remedy(trimmed, bad), "NOT-A-NUMBER")
    long = ok & mask(pc.or_(pc.greater(pc.utf8_length(trimmed), 40), pc.match_substring_regex(trimmed, r"[eE].*\d\d")))
    if long.any():
        kept = [row for row in np.flatnonzero(long).tolist() if not _fits(trimmed[row].as_py())]
        rows = np.zeros(len(text), bool)
        rows[kept] = True
        _refuse(cells, rows, "a number of at most 40 digits", "Check the number at its source.", "OUT-OF-RANGE")
    if column.name in ABOVE_ZERO:
        zero = mask(pc.match_substring_regex(cells.values, r"^-|^\+?[0.]*([eE].*)?$"))
        _refuse(cells, zero, "a number above zero", "Leave the cell blank if it may be blank and is not known.",
                "OUT-OF-RANGE")  # fmt: skip
    return cells


def _fits(written: str) -> bool:
    """Tell whether a decimal is of a size that exact arithmetic takes without harm."""
    return len(written) <= 60 and abs(Decimal(written).adjusted()) <= 30


def _choice(text: pa.Array, column: Column) -> Cells:
    cells = Cells(pc.utf8_trim_whitespace(text))
    known = mask(pc.is_in(cells.values, value_set=pa.array(column.choices, pa.string())))
    _refuse(cells, ~known & mask(text.is_valid()), "one of " + ", ".join(column.choices),
            "Write it exactly so, small and capital letters too.", "NOT-A-CHOICE")  # fmt: skip
    return cells


def _flag(text: pa.Array, column: Column) -> Cells:
    lower = pc.utf8_lower(pc.utf8_trim_whitespace(text))
    true = pc.is_in(lower, value_set=pa.array(_TRUE))
    false = pc.is_in(lower, value_set=pa.array(_FALSE))
    cells = Cells(pc.if_else(true, True, pc.if_else(false, False, pa.scalar(None, pa.bool_()))))
    _refuse(cells, mask(text.is_valid()) & ~mask(true) & ~mask(false), "true or false", "Write true or false.",
            "NOT-TRUE-OR-FALSE")  # fmt: skip
    return cells


_PARSERS: Final[dict[str, Callable[[pa.Array, Column], Cells]]] = {
    "text": _text,
    "json": _text,
    "digits": _digits,
    "int": _whole,
    "float": _float,
    "decimal": _decimal,
    "unit": _choice,
    "choice": _choice,
    "flag": _flag,
}
