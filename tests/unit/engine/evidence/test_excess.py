"""When a proven difference arose: at night, in rain, in days without a count."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import excess
from dialtrue.engine.evidence.frame import Case
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import HOUR_US, START_US, fleet_of

DAYS = 84
DAY_US = 24 * HOUR_US
PORT = np.zeros(1, np.int64)


def rain(seed: int = 1, days: int = DAYS) -> np.ndarray:
    """Return wet hours: a shower of some hours on every third day or so."""
    random = np.random.default_rng(seed)
    wet = np.zeros(days * 24, np.int8)
    for day in np.flatnonzero(random.random(days) < 0.35):
        begin = 24 * day + random.integers(0, 16)
        wet[begin : begin + random.integers(2, 9)] = 1
    return wet


def looked(pulses: np.ndarray, counted: np.ndarray, *, looks: tuple[int, ...] = (40, DAYS), **weather: object) -> Case:
    """Return a case of one port with a dial that shows the pulses and an index that shows what was counted."""
    dial = np.concatenate(([0], np.cumsum(pulses)))
    dials = [(0, 24.0 * day, float(dial[24 * day])) for day in looks]
    case, _ = case_of(fleet_of(), reads_of(counted), days=DAYS + 1, dials=dials, **weather)  # type: ignore[arg-type]
    return case


def padded(hours: np.ndarray) -> np.ndarray:
    return np.concatenate((hours, np.zeros(24, np.int8)))


# --- Nights ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("flow", [0.05, 0.5, 1.5])
def test_the_night_flow_is_that_of_a_poisson_stream_with_as_many_still_hours(flow: float) -> None:
    pulses = home(DAYS, seed=1)
    night = np.isin(np.arange(len(pulses)) % 24, (1, 2, 3, 4))
    pulses[night] = np.random.default_rng(2).poisson(flow, night.sum())
    case, _ = case_of(fleet_of(), reads_of(pulses), days=DAYS + 1)
    got, known = excess.night_flow(case, np.array([START_US]), np.array([START_US + DAYS * DAY_US]))
    assert known[0]
    # Hours of the night in three periods of 28 days: 336 draws, so the share of still ones is known to 3 %.
    assert got[0] == pytest.approx(flow, rel=0.25, abs=0.02)


def test_the_night_flow_is_told_for_the_time_asked_about() -> None:
    pulses = home(DAYS, seed=3)
    pulses[24 * 56 :] += np.random.default_rng(3).poisson(0.8, 24 * (DAYS - 56))
    case, _ = case_of(fleet_of(), reads_of(pulses), days=DAYS + 1)

    def flow(first: int, last: int) -> float:
        begin, end = (np.array([START_US + day * DAY_US]) for day in (first, last))
        return float(excess.night_flow(case, begin, end)[0][0])

    assert flow(0, 56) < 0.15
    assert flow(56, 84) == pytest.approx(0.8, rel=0.35)


def test_reads_once_a_day_tell_nothing_of_the_night() -> None:
    case, _ = case_of(fleet_of(), reads_of(home(DAYS, seed=4), every=24), days=DAYS + 1)
    assert not excess.night_flow(case, np.array([START_US]), np.array([START_US + DAYS * DAY_US]))[1][0]


def test_counts_by_the_clock_show_in_the_nights_between_the_looks_and_a_share_doubled_does_not() -> None:
    pulses = home(DAYS, seed=5)
    begun = np.arange(len(pulses)) >= 24 * 28
    clocked = pulses + begun * np.random.default_rng(5).poisson(0.8, len(pulses))
    doubled = pulses + begun * np.random.default_rng(6).binomial(pulses, 0.4)
    steady = COLUMN["steady_counts"]
    # The first look agreed, so the nights before it are the place's own.
    assert excess.weigh(looked(pulses, clocked, looks=(28, DAYS))).loglik[0, steady] > 2.0
    assert excess.weigh(looked(pulses, doubled, looks=(28, DAYS))).loglik[0, steady] < -0.5


def test_the_towns_nights_stand_in_where_no_look_agreed() -> None:
    reads, dials = [], []
    for port in range(40):
        pulses = home(DAYS, seed=300 + port)
        # One counts by the clock from its first day; of the others each dial agrees.
        counted = pulses + np.random.default_rng(5).poisson(0.8, len(pulses)) if port == 0 else pulses
        reads += reads_of(counted, channel=port)
        dials += [(port, 24.0 * day, float(pulses[: 24 * day].sum())) for day in (40, DAYS)]
    case, _ = case_of(fleet_of(40), reads, days=DAYS + 1, dials=dials)
    block = excess.weigh(case)
    assert block.loglik[0, COLUMN["steady_counts"]] > 2.0
    assert not block.loglik[1:].any()
    said = block.says(0, COLUMN["steady_counts"])[1]
    assert said["night_flow_l_h"] == pytest.approx(0.8, rel=0.3)
    assert said["town_night_flow_l_h"] < 0.15


# --- Rain -----------------------------------------------------------------------------------------------------------


def slope_of(pulses: np.ndarray, wet: np.ndarray) -> tuple[float, float, float]:
    case, _ = case_of(fleet_of(), reads_of(pulses), days=DAYS + 1, wet=padded(wet))
    slope, error, hours = excess.rain_slope(case, PORT)
    return float(slope[0]), float(error[0]), float(hours[0])


def test_the_rain_slope_is_the_line_that_numpy_fits_through_the_days() -> None:
    wet, pulses = rain(), home(DAYS, seed=7)
    pulses = pulses + np.random.default_rng(7).poisson(3.0 * wet)
    slope, error, hours = slope_of(pulses, wet)
    # The first day of all has no day before it to differ from.
    daily, wetted = pulses.reshape(-1, 24).sum(axis=1)[1:], wet.reshape(-1, 24).sum(axis=1)[1:]
    fit, covariance = np.polyfit(wetted, daily, 1, cov="unscaled")
    rest = daily - np.polyval(fit, wetted)
    assert slope == pytest.approx(fit[0], rel=0.05, abs=0.1)
    assert error == pytest.approx(np.sqrt(covariance[0, 0] * (rest**2).sum() / (len(daily) - 2)), rel=0.05)
    assert hours == pytest.approx(wetted.sum(), abs=24)


@pytest.mark.parametrize("hour", [0, 6, 15, 23])
def test_rain_is_laid_beside_the_day_that_ends_with_the_read(hour: int) -> None:
    wet, pulses = rain(), home(DAYS, seed=9)
    index = np.concatenate(([0], np.cumsum(pulses + np.random.default_rng(9).poisson(8.0 * wet))))
    reads = [(0, 24.0 * day + hour, int(index[24 * day + hour]), "") for day in range(DAYS)]
    case, _ = case_of(fleet_of(), reads, days=DAYS + 1, wet=padded(wet))
    slope, error, _ = excess.rain_slope(case, PORT)
    assert slope[0] == pytest.approx(8.0, abs=2 * error[0])
    assert error[0] < 2.0


def test_clumps_widen_the_error_of_the_rain_slope() -> None:
    wet, base = rain(), home(DAYS, seed=8)
    random = np.random.default_rng(8)
    drops = random.poisson(20.0 * wet)
    # The same mean in clumps: one wet hour in eight counts eight times as much.
    clumps = np.where(random.random(len(wet)) < 1 / 8, random.poisson(160.0 * wet), 0)
    even, clumped = slope_of(base + drops, wet), slope_of(base + clumps, wet)
    assert clumped[1] > 2.0 * even[1]


def test_over_many_years_the_stated_error_is_the_scatter_of_the_slope() -> None:
    slopes, errors = [], []
    for seed in range(60):
        slope, error, _ = slope_of(home(DAYS, seed=100 + seed), rain(seed))
        slopes.append(slope / error)
        errors.append(error)
    assert np.std(slopes) == pytest.approx(1.0, abs=0.3)
    assert abs(np.mean(slopes)) < 0.4


def test_damp_counts_show_in_rain_and_steady_ones_do_not() -> None:
    wet, pulses = rain(), home(DAYS, seed=9)
    random = np.random.default_rng(9)
    damp = pulses + random.poisson(8.0 * wet)
    steady = pulses + random.poisson(8.0 * wet.mean(), len(pulses))
    column = COLUMN["wet_counts"]
    assert excess.weigh(looked(pulses, damp, wet=padded(wet))).loglik[0, column] > 3.0
    assert excess.weigh(looked(pulses, steady, wet=padded(wet))).loglik[0, column] < 0.0


def test_where_the_weather_is_not_known_rain_is_not_spoken_of() -> None:
    pulses = home(DAYS, seed=10)
    case = looked(pulses, pulses + np.random.default_rng(10).poisson(0.4, len(pulses)))
    block = excess.weigh(case)
    assert block.loglik[0, COLUMN["wet_counts"]] == 0.0
    assert "more_per_wet_hour_l" not in block.says(0, COLUMN["wet_counts"])[1]


# --- Days without a count -----------------------------------------------------------------------------------------


def test_what_days_without_a_count_would_have_drawn() -> None:
    pulses = home(DAYS, seed=11)
    pulses[24 * 20 : 24 * 27] = 0
    case, _ = case_of(fleet_of(), reads_of(pulses), days=DAYS + 1)
    told, known = excess.empty_days_l(case, PORT, np.array([60.0]))
    assert known[0]
    assert told[0] == pytest.approx(7 * 60.0, abs=60.0)
    assert not excess.empty_days_l(case, PORT, np.array([3.0]))[1][0]


def test_a_loose_joint_leaves_empty_days_and_a_lost_share_does_not() -> None:
    pulses = home(DAYS, seed=12)
    away = pulses.copy()
    for day in (10, 11, 30, 31, 32, 50, 51, 66, 67, 68, 69):
        away[24 * day : 24 * (day + 1)] = 0
    lost = np.random.default_rng(12).binomial(pulses, 0.87)
    column = COLUMN["intermittent"]
    block = excess.weigh(looked(pulses, away))
    assert block.loglik[0, column] > 1.5
    assert block.says(0, column)[1]["share_told_by_days_without_count"] == pytest.approx(1.0, abs=0.25)
    assert excess.weigh(looked(pulses, lost)).loglik[0, column] < -0.5


def test_a_holiday_before_the_last_look_that_agreed_is_no_loose_joint() -> None:
    pulses = home(DAYS, seed=14)
    pulses[24 * 10 : 24 * 21] = 0
    begun = np.arange(len(pulses)) >= 24 * 45
    lost = np.where(begun, np.random.default_rng(14).binomial(pulses, 0.6), pulses)
    assert excess.weigh(looked(pulses, lost)).loglik[0, COLUMN["intermittent"]] < 0.0


def test_reads_a_month_apart_tell_nothing_of_single_days() -> None:
    pulses = home(DAYS, seed=13)
    monthly = [read for k, read in enumerate(reads_of(pulses)) if k % (24 * 14) == 0]
    case, _ = case_of(fleet_of(), monthly, days=DAYS + 1, wet=padded(rain()))
    assert not excess.empty_days_l(case, PORT, np.array([60.0]))[1][0]
    assert not np.isfinite(excess.rain_slope(case, PORT)[1][0])


# --- Ports that it does not speak of --------------------------------------------------------------------------------


def test_a_port_whose_dial_agrees_keeps_a_row_of_zeros() -> None:
    pulses = home(DAYS, seed=13)
    assert not excess.weigh(looked(pulses, pulses, wet=padded(rain()))).loglik.any()


def test_a_port_nobody_looked_at_keeps_a_row_of_zeros() -> None:
    case, _ = case_of(fleet_of(), reads_of(home(DAYS, seed=14)), days=DAYS + 1)
    assert not excess.weigh(case).loglik.any()
    difference, error, dial, at = excess.last_difference(case)
    assert np.isnan([difference[0], error[0], dial[0]]).all()
    assert at[0] == 0


def test_no_pattern_says_more_than_the_bound() -> None:
    pulses = home(DAYS, seed=15)
    wild = pulses + 500 * rain().astype(int)
    block = excess.weigh(looked(pulses, wild, wet=padded(rain())))
    assert block.loglik[0, COLUMN["wet_counts"]] == excess.MOST_NAT
