"""The page on how faults are inferred: the figures of its worked example are those of the code."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import level_change, pair_shape
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.onsets import SPANS, Onsets
from dialtrue.engine.posterior import onset_interval
from dialtrue.engine.volume import mixed, standing_of, volume_under
from tests.support.cases import case_of
from tests.support.fleets import HOUR_US, START_US, fleet_of

TEXT = (Path(__file__).parents[2] / "docs" / "explanation" / "how-faults-are-inferred.md").read_text(encoding="utf-8")
EXAMPLE = TEXT.partition("## A worked example")[2].partition("\n## ")[0]
SOUND, DOUBLE = COLUMN["sound"], COLUMN["double_count"]
ALL_LOOKS = (20, 50, 70, 90)
DAY_US = 24 * HOUR_US
NEAR_NAT = 1.0
"""How far a figure of the page may lie off [nat]: constants move a little, the reasoning does not."""


def water_l() -> np.ndarray:
    """Return what has passed by each midnight: five unlike weeks in turn, and the days of the week. [L]"""
    day = np.arange(90)
    week, weekday = np.array([500, 560, 420, 610, 450]), np.array([-120, -60, 0, 40, -30, 130, 40])
    return np.concatenate(([0], np.cumsum(week[day // 7 % 5] + weekday[day % 7])))


def index_l() -> np.ndarray:
    """Return what the index has moved: pulses of 10 L, both edges of which are counted from day 45 on. [L]"""
    pulses = water_l() // 10
    return 10 * np.where(np.arange(91) > 45, 2 * pulses - pulses[45], pulses)


def example(look_days: tuple[int, ...] = ALL_LOOKS) -> tuple[Case, Onsets, Block, Block]:
    fleet = fleet_of(1, weight_set_l=[10.0], weight_meter_l=[10.0], quantum_index_l=[10.0])
    reads = [(0, 24.0 * day, int(moved) // 10, "") for day, moved in enumerate(index_l())]
    dials = [(0, 24.0 * day, float(water_l()[day])) for day in look_days]
    case, onsets = case_of(fleet, reads, days=91, dials=dials)
    pairs, level = pair_shape.weigh(case, onsets), level_change.weigh(case, onsets)
    pairs.fold(case)
    level.fold(case)
    case.notes.wet_excess_l = case.notes.floor_l_h = np.zeros(1)
    return case, onsets, pairs, level


def table(head: str) -> list[list[str]]:
    """Return the rows of the example's table that begins with a heading."""
    body = EXAMPLE.partition(f"| {head} |")[2].partition("\n\n")[0].splitlines()[2:]
    return [[cell.strip().replace(",", "").replace("−", "-") for cell in row.strip("|").split("|")] for row in body]


def test_the_looks_are_those_of_the_register() -> None:
    rows = [[int(cell) for cell in row] for row in table("day")]
    assert rows == [[day, int(water_l()[day]), int(index_l()[day])] for day in ALL_LOOKS]
    met = {2 * dial - index for _, dial, index in rows[1:]}
    assert met == {22_780}
    assert "22,780 L" in EXAMPLE


def test_the_weights_are_those_of_the_blocks() -> None:
    _, _, four, level = example()
    _, _, two, _ = example((20, 90))
    rows = table("cause")
    assert [row[0] for row in rows] == ["double count", "steady counts", "extra counts", "unit slip", "weight decade"]
    for name, *said in rows:
        column = COLUMN[name.replace(" ", "_")]
        weights = [block.weight(0, column, SOUND) for block in (four, two, level)]
        assert [float(cell) for cell in said] == pytest.approx(weights, abs=NEAR_NAT), name


def test_the_onset_is_the_one_told() -> None:
    case, onsets, _, _ = example()
    code = np.array([DOUBLE])
    edges = onset_interval(case.notes.onset_sum, onsets, code, np.zeros(1, np.int64))
    since, low, high = (round((int(edge[0]) - START_US) / DAY_US) for edge in edges)
    assert f"since day {since} (the middle of the span), 90 % interval day {low} to day {high}" in " ".join(
        EXAMPLE.split()
    )
    assert low <= 45 <= high


def test_the_volume_error_is_the_one_told() -> None:
    case, onsets, _, _ = example()
    code = np.array([DOUBLE])
    since, low, high = onset_interval(case.notes.onset_sum, onsets, code, np.zeros(1, np.int64))
    under = volume_under(
        case, onsets, standing_of(case), code=code, parameter=np.array([2.0]), since_us=since, low_us=low, high_us=high
    )
    error = mixed([under], np.ones((1, 1)))
    found = re.search(r"\+([\d,]+) L, 90 % interval ([\d,]+)\s+to ([\d,]+) L", EXAMPLE)
    assert found is not None
    told = [int(figure.replace(",", "")) for figure in found.groups()]
    assert told[0] == index_l()[-1] - water_l()[-1]
    assert told == pytest.approx([error.middle_l[0], error.low_l[0], error.high_l[0]], abs=1.0)


def test_the_page_names_the_spans_and_the_day_as_they_are() -> None:
    assert f"cut into {SPANS} spans" in TEXT
    assert f"({level_change.INDEPENDENT_DAY}, our assumption)" in TEXT
