"""Checks of whole ports, the calendar, and reads that are too many to keep."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import pyarrow as pa
import pyarrow.compute as pc
import pytest

import dialtrue.files.reads_aside as reads_aside
import dialtrue.services.read_validation as read_validation
from dialtrue.domain.read_checks.account import ValidationAccount
from dialtrue.domain.read_checks.settings import ValidateSettings
from dialtrue.files.validated_out import write_validated
from dialtrue.services.fleet_records import us_of
from dialtrue.services.read_calendar import local_time, month_edges
from dialtrue.services.read_validation import open_validation
from tests.support.programmes import DAY, HOUR, Port, dial_text, write_programme

BEGIN = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
AT = dt.datetime(2026, 8, 1, tzinfo=dt.UTC)


def port(name: str = "A", *, hours: int = 24 * 61, use: int = 4, seen: float = 1.0, stops: int = 10**9) -> Port:
    """Return a port of hourly reads whose dial moves ``seen`` times as far, and which stops after so many hours."""
    index = [1000 + use * min(k, stops) for k in range(hours)]
    looks = [(BEGIN + k * DAY, dial_text(round(1000 + seen * use * 24 * k), digits=6)) for k in (5, 25, 45)]
    times = [BEGIN + k * HOUR for k in range(hours)]
    return Port(name, BEGIN, "001000", "00001000", times, index, "1", unit="gal", dial_reads=looks)


def validated(
    folder: Path, ports: list[Port], *, active: str | None = None, settings: ValidateSettings | None = None
) -> tuple[ValidationAccount, pa.Table]:
    folder.mkdir(exist_ok=True)
    write_programme(folder, ports)
    if active is not None:
        sites = (folder / "sites.csv").read_text(encoding="utf-8").splitlines()
        lines = [f"{sites[0]},active", *(f"{line},{active}" for line in sites[1:])]
        (folder / "sites.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    validation = open_validation(folder, at=AT, settings=settings or ValidateSettings())
    table = pa.concat_tables([block.cast(_plain(block.schema)) for block in validation.blocks()])
    return validation.account, table


def _plain(schema: pa.Schema) -> pa.Schema:
    kinds = [item.type.value_type if pa.types.is_dictionary(item.type) else item.type for item in schema]
    return pa.schema(list(zip(schema.names, kinds, strict=True)))


def test_an_index_true_to_its_dial_passes_every_check(tmp_path: Path) -> None:
    account, table = validated(tmp_path / "p", [port()])
    assert account.checks == []
    assert not account.failed
    assert set(table["quality"].to_pylist()) == {17}


@pytest.mark.parametrize(("seen", "rules"), [(1.2, ["sum"]), (10.0, ["decimal"]), (0.1, ["decimal"]), (1.001, [])])
def test_the_sum_of_the_intervals_is_held_against_the_dial(tmp_path: Path, seen: float, rules: list[str]) -> None:
    account, _ = validated(tmp_path / "p", [port(seen=seen)])
    assert [check.rule for check in account.checks] == rules
    if rules == ["sum"]:
        assert "index 1,920 gal, dial 2,304 gal" in account.checks[0].says


def test_the_register_units_that_sums_may_differ_by_are_a_setting(tmp_path: Path) -> None:
    wide = dataclasses.replace(ValidateSettings(), sum_units=100)
    strict = dataclasses.replace(ValidateSettings(), sum_units=0)
    assert validated(tmp_path / "p", [port(seen=1.03)], settings=wide)[0].checks == []
    assert [check.rule for check in validated(tmp_path / "p", [port(seen=1.03)], settings=strict)[0].checks] == ["sum"]


def test_no_use_on_a_meter_in_use_and_use_on_one_that_is_not(tmp_path: Path) -> None:
    stopped = [dataclasses.replace(port(stops=24 * 31), dial_reads=())]
    account, _ = validated(tmp_path / "p", stopped, active="true")
    assert {check.rule for check in account.checks} == {"zero_use", "high_low"}
    assert "since 1 Apr 2026" in next(check.says for check in account.checks if check.rule == "zero_use")
    account, _ = validated(tmp_path / "p", stopped, active="false")
    assert "zero_use" not in account.failed_ports
    account, _ = validated(tmp_path / "p", [port()], active="false")
    assert account.failed_ports == {"use_on_inactive": 1}


@pytest.mark.parametrize(("after", "fails"), [(4, False), (7, False), (9, True), (1, True)])
def test_a_month_is_held_against_the_month_before(tmp_path: Path, after: int, fails: bool) -> None:
    whole = dataclasses.replace(port(), dial_reads=())
    march = 24 * 31
    whole.index = [1000 + 4 * min(k, march) + after * max(k - march, 0) for k in range(24 * 61)]
    account, _ = validated(tmp_path / "p", [whole])
    assert account.failed_ports == ({"high_low": 1} if fails else {})
    if fails:
        assert "of the month before" in account.checks[0].says


def test_reads_too_many_to_keep_give_the_same_rows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ports = [port(name, hours=24 * 20, use=use) for name, use in (("C", 3), ("A", 4), ("B", 5))]
    for each in ports:
        each.read_at = [at for k, at in enumerate(each.read_at) if k % 50 not in (7, 8, 9)]
        each.index = [index for k, index in enumerate(each.index) if k % 50 not in (7, 8, 9)]
    account, table = validated(tmp_path / "p", ports)
    monkeypatch.setattr(read_validation, "KEEP_ROWS", 100)
    monkeypatch.setattr(reads_aside, "ASIDE_ROWS", 300)
    again, rows = validated(tmp_path / "p", ports)
    assert rows.equals(table)
    assert again == account
    assert table["endpoint_serial"].unique().to_pylist() == ["E-A", "E-B", "E-C"]


def test_an_endpoint_without_a_fitting_is_raw_and_still_filled(tmp_path: Path) -> None:
    folder = tmp_path / "p"
    validated(folder, [port(hours=24 * 20)])
    lines = (folder / "fittings.csv").read_text(encoding="utf-8").splitlines()
    (folder / "fittings.csv").write_text(lines[0] + "\n", encoding="utf-8")
    validation = open_validation(folder, at=AT, settings=ValidateSettings())
    table = pa.concat_tables([block.cast(_plain(block.schema)) for block in validation.blocks()])
    assert set(table["quality"].to_pylist()) == {14}


def test_local_hours_follow_the_clock_change() -> None:
    zone = "America/Chicago"
    first, last = (us_of(dt.datetime(2026, 3, day, tzinfo=dt.UTC), 0) for day in (7, 10))
    local = local_time(first, last, zone)
    for hour, offset in enumerate(local.offset_us[: 24 * 3].tolist()):
        moment = dt.datetime(2026, 3, 7, tzinfo=dt.UTC) + hour * HOUR
        there = moment.astimezone(ZoneInfo(zone)).utcoffset()
        assert there is not None
        assert offset == there // dt.timedelta(microseconds=1)


def test_months_begin_at_local_midnight() -> None:
    first, last = (us_of(dt.datetime(2026, month, 15, tzinfo=dt.UTC), 0) for month in (2, 4))
    edges = [
        dt.datetime.fromtimestamp(us / 1e6, ZoneInfo("America/Chicago"))
        for us in month_edges(first, last, "America/Chicago").tolist()
    ]
    assert [(edge.month, edge.day, edge.hour) for edge in edges] == [(2, 1, 0), (3, 1, 0), (4, 1, 0), (5, 1, 0)]


def test_a_clock_that_runs_ahead_opens_no_end_at_the_other_ports(tmp_path: Path) -> None:
    ports = [port(f"P{k:02}", hours=24 * 20) for k in range(30)]
    ahead = ports[7]
    ahead.read_at = [*ahead.read_at, BEGIN + 60 * DAY]
    ahead.index = [*ahead.index, ahead.index[-1] + 9]
    account, table = validated(tmp_path / "p", ports)
    made = table.filter(pc.is_valid(table["estimate"]))
    assert set(made["endpoint_serial"].to_pylist()) == {"E-P07"}
    assert account.estimated == 40 * 24


def test_a_port_that_falls_silent_is_carried_on_to_where_the_others_are(tmp_path: Path) -> None:
    account, table = validated(
        tmp_path / "p", [port("A", hours=24 * 40), port("B", hours=24 * 35), port("C", hours=960)]
    )
    made = table.filter(pc.is_valid(table["estimate"]))
    assert set(made["endpoint_serial"].to_pylist()) == {"E-B"}
    assert made["estimate"].to_pylist() == [1000 + 4 * k for k in range(24 * 35, 24 * 40)]
    assert account.gaps == {"like_days": 1}


def test_serials_with_marks_of_the_table_come_back_whole(tmp_path: Path) -> None:
    odd = port('X,"1"', hours=24 * 5)
    (tmp_path / "p").mkdir()
    write_programme(tmp_path / "p", [odd])
    validation = open_validation(tmp_path / "p", at=AT, settings=ValidateSettings())
    write_validated(tmp_path / "out.csv", validation.blocks())
    with (tmp_path / "out.csv").open(newline="", encoding="utf-8") as source:
        assert {row["endpoint_serial"] for row in csv.DictReader(source)} == {'E-X,"1"'}
