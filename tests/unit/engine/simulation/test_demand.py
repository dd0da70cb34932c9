"""Water as the town draws it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.engine.simulation.demand import Events, calendar_over, curve_of, split_by_flow
from dialtrue.engine.simulation.household import END_USES, home_events, home_from
from dialtrue.engine.simulation.premises import LEAK_L_S, garden_events, garden_from, leak
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S, sky_over

FIRST = dt.date(2025, 5, 5)
HOMES, DAYS = 400, 28
GAL_L = float(LITRES_PER_UNIT["gal"])


@pytest.fixture(scope="module")
def calendar():
    start = dt.datetime(2025, 5, 1, tzinfo=dt.UTC)
    return calendar_over(FIRST, DAYS, zone="America/Chicago", sky=sky_over(start, start + dt.timedelta(days=40)))


@pytest.fixture(scope="module")
def indoor(calendar) -> list[Events]:
    out = []
    for seed in range(HOMES):
        rng = np.random.default_rng(seed)
        out.append(home_events(rng, home_from(rng, DAYS), calendar, np.ones(DAYS)))
    return out


def test_mean_indoor_use_is_near_the_published_138_gallons_a_household_a_day(indoor: list[Events]) -> None:
    # RESIDENTIAL-END-USES: 138 gal. Eight per cent: three standard errors of 400 homes (spread about 70 gal each).
    mean_gal = np.mean([events.volume_l for events in indoor]) / DAYS / GAL_L
    assert mean_gal == pytest.approx(138, rel=0.08)


def test_the_median_home_uses_near_the_published_125_gallons_a_day(indoor: list[Events]) -> None:
    # RESIDENTIAL-END-USES: median about 125 gal, read second hand: ten per cent.
    median_gal = np.median([events.volume_l for events in indoor]) / DAYS / GAL_L
    assert median_gal == pytest.approx(125, rel=0.1)


def test_homes_differ_by_as_much_as_a_long_upper_tail_asks(indoor: list[Events]) -> None:
    # A mean of 138 above a median of 125 is a skewed spread: a log-normal with that ratio has a log spread of 0.44.
    logs = np.log([events.volume_l for events in indoor])
    assert 0.35 < logs.std() < 0.75


@pytest.mark.parametrize("measured", [True, False])
def test_drawn_and_measured_homes_use_alike(calendar, measured: bool) -> None:
    litres = []
    for seed in range(HOMES):
        rng = np.random.default_rng(seed)
        home = replace(home_from(rng, DAYS), measured=measured)
        litres.append(home_events(rng, home, calendar, np.ones(DAYS)).volume_l)
    assert np.mean(litres) / DAYS / GAL_L == pytest.approx(138, rel=0.08)


def test_all_taps_of_a_home_together_hardly_ever_exceed_twelve_gallons_a_minute(indoor: list[Events]) -> None:
    # A 5/8 inch meter passes 20 gal/min at most; more than 15 is called near impossible by practice.
    over, far_over, whole = 0.0, 0.0, 0.0
    for events in indoor[:100]:
        curve = curve_of(events, first_s=events.start_s.min(), last_s=events.start_s.max() + DAY_S, max_flow_l_s=9.0)
        litres, flow = np.diff(curve.volume_l), curve.flow_l_s
        over += litres[flow > 12 * GAL_L / 60].sum()
        whole += litres.sum()
        far_over += litres[flow > 15 * GAL_L / 60].sum()
    assert over / whole < 0.01
    assert far_over / whole < 0.001


def test_toilets_take_about_the_published_quarter_of_indoor_use() -> None:
    litres = {use.name: use.per_person_day * use.volume_l for use in END_USES}
    # RESIDENTIAL-END-USES: 24 %; the small seep of flappers is not among the end uses.
    assert litres["toilet"] / sum(litres.values()) == pytest.approx(0.24, abs=0.05)


def test_almost_no_draw_of_a_home_exceeds_twelve_gallons_a_minute(calendar, indoor: list[Events]) -> None:
    # A published study of 1188 homes found 99.96 % of events at or under 12 gal/min.
    flows = np.concatenate([events.flow_l_s for events in indoor])
    assert (flows > 12 * GAL_L / 60).mean() < 0.0004


def test_a_home_draws_most_in_the_morning_and_evening_and_least_at_night(calendar, indoor: list[Events]) -> None:
    hour_l = np.zeros(24)
    for events in indoor:
        local = (events.start_s - calendar.midnight_s[0]) % DAY_S // HOUR_S
        hour_l += np.bincount(local.astype(int), weights=events.duration_s * events.flow_l_s, minlength=24)
    morning, noon, evening, night = hour_l[6:10].max(), hour_l[13:16].min(), hour_l[17:21].max(), hour_l[2:5].max()
    assert morning > 1.3 * noon
    assert evening > 1.1 * noon
    assert night < 0.3 * noon


def test_no_one_at_home_draws_nothing_but_the_flapper(calendar) -> None:
    rng = np.random.default_rng(1)
    home = home_from(rng, DAYS)
    events = home_events(rng, home, calendar, np.zeros(DAYS))
    assert events.volume_l < 3 * home.seep_l_day * DAYS


def test_a_garden_is_watered_on_hot_dry_days_only() -> None:
    start = dt.datetime(2024, 12, 1, tzinfo=dt.UTC)
    sky = sky_over(start, start + dt.timedelta(days=400))
    year = calendar_over(dt.date(2025, 1, 1), 365, zone="America/Chicago", sky=sky)
    volume = garden_from(np.random.default_rng(2), max_flow_l_s=1.26).volume_l(year)
    assert volume[:45].sum() == 0
    assert volume[180:225].sum() > 0
    hot = year.temp_c > 22
    wet, dry = hot & (year.rain_mm > 5), hot & (year.rain_mm == 0)
    assert year.thirst[wet].mean() < 0.6 * year.thirst[dry].mean()


def test_a_gardens_runs_add_up_to_its_days(calendar) -> None:
    garden = garden_from(np.random.default_rng(5), max_flow_l_s=1.26)
    due = garden.volume_l(calendar)
    assert garden_events(garden, calendar, np.ones(DAYS)).volume_l == pytest.approx(due[due > 5].sum(), rel=0.1)


def test_a_curve_holds_the_sum_of_its_events_however_they_overlap() -> None:
    rng = np.random.default_rng(9)
    events = Events(rng.uniform(0, 9000, 300), rng.uniform(1, 600, 300), rng.uniform(0.01, 0.1, 300))
    curve = curve_of(events, first_s=-10.0, last_s=10_000.0, max_flow_l_s=100.0)
    assert curve.volume_l[-1] == pytest.approx(events.volume_l, rel=1e-9)
    assert (np.diff(curve.time_s) > 0).all()


def test_a_meter_passes_no_more_than_its_greatest_flow() -> None:
    events = Events(np.array([0.0, 0.0]), np.array([100.0, 100.0]), np.array([1.0, 1.0]))
    curve = curve_of(events, first_s=0.0, last_s=200.0, max_flow_l_s=1.25)
    assert curve.volume_l[-1] == pytest.approx(125.0)


def test_both_sides_of_a_compound_meter_add_up_and_small_flows_take_the_low_side() -> None:
    events = Events(np.array([0.0, 500.0]), np.array([100.0, 100.0]), np.array([0.1, 5.0]))
    curve = curve_of(events, first_s=0.0, last_s=1000.0, max_flow_l_s=30.0)
    high, low = split_by_flow(curve, crossover_l_s=1.0)
    assert high.volume_l + low.volume_l == pytest.approx(curve.volume_l)
    assert np.interp(400.0, high.time_s, high.volume_l) == 0.0
    assert high.volume_l[-1] > low.volume_l[-1]


def test_the_least_leak_is_the_published_ninety_gallons_a_day() -> None:
    # EPA-LEAK.
    assert leak(0.0, float(DAY_S), flow_l_s=LEAK_L_S).volume_l / GAL_L == pytest.approx(90)
