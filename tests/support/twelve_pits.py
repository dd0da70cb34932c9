"""The invented sheet of twelve pits on one lane: eleven single meters and one compound, three slips planted.

Source: ``STORY-TWELVE-PITS``; its counts were worked out by hand before the code was written.
"""

from __future__ import annotations

from pathlib import Path

HEADER = (
    "site,account,address,latitude,longitude,mount,meter_serial,meter_type,meter_size,register_role,dial_digits,"
    "fixed_zeros,dial_unit,pulse_weight,pulse_unit,output,cable_length_m,surveyed_at"
)
CABLES_M = (1.5, 1.5, 2.0, 2.0, 2.5, 1.5, 6.0, 2.0, 1.5, 1.5, 18.0)
"""Cable of the eleven single meters, 40.0 m in all. [m]"""
COMPOUND_M = (4.0, 4.5)
"""Cable of the compound's high and low register. [m]"""
TRUE_SERIALS = tuple(f"{417_730 + number:08d}" for number in (10, 26, 39, 3, 58, 61, 77, 82, 95, 104, 113, 121))
"""The serials of sites 1 to 12 on the utility's list; site 4 has 00417733."""


def rows() -> list[str]:
    """Return the sheet's rows as the surveyor left them."""
    made = []
    for number, (serial, cable) in enumerate(zip(TRUE_SERIALS[:11], CABLES_M, strict=True), start=1):
        written = {4: "417733", 9: TRUE_SERIALS[7]}.get(number, serial)
        date = "03/04/2026" if number == 7 else "17/04/2026"
        made.append(_row(number, written, "nutating_disc,5/8in,single,6,1,gal,10,gal", cable, date))
    for role, weight, cable in zip(("high", "low"), ("100", "10"), COMPOUND_M, strict=True):
        made.append(_row(12, TRUE_SERIALS[11], f"compound,3in,{role},7,1,gal,{weight},gal", cable, "17/04/2026"))
    return made


def _row(number: int, serial: str, meter: str, cable: float, date: str) -> str:
    place = f"{39.5 + number / 10_000:.4f},{-41.2 - number / 10_000:.4f}"
    return (
        f"P{number:02d},A{number:03d},{number} Wicket Lane,{place},pit,{serial},{meter},reed-one-in-five,{cable},{date}"
    )


def twelve_pits(folder: Path, *, order: list[int] | None = None) -> Path:
    """Write ``sites.csv`` and the utility's list ``known.csv``; return the folder. ``order`` places the rows anew."""
    folder.mkdir(parents=True, exist_ok=True)
    written = rows()
    chosen = written if order is None else [written[place] for place in order]
    (folder / "sites.csv").write_text("\n".join([HEADER, *chosen]) + "\n", encoding="utf-8")
    known = [f"P{number:02d},{serial},{number} Wicket Lane" for number, serial in enumerate(TRUE_SERIALS, start=1)]
    (folder / "known.csv").write_text("\n".join(["site,meter_serial,address", *known]) + "\n", encoding="utf-8")
    return folder
