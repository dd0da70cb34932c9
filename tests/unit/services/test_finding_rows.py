"""Findings built when asked for: the same from arrays as one by one, and the same as what is said of each port."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest

from dialtrue.domain.finding import Finding, Findings, asking, naming
from dialtrue.domain.watch_result import WatchResult
from dialtrue.files.findings import findings_table
from dialtrue.services.watch import watch_folder
from tests.support.programmes import DAY, HOUR, Port, dial_text, write_programme

FITTED = dt.datetime(2025, 3, 3, 10, tzinfo=dt.UTC)
AT = dt.datetime(2025, 12, 1, tzinfo=dt.UTC)
DAYS = 40


def port(name: str, *, gal_a_day: int, weight_told: int = 10, looks: tuple[int, ...] = (), stops: int = DAYS) -> Port:
    """A house with a meter of one pulse in 10 gal; ``weight_told`` is what its endpoint was told."""
    base = 100_000 + 7_000 * int(name)
    hours = [FITTED + k * HOUR for k in range(1, 24 * DAYS + 1)]
    passed = [gal_a_day * k // 24 for k in range(1, 24 * DAYS + 1)]
    counted = [gal_a_day * min(k, 24 * stops) // 24 for k in range(1, 24 * DAYS + 1)]
    return Port(
        name=name, fitted_at=FITTED, dial_at_fit=dial_text(base, digits=6), start_index=str(base), read_at=hours,
        index=[base + volume // 10 * weight_told for volume in counted], pulse_weight="10", weight_set=str(weight_told),
        dial_reads=[(FITTED + day * DAY, dial_text(base + passed[24 * day - 1], digits=6)) for day in looks],
    )  # fmt: skip


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> WatchResult:
    folder: Path = tmp_path_factory.mktemp("programme")
    ports = [port(f"{k:02d}", gal_a_day=120 + 11 * k, looks=(20, 40) if k % 2 else ()) for k in range(8)]
    ports.append(port("08", gal_a_day=200, weight_told=1, looks=(20, 40)))
    ports.append(port("09", gal_a_day=200, looks=(10, 40), stops=15))
    write_programme(folder, ports)
    (folder / "programme.toml").write_text('timezone = "UTC"\n[watch]\nremote_checks_per_1000 = 100\n')
    return watch_folder(folder, at=AT)


def test_the_table_from_arrays_is_the_table_of_the_findings_one_by_one(result: WatchResult) -> None:
    assert isinstance(result.findings, Findings)
    from_arrays, one_by_one = findings_table(result.findings), findings_table(tuple(result.findings))
    assert from_arrays.schema == one_by_one.schema
    assert from_arrays.to_pylist() == one_by_one.to_pylist()


def test_a_row_is_the_same_whichever_way_it_is_taken(result: WatchResult) -> None:
    found = list(result.findings)
    assert [result.findings[k] for k in range(len(found))] == found
    assert result.findings[-1] == found[-1]
    assert result.findings[1:3] == tuple(found[1:3])
    assert result.findings == tuple(found)
    assert result.findings != tuple(found[:-1])
    assert [finding.priority for finding in found] == sorted((finding.priority for finding in found), reverse=True)


def test_those_that_ask_and_those_that_name_a_cause_are_picked_in_order(result: WatchResult) -> None:
    found = list(result.findings)
    assert tuple(asking(result.findings)) == tuple(asking(tuple(found)))
    for code in ("sound", "weight_decade", "dead_input", "vacant"):
        assert tuple(naming(result.findings, code)) == tuple(naming(tuple(found), code))


def of(result: WatchResult, serial: str) -> Finding:
    return next(finding for finding in result.findings if finding.meter_serial == serial)


def test_the_summary_counts_what_the_findings_say(result: WatchResult) -> None:
    found = list(result.findings)
    assert result.summary.visits == sum(finding.action == "visit" for finding in found)
    assert result.summary.remote_checks == sum(finding.action == "remote_check" for finding in found)
    assert sum(result.summary.by_fault.values()) == len(found) == result.summary.ports


def test_quiet_ports_have_short_true_evidence_and_loud_ones_all_of_it(result: WatchResult) -> None:
    table = findings_table(result.findings).to_pylist()
    for row in table:
        for item in json.loads(row["evidence"]):
            assert set(item) == {"rule", "says", "figures", "weight"}
            assert item["says"]
    quiet = of(result, "M-01")
    assert (quiet.fault, quiet.action, quiet.verdict) == ("sound", "none", "Counts true.")
    assert len(quiet.evidence) <= 1
    assert len(of(result, "M-08").evidence) > 1


def test_the_weight_to_set_and_the_look_that_proves_it_are_said(result: WatchResult) -> None:
    weight = of(result, "M-08")
    assert weight.fault == "weight_decade"
    assert "Set the pulse weight to 10 gal; the endpoint was told 1 gal." in weight.remedy
    assert "press" in weight.remedy
    assert weight.next_check.startswith(("Draw", "A photograph"))
    assert weight.since is not None
    assert weight.since_low is not None
    assert weight.since_high is not None
    assert weight.since_low <= weight.since <= weight.since_high


def test_a_port_never_looked_at_says_so_or_is_on_the_months_list(result: WatchResult) -> None:
    unseen = [of(result, f"M-{k:02d}") for k in (0, 2, 4, 6)]
    listed = [finding for finding in unseen if finding.action == "remote_check"]
    assert len(listed) == 1
    assert listed[0].verdict.startswith("No sign of a fault")
    assert listed[0].next_check.startswith("A photograph of the dial")
    assert all("reads alone" in finding.verdict for finding in unseen if finding.action == "none")
