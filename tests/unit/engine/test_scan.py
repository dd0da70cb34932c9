"""The scan: one look at each read, whatever the order of the ports and the cut of the batches."""

from __future__ import annotations

import numpy as np
import pytest

from tests.support.fleets import HOUR_US, START_US, Read, fleet_of, hourly, scan_of


def figures(reads: list[Read], **changes: list[float]) -> np.void:
    return scan_of(fleet_of(**changes), reads).figures[0]


def test_a_steady_index_is_added_up() -> None:
    g = figures(hourly([100, 110, 110, 125]))
    assert (g["n"], g["walk"], g["forward"], g["zero_steps"], g["short_steps"]) == (4, 25, 2, 1, 3)
    assert (g["first_us"], g["last_us"]) == (START_US, START_US + 3 * HOUR_US)


def test_a_roll_over_at_the_recorded_capacity_is_no_fall() -> None:
    g = figures(hourly([999_900, 999_990, 30, 60]))
    assert (g["walk"], g["rolls"], g["backs"]) == (160, 1, 0)


def test_an_early_turn_is_a_fall_with_its_values_kept() -> None:
    scan = scan_of(fleet_of(), hourly([9_900, 9_990, 30, 60]))
    g = scan.figures[0]
    assert (g["rolls"], g["backs"], g["back_total"]) == (0, 1, -9_960)
    assert scan.back[0, 0].tolist() == [START_US + HOUR_US, START_US + 2 * HOUR_US, 9_990, 30]


def test_a_count_beyond_the_recorded_digits_is_set_aside() -> None:
    g = figures(hourly([100, 1_000_000, 120]))
    assert (g["beyond"], g["n"], g["walk"]) == (1, 2, 20)


def test_a_spike_between_two_reads_that_agree_is_taken_back() -> None:
    g = figures(hourly([100, 110, 500_000, 120, 130]))
    assert (g["spikes"], g["walk"], g["backs"], g["rolls"], g["over"]) == (1, 30, 0, 0, 0)


def test_a_step_that_stays_up_is_no_spike() -> None:
    g = figures(hourly([100, 110, 400_000, 400_010]))
    assert (g["spikes"], g["walk"], g["over"]) == (0, 399_910, 1)


def test_falls_are_counted_and_four_are_kept() -> None:
    counts = [value for k in range(6) for value in (2_000 + k, 1_000 + k)]
    scan = scan_of(fleet_of(capacity_counts=[0]), hourly(counts))
    assert scan.figures[0]["backs"] == 6
    assert (scan.back[0, :, 0] > 0).sum() == 4


def test_flow_above_the_meters_most_is_counted_with_its_share() -> None:
    g = figures(hourly([0, 3_000, 3_000 + 7_204]))
    assert g["over"] == 1
    assert g["over_worst"] == pytest.approx(7_204 / 3_602, rel=0.01)


def test_estimated_and_repeated_reads_are_counted_and_never_used() -> None:
    reads = [(0, 0, 100, ""), (0, 1, 900, "estimated"), (0, 2, 100, "repeated"), (0, 3, 130, "")]
    g = figures(reads)
    assert (g["estimated"], g["repeated"], g["n"], g["walk"]) == (1, 1, 2, 30)
    assert g["zero_steps"] == 0


def test_two_reads_at_one_time_count_once_and_clash_where_they_differ() -> None:
    g = figures([(0, 0, 100, ""), (0, 1, 110, ""), (0, 1, 110, ""), (0, 1, 115, ""), (0, 2, 120, "")])
    assert (g["n"], g["walk"], g["clashes"], g["disorder"]) == (3, 20, 1, 0)


def test_a_read_out_of_order_is_told_and_passed_over() -> None:
    g = figures([(0, 0, 100, ""), (0, 2, 120, ""), (0, 1, 110, ""), (0, 3, 130, "")])
    assert (g["disorder"], g["walk"], g["n"]) == (1, 30, 3)


