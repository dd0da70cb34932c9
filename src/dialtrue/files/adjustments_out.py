"""Adjustments as a table of the contract: exact decimals, a figure without end rounded and only then."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

import pyarrow as pa

from dialtrue.domain.contracts import TABLE
from dialtrue.domain.figures import decimal_places
from dialtrue.domain.settlement.adjustment import Adjustment
from dialtrue.files.tables_out import write_table

PLACES: Final = 6
"""Places of a volume that no number of places writes exactly, as a gallon billed in cubic feet. Our assumption."""


def plain_decimal(value: Fraction) -> str:
    """Write a fraction as a plain decimal: in full where it ends, else to ``PLACES`` places. Never raises.

    Examples
    --------
    >>> plain_decimal(Fraction(9, 8)), plain_decimal(Fraction(1, 3)), plain_decimal(Fraction(4570))
    ('1.125', '0.333333', '4570')
    """
    needed = decimal_places(value)
    places = PLACES if needed is None else needed
    with localcontext() as context:
        context.prec = max(28, len(str(abs(value.numerator))) + places + 4)
        context.rounding = ROUND_HALF_EVEN
        return f"{Decimal(round(value * 10**places)).scaleb(-places):f}"


def adjustments_table(rows: Sequence[Adjustment]) -> pa.Table:
    """Return the adjustments in the contract's columns; decimals as text, so that no reader rounds them."""

    def cells(row: Adjustment) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for column in TABLE["adjustments"].columns:
            value = getattr(row, column.name)
            if isinstance(value, Fraction):
                value = plain_decimal(value)
            elif isinstance(value, Decimal):
                value = f"{value:f}"
            found[column.name] = None if value == "" else value
        return found

    schema = pa.schema(
        [(column.name, pa.date32() if column.form == "day" else pa.string()) for column in TABLE["adjustments"].columns]
    )
    return pa.Table.from_pylist([cells(row) for row in rows], schema=schema)


def write_adjustments(path: Path, rows: Sequence[Adjustment]) -> None:
    """Write adjustments by the ending of the name; raises as ``write_table`` does."""
    write_table(path, adjustments_table(rows))
