"""The rarer shapes of the fault cards: damp that silences, machines that hum, contacts that age, files that change."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from dialtrue.engine.simulation import false_counts, keying, upsets, wiring
from dialtrue.engine.simulation.association import cross_counts, split_at_exchange
from dialtrue.engine.simulation.delivery import deliver
from dialtrue.engine.simulation.port import FLAG_NONE, FLAG_REPEATED, Port
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S
from dialtrue.engine.simulation.town import Town, TownPlan, build_town
from tests.support.known_water import END_S, FIRST_S, NO_WATER, draws

MakePort = Callable[..., Port]
MIDDLE_S = FIRST_S + 25 * DAY_S


def until(fault: Callable[[Port, np.random.Generator], None], make: Callable[[], Port], variant: str) -> Port:
    """Return the port of the first seed that takes the wanted variant."""
    for seed in range(200):
        port = make()
        fault(port, np.random.default_rng(seed))
        if port.variant.startswith(variant):
            return port
    raise AssertionError(f"no seed gave {variant}")


def rain_before(port: Port, at_s: np.ndarray, hours: int) -> np.ndarray:
    total = np.concatenate(([0.0], np.cumsum(port.sky.rain_mm)))
    row = np.searchsorted(port.sky.hour_s, at_s)
    return total[row] - total[np.maximum(row - hours, 0)]


def test_a_leaky_splice_holds_the_input_closed_after_rain_and_lets_go_when_dry(port_of: MakePort, plain_spec) -> None:
    pit = replace(plain_spec, mount="pit")
    port = until(wiring.intermittent, lambda: port_of("intermittent", spec=pit, severity=0.9), "held_closed_when_wet")
    sound = port_of("sound", spec=pit).counts
    lost = np.diff(sound) - np.diff(port.counts)
    wet = rain_before(port, port.marks_s[1:], 30)
    assert lost.sum() > 50
    assert wet[lost > 0].mean() > 3 * wet[(lost == 0) & (np.diff(sound) > 0)].mean()
    dry = rain_before(port, port.marks_s[1:], 24 * 14) < 0.5
    assert lost[dry].sum() == 0


def test_damp_counts_differ_from_storm_to_storm_more_than_chance_allows(port_of: MakePort) -> None:
    port = port_of("wet_counts", curve=NO_WATER, severity=0.6)
    false_counts.wet_counts(port, np.random.default_rng(2))
    by_day = np.diff(port.counts[::24])
    wet = by_day[by_day > 0]
    # Story 8: bursts clump, so that a Poisson figure would be far too confident.
    assert wet.var() > 3 * wet.mean()


def test_mains_hum_is_more_than_any_water_and_never_turns_the_index_unseen(port_of: MakePort) -> None:
    port = until(false_counts.steady_counts, lambda: port_of("steady_counts"), "mains_hum")
    step = np.diff(port.counts)
    most = port.spec.max_flow_l_s * HOUR_S / float(port.spec.face.weight_l)
    # Story 14: 60 counts a second are 216,000 an hour, whatever the meter can pass.
    assert step.max() > most
    assert step.max() <= 216_000
    assert step.max() < port.actual.capacity / 2


@pytest.mark.parametrize("fault", [wiring.lost_counts, wiring.extra_counts])
def test_an_ageing_contact_grows_worse(port_of: MakePort, fault) -> None:
    port = until(fault, lambda: port_of(fault.__name__, severity=0.8), "ageing")
    sound = port_of("sound").counts
    third = len(sound) // 3
    ratio = [
        (port.counts[last] - port.counts[first]) / (sound[last] - sound[first])
        for first, last in ((0, third), (third, 2 * third), (2 * third, len(sound) - 1))
    ]
    apart = [abs(share - 1) for share in ratio]
    assert apart[0] < apart[1] < apart[2]


def test_a_loose_sensor_misses_more_in_the_cold_but_never_all(port_of: MakePort) -> None:
    port = until(wiring.lost_counts, lambda: port_of("lost_counts", severity=0.6), "random_in_the_cold")
    sound = port_of("sound").counts
    lost, passed = np.diff(sound) - np.diff(port.counts), np.diff(sound)
    temp = port.sky.temp_at(port.marks_s[1:] - HOUR_S // 2)
    cold, warm = temp < np.quantile(temp, 0.3), temp > np.quantile(temp, 0.7)
    assert lost[cold].sum() / passed[cold].sum() > 2 * lost[warm].sum() / passed[warm].sum()
    assert lost[cold].sum() < passed[cold].sum()


def test_a_second_device_takes_counts_for_weeks_and_lets_them_be_for_weeks(port_of: MakePort, plain_spec) -> None:
    shop = replace(plain_spec, trade="shop")
    port = until(wiring.lost_counts, lambda: port_of("lost_counts", spec=shop), "second_device")
    lost = np.diff(port_of("sound", spec=shop).counts) - np.diff(port.counts)
    by_day = lost[: len(lost) // 24 * 24].reshape(-1, 24).sum(axis=1)
    assert 0.2 < (by_day == 0).mean() < 0.8
    assert np.abs(np.diff((by_day > 0).astype(int))).sum() <= 7


def test_a_weight_set_anew_changes_the_rate_from_that_day_on(port_of: MakePort) -> None:
    for seed in range(20):
        port = port_of("weight_decade", onset_s=MIDDLE_S)
        keying.weight_decade(port, np.random.default_rng(seed))
        if port.parameter == 10.0:
            break
    port.run_counter()
    sound = port_of("sound")
    sound.run_counter()
    before = port.marks_s < MIDDLE_S
    assert port.variant == "weight_set_anew"
    assert (port.index[before] == sound.index[before]).all()
    after = np.flatnonzero(~before)[1:]
    grown, true = np.ptp(port.index[after]), np.ptp(sound.index[after])
    assert abs(grown - 10 * true) <= 10


def test_a_changed_export_scales_the_whole_index_of_many_ports_on_one_date() -> None:
    plans = (
        TownPlan(seed=seed, registers=120, days=30, fault_share=0.2, innocent_share=0.0, read_interval_s=86_400,
                 faults={"weight_decade": 1, "unit_slip": 1}) for seed in range(20)
    )  # fmt: skip
    rows = next(rows for rows in map(_exported, plans) if rows)
    assert len(rows) >= 4
    assert len({row["since"] for row in rows}) == 1
    assert len({row["parameter"] for row in rows}) == 1
    assert all(row["volume_error_l"] < 0 for row in rows)


def _exported(plan: TownPlan) -> list[dict]:
    return [row for row in build_town(plan).labels.to_pylist() if row["variant"] == "export_changed"]


def test_story_9_a_carried_start_lacks_what_passed_in_the_dead_days(port_of: MakePort, plain_spec) -> None:
    whole = port_of("start_slip", severity=0.9)
    at_s = int(MIDDLE_S)
    old, new = split_at_exchange(whole, np.random.default_rng(4), at_s)
    new.read_dial_and_key()
    keying.start_slip(new, np.random.default_rng(1), previous_start=None)
    assert old.fate.code == "sound"
    assert old.removed_s == new.fitted_s == at_s
    silent_s = at_s - int(old.marks_s[-1])
    assert 3 * DAY_S < silent_s < 27 * DAY_S
    passed_gal = (whole.turned_ul(np.array([at_s]))[0] - whole.turned_ul(old.marks_s[-1:])[0]) / 3.785411784e6
    assert new.parameter == pytest.approx(-passed_gal, abs=1.0)
    new.count()
    new.run_counter()
    assert new.index[0] < new.dial_at(int(new.marks_s[0]))


def test_endpoints_exchanged_at_a_later_job_count_their_own_until_then(port_of: MakePort) -> None:
    thirsty = port_of("crossed", curve=draws(minutes_apart=30, litres=30, flow_l_s=0.2), onset_s=MIDDLE_S)
    frugal = port_of("crossed", curve=draws(minutes_apart=100, litres=30, flow_l_s=0.2), onset_s=MIDDLE_S)
    own = [port.counts.copy() for port in (thirsty, frugal)]
    cross_counts([thirsty, frugal])
    before = thirsty.marks_s < MIDDLE_S
    assert (thirsty.counts[before] == own[0][before]).all()
    gained = [int(port.counts[-1] - port.counts[before][-1]) for port in (thirsty, frugal)]
    due = [int(counts[-1] - counts[before][-1]) for counts in own]
    # Between the last read before and the exchange itself, under an hour, each still counts its own: at most 16 gal.
    assert gained[0] == pytest.approx(due[1], abs=17)
    assert gained[1] == pytest.approx(due[0], abs=17)
    assert abs(due[0] - due[1]) > 1_000


def test_a_dying_cell_resets_more_than_once(port_of: MakePort) -> None:
    def reset() -> Port:
        port = port_of("index_reset", onset_s=MIDDLE_S, severity=0.8)
        port.run_counter()
        return port

    port = until(upsets.index_reset, reset, "to_last_stored_again")
    sound = reset()
    assert (np.diff(port.index) < 0).sum() >= 2
    assert port.parameter == pytest.approx(port.index[-1] - sound.index[-1])


def test_a_said_repeat_is_flagged_and_an_unsaid_one_is_not(port_of: MakePort) -> None:
    flags = {}
    for seed in range(20):
        port = port_of("stale_index", onset_s=MIDDLE_S)
        port.run_counter()
        reads = deliver(port, np.random.default_rng(seed))
        held = reads.index != port.shown[reads.mark]
        flags[port.variant] = set(reads.flag[held].tolist())
    assert FLAG_REPEATED in flags["held_then_caught_up_said"]
    assert FLAG_NONE in flags["held_then_caught_up"]


def test_a_clock_that_misses_summer_time_is_an_hour_out_from_the_day_of_the_change_on() -> None:
    plan = TownPlan(seed=3, registers=60, days=60, fault_share=0.3, faults={"clock_shift": 1}, onset_span=(0.0, 1.0),
                    start=dt.datetime(2025, 2, 1, 6, tzinfo=dt.UTC))  # fmt: skip
    rows = [row for row in build_town(plan).labels.to_pylist() if row["variant"] == "summer_time"]
    assert len(rows) >= 4
    # In this zone the clock went forward on 9 March 2025 at 2 h, 8 h UTC.
    assert {row["since"] for row in rows} == {dt.datetime(2025, 3, 9, 8, tzinfo=dt.UTC)}
    assert {row["parameter"] for row in rows} == {-3600.0}


def test_a_glitch_is_one_read_and_the_index_goes_on_as_if_nothing_were(port_of: MakePort) -> None:
    for seed in range(400):
        port = port_of("sound")
        port.run_counter()
        reads = deliver(port, np.random.default_rng(seed))
        if port.variant == "glitch":
            break
    odd = (reads.index != port.shown[reads.mark]) & (reads.flag == FLAG_NONE)
    assert port.variant == "glitch"
    assert 1 <= odd.sum() <= 12
    assert reads.index[-1] == port.shown[-1]


def test_some_nonsense_is_corrected_by_a_later_read_of_the_same_instant(port_of: MakePort) -> None:
    corrected = 0
    for seed in range(1_200):
        port = port_of("sound")
        port.run_counter()
        reads = deliver(port, np.random.default_rng(seed))
        if port.variant != "glitch":
            continue
        odd = np.flatnonzero((reads.index != port.shown[reads.mark]) & (reads.flag == FLAG_NONE))
        for row in odd:
            same = np.flatnonzero((reads.at_s == reads.at_s[row]) & (reads.index == port.shown[reads.mark[row]]))
            if len(same) and reads.received_s[same[-1]] > reads.received_s[row] + DAY_S / 2:
                corrected += 1
        assert (np.diff(reads.mark) >= 0).all()
    assert corrected >= 2


def test_reads_can_stand_as_they_were_received() -> None:
    plan = TownPlan(seed=5, registers=20, days=14)
    by_port = build_town(plan).reads
    received = build_town(replace(plan, as_received=True)).reads
    assert received.num_rows == by_port.num_rows
    times = received["received_at"].to_pylist()
    assert times == sorted(times)
    names = ["endpoint_serial", "port", "at", "index", "received_at"]
    keys = [(name, "ascending") for name in names]
    assert received.sort_by(keys).select(names).equals(by_port.sort_by(keys).select(names))


def test_a_fading_cell_leaves_growing_gaps_and_a_right_count(port_of: MakePort) -> None:
    for seed in range(600):
        port = port_of("sound")
        port.run_counter()
        reads = deliver(port, np.random.default_rng(seed))
        if port.variant == "cell_fades":
            break
    assert port.variant == "cell_fades"
    own = reads.mark[reads.flag == FLAG_NONE]
    half = len(port.marks_s) // 2
    assert (own < half).sum() > 2 * (own >= half).sum()
    assert port.marks_s[own[-1]] < END_S - DAY_S


def test_a_street_loses_its_collector_all_at_once() -> None:
    town = build_town(TownPlan(seed=4, registers=120, days=90, fault_share=0.0, oddity_share=0.0))
    street = {row["site"]: row["address"].split(" ", 1)[1] for row in town.sites.to_pylist()}
    street_of = {row["endpoint_serial"]: street[row["site"]] for row in town.fittings.to_pylist()}
    heard: dict[str, np.ndarray] = defaultdict(lambda: np.zeros(90 * 24, int))
    hour = (town.reads["at"].cast("int64").to_numpy() // 1_000_000 - town.plan.start_s) // HOUR_S
    columns = (town.reads["endpoint_serial"].to_pylist(), hour.tolist(), town.reads["flag"].to_pylist())
    for endpoint, at, flag in zip(*columns, strict=True):
        if endpoint in street_of and 0 <= at < 90 * 24 and not flag:
            heard[street_of[endpoint]][at] += 1
    silent = [int((counts[30 * 24 :] == 0).sum()) for counts in heard.values() if counts.max() > 20]
    assert max(silent) >= 3


@pytest.fixture(scope="module")
def harsh_town() -> Town:
    return build_town(
        TownPlan(seed=12, registers=400, days=40, fault_share=0.5, innocent_share=0.1, units="mixed",
                 dial_reads="dense", read_interval_s=86_400, onset_span=(0.0, 1.0))
    )  # fmt: skip


def test_rings_of_three_and_four_occur() -> None:
    plan = TownPlan(seed=3, registers=600, days=14, fault_share=0.3, faults={"crossed": 1}, read_interval_s=86_400)
    size = defaultdict(int)
    for row in build_town(plan).crossings_truth.to_pylist():
        size[row["ring"]] += 1
    assert set(size.values()) == {2, 3, 4}


def test_both_sides_of_a_compound_are_never_both_unread(harsh_town: Town) -> None:
    unread = [row["meter_serial"] for row in harsh_town.labels.to_pylist() if row["fault"] == "port_unread"]
    assert unread
    assert len(unread) == len(set(unread))


def test_no_fault_begins_after_the_reads_that_could_hold_it(harsh_town: Town) -> None:
    last = harsh_town.reads["at"].to_pylist()
    for row in harsh_town.labels.to_pylist():
        if row["since"] is not None and row["variant"] is not None and not row["variant"].startswith("rolls_over"):
            assert row["since"] < max(last), row
