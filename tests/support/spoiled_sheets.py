"""Survey sheets to spoil: a sound sheet as rows of cells, written in any order and form."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.survey.flag import SurveyFlag
from dialtrue.files.repairs_file import write_lines
from dialtrue.files.tables_out import write_table
from dialtrue.services.survey import SurveyAnswer, survey_folder

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
Row = dict[str, str]


def serial(number: int) -> str:
    """Return the serial of a row: eight digits, the first two of them zeros, no two one slip apart."""
    return f"{500_000 + 1_373 * number:08d}"


def sound_rows(count: int = 14) -> list[Row]:
    """Return rows in which nothing is doubtful."""
    return [
        {
            "site": f"S{number:03d}", "account": f"A{number:03d}", "address": f"{number + 1} Bobbin Row",
            "latitude": f"{39.5 + number / 5000:.5f}", "longitude": f"{-41.2 - number / 5000:.5f}", "mount": "pit",
            "meter_serial": serial(number), "meter_type": "nutating_disc", "meter_size": "5/8in",
            "register_role": "single", "dial_digits": "6", "fixed_zeros": "1", "dial_unit": "gal",
            "dial_resolution": "", "pulse_weight": "10", "pulse_unit": "gal", "cable_length_m": "2",
            "use_l_per_day": "", "surveyed_at": "2026-04-17",
        }
        for number in range(count)
    ]  # fmt: skip


def write_rows(path: Path, rows: Sequence[Row], *, columns: Sequence[str] | None = None) -> None:
    """Write rows in the form that the name's ending asks for; every cell is text."""
    names = list(columns or rows[0])
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.name.endswith(".parquet"):
        write_table(path, pa.table({name: pa.array([row[name] or None for row in rows]) for name in names}))
    elif path.name.endswith(".xlsx"):
        from openpyxl import Workbook

        book = Workbook()
        book.active.append(names)
        for row in rows:
            book.active.append([row[name] or None for name in names])
        book.save(path)
    else:
        with path.open("w", encoding="utf-8", newline="") as sink:
            writer = csv.writer(sink, lineterminator="\n")
            writer.writerow(names)
            writer.writerows([row[name] for name in names] for row in rows)


def spoiled(folder: Path, changes: dict[int, Row], *, count: int = 14, extra: Sequence[Row] = ()) -> Path:
    """Write a sound sheet with some cells changed and some rows added; return the folder."""
    rows = sound_rows(count)
    for number, cells in changes.items():
        rows[number] |= cells
    write_rows(folder / "sites.csv", [*rows, *extra])
    return folder


def listed(
    folder: Path, count: int = 14, *, extra: Sequence[str] = (), columns: str = "meter_serial,site,address"
) -> None:
    """Write the utility's list of the sound sheet's meters, and further lines."""
    rows = {row["meter_serial"]: row for row in sound_rows(count)}
    names = columns.split(",")
    lines = [",".join(row[name] for name in names) for row in rows.values()]
    (folder / "known.csv").write_text("\n".join([columns, *lines, *extra]) + "\n", encoding="utf-8")


def survey(folder: Path, **options: object) -> SurveyAnswer:
    """Survey at the tests' hour."""
    return survey_folder(folder, at=AT, **options)  # type: ignore[arg-type]


def flags(folder: Path) -> list[SurveyFlag]:
    """Return what a survey flags."""
    return list(survey(folder).flags)


def keep(folder: Path, answer: SurveyAnswer) -> None:
    """Write the answer's lines as the folder's ``repairs.csv``."""
    write_lines(folder / "repairs.csv", answer.lines)
