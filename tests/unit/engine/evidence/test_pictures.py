"""Pictures of evidence: the figures that they hold, against counts worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.engine.evidence.frame import Case, Ring
from dialtrue.engine.evidence.pictures import BLOCK_PICTURES, daily_picture, size_picture
from dialtrue.engine.evidence.pictures.course import history_picture, level_picture
from dialtrue.engine.evidence.pictures.hours import clock_picture, weather_picture
from dialtrue.engine.evidence.pictures.looks import excess_picture, neighbour_picture, pairs_picture, records_picture
from dialtrue.engine.evidence.pictures.numbers import grain_picture, possibility_picture
from tests.support.cases import Dial, case_of, reads_of
from tests.support.fleets import fleet_of, hourly

DAYS = 20
DAY = np.tile(np.where(np.arange(24) == 7, 6, np.where(np.arange(24) == 19, 4, 0)), DAYS)
"""Six litres between 7 and 8, four between 19 and 20, nothing else: 10 L a day."""


def case(pulses: np.ndarray = DAY, *, dials: list[Dial] | None = None, **changes: list[float]) -> Case:
    return case_of(fleet_of(**changes), reads_of(pulses), days=DAYS + 1, dials=dials or [])[0]


def test_every_block_has_a_picture_function() -> None:
    from dialtrue.engine.evidence import gather_evidence

    whole, onsets = case_of(fleet_of(), reads_of(DAY), days=DAYS + 1, dials=[])
    assert {block.name for block in gather_evidence(whole, onsets)} <= set(BLOCK_PICTURES)


def test_daily_volume_is_what_each_day_moved() -> None:
    picture = daily_picture(case(), 0)
    assert picture is not None
    assert set(picture.series[0].y) == {10.0}
    assert "0 of them registered nothing" in picture.caption


def test_days_without_reads_take_their_share_and_are_told() -> None:
    reads = [read for read in reads_of(DAY) if not 24 * 5 <= read[1] < 24 * 9]
    picture = daily_picture(case_of(fleet_of(), reads, days=DAYS + 1, dials=[])[0], 0)
    assert picture is not None
    assert sum(value or 0.0 for value in picture.series[0].y) == pytest.approx(10.0 * len(picture.series[0].y))
    assert "4 days without a read" in picture.caption


def test_a_look_shows_the_difference_with_its_noise() -> None:
    picture = pairs_picture(case(dials=[(0, 24.0 * 10, 150.0)]), 0)
    assert picture is not None
    (series,) = picture.series
    assert series.y == (pytest.approx(-50.0),)
    # A litre of dial, one of index, one of pulse; the reads either side say the same.
    assert series.high[0] - series.y[0] == pytest.approx(3.0, abs=1.0)  # type: ignore[operator]
    assert "At 1 of 1 look" in picture.caption


def test_the_difference_grows_from_the_fitting_look_by_look() -> None:
    picture = excess_picture(case(dials=[(0, 24.0 * 5, 50.0), (0, 24.0 * 15, 100.0)]), 0)
    assert picture is not None
    assert picture.series[0].y == (0.0, pytest.approx(0.0, abs=1e-6), pytest.approx(50.0))
    assert picture.caption == "Most of it arose in the 10 days before look 2 of 2."


def test_nobody_looked_no_weather_no_fall_no_neighbour_no_picture() -> None:
    bare = case()
    for function in (pairs_picture, excess_picture, weather_picture, possibility_picture, neighbour_picture):
        assert function(bare, 0) is None


def test_divisor_of_a_day_is_in_pulse_weights() -> None:
    picture = grain_picture(case(DAY * 2, weight_set_l=[2.0]), 0)
    assert picture is not None
    assert set(picture.series[0].y) == {2.0}  # 12 and 8 counts: multiples of four counts, of two pulses
    assert "multiples of 4 counts; the record asks for multiples of 2" in picture.caption


def test_sizes_of_steps_are_counted_in_pulses() -> None:
    picture = size_picture(case(), 0)
    assert picture is not None
    counted = dict(zip(picture.series[0].x, picture.series[0].y, strict=True))
    assert counted["3 to 4"] == DAYS
    assert counted["5 to 8"] == DAYS
    assert counted["1"] == counted["2"] == 0


def test_hours_of_the_day_show_where_the_counts_fall() -> None:
    picture = clock_picture(case(), 0)
    assert picture is not None
    port = picture.series[0].y
    assert port[7] == port[19] == pytest.approx(50.0)
    assert sum(value or 0.0 for value in port) == pytest.approx(100.0)
    assert picture.caption == "The day of this port is the town's own."


def test_a_day_that_is_moved_is_told_by_its_hours() -> None:
    reads = (
        reads_of(DAY)
        + [(1, *read[1:]) for read in reads_of(DAY)]
        + [(2, *read[1:]) for read in reads_of(np.roll(DAY, 3))]
    )
    moved = case_of(fleet_of(3), reads, days=DAYS + 1, dials=[])[0]
    picture = clock_picture(moved, 2)
    assert picture is not None
    assert picture.caption == "The day of this port is most like the town's moved by +3 h."


def test_level_shows_the_means_either_side_of_the_change() -> None:
    pulses = DAY.copy()
    pulses[24 * 10 :] *= 3
    picture = level_picture(case(pulses), 0)
    assert picture is not None
    assert picture.series[1].y == (pytest.approx(10.0), pytest.approx(10.0))
    assert picture.series[2].y == (pytest.approx(30.0), pytest.approx(30.0))
    assert "3 times the mean before it" in picture.caption


def test_history_shows_use_before_beside_use_since() -> None:
    picture = history_picture(case(use_l_day=[20.0]), 0)
    assert picture is not None
    assert picture.series[0].y == (20.0, pytest.approx(10.0, rel=0.06))


def test_records_tell_the_weight_that_differs() -> None:
    picture = records_picture(case(weight_set_l=[10.0]), 0)
    assert picture is not None
    assert picture.caption == "The weight set is 10 times the meter's own."


def test_falls_are_listed_with_the_counts_either_side() -> None:
    fallen = case_of(fleet_of(), hourly([500, 501, 502, 3, 4, 5]), days=2, dials=[])[0]
    picture = possibility_picture(fallen, 0)
    assert picture is not None
    assert [series.y for series in picture.series] == [(502.0,), (3.0,)]
    assert picture.caption == "The index fell 1 time."


def test_neighbour_is_the_meter_whose_water_this_endpoint_counts() -> None:
    reads = reads_of(DAY) + [(1, *read[1:]) for read in reads_of(2 * DAY)]
    dials: list[Dial] = [(0, 24.0 * 10, 200.0), (1, 24.0 * 10, 100.0)]
    both = case_of(fleet_of(2), reads, days=DAYS + 1, dials=dials)[0]
    both.notes.rings = [Ring(rows=[0, 1], counted_by=[1, 0], kind="wires", gain=9.0)]
    picture = neighbour_picture(both, 0)
    assert picture is not None
    assert [series.name for series in picture.series[1:]] == ["its own dial", "dial of meter M-001"]
    assert picture.series[2].y == (100.0,)
    index = dict(zip(picture.series[0].x, picture.series[0].y, strict=True))
    assert index[picture.series[2].x[0]] == pytest.approx(100.0)
