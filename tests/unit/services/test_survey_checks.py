"""Each slip of a survey is flagged, by its rule, with the one safe repair or none; sound sheets are left alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from dialtrue.domain.survey.flag import RULES, SurveyFlag
from tests.support.spoiled_sheets import Row, flags, keep, listed, serial, sound_rows, spoiled, survey, write_rows

BILLS = "meter_serial,start,end,volume,unit"


def only(folder: Path) -> SurveyFlag:
    (flag,) = flags(folder)
    assert flag.rule in RULES
    return flag


def proposals(flag: SurveyFlag) -> list[tuple[str, str]]:
    return [(line.was, line.becomes) for line in flag.lines]


@pytest.mark.parametrize("with_list", [True, False])
def test_a_sound_sheet_has_no_flag(tmp_path: Path, with_list: bool) -> None:
    spoiled(tmp_path, {})
    if with_list:
        listed(tmp_path)
    answer = survey(tmp_path)
    assert answer.flags == ()
    assert (answer.counts.clean, answer.counts.flagged) == (14, 0)


@pytest.mark.parametrize(
    ("changes", "rule", "grade", "expected"),
    [
        ({3: {"meter_serial": "504119"}}, "zeros", "propose", [("504119", "00504119")]),
        ({3: {"meter_serial": "5.04119E+05"}}, "zeros", "propose", [("5.04119E+05", "00504119")]),
        ({3: {"meter_serial": "504119.0"}}, "zeros", "propose", [("504119.0", "00504119")]),
        ({3: {"meter_serial": "5.0412E+05"}}, "scientific", "block", [("5.0412E+05", "")]),
        ({3: {"meter_serial": serial(8)}}, "duplicate", "block", [(serial(8), ""), (serial(8), "")]),
        ({3: {"dial_unit": "ft3"}}, "unit_odd", "ask", [("ft3", "")]),
        ({3: {"pulse_unit": "L"}}, "unit_odd", "ask", [("L", "")]),
        ({3: {"pulse_weight": "7.48"}}, "weight", "ask", [("7.48", "")]),
        ({3: {"pulse_weight": "100"}}, "weight_odd", "ask", [("100", "")]),
        ({3: {"dial_digits": "4"}}, "dial_size", "ask", [("4", "")]),
        ({3: {"dial_digits": "11"}}, "dial_size", "ask", [("11", "")]),
        ({3: {"dial_digits": "7", "fixed_zeros": "0"}}, "dial_odd", "ask", [("7", "")]),
        ({3: {"meter_size": '5/8"'}}, "size", "propose", [('5/8"', "5/8in")]),
        ({3: {"meter_size": "large"}}, "size", "ask", [("large", "")]),
        ({3: {"latitude": "-41.20060", "longitude": "39.50060"}}, "swap", "propose",
         [("-41.20060, 39.50060", "39.50060, -41.20060")]),
        ({3: {"longitude": "41.20060"}}, "sign", "propose", [("39.50060, 41.20060", "39.50060, -41.20060")]),
        ({3: {"latitude": "0", "longitude": "0"}}, "nowhere", "propose", [("0, 0", "(blank), (blank)")]),
        ({3: {"latitude": "51.5", "longitude": "0.1"}}, "far", "ask", [("51.5, 0.1", "")]),
        ({3: {"latitude": "139.5", "longitude": "200"}}, "far", "ask", [("139.5, 200", "")]),
        ({3: {"use_l_per_day": "see Bob"}}, "free_text", "propose", [("see Bob", "(blank)")]),
        ({3: {"surveyed_at": "same as last"}}, "free_text", "propose", [("same as last", "(blank)")]),
        ({3: {"dial_digits": "ok"}}, "free_text", "block", [("ok", "")]),
        ({3: {"pulse_weight": "10 gal"}}, "bad_cell", "propose", [("10 gal", "10")]),
        ({3: {"pulse_weight": "10 L"}}, "bad_cell", "block", [("10 L", "")]),
        ({3: {"pulse_weight": "1,0"}}, "bad_cell", "block", [("1,0", "")]),
        ({3: {"pulse_weight": ""}}, "bad_cell", "block", [("(blank)", "")]),
        ({3: {"dial_unit": "Gallons"}}, "unit_word", "propose", [("Gallons", "gal")]),
        ({3: {"dial_unit": "CF"}}, "unit_word", "block", [("CF", "")]),
        ({3: {"mount": "Pit"}}, "spelling", "propose", [("Pit", "pit")]),
        ({3: {"mount": "manhole"}}, "choice", "ask", [("manhole", "")]),
        ({3: {"meter_serial": f" {serial(3)}"}}, "spaces", "propose", [(f" {serial(3)}", serial(3))]),
        ({3: {"surveyed_at": "17/04/2026"}}, "dates", "propose", [("17/04/2026", "2026-04-17")]),
        ({3: {"register_role": "high"}}, "role", "ask", [("high", "")]),
        ({3: {"meter_type": "compound"}}, "role", "ask", [("single", "")]),
    ],
)  # fmt: skip
def test_one_slip_is_one_flag(
    tmp_path: Path, changes: dict[int, Row], rule: str, grade: str, expected: list[tuple[str, str]]
) -> None:
    spoiled(tmp_path, changes)
    listed(tmp_path)
    flag = only(tmp_path)
    assert (flag.rule, flag.grade, proposals(flag)) == (rule, grade, expected)
    assert flag.ask


def test_zeros_follow_from_the_usual_length_only_where_nothing_is_listed(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"meter_serial": "777"}, 4: {"meter_serial": "77777"}})
    assert proposals(only(tmp_path)) == [("77777", "00077777")], "777 has too few digits left to be guessed at"
    listed(tmp_path)
    assert {flag.rule for flag in flags(tmp_path)} == {"other_serial"}


def test_two_listed_serials_that_fit_are_no_proposal(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"meter_serial": "504119"}})
    listed(tmp_path, columns="meter_serial", extra=["0000504119"])
    assert all(not line.becomes for flag in flags(tmp_path) for line in flag.lines)


def test_a_serial_that_would_become_anothers_is_a_duplicate_not_a_proposal(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"meter_serial": serial(8).lstrip("0")}})
    listed(tmp_path)
    flag = only(tmp_path)
    assert (flag.rule, len(flag.rows)) == ("duplicate", 2)
    assert "written" in flag.says


def test_exchanged_neighbours_are_proposed_on_the_same_street_alone(tmp_path: Path) -> None:
    turned = serial(3)[:-2] + serial(3)[-1] + serial(3)[-2]
    spoiled(tmp_path, {3: {"meter_serial": turned}})
    listed(tmp_path, columns="meter_serial,address")
    flag = only(tmp_path)
    assert (flag.rule, flag.grade, proposals(flag)) == ("near", "propose", [(turned, serial(3))])
    listed(tmp_path, columns="meter_serial")
    flag = only(tmp_path)
    assert (flag.rule, flag.grade, proposals(flag)) == ("near", "ask", [(turned, "")])
    assert serial(3) in flag.says


def test_two_open_serials_one_slip_away_are_asked(tmp_path: Path) -> None:
    wrong = "00504110"
    spoiled(tmp_path, {3: {"meter_serial": wrong}})
    listed(tmp_path, columns="meter_serial,address", extra=["00504118,99 Bobbin Row"])
    flag = only(tmp_path)
    assert (flag.rule, flag.grade) == ("near", "ask")
    assert set(flag.about) == {serial(3), "00504118"}


def test_meters_that_were_not_met_and_meters_that_no_list_knows(tmp_path: Path) -> None:
    spoiled(tmp_path, {}, extra=[sound_rows(1)[0] | {"site": "S900", "account": "", "meter_serial": "09999999"}])
    listed(tmp_path, columns="meter_serial", extra=["08888881", "08888882"])
    found = {flag.rule: flag for flag in flags(tmp_path)}
    assert set(found) == {"unlisted", "ghost"}
    assert found["ghost"].about == ("08888881", "08888882")
    assert found["ghost"].rows == ()
    assert found["unlisted"].sites == ("S900",)


def test_billed_meters_are_the_list_where_none_is_given(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"meter_serial": "504119"}})
    bills = [f"{row['meter_serial']},2025-01-01,2025-12-31,70000,gal" for row in sound_rows()]
    (tmp_path / "use_history.csv").write_text(
        "\n".join([BILLS, *bills, "08888888,2025-01-01,2025-12-31,3000,gal"]) + "\n"
    )
    assert {flag.rule for flag in flags(tmp_path)} == {"zeros", "ghost"}


def test_a_survey_of_a_few_streets_does_not_call_the_rest_of_the_town_missing(tmp_path: Path) -> None:
    spoiled(tmp_path, {})
    listed(tmp_path, extra=[f"09{number:06d},X{number},{number} Far Road" for number in range(40)])
    assert flags(tmp_path) == []


def test_compound_meters_need_a_high_and_a_low_row(tmp_path: Path) -> None:
    high = sound_rows(1)[0] | {
        "site": "S900", "meter_serial": "09000001", "meter_type": "compound", "meter_size": "3in",
        "register_role": "high", "dial_digits": "7",
    }  # fmt: skip
    low = high | {"register_role": "low", "pulse_weight": "1"}
    spoiled(tmp_path, {}, extra=[high, low])
    answer = survey(tmp_path)
    assert answer.flags == ()
    assert (answer.counts.rows, answer.counts.registers) == (15, 16)
    spoiled(tmp_path, {}, extra=[high, low | {"register_role": "high"}])
    flag = only(tmp_path)
    assert (flag.rule, flag.grade) == ("role", "block")
    assert all(not line.column for line in flag.lines), "rows that nothing tells apart are put right in the sheet"


def test_the_declared_check_digit_is_held_against_every_serial(tmp_path: Path) -> None:
    rows = sound_rows()
    for row in rows:
        body = row["meter_serial"]
        row["meter_serial"] = next(f"{body}{digit}" for digit in range(10) if _luhn_ok(f"{body}{digit}"))
    rows[3]["meter_serial"] = rows[3]["meter_serial"][:-1] + str((int(rows[3]["meter_serial"][-1]) + 1) % 10)
    write_rows(tmp_path / "sites.csv", rows)
    assert flags(tmp_path) == []
    (tmp_path / "programme.toml").write_text('[survey]\ncheck_digit = "luhn"\n')
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("check_digit", ("S003",))


def _luhn_ok(text: str) -> bool:
    from stdnum import luhn

    return luhn.is_valid(text)


@pytest.mark.parametrize(("unit", "wrong", "ratio"), [("gal", 7.4805, "gal and ft3"), ("gal", 0.2642, "L and gal")])
def test_use_off_by_the_ratio_of_two_units_is_asked_and_never_converted(
    tmp_path: Path, unit: str, wrong: float, ratio: str
) -> None:
    daily_l = [300.0 + 37 * number for number in range(14)]
    changes = {
        n: {"use_l_per_day": f"{use * (wrong if n == 5 else 1 + (n % 5 - 2) / 20):.1f}"}
        for n, use in enumerate(daily_l)
    }
    spoiled(tmp_path, changes)
    bills = [
        f"{serial(number)},2025-01-01,2026-01-01,{use * 365 / 3.785411784:.0f},{unit}"
        for number, use in enumerate(daily_l)
    ]
    (tmp_path / "use_history.csv").write_text("\n".join([BILLS, *bills]) + "\n")
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("unit_ratio", ("S005",))
    assert ratio in flag.says
    assert all(not line.becomes for line in flag.lines)


def test_cubic_feet_that_mean_hundreds_are_asked_once_for_the_file(tmp_path: Path) -> None:
    spoiled(tmp_path, {}, count=24)
    bills = [
        f"{serial(number)},2025-01-01,2026-01-01,"
        + (f"{130 + 5 * number},ft3" if number < 8 else f"{90_000 + 3_000 * number},gal")
        for number in range(24)
    ]
    (tmp_path / "use_history.csv").write_text("\n".join([BILLS, *bills]) + "\n")
    flag = only(tmp_path)
    assert (flag.rule, len(flag.rows)) == ("history_unit", 8)
    assert "CF mean CCF" in flag.says


def test_dials_read_before_tell_a_painted_zero(tmp_path: Path) -> None:
    spoiled(tmp_path, {})
    (tmp_path / "dial_reads.csv").write_text(
        f"meter_serial,at,dial\n{serial(2)},2026-01-01T00:00Z,0421370\n{serial(4)},2026-01-01T00:00Z,042137\n"
    )
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("painted_zero", ("S004",))


def test_a_unit_is_usual_only_where_nine_in_ten_have_it(tmp_path: Path) -> None:
    spoiled(
        tmp_path,
        {n: {"dial_unit": "ft3", "pulse_unit": "ft3", "pulse_weight": "1", "fixed_zeros": "0"} for n in range(4)},
    )
    assert flags(tmp_path) == []


@pytest.mark.parametrize(
    ("digits", "unit", "size", "flagged"),
    [
        ("4", "m3", "DN15", False),  # 9,999 m3, the printed table for Q3 up to 6.3
        ("3", "m3", "DN15", True),
        ("5", "m3", "DN50", False),  # 40,000 m3 are needed at Q3 = 25
        ("4", "m3", "DN50", True),
        ("6", "gal", "5/8in", False),  # 1,000,000 gal against 960,000
        ("5", "gal", "5/8in", True),
        ("7", "gal", "2in", True),  # 10,000,000 gal against 7,680,000 fits; painted zeros count
    ],
)
def test_dials_hold_sixteen_hundred_hours(tmp_path: Path, digits: str, unit: str, size: str, flagged: bool) -> None:
    cells = {"dial_digits": digits, "fixed_zeros": "0", "dial_unit": unit, "pulse_unit": unit, "meter_size": size}
    if size == "2in":
        cells["dial_digits"] = "6"
    spoiled(tmp_path, dict.fromkeys(range(14), cells))
    assert ([flag.rule for flag in flags(tmp_path)] == ["dial_size"]) is flagged


def test_dates_that_nothing_settles_block_and_wait_for_one_of_two_keys(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"surveyed_at": "03/04/2026"}})
    flag = only(tmp_path)
    assert [line.key for line in flag.lines] == ["dates:sites:day-first", "dates:sites:month-first"]
    assert [line.becomes for line in flag.lines] == ["2026-04-03", "2026-03-04"]
    keep(tmp_path, survey(tmp_path, accept=["dates:sites:month-first"], by="Ines"))
    assert flags(tmp_path) == []


def test_contradicting_dates_are_said_to_be_so(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"surveyed_at": "17/04/2026"}, 4: {"surveyed_at": "04/17/2026"}})
    assert "contradict" in only(tmp_path).says
    keep(tmp_path, survey(tmp_path, accept=["dates:sites:day-first"], by="Ines"))
    flag = only(tmp_path)
    assert (flag.key, flag.sites) == ("dates:sites:left", ("S004",))


@pytest.mark.parametrize(
    "days", [("2026-03-04", "2026-05-04", "2026-06-04", "2026-04-04"), ("2026-03-04", "2026-03-17")]
)
def test_dates_that_a_workbook_read_with_the_month_first_are_offered_back(
    tmp_path: Path, days: tuple[str, ...]
) -> None:
    cells = {n: {"surveyed_at": days[n] if n < len(days) else "17/04/2026"} for n in range(14)}
    spoiled(tmp_path, cells)
    found = {flag.rule: flag for flag in flags(tmp_path)}
    if len(days) < 4:
        assert set(found) == {"dates"}, "a true date after the twelfth shows that the workbook did not turn them"
        return
    assert proposals(found["dates_turned"]) == [(d, f"2026-{d[8:]}-{d[5:7]}") for d in days if d != "2026-04-04"]


def test_a_position_copied_from_the_row_above_is_asked_but_not_that_of_one_house(tmp_path: Path) -> None:
    rows = sound_rows()
    place = {name: rows[4][name] for name in ("latitude", "longitude")}
    spoiled(tmp_path, {5: place})
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("copied_place", ("S004", "S005"))
    spoiled(tmp_path, {5: place | {"address": rows[4]["address"] + " rear"}})
    assert flags(tmp_path) == []
    spoiled(tmp_path, dict.fromkeys(range(3, 9), place))
    assert flags(tmp_path) == [], "six meters at one point are flats"


def test_use_beyond_the_meter_is_asked(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"use_l_per_day": "54000"}, 4: {"use_l_per_day": "55000"}})  # half of 20 gal/min is 54,510 L
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("use_flow", ("S004",))


def test_a_survey_in_the_future_is_asked(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"surveyed_at": "2026-06-02"}, 4: {"surveyed_at": "2026-12-04"}})
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("dates_ahead", ("S004",))


def mixed_faces(count: int = 24) -> dict[int, Row]:
    """Return three faces of one capacity, a third of the rows each, the pulse worth the least moving digit."""
    faces = [
        {"dial_digits": "6", "fixed_zeros": "1", "dial_resolution": "", "pulse_weight": "10"},
        {"dial_digits": "7", "fixed_zeros": "0", "dial_resolution": "1", "pulse_weight": "1"},
        {"dial_digits": "8", "fixed_zeros": "0", "dial_resolution": "0.1", "pulse_weight": "0.1"},
    ]
    return {number: dict(faces[number % 3]) for number in range(count)}


def test_faces_of_one_capacity_are_no_doubt_and_a_digit_too_many_is(tmp_path: Path) -> None:
    cells = mixed_faces()
    spoiled(tmp_path, cells, count=24)
    assert flags(tmp_path) == []
    cells[4]["dial_digits"] = "8"
    spoiled(tmp_path, cells, count=24)
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("dial_odd", ("S004",))
    assert "100,000,000 gal" in flag.says


def test_a_decade_of_the_weight_shows_against_the_least_digit_where_weights_differ(tmp_path: Path) -> None:
    cells = mixed_faces()
    cells[4]["pulse_weight"] = "10"
    spoiled(tmp_path, cells, count=24)
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("weight_odd", ("S004",))
    assert "least moving digit is 1 gal" in flag.says


def test_a_weight_that_hardly_any_meter_has_is_asked_where_weights_differ(tmp_path: Path) -> None:
    cells = {n: {"pulse_weight": ("10", "1")[n % 2]} for n in range(60)}
    spoiled(tmp_path, cells, count=60)
    assert flags(tmp_path) == []
    cells[8]["pulse_weight"] = "100"
    spoiled(tmp_path, cells, count=60)
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("weight_odd", ("S008",))
    assert "Only 1 row of 60" in flag.says


def test_a_small_class_is_held_against_all_meters_of_its_size(tmp_path: Path) -> None:
    cells = {number: {"meter_type": "multi_jet"} for number in range(3)}
    cells[1]["dial_digits"] = "7"
    spoiled(tmp_path, cells)
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("dial_odd", ("S001",))


def test_one_wrong_digit_without_streets_is_asked_where_one_open_serial_is_near(tmp_path: Path) -> None:
    spoiled(tmp_path, {3: {"meter_serial": "00504419"}})
    listed(tmp_path, columns="meter_serial")
    flag = only(tmp_path)
    assert (flag.rule, flag.grade, flag.about) == ("near", "ask", (serial(3),))


def test_scattered_use_is_held_against_its_own_scatter(tmp_path: Path) -> None:
    scatter = [0.8, 0.9, 1.0, 1.1, 1.2]
    uses = {
        n: {"use_l_per_day": f"{(300 + 37 * n) * scatter[n % 5] / (3.785 if n == 9 else 1):.1f}"} for n in range(40)
    }
    spoiled(tmp_path, uses, count=40)
    bills = [f"{serial(n)},2025-01-01,2026-01-01,{(300 + 37 * n) * 365:.0f},L" for n in range(40)]
    (tmp_path / "use_history.csv").write_text("\n".join([BILLS, *bills]) + "\n")
    flag = only(tmp_path)
    assert (flag.rule, flag.sites) == ("unit_ratio", ("S009",))
    assert "L and gal" in flag.says


def test_cells_that_hold_a_page_give_short_flags_and_keys_of_their_own(tmp_path: Path) -> None:
    page = "word " * 3000
    spoiled(tmp_path, {3: {"meter_size": page + "a"}, 4: {"meter_size": page + "b"}, 5: {"mount": page}})
    found = flags(tmp_path)
    assert [flag.rule for flag in found] == ["size", "size", "choice"]
    assert len({flag.key for flag in found}) == 3
    assert all(len(flag.says) <= 600 and len(flag.key) < 200 for flag in found)


def test_a_list_that_lost_its_own_zeros_is_no_reason_to_doubt_the_survey(tmp_path: Path) -> None:
    spoiled(tmp_path, {})
    (tmp_path / "known.csv").write_text(
        "meter_serial\n" + "\n".join(row["meter_serial"].lstrip("0") for row in sound_rows())
    )
    answer = survey(tmp_path)
    assert answer.flags == ()
    assert any("14 serials on known.csv have lost leading zeros" in words for words in answer.said)


def test_rows_of_another_shape_are_blocked_and_counted(tmp_path: Path) -> None:
    spoiled(tmp_path, {})
    with (tmp_path / "sites.csv").open("a") as sink:
        sink.write("S900,too,few\n")
    answer = survey(tmp_path)
    assert [flag.rule for flag in answer.flags] == ["row_shape"]
    assert (answer.counts.rows, answer.counts.blocked) == (15, 1)


def test_exact_copies_of_a_row_are_one_row(tmp_path: Path) -> None:
    spoiled(tmp_path, {}, extra=[sound_rows()[5]])
    answer = survey(tmp_path)
    assert answer.flags == ()
    assert answer.counts.rows == 14


@pytest.mark.parametrize("name", ["sites.csv", "sites.xlsx", "sites.parquet", "sites.csv.gz"])
def test_every_form_of_the_sheet_gives_the_same_keys(tmp_path: Path, name: str) -> None:
    rows = sound_rows()
    rows[3]["meter_serial"] = "504119"
    rows[5]["longitude"] = rows[5]["longitude"].lstrip("-")
    if name.endswith(".gz"):
        import gzip

        write_rows(tmp_path / "plain.csv", rows)
        (tmp_path / name).write_bytes(gzip.compress((tmp_path / "plain.csv").read_bytes()))
    else:
        write_rows(tmp_path / name, rows)
    assert [flag.key for flag in flags(tmp_path)] == ["zeros:sites:504119", "sign:sites:S005"]


def test_numbers_in_a_workbook_are_offered_and_one_by_one_where_zeros_are_known(tmp_path: Path) -> None:
    from openpyxl import Workbook

    rows = sound_rows()
    book = Workbook()
    book.active.append(list(rows[0]))
    for number, row in enumerate(rows):
        book.active.append(
            [int(cell) if name == "meter_serial" and number == 3 else cell for name, cell in row.items()]
        )
    book.save(tmp_path / "sites.xlsx")
    listed(tmp_path)
    assert [flag.key for flag in flags(tmp_path)] == ["zeros:sites:504119", "numbers:sites:meter_serial"]
    keep(tmp_path, survey(tmp_path, accept=["zeros"], by="Ines"))
    answer = survey(tmp_path)
    assert answer.flags == ()
    assert answer.sites["meter_serial"].to_pylist() == [row["meter_serial"] for row in rows]
