"""Sheets of a programme folder: planned, routed, filtered; wiring drawn once; what is wrong is named."""

from __future__ import annotations

import datetime as dt
import time
from pathlib import Path

import pytest

from dialtrue.domain.errors import (
    BadPaperSetting,
    LabelGridUnfit,
    NoSheetsLeft,
    PortsExchanged,
    SiteNotPlanned,
    UnknownPaperSetting,
)
from dialtrue.files.tables_out import write_table
from dialtrue.services.job_sheets import SheetsAnswer, sheets_folder
from dialtrue.services.plan import plan_folder

AT = dt.datetime(2026, 12, 1, tzinfo=dt.UTC)
HEAD = (
    "site,account,address,mount,meter_serial,meter_type,meter_size,register_role,dial_digits,fixed_zeros,dial_unit,"
    "pulse_weight,pulse_unit,output,cable,cable_length_m,visit_day\n"
)
SITES = HEAD + (
    "S1,A1,1 Weir Row,pit,00417733,nutating_disc,5/8in,single,6,1,gal,10,gal,reed-contact,awg22-pair,2,2026-12-01\n"
    "S2,A2,2 Weir Row,wall,W-22,nutating_disc,5/8in,single,6,1,gal,10,gal,reed-contact,awg22-pair,3,2026-12-02\n"
    "S3,A3,3 Weir Row,pit,C-9,compound,4in,low,6,1,gal,10,gal,reed-contact,awg22-pair,4,\n"
    "S3,A3,3 Weir Row,pit,C-9,compound,4in,high,6,2,gal,100,gal,reed-contact,awg22-pair,4,\n"
    "S4,A4,4 Weir Row,pole,Q-4,nutating_disc,5/8in,single,6,1,gal,10,gal,,awg22-pair,2,\n"
)
ROUTES = (
    "day,crew,stop,site,arrive,start,leave,travel_minutes,job_minutes,registers\n"
    "2026-12-01,North,1,S2,2026-12-01T14:10:00Z,2026-12-01T14:10:00Z,2026-12-01T14:40:00Z,10,30,1\n"
    "2026-12-01,North,2,S1,2026-12-01T15:05:00Z,2026-12-01T15:05:00Z,2026-12-01T15:40:00Z,10,30,1\n"
    "2026-12-02,South,1,S3,2026-12-02T14:10:00Z,2026-12-02T14:10:00Z,2026-12-02T14:40:00Z,10,30,2\n"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "sites.csv").write_text(SITES, encoding="utf-8")
    (tmp_path / "programme.toml").write_text('timezone = "America/Chicago"\n', encoding="utf-8")
    return tmp_path


def sites_of(answer: SheetsAnswer) -> list[str]:
    return [sheet.site for sheet in answer.sheets]


def test_every_site_gets_a_sheet_with_the_plan_on_it(folder: Path) -> None:
    answer = sheets_folder(folder, at=AT)
    assert sites_of(answer) == ["S1", "S2", "S3", "S4"]
    assert answer.paper == "letter"
    first = answer.sheets[0]
    keyed = {fact.label: fact.text for fact in first.registers[0].keyed}
    assert (keyed["Pulse weight"], keyed["Unit"]) == ("10", "gal")
    assert first.registers[0].start is not None
    assert first.registers[0].proof is not None
    assert any("splice" in part.title.lower() for part in first.parts)
    assert first.wiring[0].drawing.startswith("<svg")


def test_what_must_be_asked_is_on_the_sheet_and_in_the_count(folder: Path) -> None:
    answer = sheets_folder(folder, at=AT)
    assert [sheet.site for sheet in answer.asking] == ["S4"]
    assert "Which pulse output has the register" in answer.asking[0].questions[0]
    assert answer.sentence == "4 sheets for 5 registers; 1 sheet with questions to ask before any work."


def test_a_compound_meter_has_one_sheet_high_first_and_one_drawing_of_both(folder: Path) -> None:
    sheet = sheets_folder(folder, at=AT, sites=["S3"]).sheets[0]
    assert [(part.tag, part.facts[-1].text) for part in sheet.registers] == [
        ("HIGH", "endpoint 1, port 1"),
        ("LOW", "endpoint 1, port 2"),
    ]
    drawn = [item for item in sheet.wiring if item.drawing]
    assert len(drawn) == 1
    assert 'data-role="high"' in drawn[0].drawing
    assert 'data-role="low"' in drawn[0].drawing


def test_sheets_follow_the_route_and_tell_local_time(folder: Path) -> None:
    (folder / "routes.csv").write_text(ROUTES, encoding="utf-8")
    answer = sheets_folder(folder, at=AT)
    assert sites_of(answer) == ["S2", "S1", "S3", "S4"]
    assert answer.sheets[0].stop is not None
    assert answer.sheets[0].stop.text == "Stop 1, arrive 08:10, crew North, Tue 1 Dec 2026"


