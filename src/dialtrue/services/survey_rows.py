"""What was read, laid out for the checks: the sheet in columns, the list, billed use, dials read before."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.quantity import LITRES_PER_UNIT, exact_decimal
from dialtrue.engine.survey.sheet import Floats, Listed, Sheet, Texts, cached
from dialtrue.files.survey_sheet import SurveyFiles, SurveySheet

_DAY_S = 86_400


def columns_of(sheet: SurveySheet) -> Sheet:
    """Lay the sheet out for the checks. Never raises."""
    rows = len(sheet.lines)
    absent = np.full(rows, np.nan)

    def number(name: str) -> Floats:
        return sheet.numbers.get(name, absent)

    return Sheet(
        lines=sheet.lines,
        site=sheet.text("site"),
        serial=sheet.text("meter_serial"),
        role=[role or "single" for role in sheet.text("register_role")],
        kind=sheet.text("meter_type"),
        size=sheet.text("meter_size"),
        address=sheet.text("address"),
        area=sheet.text("area"),
        account=sheet.text("account"),
        digits=number("dial_digits"),
        zeros=np.where(np.isnan(number("fixed_zeros")), 0.0, number("fixed_zeros")),
        dial_unit=sheet.text("dial_unit"),
        resolution=_exact(sheet, "dial_resolution"),
        weight=_exact(sheet, "pulse_weight"),
        pulse_unit=sheet.text("pulse_unit"),
        latitude=number("latitude"),
        longitude=number("longitude"),
        use_l_per_day=number("use_l_per_day"),
    )


def _exact(sheet: SurveySheet, name: str) -> list[Fraction | None]:
    """Return a column of decimals exactly, None where the cell is blank or bad."""

    def convert(text: str) -> Fraction | None:
        try:
            return exact_decimal(text)
        except DialtrueError:
            return None

    good = np.isfinite(sheet.numbers[name]) if name in sheet.numbers else np.zeros(len(sheet.lines), bool)
    return cached(convert, (text if fine else None for text, fine in zip(sheet.text(name), good, strict=True)))


def listed_of(files: SurveyFiles) -> Listed:
    """Gather the list that the sheet is held against: the one named, else the billed meters; the rest is known too.

    Never raises.
    """
    elsewhere = frozenset(
        serial
        for table in files.tables.values()
        for serial in pc.unique(table["meter_serial"]).to_pylist()
        if serial is not None
    )
    if files.listed:
        keep = [row for row, serial in enumerate(files.listed["meter_serial"]) if serial is not None]
        columns = {name: [column[row] for row in keep] for name, column in files.listed.items()}
        serials = [str(serial) for serial in columns.pop("meter_serial")]
        return Listed(files.listed_name, serials, whole=True, extra=elsewhere, **columns)
    billed = files.tables.get("use_history")
    if billed is not None and billed.num_rows:
        serials = [serial for serial in pc.unique(billed["meter_serial"]).to_pylist() if serial is not None]
        return Listed(files.files["use_history"], serials, whole=True, extra=elsewhere)
    return Listed(extra=elsewhere)


def billed_use(files: SurveyFiles, serials: Texts, roles: list[str]) -> tuple[Floats, Texts]:
    """Return the mean billed use of each row and the unit it was billed in; estimated periods are left out.

    Never raises.
    """
    rows = len(serials)
    nothing: tuple[Floats, Texts] = (np.full(rows, np.nan), [None] * rows)
    table = files.tables.get("use_history")
    if table is None or not table.num_rows:
        return nothing
    table = table.filter(pc.invert(pc.fill_null(table["estimated"], False)))
    if not table.num_rows:
        return nothing
    keys = pc.binary_join_element_wise(table["meter_serial"], table["register_role"], "\x1f")
    coded = pa.chunked_array([keys.combine_chunks()] if isinstance(keys, pa.ChunkedArray) else [keys]).combine_chunks()
    coded = coded.dictionary_encode()
    codes = coded.indices.to_numpy(zero_copy_only=False)
    names = coded.dictionary.to_pylist()
    days = pc.subtract(_day_numbers(table["end"]), _day_numbers(table["start"])).to_numpy(zero_copy_only=False)
    units = table["unit"].combine_chunks().dictionary_encode()
    unit_codes, unit_names = units.indices.to_numpy(zero_copy_only=False), units.dictionary.to_pylist()
    litres = np.array([float(LITRES_PER_UNIT[name]) for name in unit_names])[unit_codes]
    volume = pc.cast(table["volume"], pa.float64()).combine_chunks().to_numpy(zero_copy_only=False)
    good = (days > 0) & np.isfinite(volume)
    total = np.bincount(codes, np.where(good, volume * litres, 0.0), len(names))
    span = np.bincount(codes, np.where(good, days, 0), len(names))
    mean = np.where(span > 0, total / np.maximum(span, 1), np.nan)
    last_unit = np.zeros(len(names), np.int64)
    last_unit[codes] = unit_codes
    place = {name: at for at, name in enumerate(names)}
    at = [place.get(f"{serial}\x1f{role}", -1) for serial, role in zip(serials, roles, strict=True)]
    use = np.array([np.nan if each < 0 else mean[each] for each in at], np.float64)
    return use, [None if each < 0 else unit_names[last_unit[each]] for each in at]


def _day_numbers(column: pa.ChunkedArray) -> pa.Array:
    return pc.cast(pc.cast(column, pa.int32()), pa.int64()).combine_chunks()


def seen_lengths(files: SurveyFiles) -> dict[tuple[str, str], int]:
    """Return how many positions the dials read before had, by serial and register, where all reads agree.

    Never raises.
    """
    table = files.tables.get("dial_reads")
    if table is None:
        return {}
    lengths: dict[tuple[str, str], set[int]] = {}
    for serial, role, size in zip(
        table["meter_serial"].to_pylist(),
        table["register_role"].to_pylist(),
        pc.utf8_length(table["dial"]).to_pylist(),
        strict=True,
    ):
        lengths.setdefault((serial, role), set()).add(size)
    return {key: next(iter(found)) for key, found in lengths.items() if len(found) == 1}
