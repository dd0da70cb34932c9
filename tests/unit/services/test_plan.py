"""Plans of small surveys: who shares an endpoint, which setting is keyed, what is asked and why."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest

from dialtrue.domain.errors import RowsRefused, UnknownSheet
from dialtrue.domain.planning.questions import QUESTIONS
from dialtrue.domain.planning.settings import PlanSettings
from dialtrue.services.kit_stock import kit_for
from dialtrue.services.plan import PlanAnswer, plan_folder
from tests.support.surveys import AT, planned, register, rows_of, survey


def places(answer: PlanAnswer) -> list[tuple[str, Any, Any]]:
    return [(row["endpoint"], row["endpoint_number"], row["port"]) for row in rows_of(answer)]


def test_a_register_with_nothing_wrong_is_planned_whole(tmp_path: Path) -> None:
    answer = planned(tmp_path, register())
    (row,) = rows_of(answer)
    assert answer.questions == ()
    assert (row["status"], row["questions"], row["verdict"]) == ("planned", None, "fits")
    assert (row["endpoint"], row["port"], row["port_label"]) == ("pit-one-port", 1, "PORT 1")
    assert (row["index_digits"], row["index_unit"], row["index_resolution"]) == (7, "gal", "1")
    assert (row["weight_set"], row["weight_unit"]) == ("10", "gal")
    assert (row["start_example_dial"], row["start_example_index"]) == ("042137", "0042137")
    assert row["proof_kind"] is not None
    assert row["job_minutes"] == pytest.approx(15 + row["proof_minutes"])
    assert row["cable_cut_m"] == 2.9
    blank = {name for name, value in row.items() if value is None}
    assert blank == {"questions", "pull_up_ohm", "skills", "index_note"}


def test_meters_of_one_site_and_mount_share_an_endpoint(tmp_path: Path) -> None:
    rows = [register("S1", "A"), register("S1", "B"), register("S1", "C"), register("S2", "D")]
    assert places(planned(tmp_path, *rows)) == [
        ("pit-two-port", 1, 1),
        ("pit-two-port", 1, 2),
        ("pit-one-port", 2, 1),
        ("pit-one-port", 1, 1),
    ]
    wall = [row | {"mount": "wall"} for row in rows]
    assert places(planned(tmp_path, *wall))[:3] == [("wall-four-port", 1, port) for port in (1, 2, 3)]
    apart = [rows[0], rows[1] | {"mount": "wall"}]
    assert places(planned(tmp_path, *apart)) == [("pit-one-port", 1, 1), ("wall-one-port", 2, 1)]


def test_a_compound_meter_comes_first_whatever_the_order_of_the_rows(tmp_path: Path) -> None:
    rows = [
        register("S1", "A", mount="wall"),
        register("S1", "B", mount="wall", register_role="low", meter_type="compound"),
        register("S1", "B", mount="wall", register_role="high", meter_type="compound"),
    ]
    answer = planned(tmp_path, *rows)
    assert places(answer) == [("wall-four-port", 1, port) for port in (3, 2, 1)]
    assert [row["port_label"] for row in rows_of(answer)] == ["PORT 3", "PORT 2 = LOW", "PORT 1 = HIGH"]


def test_meters_are_planned_apart_where_a_shared_endpoint_counts_one_badly(tmp_path: Path) -> None:
    sheet = """
