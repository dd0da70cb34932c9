"""Columns of contract tables as arrays: codes, numbers and moments, and rows made only when somebody asks for them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from dialtrue.domain.contracts import TABLE
from dialtrue.engine.inference_number import inference_number

Row = dict[str, Any]
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
_CHUNK = 128
_EXACT = 2**53


_TYPES = {
    "int": pa.int64(), "float": pa.float64(), "time": pa.timestamp("us", tz="UTC"), "day": pa.date32(),
    "flag": pa.bool_(),
}  # fmt: skip


def table_of(tables: dict[str, pa.Table], name: str) -> pa.Table:
    """Return a table of a programme; with all of the contract's columns and no row where the programme has none."""
    if name in tables:
        return tables[name]
    columns = [(column.name, _TYPES.get(column.form, pa.string())) for column in TABLE[name].columns]
    return pa.schema(columns).empty_table()


class TableRows(Sequence[Row]):
    """The rows of a table as dicts, made in chunks when they are asked for: most of them never are."""

    def __init__(self, table: pa.Table | None) -> None:
        self._table = table
        self._made: dict[int, list[Row]] = {}

    def __len__(self) -> int:
        return 0 if self._table is None else int(self._table.num_rows)

    def __getitem__(self, place: Any) -> Any:
        if isinstance(place, slice):
            return [self[k] for k in range(*place.indices(len(self)))]
        k = int(place) + (len(self) if place < 0 else 0)
        if self._table is None or not 0 <= k < len(self):
            raise IndexError(place)
        chunk = k // _CHUNK
        if chunk not in self._made:
            self._made[chunk] = self._table.slice(chunk * _CHUNK, _CHUNK).to_pylist()
        return self._made[chunk][k % _CHUNK]

    def __iter__(self) -> Iterator[Row]:
        return (self[k] for k in range(len(self)))


class ChosenRows(Sequence[Row | None]):
    """Rows of a table picked by number, None where the number is -1."""

    def __init__(self, rows: TableRows, chosen: Ints) -> None:
        self._rows, self._chosen = rows, chosen

    def __len__(self) -> int:
        return len(self._chosen)

    def __getitem__(self, place: Any) -> Any:
        if isinstance(place, slice):
            return [self[k] for k in range(*place.indices(len(self)))]
        k = int(self._chosen[place])
        return None if k < 0 else self._rows[k]

    def __iter__(self) -> Iterator[Row | None]:
        return (self[k] for k in range(len(self)))


def flat(column: pa.ChunkedArray) -> pa.Array:
    """Return a column in one piece."""
    whole = column.combine_chunks()
    return whole if isinstance(whole, pa.Array) else pa.concat_arrays(whole.chunks)


def codes_in(column: pa.ChunkedArray, words: pa.Array) -> Ints:
    """Return the place of each cell among ``words``, -1 where it is not there or blank."""
    found = pc.fill_null(pc.index_in(flat(column), value_set=words), -1)
    return np.asarray(found.to_numpy(zero_copy_only=False), np.int64)


def own_codes(column: pa.ChunkedArray) -> tuple[Ints, list[Any]]:
    """Return each cell's place among the column's distinct values, and those; a blank is one of them."""
    coded = flat(column).dictionary_encode(null_encoding="encode")
    return np.asarray(coded.indices.to_numpy(zero_copy_only=False), np.int64), coded.dictionary.to_pylist()


def moments_us(column: pa.ChunkedArray, default: int) -> Ints:
    """Return UTC microseconds of a column of moments, ``default`` where blank."""
    us = pc.fill_null(flat(column).view(pa.int64()), default)
    return np.asarray(us.to_numpy(zero_copy_only=False), np.int64)


def whole_numbers(column: pa.ChunkedArray, default: int) -> Ints:
    """Return a column of whole numbers, ``default`` where blank."""
    return np.asarray(pc.fill_null(flat(column), default).to_numpy(zero_copy_only=False), np.int64)


def texts(column: pa.ChunkedArray) -> list[str]:
    """Return a column of texts, the empty text where blank."""
    return pc.fill_null(flat(column), "").to_pylist()  # type: ignore[no-any-return]


def by_kind(columns: Sequence[pa.ChunkedArray], work: Callable[..., Any]) -> tuple[Ints, list[Any]]:
    """Call ``work`` once for each distinct combination of cells; return each row's number and the results."""
    key, kinds = np.zeros(len(columns[0]), np.int64), []
    for column in columns:
        codes, values = own_codes(column)
        kinds.append(values)
        key = key * max(len(values), 1) + codes
    distinct, inverse = np.unique(key, return_inverse=True)
    results = []
    for one in distinct.tolist():
        cells = []
        for values in reversed(kinds):
            one, place = divmod(one, max(len(values), 1))
            cells.append(values[place])
        results.append(work(*reversed(cells)))
    return np.asarray(inverse, np.int64).reshape(-1), results


def digits_as_numbers(column: pa.ChunkedArray) -> tuple[Ints, dict[int, int]]:
    """Return texts of digits as numbers, -1 where blank; those too long for 64 bits apart, by row, with -2 here."""
    cells = flat(column)
    long = pc.fill_null(pc.greater(pc.utf8_length(cells), 18), False)
    blank = pc.or_(pc.is_null(cells), pc.equal(pc.fill_null(cells, ""), ""))
    short = pc.if_else(pc.or_(long, blank), pa.scalar("0"), cells)
    numbers = np.array(short.cast(pa.int64()).to_numpy(zero_copy_only=False))
    numbers[blank.to_numpy(zero_copy_only=False)] = -1
    apart = {}
    for row in np.flatnonzero(long.to_numpy(zero_copy_only=False)).tolist():
        apart[row] = int(cells[row].as_py())
        numbers[row] = -2
    return numbers, apart


def times_exactly(numbers: Ints, apart: dict[int, int], kind: Ints, factors: Sequence[Fraction | None]) -> Floats:
    """Multiply whole numbers by exact factors and round once: nan where the number is below 0 or the factor None.

    ``kind`` is the place of each number's factor, -1 where there is none. A quotient of two whole numbers that floats
    hold exactly is rounded correctly by one division; others go through exact arithmetic.
    """
    top = np.array([0 if factor is None else min(factor.numerator, _EXACT) for factor in factors] or [0], np.int64)
    under = np.array([1 if factor is None else min(factor.denominator, _EXACT) for factor in factors] or [1], np.int64)
    known = np.array([factor is not None for factor in factors] or [False])[kind] & (kind >= 0) & (numbers != -1)
    p, q = top[kind], under[kind]
    fits = known & (numbers >= 0) & (p < _EXACT) & (q < _EXACT)
    fits &= numbers < _EXACT // np.maximum(p, 1)
    value = np.full(len(numbers), np.nan)
    value[fits] = (numbers[fits] * p[fits]).astype(float) / q[fits].astype(float)
    for row in np.flatnonzero(known & ~fits).tolist():
        factor = factors[int(kind[row])]
        number = apart.get(row, int(numbers[row]))
        value[row] = inference_number(None if factor is None else number * factor)
    return value
