"""Measure how long a survey of a large sheet takes, with a few slips of every family planted.

Run: ``python benchmarks/bench_survey.py [--rows 100000]``. Figures go to stdout.
"""

from __future__ import annotations

import argparse
import datetime as dt
import random
import resource
import tempfile
from pathlib import Path
from time import perf_counter, process_time

from dialtrue.domain.survey.flag import summary_words
from dialtrue.files.repairs_file import write_lines
from dialtrue.services.survey import survey_folder

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
HEADER = (
    "site,account,address,latitude,longitude,mount,meter_serial,meter_type,meter_size,register_role,dial_digits,"
    "fixed_zeros,dial_unit,pulse_weight,pulse_unit,use_l_per_day"
)


SLIPS = (
    "zeros lost", "digits exchanged", "coordinates exchanged", "sign lost", "dial too small", "unit odd",
    "weight not made", "words for a number",
)  # fmt: skip


def write_sheet(folder: Path, rows: int, *, share: float) -> dict[int, str]:
    """Write a sheet, the utility's list and a year of bills; a share of the rows has one slip, told by its line."""
    planted: dict[int, str] = {}
    rng = random.Random(5)
    sheet, listed, billed = [HEADER], ["meter_serial,site,address"], ["meter_serial,start,end,volume,unit"]
    for number in range(rows):
        serial = f"{4_000_000 + 7919 * number:010d}"
        address = f"{number % 90 + 1} Street {number // 90}"
        listed.append(f"{serial},,{address}")
        billed.append(f"{serial},2025-01-01,2025-12-31,{rng.lognormvariate(11.4, 0.6):.0f},gal")
        slip = rng.randrange(len(SLIPS)) if rng.random() < share else -1
        if slip >= 0 and not (slip == 1 and serial[-1] == serial[-2]):
            planted[number + 2] = SLIPS[slip]
        lat, lon = f"{39.5 + rng.gauss(0, 0.05):.5f}", f"{-41.2 + rng.gauss(0, 0.05):.5f}"
        if slip == 0:
            serial = serial.lstrip("0")
        elif slip == 1:
            serial = serial[:-2] + serial[-1] + serial[-2]
        elif slip == 2:
            lat, lon = lon, lat
        elif slip == 3:
            lon = lon.lstrip("-")
        digits, unit, weight, use = "6", "gal", "10", f"{rng.lognormvariate(6.7, 0.6):.0f}"
        if slip == 4:
            digits = "4"
        elif slip == 5:
            unit = "ft3"
        elif slip == 6:
            weight = "7.48"
        elif slip == 7:
            use = "see Bob"
        sheet.append(
            f"S{number:06d},A{number},{address},{lat},{lon},pit,{serial},nutating_disc,5/8in,single,{digits},1,{unit},"
            f"{weight},gal,{use}"
        )
    for name, lines in (("sites", sheet), ("known", listed), ("use_history", billed)):
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return planted


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    options = parser.parse_args()
    for share in (0.0, 0.01, 0.2):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            planted = write_sheet(folder, options.rows, share=share)
            start, begun = perf_counter(), process_time()
            answer = survey_folder(folder, at=AT)
            wall, cpu = perf_counter() - start, process_time() - begun
            flagged = set(answer.by_row())
            print(f"{share:.0%} of the rows with a slip: {wall:.2f} s ({cpu:.2f} s of one core)")
            print(f"  {summary_words(answer.counts)}")
            print(f"  {len(flagged - planted.keys()):,} sound rows flagged; not flagged: ", end="")
            missed = [kind for row, kind in planted.items() if row not in flagged]
            print(", ".join(f"{kind} {missed.count(kind)} of {list(planted.values()).count(kind)}" for kind in SLIPS
                            if kind in missed) or "none")  # fmt: skip
            if share:
                start = perf_counter()
                write_lines(folder / "repairs.csv", answer.lines)
                print(f"  repairs.csv of {len(answer.lines):,} lines written in {perf_counter() - start:.2f} s")
                start = perf_counter()
                decided = survey_folder(folder, at=AT, accept=["all"], by="bench")
                write_lines(folder / "repairs.csv", decided.lines)
                print(f"  all offers accepted in {perf_counter() - start:.2f} s: {decided.repaired:,} repairs made")
                start = perf_counter()
                survey_folder(folder, at=AT)
                print(f"  surveyed again with them replayed in {perf_counter() - start:.2f} s")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")


if __name__ == "__main__":
    main()
