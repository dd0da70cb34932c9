"""No peeking: judging as of a moment is judging the folder as it lay at that moment."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from dialtrue.domain.contracts import TABLES_IN
from dialtrue.engine.simulation.town import TownPlan
from dialtrue.files.programme import read_raw
from dialtrue.services.simulate import simulate_town
from dialtrue.services.watch import watch_folder

PLAN = TownPlan(registers=70, days=60, seed=11)
RUN_AT = PLAN.start + dt.timedelta(days=PLAN.days + 40)


@pytest.fixture(scope="module")
def town(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("as-of")
    simulate_town(folder / "town", folder / "labels", PLAN)
    return folder / "town"


def cut(town: Path, to: Path, moment: dt.datetime) -> Path:
    """Write the folder as it lay at a moment, row by row and with plain Python."""
    to.mkdir()
    (to / "programme.toml").write_bytes((town / "programme.toml").read_bytes())
    for table in TABLES_IN:
        for path in sorted(town.glob(f"{table.name}.*")):
            raw = read_raw(path, table)
            names = list(raw.columns)
            rows = [dict(zip(names, row, strict=True)) for row in zip(*(raw.columns[n].to_pylist() for n in names),
                                                                       strict=True)]  # fmt: skip
            keep = [row for row in (known(table.name, row, moment) for row in rows) if row is not None]
            schema = pa.schema([(name, pa.string()) for name in names])
            if path.suffix == ".parquet":
                schema = pq.read_schema(path)
                schema = pa.schema([field.with_type(schema.field(field.name).type) for field in schema])
            pq.write_table(pa.Table.from_pylist(keep, schema=schema), to / f"{table.name}.parquet")
    return to


def stamp(value: object) -> dt.datetime | None:
    """Return a time of a cell, or None where blank."""
    if value in (None, ""):
        return None
    moment = value if isinstance(value, dt.datetime) else dt.datetime.fromisoformat(str(value).replace("Z", "+00:00"))
    return moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)


def known(table: str, row: dict[str, object], moment: dt.datetime) -> dict[str, object] | None:
    """Return a row as it was known at the moment, None if it was not."""

    def by(name: str, later: dt.timedelta = dt.timedelta()) -> bool:
        at = stamp(row[name])
        assert at is not None
        return at + later <= moment

    rules: dict[str, Callable[[], bool]] = {
        "reads": lambda: by("received_at") if stamp(row.get("received_at")) else by("at"),
        "dial_reads": lambda: by("at"),
        "alarms": lambda: by("at"),
        "weather": lambda: by("at", dt.timedelta(hours=1)),
        "use_history": lambda: dt.date.fromisoformat(str(row["end"])[:10]) < moment.date(),
        "fittings": lambda: by("fitted_at"),
    }
    if table in rules and not rules[table]():
        return None
    if table == "fittings" and (removed := stamp(row.get("removed_at"))) and removed > moment:
        return row | {"removed_at": None}
    return row


@pytest.mark.parametrize("day", random.Random(5).sample(range(3, 60), 3))
def test_as_of_a_day_is_the_folder_cut_at_that_day(town: Path, tmp_path: Path, day: int) -> None:
    moment = PLAN.start + dt.timedelta(days=day, hours=random.Random(day).randrange(24), minutes=17)
    looked_back = watch_folder(town, at=RUN_AT, as_of=moment)
    cut_then = watch_folder(cut(town, tmp_path / "cut", moment), at=moment)
    assert looked_back.findings == cut_then.findings
    assert looked_back.crossings == cut_then.crossings
    assert looked_back.summary == cut_then.summary
    assert looked_back.traces == cut_then.traces


def test_as_of_the_last_moment_is_the_whole_folder(town: Path) -> None:
    assert watch_folder(town, at=RUN_AT, as_of=RUN_AT).findings == watch_folder(town, at=RUN_AT).findings
