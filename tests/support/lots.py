"""Programme folders of lots to accept: fittings by lot and crew, inspections of what was drawn."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path

from dialtrue.domain.acceptance.account import SampleAccount
from dialtrue.files.tables_out import write_table
from dialtrue.services.sample import draw_lots

DRAWN_AT = dt.datetime(2026, 4, 2, 8, tzinfo=dt.UTC)
SEEN_AT = "2026-04-03T10:00:00Z"
JUDGED_AT = dt.datetime(2026, 4, 20, tzinfo=dt.UTC)
_COLUMNS = ("lot", "site", "meter_serial", "inspected_at", "inspector", "grade", "defect")


def lot_folder(
    folder: Path,
    lots: Mapping[str, tuple[str, int]],
    *,
    settings: str = 'lot_by = "lot"',
    kinds: Sequence[tuple[str, str]] = (("nutating_disc", "5/8in"),),
) -> Path:
    """Write a folder: each lot with its crew and number of sites, kinds in turn, all fitted in one week."""
    folder.mkdir(exist_ok=True)
    (folder / "programme.toml").write_text(f"[sample]\n{settings}\n", encoding="utf-8")
    sites = ["site,meter_serial,meter_type,meter_size,dial_digits,dial_unit,pulse_weight,pulse_unit"]
    fittings = ["site,meter_serial,endpoint_serial,fitted_at,fitter,lot,cable_lot"]
    number = 0
    for name, (crew, count) in lots.items():
        for _ in range(count):
            number += 1
            kind, size = kinds[number % len(kinds)]
            sites.append(f"S{number:04},W{number:04},{kind},{size},6,gal,10,gal")
            fitted = f"2026-03-{24 + number % 4}T09:00:00Z"
            fittings.append(f"S{number:04},W{number:04},E{number:04},{fitted},{crew},{name},K{number % 9}")
    (folder / "sites.csv").write_text("\n".join(sites) + "\n", encoding="utf-8")
    (folder / "fittings.csv").write_text("\n".join(fittings) + "\n", encoding="utf-8")
    return folder


def drawn(folder: Path, *lots: str, seed: str = "heron 7", at: dt.datetime = DRAWN_AT) -> SampleAccount:
    """Draw lots and keep the draw in the folder."""
    account, table = draw_lots(folder, at=at, lots=lots, seed=seed)
    write_table(folder / "draw.csv", table)
    return account


def sample_of(account: SampleAccount, lot: str) -> list[str]:
    """Return the sites of a lot's sample, in the order of the draw."""
    (found,) = (each for each in account.lots if each.name == lot)
    assert found.drawn is not None
    return [chain[0] for chain in found.drawn.slots()]


def inspect(folder: Path, rows: Sequence[Mapping[str, str]]) -> None:
    """Add inspections; what a row leaves out is usual."""
    path = folder / "inspections.csv"
    fresh = not path.exists()
    with path.open("a", encoding="utf-8", newline="") as sink:
        writer = csv.DictWriter(sink, _COLUMNS, restval="")
        if fresh:
            writer.writeheader()
        for row in rows:
            writer.writerow({"inspected_at": SEEN_AT, "inspector": "QA", "grade": "none", **row})


def inspected(
    folder: Path, account: SampleAccount, lot: str, *, bad: int, grade: str = "critical", of: int = 0
) -> None:
    """Inspect a lot's sample (its first ``of`` sites, else all), the first ``bad`` sites bad."""
    sites = sample_of(account, lot)
    sites = sites[:of] if of else sites
    inspect(folder, [{"lot": lot, "site": s, "grade": grade if k < bad else "none"} for k, s in enumerate(sites)])
