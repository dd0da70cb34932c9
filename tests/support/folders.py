"""Small programme folders for the tests of the files layer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from dialtrue.files.programme import Programme, open_programme

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
SITES_HEADER = "site,meter_serial,dial_digits,dial_unit,pulse_weight,pulse_unit"
SITE = "S1,00123,6,gal,10,gal"


def opened(folder: Path, *, accept: Sequence[str] = (), strict: bool = False) -> Programme:
    """Open a folder at the tests' hour."""
    return open_programme(folder, at=AT, accept=accept, strict=strict)


def with_files(folder: Path, **files: str | bytes) -> Path:
    """Write files named ``sites_csv`` and so on, the last underscore for the point; text as UTF-8."""
    for name, content in files.items():
        path = folder / name.replace("_csv", ".csv").replace("_gz", ".gz").replace("_toml", ".toml")
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return folder


def pulled(programme: Programme) -> list[tuple[str, int, int, int, int]]:
    """Return every read as serial, port, microseconds, index, flag."""
    assert programme.reads is not None
    rows = []
    for batch in programme.reads.batches():
        names = [programme.reads.endpoints[code] for code in batch.endpoint.tolist()]
        rows += list(
            zip(
                names,
                batch.port.tolist(),
                batch.at_us.tolist(),
                batch.index.tolist(),
                batch.flag.tolist(),
                strict=True,
            )
        )
    return rows


def us(text: str) -> int:
    """Return microseconds since 1970 of an ISO 8601 time with an offset."""
    moment = dt.datetime.fromisoformat(text)
    return (moment - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(microseconds=1)