def test_two_fittings_on_one_channel_share_the_reads_by_window() -> None:
    removed = START_US + 4 * HOUR_US
    fleet = fleet_of(
        2, channel=[0, 0], fit_us=[START_US, removed + HOUR_US // 2], removed_us=[removed, np.iinfo(np.int64).max]
    )
    scan = scan_of(fleet, hourly([10, 20, 30, 40, 50, 700, 705, 711]))
    assert scan.figures["n"].tolist() == [5, 3]
    assert scan.figures["walk"].tolist() == [40, 11]
    assert scan.figures["backs"].tolist() == [0, 0]


def test_reads_that_nobody_listens_to_change_nothing() -> None:
    alone = scan_of(fleet_of(), hourly([1, 2, 3]))
    beside = scan_of(fleet_of(), [(-1, 0, 77, ""), *hourly([1, 2, 3]), (-1, 9, 78, "")])
    assert alone.figures.tobytes() == beside.figures.tobytes()


def test_a_dial_read_is_bracketed_by_the_reads_beside_it() -> None:
    scan = scan_of(fleet_of(), hourly([100, 110, 125]), dials=[(0, 0.5), (0, 1.0), (0, 1.25), (0, 7.0)])
    hour = [(row - START_US) / HOUR_US if row >= 0 else None for row in scan.pair_before[:, 0].tolist()]
    after = [(row - START_US) / HOUR_US if row >= 0 else None for row in scan.pair_after[:, 0].tolist()]
    assert hour == [0, 0, 1, 2]
    assert after == [1, 1, 2, None]
    assert scan.pair_before[:, 1].tolist() == [0, 0, 10, 25]
    assert scan.pair_after[:3, 2].tolist() == [110, 110, 125]


def test_a_standstill_is_measured_with_the_jump_that_ends_it() -> None:
    counts = [100, 110, *[110] * 12, 230, 240]
    g = figures(hourly(counts))
    assert g["freezes"] == 1
    assert g["longest_us"] == 12 * HOUR_US
    assert (g["longest_jump"], g["longest_from_us"]) == (120, START_US + HOUR_US)


def test_the_days_steps_give_their_greatest_common_divisor() -> None:
    scan = scan_of(fleet_of(), hourly([0, 20, 50, 110] + [110] * 22 + [117]))
    assert scan.day_granule[0, :2].tolist() == [10, 7]
    assert scan.day_walk[0, :2].tolist() == [110, 117]
    assert scan.day_steps[0, :2].tolist() == [23, 3]
    assert scan.day_zero[0, :2].tolist() == [20, 2]


def test_the_four_longest_standstills_are_kept_longest_first_with_what_ended_them() -> None:
    counts, length = [100], [7, 9, 8, 6, 10, 9]
    for hours in length:
        counts += [counts[-1] + 5, *[counts[-1] + 5] * hours]
    scan = scan_of(fleet_of(), hourly([*counts, counts[-1] + 33]))
    assert scan.figures[0]["freezes"] == len(length)
    began = np.cumsum([1, *(hours + 1 for hours in length[:-1])])
    wanted = [(int(began[k]), length[k]) for k in (4, 1, 5, 2)]
    kept = [((row[0] - START_US) // HOUR_US, (row[1] - row[3] - row[0]) // HOUR_US) for row in scan.freeze[0].tolist()]
    assert kept == wanted
    assert scan.freeze[0, :, 2].tolist() == [5, 5, 33, 5]
    assert set(scan.freeze[0, :, 3].tolist()) == {HOUR_US}


def test_hours_of_the_day_are_told_apart_by_periods_of_four_weeks() -> None:
    scan = scan_of(fleet_of(), hourly(list(range(24 * 30))), days=30)
    assert scan.hour_steps.shape == (1, 2, 24)
    assert scan.hour_steps[0].sum(axis=1).tolist() == [24 * 28, 24 * 2 - 1]
    assert scan.hour_moves[0].sum(axis=1).tolist() == [24 * 28, 24 * 2 - 1]


def test_short_steps_are_sorted_by_their_pulses() -> None:
    scan = scan_of(fleet_of(weight_set_l=[10.0]), hourly(list(np.cumsum([0, 0, 10, 20, 30, 40, 50, 80, 90, 20_000]))))
    assert scan.step_sizes[0].tolist() == [1, 1, 1, 2, 2, 1, 0, 0, 0, 0, 0, 1]
