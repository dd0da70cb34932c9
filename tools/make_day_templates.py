"""Derive the simulation's measured household days from two open data sets; run once, the result is shipped.

Run: ``python tools/make_day_templates.py FIXTURES PULSES OUT`` with the folder of the seven fixtures of one flat
(``WEUSEDTO-FLAT``), the file of pulses of one house (``CIWS-DATA``) and the file to write. Each row is one draw: day
number, 1 on a weekend, fixture, second of the local day, duration [s], volume [L].
"""

from __future__ import annotations

import csv
import datetime as dt
import gzip
import io
import sys
from itertools import pairwise
from pathlib import Path

GAP_S = 10
"""Records further apart than this belong to two draws. Our assumption."""
PULSE_L = 0.041619 * 3.785411784
LEAST_L = 0.05
TOILET_L_S, DISHES_L_S = 0.13, 0.10
SUMMER_S = 7200
"""All used days lie in the summer time of central Europe, UTC + 2 h."""

Draw = tuple[int, str, int, int, float]


def main() -> None:
    """Read both sets, keep whole days, write the draws."""
    fixtures, pulses, out = (Path(text) for text in sys.argv[1:4])
    draws = [*flat(fixtures), *house(pulses)]
    rows = io.StringIO()
    writer = csv.writer(rows, lineterminator="\n")
    writer.writerow(("day", "weekend", "fixture", "second", "duration_s", "litres"))
    for number, (day, own) in enumerate(sorted(whole_days(draws).items())):
        weekend = int((day + 3) % 7 >= 5)
        for _, name, second, duration, litres in sorted(own, key=lambda draw: draw[2]):
            writer.writerow((number, weekend, name, second, duration, f"{litres:.2f}"))
    out.write_bytes(gzip.compress(rows.getvalue().encode("ascii"), 9, mtime=0))


def whole_days(draws: list[Draw]) -> dict[int, list[Draw]]:
    """Return the days on which the record looks whole: more than 15 L in four different hours or more."""
    by_day: dict[int, list[Draw]] = {}
    for draw in draws:
        by_day.setdefault(draw[0], []).append(draw)
    return {
        day: own
        for day, own in by_day.items()
        if sum(draw[4] for draw in own) > 15 and len({draw[2] // 3600 for draw in own}) >= 4
    }


def flat(folder: Path) -> list[Draw]:
    """Return the draws of the flat's fixtures. Toilet and dish washer are recorded once a use, in litres."""
    out: list[Draw] = []
    last_s = dt.datetime(2019, 10, 26, 22, tzinfo=dt.UTC).timestamp()
    first_s = dt.datetime(2019, 3, 31, 22, tzinfo=dt.UTC).timestamp()
    for path in sorted(folder.glob("*_2019.csv.gz")):
        name = path.name.removesuffix("_2019.csv.gz")
        rows = []
        for row in _csv_rows(path):
            if row[0].isdigit() and row[1] and first_s <= int(row[0]) < last_s and float(row[1]) > 0:
                rows.append((int(row[0]) + SUMMER_S, float(row[1])))
        rows.sort()
        if name in ("toilet", "dishwasher"):
            flow = TOILET_L_S if name == "toilet" else DISHES_L_S
            out += [(at // 86400, name, at % 86400, round(litres / flow), litres) for at, litres in rows]
            continue
        out += _grouped(name, [(at, millilitres / 1000) for at, millilitres in rows], 1)
    return out


def house(path: Path) -> list[Draw]:
    """Return the draws of the house's two days; its clock is local already."""
    rows = []
    for row in _csv_rows(path):
        if len(row) == 3 and row[2].isdigit() and int(row[2]):
            at = dt.datetime.strptime(f"20{row[0]}", "%Y-%m-%d %H:%M:%S").replace(tzinfo=dt.UTC)
            rows.append((int(at.timestamp()), int(row[2]) * PULSE_L))
    # The record runs from noon to noon: each of its two times 24 hours is folded onto one day.
    begin = rows[0][0]
    return [
        (begin // 86400 + min((day * 86400 + second - begin) // 86400, 1), name, second, duration, litres)
        for day, name, second, duration, litres in _grouped("house", rows, 4)
    ]


def _csv_rows(path: Path) -> list[list[str]]:
    with gzip.open(path, "rt", encoding="utf-8") as stream:
        return list(csv.reader(stream))


def _grouped(name: str, rows: list[tuple[int, float]], record_s: int) -> list[Draw]:
    """Return runs of records as draws."""
    cuts = [0, *(k + 1 for k, (a, b) in enumerate(pairwise(rows)) if b[0] - a[0] > GAP_S), len(rows)]
    out = []
    for first, last in pairwise(cuts):
        litres = sum(volume for _, volume in rows[first:last])
        if litres >= LEAST_L:
            begin, end = rows[first][0], rows[last - 1][0] + record_s
            out.append((begin // 86400, name, begin % 86400, end - begin, litres))
    return out


if __name__ == "__main__":
    main()
