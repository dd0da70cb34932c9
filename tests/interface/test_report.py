"""The report: one file that opens from disk, reaches nowhere, runs nothing, and can be read by ear."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from dialtrue.files.report import charts, report_page, write_report
from tests.support.html_pages import Page
from tests.support.watch_results import START, finding, trace, watch_result

EVIL = "\"><script>alert('x')</script><img src=http://example.invalid/a onerror=alert(1)>\x1b[2J"


def page(**changes: object) -> str:
    return report_page(watch_result(**changes), title="Alderwick", at=START)


def test_page_is_well_formed_and_every_reference_has_its_target() -> None:
    read = Page(page())
    assert read.problems == []
    assert len(read.identities) == len(set(read.identities))
    assert set(read.references) <= set(read.identities)


def test_page_runs_no_script_and_reaches_no_network() -> None:
    text = page()
    read = Page(text)
    assert not {"script", "link", "iframe", "img", "object"} & set(read.tags)
    assert [row for row in read.attributes if row[1].startswith("on") or row[1] == "src"] == []
    assert {re.sub(r"^xmlns.*", "", name) for _, name, value in read.attributes if "//" in value} <= {""}
    assert "url(" not in text
    assert "@import" not in text


def test_texts_from_files_cannot_become_markup() -> None:
    wicked = trace(
        meter_serial=EVIL, endpoint_serial=EVIL, address=EVIL, site=EVIL, dial_unit="gal",
        dial_points=tuple(trace().dial_points),
    )  # fmt: skip
    bad = finding(meter_serial=EVIL, endpoint_serial=EVIL, verdict=EVIL, next_check=EVIL, remedy=EVIL)
    text = page(
        findings=(bad,), traces={(EVIL, EVIL, 1): wicked}, said=(EVIL,), missing=((EVIL, EVIL),)
    )  # fmt: skip
    read = Page(text)
    assert read.problems == []
    assert "script" not in read.tags
    assert "img" not in read.tags
    assert "\x1b" not in text
    assert "alert('x')" in read.words  # shown as words, so nothing was dropped either


def test_finding_shows_verdict_probability_error_check_and_reasons() -> None:
    words = Page(page()).words
    for piece in (
        "Counts one gallon in ten", "likely, 0.83", "−4,000 gal", "−4,200 to −3,800 gal", "Draw ten pulses",
        "pairs.ratio", "index over dial is 0.1000", "+18.0", "12 Alder Lane",
    ):  # fmt: skip
        assert piece in words


def test_innocents_stand_in_the_notes_and_not_among_the_visits() -> None:
    text = page()
    notes = text.index('id="notes"')
    assert text.index("W-0300") > notes
    assert text.index("W-0301") > notes
    assert "vacant" not in Page(text[:notes]).words.lower()


def test_missing_tables_and_remarks_are_told() -> None:
    words = Page(page()).words
    assert "without alarms" in words
    assert "read as America/Chicago" in words


def test_charts_carry_title_description_and_a_table_of_the_same_figures() -> None:
    read = Page(page())
    pictures = [value for tag, name, value in read.attributes if (tag, name) == ("svg", "role")]
    assert pictures
    assert set(pictures) == {"img"}
    assert "desc" in read.tags
    assert "0430220" in read.words  # the last dial read, in the table


def test_without_the_chart_package_the_report_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dialtrue.files.report.page.charts_available", lambda: False)
    read = Page(page())
    assert "pip install 'dialtrue[charts]'" in read.words
    assert "0430220" in read.words
    assert read.problems == []


def test_nothing_to_do_is_said_plainly() -> None:
    sound = watch_result().findings[-1]
    read = Page(page(findings=(sound,), crossings=(), traces={}))
    assert "Nothing asks for a visit or a check." in read.words
    assert read.problems == []


def test_a_programme_without_any_port_still_makes_a_page() -> None:
    empty = watch_result(findings=(), crossings=(), traces={}, missing=(), said=())
    assert Page(report_page(empty, title="", at=START)).problems == []


def test_a_trace_without_reads_or_dials_draws_no_chart() -> None:
    bare = trace(dial_points=(), index_at=(), index_volume=(), wet_spans=())
    assert charts.chart_spec(bare, width=300, height=200, font=12) is None
    text = page(findings=(finding(),), traces={("W-0042", "81000042", 1): bare})
    assert "No dial has been read" in text


def test_thinned_line_keeps_ends_jumps_and_falls() -> None:
    at = tuple(START + dt.timedelta(hours=hour) for hour in range(5000))
    volume = [float(hour) for hour in range(5000)]
    volume[3210] = 9e9
    volume[1234] = -5.0
    kept = charts.thinned(at, tuple(volume))
    assert len(kept) < 600
    assert kept[0][0] == at[0]
    assert kept[-1][0] == at[-1]
    assert {9e9, -5.0} <= {value for _, value in kept}
    assert kept == sorted(kept)


def test_report_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "report.html"
    target.write_text("yesterday's", encoding="utf-8")

    def fail(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("os.replace", fail)
    with pytest.raises(KeyboardInterrupt):
        write_report(target, watch_result(), title="Alderwick", at=START)
    assert target.read_text(encoding="utf-8") == "yesterday's"
    assert list(tmp_path.iterdir()) == [target]
