"""Draw the job sheet that the how-to shows: a compound meter of an invented town."""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
from pathlib import Path

PICTURE = Path(__file__).resolve().parent.parent / "docs" / "how-to" / "pictures" / "job-sheet.png"
SITES = """\
site,address,mount,meter_serial,meter_type,meter_size,register_role,dial_digits,fixed_zeros,dial_unit,pulse_weight,pulse_unit,output,cable,cable_length_m
S00181,"25 Heron Walk, vault by the gate",pit,04525420,compound,4in,high,6,2,gal,100,gal,reed-contact,awg22-pair,4
S00181,"25 Heron Walk, vault by the gate",pit,04525420,compound,4in,low,6,1,gal,10,gal,reed-contact,awg22-pair,4.5
"""
WIDTH = 1000


def main() -> int:
    """Write the picture."""
    # Imported here: the tool's help must not wait for them.
    import pypdfium2

    from dialtrue.files.job_sheets import sheets_pdf
    from dialtrue.services.job_sheets import sheets_folder

    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "sites.csv").write_text(SITES, encoding="utf-8")
        answer = sheets_folder(Path(folder), at=dt.datetime(2026, 12, 1, tzinfo=dt.UTC))
    page = pypdfium2.PdfDocument(sheets_pdf(answer.sheets, paper="letter").pdf)[0]
    picture = page.render(scale=WIDTH / page.get_width()).to_pil().quantize(96)
    PICTURE.parent.mkdir(exist_ok=True)
    picture.save(PICTURE, optimize=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
