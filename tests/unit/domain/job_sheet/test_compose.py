"""Sheets from registers: who shares a page, what is asked, what is watched together, what is never lost."""

from __future__ import annotations

import pytest

from dialtrue.domain.job_sheet.asked import MOST_QUESTIONS
from dialtrue.domain.job_sheet.neighbours import beside
from tests.support.job_sheets import ask, compound, every_kind, metric, register, sheets_of


def test_each_site_gets_one_page_in_the_order_given() -> None:
    sheets = sheets_of(every_kind())
    assert [sheet.site for sheet in sheets] == ["S-1042", "W-1", "P-9", "IN-22", "HOSPITAL-01", "TWINS", "Q-3"]
    assert {sheet.pages for sheet in sheets} == {1}


@pytest.mark.parametrize("turned", [False, True])
def test_high_stands_left_of_low_whatever_the_order_of_the_rows(turned: bool) -> None:
    rows = compound()[::-1] if turned else compound()
    (sheet,) = sheets_of(rows)
    assert [part.tag for part in sheet.registers] == ["HIGH", "LOW"]
    assert "HIGH goes to endpoint 1, port 1; LOW goes to endpoint 1, port 2" in sheet.together


def test_a_compound_meter_is_never_parted_by_a_page() -> None:
    single = register(site="HOSPITAL-01", meter_serial="0")
    sheets = sheets_of([single, *compound(), register(site="HOSPITAL-01", meter_serial="9")])
    assert [(sheet.page, sheet.pages) for sheet in sheets] == [(1, 3), (2, 3), (3, 3)]
    assert [[part.tag for part in sheet.registers] for sheet in sheets] == [[""], ["HIGH", "LOW"], [""]]


def test_compound_has_two_draws_and_reads_both_sides_at_each() -> None:
    (sheet,) = sheets_of(compound())
    assert sheet.readings == (
        "Before", "After draw 1, one tap: LOW", "After draw 2, wide open: HIGH", "Last pair, on leaving",
    )  # fmt: skip
    high, low = (" ".join(part.proof.notes) for part in sheet.registers if part.proof)
    assert "Draw 2: open wide" in high
    assert "HIGH must stand still" in low


def test_from_count_to_count_is_read_at_the_counts() -> None:
    (sheet,) = sheets_of([register()])
    assert sheet.readings == ("At the first count", "At the last count", "Last pair, on leaving")


def test_meters_of_one_site_are_watched_together() -> None:
    (sheet,) = sheets_of([register(meter_serial=serial) for serial in ("A", "B")])
    assert "(A, B): watch every index" in sheet.together


def test_meters_a_pace_apart_are_watched_together_and_those_across_the_road_are_not() -> None:
    here = register(site="1", meter_serial="A", latitude=40.0, longitude=-90.0)
    there = register(site="2", meter_serial="B", latitude=40.00002, longitude=-90.0)  # 2.2 m
    far = register(site="3", meter_serial="C", latitude=40.00005, longitude=-90.0)  # 5.6 m from the first
    assert beside([here, there, far]) == {"A": ("B",), "B": ("A",)}
    first, _, third = sheets_of([here, there, far])
    assert "Another meter stands here (B)" in first.together
    assert third.together == ""


def test_account_is_printed_only_where_the_programme_asks_for_it() -> None:
    assert "A-77" not in str(sheets_of([register()]))
    assert "A-77" in str(sheets_of([register()], show_account=True)[0].where)


def test_questions_that_the_plan_runs_together_are_parted() -> None:
    (sheet,) = sheets_of([ask()])
    assert sheet.status == "ask"
    first, second, third = sheet.questions
    assert first.endswith("current sensor? Test it, and photograph the label.")
    assert second == "How many painted zeros are on the face?"
    assert third == "What size is the meter? It stands on the body or the plate."


def test_more_questions_than_fit_are_counted() -> None:
    (sheet,) = sheets_of([ask(questions=" ".join(f"Question {n}?" for n in range(20)))])
    assert len(sheet.questions) == MOST_QUESTIONS
    assert sheet.questions[-1] == "And 13 more: see the plan."


def test_what_is_not_known_is_blank_to_be_filled_in() -> None:
    (sheet,) = sheets_of([ask()])
    assert all(fact.text == "" for fact in sheet.registers[0].keyed)
    assert sheet.registers[0].start is None
    assert sheet.registers[0].proof is None


def test_parts_of_both_registers_are_added_up() -> None:
    (sheet,) = sheets_of(compound())
    lines = {line.title: (line.quantity, line.unit) for line in sheet.parts}
    assert lines["Gel-filled splice for two conductors, 18 to 24 AWG"] == ("8", "")
    assert lines["22 AWG stranded, four wires: pulse pair and tamper loop (45 ft)"] == ("13.6", "m")
    assert sheet.parts[0].title.startswith("Radio endpoint")


def test_follow_up_is_a_date_where_the_day_is_known_and_the_earliest_counts() -> None:
    assert sheets_of([register()])[0].follow_up.startswith("Second dial read due Thu 31 Dec 2026, 30 days")
    rows = [register(meter_serial="A", follow_up_days=45), register(meter_serial="B", follow_up_days=25)]
    assert sheets_of(rows, stops={})[0].follow_up == "Second dial read due 25 days after this visit."


def test_a_visit_day_of_the_survey_serves_where_there_is_no_route() -> None:
    (sheet,) = sheets_of([register(visit_day="2026-02-27", follow_up_days=2)], stops={})
    assert "Sun 1 Mar 2026" in sheet.follow_up


def test_the_proof_says_the_second_read_once() -> None:
    (sheet,) = sheets_of([register()])
    assert sheet.registers[0].proof is not None
    assert not any("again after" in note for note in sheet.registers[0].proof.notes)


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        (register(), "index + 30 gal"),
        (metric(), "index + 14 to 16 (140 to 160 L)"),
        (register(index_resolution=None), "index + 30"),
        (register(proof_counts_low=None), ""),
    ],
)
def test_the_band_to_accept_is_in_counts_and_in_volume(plan: object, said: str) -> None:
    (sheet,) = sheets_of([plan])  # type: ignore[list-item]
    facts = {fact.label: fact.text for part in sheet.registers if part.proof for fact in part.proof.facts}
    assert facts["Accept"] == said


@pytest.mark.parametrize(
    ("plan", "said"),
    [(register(), "about 5 minutes at 8 gal/min"), (metric(), "about 10 minutes at 15 L/min")],
)
def test_flow_is_said_in_the_units_of_the_place(plan: object, said: str) -> None:
    (sheet,) = sheets_of([plan])  # type: ignore[list-item]
    facts = {fact.label: fact.text for part in sheet.registers if part.proof for fact in part.proof.facts}
    assert facts["Takes"] == said


def test_each_tamper_loop_has_its_own_choice_where_they_differ() -> None:
    rows = compound()
    rows[1] = register(**{name: getattr(rows[1], name) for name in rows[1].__slots__} | {"tamper_loop": "wired"})
    (sheet,) = sheets_of(rows)
    assert [(choice.label, choice.planned) for choice in sheet.tamper] == [
        ("Tamper loop, HIGH", "bridged"),
        ("Tamper loop, LOW", "wired"),
    ]


def test_hostile_and_endless_texts_are_cut_and_made_printable() -> None:
    (sheet,) = sheets_of([register(address="x" * 5000 + "\x1b[2J\u202e", proof_note="y " * 4000)])
    address = next(fact.text for fact in sheet.where if fact.label == "Address")
    assert len(address) <= 90
    assert address.isprintable()


def test_no_registers_make_no_sheets() -> None:
    assert sheets_of([]) == ()
