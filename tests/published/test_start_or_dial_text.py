"""Start index and dial text disagree at the fitting: later looks say which of the two slipped. Figures are ours."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from dialtrue.domain.finding import Finding
from dialtrue.domain.quantity import litres_per
from dialtrue.services.watch import watch_folder
from tests.published.test_stories_watch import FITTED, history, hours, neighbours, water
from tests.support.programmes import DAY, Port, dial_text, write_programme

DAYS, TRUE_START = 60, 418_200
AT = dt.datetime(2025, 12, 1, tzinfo=dt.UTC)
SWAPPED = 481_200  # two figures changed places: 63,000 too many


def watched(folder: Path, *, dial_at_fit: int, start: int, looks: bool = True) -> Finding:
    passed = water(DAYS, 150 * DAYS)
    port = Port(
        name="001", fitted_at=FITTED, dial_at_fit=dial_text(dial_at_fit, digits=6), start_index=str(start),
        read_at=hours(DAYS)[1:], index=[start + volume // 10 * 10 for volume in passed[1:]], pulse_weight="10",
        dial_reads=[
            (FITTED + day * DAY, dial_text(TRUE_START + passed[24 * day], digits=6)) for day in (31, 58) if looks
        ],
        history=history(150),
    )  # fmt: skip
    result = watch_folder(write_programme(folder, [port, *neighbours(8, DAYS)]), at=AT)
    return next(finding for finding in result.findings if finding.meter_serial == "M-001")


def test_a_start_keyed_wrong_is_named_with_its_offset(tmp_path: Path) -> None:
    finding = watched(tmp_path, dial_at_fit=TRUE_START, start=SWAPPED)
    assert (finding.fault, finding.action) == ("start_slip", "remote_check")  # nothing is to repair on site
    assert finding.volume_error_l is not None
    assert abs(finding.volume_error_l / float(litres_per("gal")) - 63_000) < 12


def test_a_dial_text_that_slipped_is_doubted_and_the_port_counts_true(tmp_path: Path) -> None:
    finding = watched(tmp_path, dial_at_fit=SWAPPED, start=TRUE_START)
    assert (finding.fault, finding.action) == ("sound", "none")
    assert finding.volume_error_l is not None
    assert abs(finding.volume_error_l / float(litres_per("gal"))) < 12


def test_without_a_later_look_nobody_is_sent_out(tmp_path: Path) -> None:
    finding = watched(tmp_path, dial_at_fit=TRUE_START, start=SWAPPED, looks=False)
    assert finding.fault == "start_slip"
    assert "photograph" in finding.next_check.lower()
