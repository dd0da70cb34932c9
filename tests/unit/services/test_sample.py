"""Lots of a programme, drawn once, judged by what was drawn."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from dialtrue.domain.acceptance.account import LotAccount, SampleAccount, account_sentence
from dialtrue.domain.errors import (
    DrawDamaged,
    InspectionStopped,
    LotDrawn,
    NoSeed,
    NotRejected,
    ReplacementRefused,
    UnknownLot,
    UnknownLotColumn,
)
from dialtrue.files.sample_settings import sample_settings
from dialtrue.files.tables_out import write_table
from dialtrue.services.sample import draw_lots, replace_site, sample_account
from tests.support.lots import DRAWN_AT, JUDGED_AT, drawn, inspect, inspected, lot_folder, sample_of

KINDS = (("nutating_disc", "5/8in"), ("multi_jet", "1in"), ("compound", "2in"), ("turbine", "3in"), ("other", "2in"))


def judged(folder: Path, lot: str = "L1") -> LotAccount:
    account = sample_account(folder, at=JUDGED_AT)
    return next(each for each in account.lots if each.name == lot)


def aside(folder: Path) -> list[str]:
    return [each.why for each in sample_account(folder, at=JUDGED_AT).set_aside]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return lot_folder(tmp_path / "p", {"L1": ("A", 100), "L2": ("B", 60)})


def test_lots_by_crew_and_week_by_cable_and_by_any_column(folder: Path) -> None:
    settings = sample_settings(folder)
    names = {}
    for by in ("crew_week", "cable_lot", "lot", "meter_type"):
        account = sample_account(folder, at=JUDGED_AT, settings=replace(settings, lot_by=by))
        names[by] = {lot.name for lot in account.lots}
        assert sum(lot.sites for lot in account.lots) == 160
    assert names["crew_week"] == {"A 2026-W13", "B 2026-W13"}
    assert names["lot"] == {"L1", "L2"}
    assert len(names["cable_lot"]) == 9
    assert names["meter_type"] == {"nutating_disc"}
    with pytest.raises(UnknownLotColumn, match="cable_lot"):
        sample_account(folder, at=JUDGED_AT, settings=replace(settings, lot_by="cabel_lot"))


def test_a_week_begins_in_the_programmes_zone(tmp_path: Path) -> None:
    folder = lot_folder(tmp_path / "p", {"L1": ("A", 1)}, settings="")
    text = (folder / "fittings.csv").read_text(encoding="utf-8").replace("2026-03-25T09:00:00Z", "2026-03-30T02:00:00Z")
    (folder / "fittings.csv").write_text(text, encoding="utf-8")
    (folder / "programme.toml").write_text('timezone = "America/Chicago"\n', encoding="utf-8")
    assert [lot.name for lot in sample_account(folder, at=JUDGED_AT).lots] == ["A 2026-W13"]


def test_compounds_and_large_meters_are_looked_at_in_any_case(tmp_path: Path) -> None:
    folder = lot_folder(tmp_path / "p", {"L1": ("A", 100)}, kinds=KINDS)
    account = drawn(folder, "L1")
    (lot,) = account.lots
    assert lot.drawn is not None
    kinds = {row.kind for row in lot.drawn.rows if row.part == "whole"}
    assert kinds == {"compound", "turbine"}
    assert (lot.plan.lot_size, len(lot.drawn.whole())) == (60, 40)
    inspected(folder, account, "L1", bad=0)
    assert judged(folder).state == "not_yet"
    inspect(folder, [{"lot": "L1", "site": site} for site in lot.drawn.whole()])
    assert judged(folder).state == "accept"


def test_an_endpoint_taken_off_again_is_in_no_lot(folder: Path) -> None:
    text = (folder / "fittings.csv").read_text(encoding="utf-8").replace("cable_lot\n", "cable_lot,removed_at\n", 1)
    first, rest = text.split("\n", 1)
    lines = [line + ("," if number else ",2026-03-30T00:00:00Z") for number, line in enumerate(rest.splitlines())]
    (folder / "fittings.csv").write_text("\n".join([first, *lines]) + "\n", encoding="utf-8")
    account = sample_account(folder, at=JUDGED_AT)
    assert sum(lot.sites for lot in account.lots) == 159
    assert any("taken off again" in sentence for sentence in account.said)


def test_a_lot_is_drawn_once(folder: Path) -> None:
    drawn(folder, "L1")
    with pytest.raises(LotDrawn, match="'heron 7'"):
        draw_lots(folder, at=JUDGED_AT, lots=["L1"], seed="a luckier one")
    with pytest.raises(NotRejected, match="not yet decided"):
        draw_lots(folder, at=JUDGED_AT, lots=["L1"], seed="a luckier one", again=True)


def test_a_draw_needs_a_seed_and_a_lot_that_is_there(folder: Path) -> None:
    with pytest.raises(NoSeed):
        draw_lots(folder, at=JUDGED_AT, lots=["L1"])
    with pytest.raises(UnknownLot, match="L1"):
        draw_lots(folder, at=JUDGED_AT, lots=["L9"], seed="heron")
    with pytest.raises(UnknownLot):
        sample_account(folder, at=JUDGED_AT, lots=["L9"])


def test_the_same_seed_draws_the_same_sites_another_day(folder: Path) -> None:
    one, _ = draw_lots(folder, at=DRAWN_AT, lots=["L1"], seed="heron 7")
    other, _ = draw_lots(folder, at=JUDGED_AT, lots=["L1"], seed="heron 7")
    assert sample_of(one, "L1") == sample_of(other, "L1")


def test_a_seed_used_before_is_told(folder: Path) -> None:
    assert not any("seed" in sentence for sentence in drawn(folder, "L1").said)
    assert any("could foresee this sample" in sentence for sentence in drawn(folder, "L2").said)


def test_a_lot_that_is_all_looked_at_in_any_case(tmp_path: Path) -> None:
    folder = lot_folder(tmp_path / "p", {"L1": ("A", 3), "L2": ("B", 1)}, kinds=(("compound", "3in"),))
    account = drawn(folder, "L1", "L2")
    assert [lot.plan.size for lot in account.lots] == [0, 0]
    assert judged(folder).state == "not_yet"
    (first, *rest) = judged(folder).drawn.whole()  # type: ignore[union-attr]
    inspect(folder, [{"lot": "L1", "site": first, "grade": "critical"}, *[{"lot": "L1", "site": s} for s in rest]])
    lot = judged(folder)
    assert lot.judgement is not None
    assert (lot.state, lot.judgement.whole_bad["critical"]) == ("accept", 1)


def test_a_lot_of_one_site_is_that_site(tmp_path: Path) -> None:
    folder = lot_folder(tmp_path / "p", {"L1": ("A", 1)})
    inspected(folder, drawn(folder, "L1"), "L1", bad=1)
    assert judged(folder).state == "reject"


def test_a_rejected_lot_is_drawn_again_after_screening_and_judged_apart(folder: Path) -> None:
    inspected(folder, drawn(folder, "L1"), "L1", bad=1)
    assert judged(folder).state == "reject"
    account, table = draw_lots(folder, at=JUDGED_AT, lots=["L1"], seed="egret 9", again=True)
    write_table(folder / "draw.csv", table)
    assert [lot.name for lot in account.lots] == ["L1 #2"]
    assert account_sentence(account) == "1 lot, 100 sites: 1 not yet decided."
    later = "2026-05-02T10:00:00Z"
    sites = sample_of(account, "L1 #2")
    inspect(folder, [{"lot": "L1 #2", "site": site, "inspected_at": later} for site in sites])
    now = sample_account(folder, at=dt.datetime(2026, 5, 9, tzinfo=dt.UTC))
    assert {lot.name: lot.state for lot in now.lots} == {"L1": "reject", "L1 #2": "accept", "L2": "to_draw"}
    assert account_sentence(now) == "2 lots, 160 sites: 1 rejected, 1 accepted, 1 to draw."
    assert {each.count.crew: each.count.inspected for each in now.crews} == {"A": 20, "B": 0}


def test_lots_made_otherwise_are_not_counted_twice(folder: Path) -> None:
    drawn(folder, "L1")
    other = replace(sample_settings(folder), lot_by="crew_week")
    planned = sample_account(folder, at=JUDGED_AT, settings=other)
    assert {lot.name for lot in planned.lots} == {"A 2026-W13", "B 2026-W13"}
    told = sample_account(folder, at=JUDGED_AT, settings=other, planning=False)
    assert {lot.name for lot in told.lots} == {"L1"}


def test_inspections_that_do_not_count_are_listed(folder: Path) -> None:
    account = drawn(folder, "L1")
    sites = sample_of(account, "L1")
    (lot,) = account.lots
    assert lot.drawn is not None
    reserve = next(row.site for row in lot.drawn.rows if row.part == "reserve")
    inspect(
        folder,
        [
            {"lot": "L1", "site": sites[0], "grade": "critical"},
            {"lot": "L1", "site": sites[0], "inspected_at": "2026-04-09T10:00:00Z"},
            {"lot": "L1", "site": sites[1], "inspected_at": "2026-04-01T10:00:00Z", "grade": "critical"},
            {"lot": "L1", "site": reserve, "grade": "critical"},
            {"lot": "L1", "site": "S9999"},
            {"lot": "L2", "site": "S0120"},
            {"lot": "L9", "site": "S0001"},
        ],
    )
    assert [why.split(";")[0].split(" of 2026")[0] for why in aside(folder)] == [
        "a second look",
        "it was looked at before the draw",
        "the site was not drawn",
        "the site is not in the lot as it was drawn",
        "the lot was never drawn",
        "there is no such lot",
    ]
    (critical,) = (each for each in judged(folder).judgement.grades if each.plan.grade == "critical")  # type: ignore[union-attr]
    assert (critical.inspected, critical.bad) == (1, 1)


def test_a_day_without_an_hour_is_held_against_the_day_of_the_draw(folder: Path) -> None:
    sites = sample_of(drawn(folder, "L1"), "L1")
    inspect(
        folder,
        [
            {"lot": "L1", "site": sites[0], "inspected_at": "2026-04-02"},
            {"lot": "L1", "site": sites[1], "inspected_at": "2026-04-01"},
        ],
    )
    assert len(aside(folder)) == 1


def test_rows_of_one_moment_that_disagree_count_with_the_worse_grade(folder: Path) -> None:
    site = sample_of(drawn(folder, "L1"), "L1")[0]
    inspect(folder, [{"lot": "L1", "site": site}, {"lot": "L1", "site": site, "grade": "critical"}])
    assert judged(folder).state == "reject"
    assert aside(folder) == ["two rows of one moment disagree; the worse counts"]


def test_meters_of_one_site_are_one_visit(folder: Path) -> None:
    site = sample_of(drawn(folder, "L1"), "L1")[0]
    rows = [{"meter_serial": "W1", "grade": "major"}, {"meter_serial": "W2", "grade": "minor"}]
    inspect(folder, [{"lot": "L1", "site": site, **row} for row in rows])
    assert judged(folder).visits[site].grades == {"major", "minor"}
    assert aside(folder) == []


def test_no_access_keeps_a_place_open_until_a_later_visit(folder: Path) -> None:
    sites = sample_of(drawn(folder, "L1"), "L1")
    inspect(folder, [{"lot": "L1", "site": sites[0], "grade": "no_access"}])
    inspect(folder, [{"lot": "L1", "site": site} for site in sites[1:]])
    lot = judged(folder)
    assert lot.judgement is not None
    assert (lot.state, lot.judgement.grades[0].more) == ("not_yet", 1)
    inspect(folder, [{"lot": "L1", "site": sites[0], "inspected_at": "2026-04-09T10:00:00Z"}])
    assert judged(folder).state == "accept"


def test_a_site_without_access_is_replaced_on_record(folder: Path) -> None:
    sites = sample_of(drawn(folder, "L1"), "L1")
    asked = {"lot": "L1", "site": sites[0], "reason": "dog", "by": "J"}
    with pytest.raises(ReplacementRefused, match="no visit graded no_access"):
        replace_site(folder, at=JUDGED_AT, **asked)  # type: ignore[arg-type]
    inspect(folder, [{"lot": "L1", "site": sites[0], "grade": "no_access"}])
    inspect(folder, [{"lot": "L1", "site": site} for site in sites[1:]])
    account, table = replace_site(folder, at=JUDGED_AT, **asked)  # type: ignore[arg-type]
    write_table(folder / "draw.csv", table)
    (lot,) = account.lots
    assert lot.drawn is not None
    (stand_in,) = (row for row in lot.drawn.rows if row.part == "replacement")
    assert (stand_in.replaces, stand_in.reason, stand_in.by) == (sites[0], "dog", "J")
    assert lot.notes == ()
    with pytest.raises(ReplacementRefused, match="replaced already"):
        replace_site(folder, at=JUDGED_AT, **asked)  # type: ignore[arg-type]
    with pytest.raises(ReplacementRefused, match="it was seen"):
        replace_site(folder, at=JUDGED_AT, lot="L1", site=sites[1], reason="dog", by="J")
    inspect(folder, [{"lot": "L1", "site": stand_in.site, "inspected_at": "2026-04-10T10:00:00Z"}])
    assert judged(folder).state == "accept"
    inspect(folder, [{"lot": "L1", "site": sites[0], "inspected_at": "2026-04-11T10:00:00Z", "grade": "critical"}])
    assert judged(folder).state == "accept"
    assert aside(folder) == ["the site was replaced; its replacement counts"]


def test_a_lot_that_changed_since_the_draw_is_told(folder: Path) -> None:
    drawn(folder, "L1")
    assert judged(folder).notes == ()
    with (folder / "fittings.csv").open("a", encoding="utf-8") as sink:
        sink.write("S0900,W0900,E0900,2026-03-27T09:00:00Z,A,L1,K1\n")
    notes = judged(folder).notes
    assert notes[0] == "The lot has changed since the draw (its hash differs)."
    assert "S0900 came to the lot after the draw and is not covered by it." in notes


def test_a_lot_that_is_gone_is_told(folder: Path) -> None:
    drawn(folder, "L1")
    text = (folder / "fittings.csv").read_text(encoding="utf-8").replace(",L1,", ",L3,")
    (folder / "fittings.csv").write_text(text, encoding="utf-8")
    assert judged(folder).notes[0].startswith("Fittings no longer hold this lot")


def rewritten(folder: Path, change: str, row: int, value: str) -> None:
    with (folder / "draw.csv").open(encoding="utf-8", newline="") as source:
        rows = list(csv.DictReader(source))
    rows[row][change] = value
    with (folder / "draw.csv").open("w", encoding="utf-8", newline="") as sink:
        writer = csv.DictWriter(sink, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


@pytest.mark.parametrize(
    ("column", "value", "why"),
    [
        ("seed", "another", "its rows disagree on seed"),
        ("site", "S0001", "a site stands there twice"),
        ("plan", "critical many", "its rows disagree on plan"),
    ],
)
def test_a_draw_that_contradicts_itself_is_refused(folder: Path, column: str, value: str, why: str) -> None:
    drawn(folder, "L1")
    with (folder / "draw.csv").open(encoding="utf-8", newline="") as source:
        other = next(number for number, row in enumerate(csv.DictReader(source)) if row["site"] != "S0001")
    rewritten(folder, column, other, value)
    with pytest.raises(DrawDamaged, match=why):
        judged(folder)


def test_a_draw_changed_by_hand_is_told(folder: Path) -> None:
    account = drawn(folder, "L1")
    assert account.lots[0].notes == ()
    with (folder / "draw.csv").open(encoding="utf-8", newline="") as source:
        reserve = next(number for number, row in enumerate(csv.DictReader(source)) if row["part"] == "reserve")
    rewritten(folder, "part", reserve, "sample")
    assert any("The seed does not give this sample" in note for note in judged(folder).notes)


def test_columns_of_ones_own_stay_in_the_draw(folder: Path) -> None:
    drawn(folder, "L1")
    lines = (folder / "draw.csv").read_text(encoding="utf-8").splitlines()
    noted = [line + (",note" if number == 0 else ",gate code 7") for number, line in enumerate(lines)]
    (folder / "draw.csv").write_text("\n".join(noted) + "\n", encoding="utf-8")
    drawn(folder, "L2")
    with (folder / "draw.csv").open(encoding="utf-8", newline="") as source:
        rows = list(csv.DictReader(source))
    assert {(row["lot"], row["note"]) for row in rows} == {("L1", "gate code 7"), ("L2", "")}


def test_a_plan_changed_by_hand_is_told(folder: Path) -> None:
    drawn(folder, "L1")
    text = (folder / "draw.csv").read_text(encoding="utf-8").replace("critical 0 in 20", "critical 3 in 20")
    (folder / "draw.csv").write_text(text, encoding="utf-8")
    assert "critical 3 in 20 (aql 1.0)" in judged(folder).notes[0]
    assert "due is critical 0 in 20 (aql 1.0)" in judged(folder).notes[0]


def test_switching_follows_the_decisions_and_can_stop(tmp_path: Path) -> None:
    lots = {f"L{number:02}": ("A", 60) for number in range(9)}
    folder = lot_folder(tmp_path / "p", lots)
    severities = []
    at = DRAWN_AT
    for name in list(lots)[:7]:
        account, table = draw_lots(folder, at=at, lots=[name], seed=name)
        write_table(folder / "draw.csv", table)
        severities.append(account.lots[0].plan.severity)
        when = (at + dt.timedelta(hours=2)).isoformat().replace("+00:00", "Z")
        sites = sample_of(account, name)
        bad = {"grade": "critical", "inspected_at": when}
        inspect(folder, [{"lot": name, "site": sites[0], **bad}])
        at += dt.timedelta(days=1)
    assert severities == ["normal", "normal", *["tightened"] * 5]
    with pytest.raises(InspectionStopped, match="5 lots were rejected on tightened"):
        draw_lots(folder, at=at, lots=["L07"], seed="x")
    resumed, _ = draw_lots(folder, at=at, lots=["L07"], seed="x", severity="tightened")
    assert resumed.lots[0].plan.severity == "tightened"


def test_series_may_be_by_crew(tmp_path: Path) -> None:
    settings = 'lot_by = "lot"\nseries = "crew"'
    folder = lot_folder(tmp_path / "p", {n: (n[0], 60) for n in ("A1", "A2", "A3", "B1")}, settings=settings)
    account = drawn(folder, "A1", "A2")
    for lot in ("A1", "A2"):
        inspected(folder, account, lot, bad=1)
    now = {lot.name: lot.plan.severity for lot in sample_account(folder, at=JUDGED_AT).lots}
    assert (now["A3"], now["B1"]) == ("tightened", "normal")


def test_what_bad_sites_share_is_told_first(tmp_path: Path) -> None:
    folder = lot_folder(tmp_path / "p", {"L1": ("A", 100)})
    account = drawn(folder, "L1")
    with (folder / "fittings.csv").open(encoding="utf-8") as source:
        cable = {row["site"]: row["cable_lot"] for row in csv.DictReader(source)}
    sites = sample_of(account, "L1")
    lot = next(each for each in cable.values() if sum(cable[site] == each for site in sites) in (2, 3, 4))
    inspect(
        folder,
        [{"lot": "L1", "site": s, "grade": "critical" if cable[s] == lot else "none"} for s in sites],
    )
    assert any(f"bad sites have the cable lot {lot}" in sentence for sentence in judged(folder).common)


def test_a_folder_without_fittings_has_no_lot(tmp_path: Path) -> None:
    (tmp_path / "sites.csv").write_text(
        "site,meter_serial,dial_digits,dial_unit,pulse_weight,pulse_unit\nS1,W1,6,gal,10,gal\n", encoding="utf-8"
    )
    account: SampleAccount = sample_account(tmp_path, at=JUDGED_AT)
    assert account.lots == ()
    assert "No fitting stands, so there is no lot." in account.said


def test_a_fitting_without_a_site_stands_for_itself(tmp_path: Path) -> None:
    folder = lot_folder(tmp_path / "p", {"L1": ("A", 3)})
    (folder / "sites.csv").unlink()
    text = (folder / "fittings.csv").read_text(encoding="utf-8").replace("S0001,", ",", 1)
    (folder / "fittings.csv").write_text(text, encoding="utf-8")
    account = sample_account(folder, at=JUDGED_AT)
    assert sorted(account.lots[0].places) == ["S0002", "S0003", "meter W0001"]