@pytest.mark.parametrize(
    ("day", "crew", "wanted"),
    [("2026-12-01", "", ["S2", "S1"]), ("", "South", ["S3"]), ("2026-12-02", "South", ["S3"])],
)
def test_a_day_and_a_crew_choose_the_visits(folder: Path, day: str, crew: str, wanted: list[str]) -> None:
    (folder / "routes.csv").write_text(ROUTES, encoding="utf-8")
    assert sites_of(sheets_folder(folder, at=AT, day=day, crew=crew)) == wanted


def test_a_day_without_routes_goes_by_the_agreed_day(folder: Path) -> None:
    assert sites_of(sheets_folder(folder, at=AT, day="2026-12-02")) == ["S2"]


def test_a_day_without_visits_says_which_days_there_are(folder: Path) -> None:
    (folder / "routes.csv").write_text(ROUTES, encoding="utf-8")
    with pytest.raises(
        NoSheetsLeft, match=r"no visit of crew North on 2026-12-02 .* 2026-12-01, 2026-12-02; crews: North"
    ):
        sheets_folder(folder, at=AT, day="2026-12-02", crew="North")


def test_a_crew_without_routes_is_refused_with_the_way_out(folder: Path) -> None:
    with pytest.raises(NoSheetsLeft, match="dialtrue routes"):
        sheets_folder(folder, at=AT, crew="North")


def test_a_site_that_is_not_there_names_the_nearest(folder: Path) -> None:
    with pytest.raises(SiteNotPlanned, match=r"There is no site S11 in the sites table\. The nearest are S1"):
        sheets_folder(folder, at=AT, sites=["S11"])


def test_visits_to_unknown_sites_are_said(folder: Path) -> None:
    (folder / "routes.csv").write_text(ROUTES.replace(",S1,", ",X9,"), encoding="utf-8")
    assert any("1 site not in the sites table, such as X9" in text for text in sheets_folder(folder, at=AT).said)


