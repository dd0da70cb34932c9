"""How long 500 job sheets take: a town as surveyed, mounts and meters mixed, codes and drawings on every page."""

from __future__ import annotations

import datetime as dt
import random
import resource
import sys
import tempfile
import time
from pathlib import Path

from dialtrue.domain.job_sheet.label import SHIPPED_GRIDS
from dialtrue.files.job_sheets import labels_pdf, sheets_html, sheets_pdf
from dialtrue.services.job_sheets import sheets_folder

SHEETS = 500
LIMIT_S = 10.0
AT = dt.datetime(2026, 12, 1, tzinfo=dt.UTC)
HEAD = (
    "site,address,mount,meter_serial,meter_type,meter_size,register_role,dial_digits,fixed_zeros,dial_unit,"
    "pulse_weight,pulse_unit,output,cable,cable_length_m\n"
)
OUTPUTS = ("reed-contact", "open-drain", "reed-one-in-five", "")


def survey(sheets: int) -> str:
    """Invent a survey: one site in twenty a compound meter, one in fifty two meters side by side."""
    draw = random.Random(7)
    rows = [HEAD]
    for n in range(sheets):
        mount = draw.choice(("pit", "pit", "wall", "pole", "indoor"))
        serial, place = f"{40_000_000 + 7919 * n:08d}", f"S{n:05d},{n + 1} Bobbin Row,{mount}"
        tail = f"{draw.choice(OUTPUTS)},awg22-four,{draw.choice((2, 3, 6, 12))}\n"
        if n % 20 == 9:
            rows.append(f"{place},{serial},compound,4in,high,6,2,gal,100,gal,{tail}")
            rows.append(f"{place},{serial},compound,4in,low,6,1,gal,10,gal,{tail}")
            continue
        rows.append(f"{place},{serial},nutating_disc,5/8in,single,6,1,gal,10,gal,{tail}")
        if n % 50 == 3:
            rows.append(f"{place},9{serial[1:]},nutating_disc,5/8in,single,6,1,gal,10,gal,{tail}")
    return "".join(rows)


def main() -> int:
    """Print the times; return 1 where 500 sheets take longer than the limit."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "sites.csv").write_text(survey(SHEETS), encoding="utf-8")
        sheets_folder(Path(folder), at=AT, sites=("S00000",))  # imports and compiled loops
        start = time.perf_counter()
        answer = sheets_folder(Path(folder), at=AT)
        print(f"plan, wiring and words of {len(answer.sheets)} sheets: {time.perf_counter() - start:.2f} s")
    start, work = time.perf_counter(), time.process_time()
    printed = sheets_pdf(answer.sheets, paper="letter")
    wall, used = time.perf_counter() - start, time.process_time() - work
    each = len(printed.pdf) / len(answer.sheets) / 1000
    print(f"PDF: {wall:.2f} s ({used:.2f} s of processor), {each:.0f} kB a sheet; too long: {len(printed.too_long)}")
    start = time.perf_counter()
    page = sheets_html(answer.sheets)
    print(f"HTML: {time.perf_counter() - start:.2f} s, {len(page) / len(answer.sheets) / 1000:.0f} kB a sheet")
    start = time.perf_counter()
    stuck = labels_pdf(answer.labels, SHIPPED_GRIDS["letter"])
    print(f"labels: {stuck.labels} in {time.perf_counter() - start:.2f} s")
    print(f"memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB at most")
    return int(wall > LIMIT_S)


if __name__ == "__main__":
    sys.exit(main())
