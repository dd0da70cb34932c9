"""Checks and estimates against worked figures of published practice, one figure at a time and as arrays."""

from __future__ import annotations

import calendar
import tomllib
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from dialtrue.domain.read_checks.estimates import LIKE_DAYS, between, spike
from dialtrue.domain.read_checks.rules import READ_RULE
from dialtrue.engine.gap_shape import kind_and_slot
from dialtrue.engine.read_checks import mark_spikes
from tests.support.read_runs import DAY_US, HOUR_US, MONDAY_US, hourly

CASES = Path(__file__).parent / "cases"
VEE = tomllib.loads((CASES / "ca-vee.toml").read_text(encoding="utf-8"))
LIKE = tomllib.loads((CASES / "wa-metering-code.toml").read_text(encoding="utf-8"))
LITRES_PER_GALLON = Fraction("3.785411784")


@pytest.mark.parametrize("case", VEE["line"])
@pytest.mark.parametrize("times", [1, 1000])
def test_a_short_gap_lies_on_the_published_line(case: dict, times: int) -> None:
    before, after, missing = case["before"] * times, case["after"] * times, case["missing"]
    reads = [read * times for read in case["reads"]]
    assert between(before, after, missing) == reads
    step = (after - before) // (missing + 1)
    series = hourly(0, [step] * 40, start=before - 20 * step, step_us=HOUR_US // 2)
    del series.rows[21 : 21 + missing]
    assert series.filled().made.index.tolist() == reads


@pytest.mark.parametrize("case", VEE["spike"])
@pytest.mark.parametrize("unit", [Fraction(1), LITRES_PER_GALLON, 1 / LITRES_PER_GALLON])
def test_the_spike_check_gives_the_published_verdict_in_any_unit(case: dict, unit: Fraction) -> None:
    assert spike(Fraction(case["highest"]) * unit, Fraction(case["third"]) * unit) is case["fails"]


@pytest.mark.parametrize("case", VEE["spike"])
def test_the_spike_check_over_arrays_gives_the_published_verdict(case: dict) -> None:
    highest, third = (int(10 * Fraction(case[name])) for name in ("highest", "third"))
    filled = hourly(0, [third, third, highest, 1]).filled()
    mark_spikes(filled.reads, np.array([MONDAY_US, MONDAY_US + DAY_US]), filled.cadence_us, ratio=1.8, least=5)
    assert bool(filled.reads.said[3] & READ_RULE["spike"].bit) is case["fails"]
    assert not filled.reads.said[[0, 1, 2, 4]].any()


def test_days_stand_in_for_each_other_as_published() -> None:
    weekdays = list(calendar.day_name)
    group = {day: number for number, days in enumerate(LIKE["groups"]) for day in days}
    offsets = np.zeros(24 * 8, np.int64)
    kinds = [
        int(kind_and_slot(MONDAY_US + k * DAY_US + HOUR_US // 2, HOUR_US, MONDAY_US, offsets)[0]) for k in range(7)
    ]
    assert kinds == list(LIKE_DAYS)
    for one in range(7):
        for two in range(7):
            assert (kinds[one] == kinds[two]) == (group[weekdays[one]] == group[weekdays[two]])