[endpoint.both]
ports = 2
input = "contact-3v-100k"
[endpoint.contact]
input = "contact-3v-100k"
[endpoint.active]
input = "logic-3v"
"""
    rows = [register("S1", "A", mount="wall"), register("S1", "B", mount="wall", output="push-pull-3v")]
    rows[0]["cable_length_m"] = "900"
    hungry = sheet.replace('"contact-3v-100k"', '"two-wire-8v2"', 1)
    assert places(planned(tmp_path, *rows, ours=hungry)) == [("contact", 1, 1), ("contact", 2, 1)]
    assert places(planned(tmp_path, *rows, ours=sheet)) == [("both", 1, 1), ("both", 1, 2)]


def test_another_pull_up_is_set_only_where_the_sheets_own_asks_for_care(tmp_path: Path) -> None:
    settings = PlanSettings(endpoints=("settable-one-port",))
    contact, transistor = rows_of(
        planned(tmp_path, register("S1", "A"), register("S2", "B", output="open-drain"), settings=settings)
    )
    assert (contact["pull_up_ohm"], contact["debounce_ms"]) == (100_000.0, 25.0)  # 47 kohm would empty the cell
    assert (transistor["pull_up_ohm"], transistor["debounce_ms"]) == (47_000.0, 25.0)
    assert {contact["verdict"], transistor["verdict"]} == {"fits"}


def test_another_debounce_is_set_where_the_contact_is_short(tmp_path: Path) -> None:
    fast = register(output="reed-one-in-five", meter_size="4in", pulse_weight="1")  # closed for 24 ms at 500 gal/min
    (row,) = rows_of(planned(tmp_path, fast, settings=PlanSettings(endpoints=("pit-one-port",))))
    assert row["debounce_ms"] == 10.0  # nearer than 5, and longer than the bounce of 5 ms
    assert row["verdict"] == "fits"


def test_own_endpoints_are_the_only_ones_on_hand(tmp_path: Path) -> None:
    own = '[endpoint.ours]\ninput = "contact-3v-100k"\nindex_digits = [6]\nmounts = ["wall"]\n'
    answer = planned(tmp_path, register(mount="wall"), register("S2", "B"), ours=own)
    assert [row["endpoint"] for row in rows_of(answer)] == ["ours", None]
    assert [question.code for question in answer.questions] == ["no_endpoint"]


def test_the_preferred_endpoint_goes_first_and_the_surveys_before_it(tmp_path: Path) -> None:
    rows = [register(), register("S2", "B", endpoint="sampled-one-port")]
    answer = planned(tmp_path, *rows, programme="[plan]\nendpoints = ['pit-two-port', 'pit-one-port']\n")
    assert [row["endpoint"] for row in rows_of(answer)] == ["pit-two-port", "sampled-one-port"]


def test_a_loop_is_wired_with_the_cable_the_plan_brings_and_bridged_with_a_pair(tmp_path: Path) -> None:
    rows = [register(cable=""), register("S2", "B", cable="awg22-pair")]
    wired, bridged = rows_of(planned(tmp_path, *rows, settings=PlanSettings(endpoints=("loop-one-port",))))
    assert (wired["cable"], wired["tamper_loop"]) == ("awg22-four", "wired")
    assert (bridged["tamper_loop"], "raises no alarm" in bridged["tamper_note"]) == ("bridged", True)
    counts = [{part["part"]: part["quantity"] for part in json.loads(row["parts"])} for row in (wired, bridged)]
    assert counts[0]["gel-splice"] == "4"
    assert (counts[1]["gel-splice"], counts[1]["loop-bridge"]) == ("2", "1")


def test_only_an_endpoint_made_for_the_cold_is_taken(tmp_path: Path) -> None:
    own = "".join(
        f'[endpoint.{key}]\ninput = "contact-3v-100k"\ncold_limit_c = {limit}\n'
        for key, limit in (("mild", -10), ("hardy", -40))
    )
    answer = planned(tmp_path, register(), programme="[plan]\ncoldest_c = -25\n", ours=own)
    assert [row["endpoint"] for row in rows_of(answer)] == ["hardy"]


ASKED: list[tuple[str, dict[str, object], str]] = [
    ("no_mount", {"mount": ""}, "Where will the endpoint sit"),
    ("bad_dial", {"dial_resolution": "0.3"}, "0.3 gal"),
    ("unit_differs", {"dial_unit": "ft3"}, "ft3 and the pulses are said to be 10 gal"),
    ("no_output", {"output": ""}, "Which pulse output"),
    ("unknown_output", {"output": "reed-contct"}, "reed-contct"),
    ("unknown_cable", {"cable": "bell-wire"}, "bell-wire"),
    ("unknown_input", {"input": "mystery"}, "mystery"),
    ("unknown_endpoint", {"endpoint": "mystery"}, "mystery"),
    ("no_length", {"cable_length_m": ""}, "How long is the cable run"),
    ("no_size", {"meter_size": ""}, "What size is the meter"),
    ("unknown_size", {"meter_size": "7in"}, "7in"),
    ("weight_not_offered", {"pulse_weight": "7"}, "7 gal"),
    ("compound_one_row", {"meter_type": "compound"}, "A compound meter has two registers"),
    ("compound_one_row", {"register_role": "low"}, "A compound meter has two registers"),
    ("no_endpoint", {"endpoint": "wall-one-port"}, "pit, 1 port"),
    ("needs_power", {"output": "two-wire-sensor", "mount": "indoor"}, "is there a supply"),
    ("does_not_fit", {"output": "two-wire-sensor"}, "kinds"),
    ("does_not_fit", {"output": "reed-one-in-five", "meter_size": "6in", "pulse_weight": "0.1"}, "short"),
    ("fit_unknown", {"output": "s0-class-b"}, "open-level"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "cells", "words"), ASKED)
def test_what_cannot_be_planned_is_asked_once_and_the_rest_is_filled_in(
    tmp_path: Path, code: str, cells: dict[str, object], words: str
) -> None:
    answer = plan_folder(survey(tmp_path, register() | {n: str(v) for n, v in cells.items()}, register("S9", "B")),
                         at=AT, survey=False)  # fmt: skip
    row, sound = rows_of(answer)
    assert [question.code for question in answer.questions] == [code]
    assert words in row["questions"] == answer.questions[0].text
    assert (answer.questions[0].registers, answer.questions[0].sites) == (1, ("S1",))
    assert (row["status"], sound["status"], answer.counts["ask"]) == ("ask", "planned", 1)
    assert row["index_digits"] is not None or row["endpoint"] is None


def test_every_question_of_the_list_but_the_files_own_is_asked_by_a_test() -> None:
    elsewhere = {"left_out", "compound_no_port", "survey", "same_register_twice", "compound_apart", "unit_not_offered"}
    assert {code for code, _, _ in ASKED} == set(QUESTIONS) - elsewhere


def test_one_register_in_two_rows_and_a_compound_meter_apart_are_asked(tmp_path: Path) -> None:
    rows = [
        register("S1", "A"),
        register("S2", "A"),
        register("S3", "C", register_role="high"),
        register("S3", "C", register_role="low", mount="wall"),
    ]
    answer = plan_folder(survey(tmp_path, *rows), at=AT, survey=False)
    assert {question.code for question in answer.questions} == {"same_register_twice", "compound_apart"}
    assert answer.counts["ask"] >= 3
    taken = [(row["site"], row["endpoint_number"], row["port"]) for row in rows_of(answer)]
    assert len(set(taken)) == len(taken)


def test_a_unit_that_no_endpoint_counts_in_is_asked(tmp_path: Path) -> None:
    own = '[endpoint.ours]\ninput = "contact-3v-100k"\nindex_units = ["m3"]\n'
    answer = planned(tmp_path, register(), ours=own)
    assert [(question.code, "counts in gal" in question.text) for question in answer.questions] == [
        ("unit_not_offered", True)
    ]


def test_a_row_that_cannot_be_read_is_asked_about_and_the_others_are_planned(tmp_path: Path) -> None:
    folder = survey(tmp_path, register("S1", "A", dial_digits=""), register("S2", "B"))
    answer = plan_folder(folder, at=AT)
    assert [row["site"] for row in rows_of(answer)] == ["S2"]
    assert answer.counts["left_out"] == 1
    assert answer.questions[0].code == "left_out"
    assert "dial_digits" in answer.questions[0].text
    with pytest.raises(RowsRefused):
        plan_folder(folder, at=AT, strict=True)


def test_what_the_survey_doubts_is_asked_unless_it_is_left_out(tmp_path: Path) -> None:
    rows = [register("S1", "00417733"), register("S2", "00417733"), register("S3", "B")]
    folder = survey(tmp_path, *rows)
    doubted = plan_folder(folder, at=AT)
    assert [row["status"] for row in rows_of(doubted)] == ["ask", "ask", "planned"]
    assert "survey" in {question.code for question in doubted.questions}
    assert "survey" not in {question.code for question in plan_folder(folder, at=AT, survey=False).questions}


def test_settings_stand_where_the_survey_is_blank_only(tmp_path: Path) -> None:
    rows = [register("S1", "A", output="", cable="", cable_length_m=""), register("S2", "B")]
    settings = PlanSettings(output="open-drain", cable="awg18-pair", cable_length_m=7.0)
    first, second = rows_of(planned(tmp_path, *rows, settings=settings))
    assert (first["output"], first["cable"], first["cable_length_m"]) == ("open-drain", "awg18-pair", 7.0)
    assert (second["output"], second["cable"], second["cable_length_m"]) == ("reed-contact", "awg22-pair", 2.5)


@pytest.mark.parametrize("given", [{"endpoints": ("nome",)}, {"output": "nome"}, {"cable": "nome"}, {"input": "nome"}])
def test_a_setting_that_names_no_sheet_is_refused(tmp_path: Path, given: dict[str, Any]) -> None:
    with pytest.raises(UnknownSheet, match="nome"):
        planned(tmp_path, register(), settings=PlanSettings(**given))


def test_an_equal_weight_in_another_unit_is_keyed_as_the_endpoint_shows_it(tmp_path: Path) -> None:
    metric = register(meter_size="DN15", dial_unit="m3", dial_digits="8", dial_resolution="0.001",
                      pulse_weight="0.010", pulse_unit="m3")  # fmt: skip
    (row,) = rows_of(planned(tmp_path, metric))
    assert (row["weight_set"], row["weight_unit"]) == ("10", "L")
    assert (row["index_digits"], row["index_unit"], row["index_resolution"]) == (8, "m3", "0.001")


def test_an_empty_sheet_gives_an_empty_plan(tmp_path: Path) -> None:
    answer = planned(tmp_path)
    assert answer.plan.num_rows == 0
    assert set(answer.counts.values()) == {0}


def test_days_until_the_second_read_follow_the_use(tmp_path: Path) -> None:
    rows = [register(f"S{use}", f"M{use}", use_l_per_day=use) for use in ("5000", "60", "1", "")]
    assert [row["follow_up_days"] for row in rows_of(planned(tmp_path, *rows))] == [25, 38, 45, 35]


def test_use_is_taken_from_two_bills_where_the_survey_gives_none(tmp_path: Path) -> None:
    rows = [register(f"S{place}", f"M{place}", use_l_per_day=use) for place, use in ((1, ""), (2, ""), (3, "70"))]
    (tmp_path / "use_history.csv").write_text(
        "meter_serial,start,end,volume,unit\n"
        "M1,2026-01-01,2026-02-01,1.55,m3\nM1,2026-02-01,2026-03-12,1950,L\n"
        "M2,2026-01-01,2026-02-01,1.55,m3\nM3,2026-01-01,2026-12-31,99,m3\n",
        encoding="utf-8",
    )
    days = [row["rollover_days"] for row in rows_of(planned(tmp_path, *rows))]
    capacity_l = 10_000_000 * 3.785411784
    assert days[0] == pytest.approx(capacity_l / 50)  # 3,500 L in 70 days
    assert days[1] is None  # one bill of 31 days says too little
    assert days[2] == pytest.approx(capacity_l / 70)


def test_an_endpoint_of_one_port_is_refused_to_a_compound_meter(tmp_path: Path) -> None:
    rows = [register("S1", "A", register_role=role, meter_type="compound") for role in ("high", "low")]
    answer = planned(tmp_path, *rows, settings=PlanSettings(endpoints=("pit-one-port",)))
    assert [(question.code, question.registers) for question in answer.questions] == [("compound_no_port", 2)]
    assert answer.questions[0].text.startswith("Compound: second register has no port (pit, pit-one-port has 1 port)")


def test_a_vault_brings_the_gas_tester(tmp_path: Path) -> None:
    rows = [register(), register("S2", "B", meter_size="4in")]
    small, vault = ({part["part"] for part in json.loads(row["parts"])} for row in rows_of(planned(tmp_path, *rows)))
    assert vault - small == {"gas-tester"}


def test_a_dial_step_of_ten_thousand_pulses_is_proved_by_parts_at_once(tmp_path: Path) -> None:
    coarse = register(dial_digits="4", dial_resolution="1000", pulse_weight="0.1")
    began = time.process_time()
    (row,) = rows_of(planned(tmp_path, coarse))
    assert time.process_time() - began < 5.0  # listing every pulse took longer than anybody waits
    assert row["proof_kind"] == "parts"
    assert "provisional until the second read" in row["proof_note"]


def test_the_proof_in_words_names_the_day_that_the_plan_names(tmp_path: Path) -> None:
    rows = [register(use_l_per_day="2000"), register("S2", "B", use_l_per_day="62"), register("S3", "C")]
    for row in rows_of(planned(tmp_path, *rows)):
        assert row["proof_note"].endswith(
            f"Read dial and index again after {row['follow_up_days']} days: only that shows a slow loss."
        )


def test_the_low_register_of_a_large_compound_meter_is_proved_at_one_tap(tmp_path: Path) -> None:
    more = {"meter_size": "4in", "meter_type": "compound"}
    high, low = rows_of(
        planned(tmp_path, register(register_role="high", **more), register(register_role="low", **more))
    )
    gallons = {row["register_role"]: float(row["proof_volume"]) / row["proof_minutes"] for row in (high, low)}
    assert gallons["low"] < 6.0  # five gallons a minute, minutes rounded
    assert gallons["high"] > 50.0


@pytest.mark.parametrize("weight", ["1e-12", "1e25"])
def test_a_weight_that_no_meter_has_is_asked(tmp_path: Path, weight: str) -> None:
    own = '[endpoint.ours]\ninput = "contact-3v-100k"\n'
    (row,) = rows_of(planned(tmp_path, register(pulse_weight=weight), ours=own))
    assert f"{weight} gal a pulse" in row["questions"]
    assert row["weight_set"] is None


@pytest.mark.parametrize(("share", "order"), [("0", "3"), ("0.15", "3"), ("0.5", "4")])
def test_the_kit_orders_the_programmes_slack_of_cable(tmp_path: Path, share: str, order: str) -> None:
    answer = planned(tmp_path, register(), programme=f"[plan]\ncable_slack_share = {share}\n")
    (cable,) = (row for row in kit_for(answer).to_pylist() if (row["scope"], row["kind"]) == ("programme", "cable"))
    assert (float(cable["quantity"]), float(cable["order"])) == (2.5, float(order))
    assert rows_of(answer)[0]["cable_cut_m"] == {"0": 2.5, "0.15": 2.9, "0.5": 3.8}[share]


def test_what_the_survey_asks_is_not_asked_again(tmp_path: Path) -> None:
    folder = survey(tmp_path, register("S1", "A", register_role="high", meter_type="compound"))
    assert [question.code for question in plan_folder(folder, at=AT).questions] == ["survey"]
    assert [question.code for question in plan_folder(folder, at=AT, survey=False).questions] == ["compound_one_row"]


def test_rows_that_cannot_be_read_for_one_cause_are_asked_about_once(tmp_path: Path) -> None:
    rows = [register(f"S{number}", f"A{number}", pulse_weight="ten") for number in range(8)]
    answer = planned(tmp_path, *rows, register("S9", "B", dial_digits="six"))
    assert [question.registers for question in answer.questions] == [8, 1]
    assert answer.questions[0].text.startswith(
        "sites.csv, rows 2, 3, 4, 5, 6 and 3 more, pulse_weight 'ten': a decimal"
    )