def test_a_plan_in_a_file_gives_the_same_sheets(folder: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.csv"
    write_table(plan, plan_folder(folder, at=AT).plan)
    assert sheets_folder(folder, at=AT, plan=plan).sheets == sheets_folder(folder, at=AT).sheets


def test_a_plan_that_exchanges_high_and_low_is_refused(folder: Path, tmp_path: Path) -> None:
    table = plan_folder(folder, at=AT).plan
    ports = table["port"].to_pylist()
    ports[2], ports[3] = ports[3], ports[2]
    place = table.column_names.index("port")
    import pyarrow as pa

    write_table(tmp_path / "plan.csv", table.set_column(place, "port", pa.array(ports, pa.int64())))
    with pytest.raises(PortsExchanged):
        sheets_folder(folder, at=AT, plan=tmp_path / "plan.csv")


def test_planned_sites_that_have_gone_are_left_out_and_said(folder: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.csv"
    write_table(plan, plan_folder(folder, at=AT).plan)
    (folder / "sites.csv").write_text(SITES.replace("S2,A2", "S9,A2"), encoding="utf-8")
    text = SITES.splitlines(keepends=True)
    (folder / "sites.csv").write_text("".join(line for line in text if not line.startswith("S2")), encoding="utf-8")
    answer = sheets_folder(folder, at=AT, plan=plan)
    assert sites_of(answer) == ["S1", "S3", "S4"]
    assert any("1 planned register not in the sites, such as meter W-22 at S2" in text for text in answer.said)


def test_a_plan_in_the_folder_is_taken_and_registers_it_lacks_are_said(folder: Path) -> None:
    table = plan_folder(folder, at=AT).plan
    write_table(folder / "plan.csv", table.slice(0, 4))
    answer = sheets_folder(folder, at=AT)
    assert sites_of(answer) == ["S1", "S2", "S3"]
    assert any("1 register of the sites not in the plan, such as meter Q-4 at S4" in text for text in answer.said)


def test_one_sheet_of_a_large_planned_and_routed_programme_does_not_take_minutes(folder: Path) -> None:
    line = SITES.splitlines()[1]
    lines = (line.replace("S1,", f"T{nth},").replace("00417733", f"{nth:08}") for nth in range(6000))
    (folder / "sites.csv").write_text(HEAD + "\n".join(lines) + "\n", encoding="utf-8")
    write_table(folder / "plan.csv", plan_folder(folder, at=AT, survey=False).plan)
    stop = ROUTES.splitlines()[1]
    stops = (stop.replace("S2", f"T{nth}") for nth in range(6000))
    (folder / "routes.csv").write_text(ROUTES.splitlines()[0] + "\n" + "\n".join(stops) + "\n", encoding="utf-8")
    began = time.process_time()
    assert sites_of(sheets_folder(folder, at=AT, sites=("T77",))) == ["T77"]
    assert time.process_time() - began < 6.0  # comparing every row with every other takes over ten


def test_a_plan_with_open_questions_may_lack_their_ports(folder: Path, tmp_path: Path) -> None:
    (folder / "sites.csv").write_text(SITES.replace(",pole,", ",,"), encoding="utf-8")
    plan = tmp_path / "plan.csv"
    write_table(plan, plan_folder(folder, at=AT).plan)
    answer = sheets_folder(folder, at=AT, plan=plan)
    assert [sheet.site for sheet in answer.asking] == ["S4"]
    assert answer.asking[0].registers[0].facts[-1].text == ""


def test_a_sites_table_alone_gives_sheets_too(folder: Path) -> None:
    assert sites_of(sheets_folder(folder / "sites.csv", at=AT)) == ["S1", "S2", "S3", "S4"]


def test_rows_that_cannot_be_used_get_no_sheet_and_are_said(folder: Path) -> None:
    (folder / "sites.csv").write_text(SITES.replace("W-22,nutating_disc", "W-22,waterwheel"), encoding="utf-8")
    answer = sheets_folder(folder, at=AT)
    assert "S2" not in sites_of(answer)
    assert any("No sheet for 1 row of the sites that cannot be used" in text for text in answer.said)


def test_two_single_meters_wired_alike_share_a_drawing(folder: Path) -> None:
    twin = "S1,A1,1 Weir Row,pit,00417734,nutating_disc,5/8in,single,6,1,gal,10,gal,reed-contact,awg22-pair,2,\n"
    (folder / "sites.csv").write_text(SITES + twin, encoding="utf-8")
    sheet = sheets_folder(folder, at=AT, sites=["S1"]).sheets[0]
    assert len([item for item in sheet.wiring if item.drawing]) == 1
    assert "watch every index" in sheet.together


def test_metric_dials_go_on_a4_unless_the_programme_says_otherwise(folder: Path) -> None:
    (folder / "sites.csv").write_text(SITES.replace(",gal,", ",L,"), encoding="utf-8")
    assert sheets_folder(folder, at=AT).paper == "a4"
    (folder / "programme.toml").write_text('[paper]\nsize = "letter"\n', encoding="utf-8")
    assert sheets_folder(folder, at=AT).paper == "letter"
    assert sheets_folder(folder, at=AT, paper="a4").paper == "a4"


def test_accounts_are_printed_only_where_the_programme_asks(folder: Path) -> None:
    assert "A1" not in str(sheets_folder(folder, at=AT, sites=["S1"]).sheets)
    (folder / "programme.toml").write_text("[paper]\nshow_account = true\n", encoding="utf-8")
    assert "A1" in str(sheets_folder(folder, at=AT, sites=["S1"]).sheets[0].where)


@pytest.mark.parametrize(
    ("text", "error", "said"),
    [
        ("[paper]\nsise = 'a4'\n", UnknownPaperSetting, "nearest names are paper.size"),
        ("[paper]\nsize = 'a5'\n", BadPaperSetting, "one of 'letter', 'a4'"),
        ("[paper]\nshow_account = 1\n", BadPaperSetting, "true or false"),
        ("paper = 3\n", BadPaperSetting, r"it as a table, \[paper\]"),
        ("[labels]\ncolumns = 9\n", LabelGridUnfit, "9 labels across"),
        ("[labels]\ncolumns = 2.5\n", BadPaperSetting, "a whole number"),
        ("[labels]\nwidth_mm = nan\n", BadPaperSetting, "millimetres"),
        ("[labels]\nwidht_mm = 60\n", UnknownPaperSetting, "labels.width_mm"),
    ],
)
def test_settings_that_mean_nothing_are_refused_with_what_to_write(
    folder: Path, text: str, error: type[Exception], said: str
) -> None:
    (folder / "programme.toml").write_text(text, encoding="utf-8")
    with pytest.raises(error, match=said):
        sheets_folder(folder, at=AT)


def test_a_declared_grid_is_used(folder: Path) -> None:
    (folder / "programme.toml").write_text(
        "[labels]\nsize = 'a4'\ncolumns = 2\nrows = 4\nwidth_mm = 99\nheight_mm = 67.7\nleft_mm = 5\ntop_mm = 12\n",
        encoding="utf-8",
    )
    grid = sheets_folder(folder, at=AT).settings.grid_for("a4")
    assert (grid.on_a_page, grid.step_x_mm, grid.step_y_mm) == (8, 99.0, 67.7)
