"""Types of typed columns (Parquet) against the contract's forms."""

from __future__ import annotations

import pyarrow as pa

from dialtrue.domain.contracts import Column, Form, Table
from dialtrue.domain.errors.input_files import WrongColumnType
from dialtrue.files.cells import SERIALS


def fits(kind: pa.DataType, form: Form, name: str) -> bool:
    """Tell whether a column of that type can hold the form. Serials must be text: a number has lost its zeros."""
    if pa.types.is_string(kind):
        return True
    number = pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind)
    if form in ("text", "digits", "json"):
        return number and name not in SERIALS and form != "digits"
    if form in ("int", "float", "decimal"):
        return bool(number)
    if form == "time":
        return bool(pa.types.is_timestamp(kind))
    if form == "day":
        return bool(pa.types.is_date(kind) or pa.types.is_timestamp(kind))
    return form == "flag" and bool(pa.types.is_boolean(kind))


def check_types(file: str, table: Table, columns: dict[str, pa.Array]) -> None:
    """Raise ``WrongColumnType`` for the first column whose type cannot hold its form."""
    for column in table.columns:
        if column.name in columns and not fits(columns[column.name].type, column.form, column.name):
            raise wrong_type(file, table.name, column, columns[column.name].type)


def wrong_type(file: str, table: str, column: Column, found: pa.DataType) -> WrongColumnType:
    """Return the error for a typed column of another type than its form needs."""
    expected = {"time": "a timestamp", "day": "a date", "int": "a whole number", "flag": "true or false"}
    how = "Write the column as text or in that type."
    if column.name in SERIALS or column.form == "digits":
        how = "Write it as text: as a number it has lost its leading zeros."
    return WrongColumnType(
        file=file, column=column.name, found=str(found)[:60], expected=expected.get(column.form, "text"), how=how
    )
