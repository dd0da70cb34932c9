"""Checks in the folder: tied to the fitting that stood then, weighed at the port itself and at its crew."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import pytest

from dialtrue.domain.finding import Finding
from dialtrue.services.watch import judge_folder, watch_folder
from tests.support.programmes import DAY, HOUR, Port, dial_text, write_programme

FITTED = dt.datetime(2025, 3, 3, 10, tzinfo=dt.UTC)
AT = dt.datetime(2025, 12, 1, tzinfo=dt.UTC)
DAYS = 40
HEADER = "meter_serial,endpoint_serial,checked_at,found,put_right,why\n"


def port(name: str, *, told: int = 10, looks: Sequence[int] = (), mended: int = DAYS) -> Port:
    """A house with a meter of one pulse in 10 gal; its endpoint is told ``told`` until day ``mended``."""
    base = 100_000 + 7_000 * int(name)
    hours = range(1, 24 * DAYS + 1)
    passed = [130 * k // 24 for k in hours]
    wrong = [min(v, 130 * mended) // 10 * told + max(v - 130 * mended, 0) // 10 * 10 for v in passed]
    return Port(
        name=name, fitted_at=FITTED, dial_at_fit=dial_text(base, digits=6), start_index=str(base),
        read_at=[FITTED + k * HOUR for k in hours], index=[base + v for v in wrong], pulse_weight="10",
        weight_set=str(told),
        dial_reads=[(FITTED + day * DAY, dial_text(base + passed[24 * day - 1], digits=6)) for day in looks],
    )  # fmt: skip


def programme(folder: Path, checks: str, *, odd: Port | None = None) -> Path:
    write_programme(folder, [*(port(f"{k:02d}", looks=(20, 40)) for k in range(6)), *([odd] if odd else [])])
    (folder / "checks.csv").write_text(HEADER + checks)
    return folder


def finding(folder: Path, serial: str, **options: dt.datetime) -> Finding:
    return next(item for item in watch_folder(folder, at=AT, **options).findings if item.meter_serial == serial)


def test_a_fault_that_was_put_right_is_named_and_asks_for_nothing(tmp_path: Path) -> None:
    odd = port("20", told=1, looks=(10, 20, 30, 40), mended=20)
    folder = programme(tmp_path, "M-20,,2025-03-23T11:00:00Z,weight_decade,,finding\n", odd=odd)
    found = finding(folder, "M-20")
    assert found.fault == "weight_decade"
    assert found.action == "none"
    assert found.verdict.endswith("Found and put right on 23 Mar 2025.")
    assert "checks" in {item.rule for item in found.evidence}


@pytest.mark.parametrize(("mended", "right"), [(DAYS, ""), (20, "false")])
def test_a_fault_that_still_stands_asks_again(tmp_path: Path, mended: int, right: str) -> None:
    odd = port("20", told=1, looks=(10, 21, 30, 40), mended=mended)
    folder = programme(tmp_path, f"M-20,,2025-03-23T11:00:00Z,weight_decade,{right},finding\n", odd=odd)
    found = finding(folder, "M-20")
    assert found.fault == "weight_decade"
    assert found.action != "none"


def test_a_check_after_the_moment_looked_back_to_was_not_known(tmp_path: Path) -> None:
    odd = port("20", told=1, looks=(10, 20, 30), mended=30)
    folder = programme(tmp_path, "M-20,,2025-04-05T11:00:00Z,weight_decade,,finding\n", odd=odd)
    before = finding(folder, "M-20", as_of=dt.datetime(2025, 4, 1, tzinfo=dt.UTC))
    assert before.fault == "weight_decade"
    assert before.action != "none"
    assert "checks" not in {item.rule for item in before.evidence}


def test_a_port_found_sound_is_trusted_more_than_one_never_seen(tmp_path: Path) -> None:
    odd = port("20")
    unseen = finding(programme(tmp_path, "", odd=odd), "M-20")
    seen = finding(programme(tmp_path, ",E-20,2025-04-10T11:00:00Z,sound,,sample\n", odd=odd), "M-20")
    assert (unseen.fault, seen.fault) == ("sound", "sound")
    assert seen.probability > unseen.probability


def test_a_check_that_names_no_fitting_is_said(tmp_path: Path) -> None:
    folder = programme(tmp_path, "M-99,,2025-04-10T11:00:00Z,sound,,\nM-01,,2024-01-01T00:00:00Z,sound,,\n")
    assert "2 checks in checks name no fitting that stood then." in watch_folder(folder, at=AT).said


def test_bad_checks_are_reported_by_row_and_the_good_ones_count(tmp_path: Path) -> None:
    folder = programme(tmp_path, "M-01,,2025-04-10T11:00:00Z,broken,,\nM-01,,2025-04-10T11:00:00Z,sound,,\n")
    result = watch_folder(folder, at=AT)
    assert result.bad_rows == {"checks.csv": 1}
    assert (result.problems[0].row, result.problems[0].column, result.problems[0].value) == (2, "found", "broken")


def test_shares_that_the_programme_states_replace_the_shipped_ones(tmp_path: Path) -> None:
    folder = programme(tmp_path, "", odd=port("20"))
    before = judge_folder(folder, at=AT)
    (folder / "programme.toml").write_text("[watch.prior]\nlost_counts = 0.2\n")
    after = judge_folder(folder, at=AT)
    row = before.case.fleet.meter_serial.index("M-20")
    column = 2
    assert after.posterior.probability[row, column] > 3 * before.posterior.probability[row, column]
