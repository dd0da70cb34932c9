"""Which ports may go out, and what is said of the others."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from dialtrue.domain.handover.rules import PortCase, reasons_against

GOOD = PortCase(
    fault="sound", probability=0.97, runner_up="dead_input", runner_up_probability=0.01, action="none", next_check="",
    remedy="", repaired_at=None, missing=(), start_keyed="0123", start_wanted="0123", shared=False, exact=True, reads=9,
)  # fmt: skip
REPAIRED = dt.datetime(2026, 3, 5, tzinfo=dt.UTC)


def codes(case: PortCase, **options: float) -> list[str]:
    return [reason.code for reason in reasons_against(case, **options)]


def test_a_sound_port_with_all_its_records_passes() -> None:
    assert codes(GOOD) == []


@pytest.mark.parametrize("fault", ["customer_leak", "vacant", "use_change"])
def test_an_innocent_port_passes(fault: str) -> None:
    assert codes(replace(GOOD, fault=fault)) == []


@pytest.mark.parametrize(
    ("spoilt", "code"),
    [
        ({"fault": "dead_input"}, "not_sound"),
        ({"fault": ""}, "no_finding"),
        ({"action": "visit"}, "asks_for_action"),
        ({"action": "remote_check"}, "asks_for_action"),
        ({"probability": 0.79}, "unsure"),
        ({"missing": ("weight_set",)}, "record_incomplete"),
        ({"start_keyed": "0124"}, "start_differs"),
        ({"shared": True}, "shared_port"),
        ({"exact": False}, "no_exact_volume"),
        ({"reads": 0}, "no_reads"),
    ],
)
def test_each_rule_keeps_a_port_back_and_says_what_would_let_it_through(spoilt: dict[str, object], code: str) -> None:
    reasons = reasons_against(replace(GOOD, **spoilt))  # type: ignore[arg-type]
    assert [reason.code for reason in reasons] == [code]
    assert reasons[0].says
    assert reasons[0].remedy


def test_sound_and_innocent_count_together() -> None:
    torn = replace(GOOD, probability=0.5, runner_up="customer_leak", runner_up_probability=0.4)
    assert codes(torn) == []
    assert codes(torn, least_probability=0.95) == ["unsure"]
    assert codes(replace(torn, runner_up="lost_counts")) == ["unsure"]


def test_a_fault_that_was_put_right_passes_unless_the_watch_still_asks() -> None:
    repaired = replace(GOOD, fault="start_slip", start_keyed="0999", repaired_at=REPAIRED)
    assert codes(repaired) == []
    assert codes(replace(repaired, action="visit")) == ["asks_for_action"]
    assert codes(replace(repaired, reads=0)) == ["no_reads"]


def test_reads_that_nobody_could_count_are_not_said_to_be_missing() -> None:
    assert codes(replace(GOOD, missing=("index_unit",), reads=-1)) == ["record_incomplete"]
