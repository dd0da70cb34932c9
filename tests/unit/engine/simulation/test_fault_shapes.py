"""What each fault of wiring, setting and delivery does to the count, on water that is known."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest

from dialtrue.engine.simulation import false_counts, keying, upsets, wiring
from dialtrue.engine.simulation.association import cross_counts
from dialtrue.engine.simulation.delivery import deliver
from dialtrue.engine.simulation.demand import UseCurve, curve_of
from dialtrue.engine.simulation.meters import Face, Setting
from dialtrue.engine.simulation.port import FLAG_NONE, Port
from dialtrue.engine.simulation.premises import backflow_events
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S
from tests.support.known_water import END_S, FIRST_S, NO_WATER, draws

MakePort = Callable[..., Port]
MIDDLE_S = FIRST_S + 25 * DAY_S


def until(fault: Callable[[Port, np.random.Generator], None], make: Callable[[], Port], variant: str) -> Port:
    """Return the port of the first seed that takes the wanted variant."""
    for seed in range(60):
        port = make()
        fault(port, np.random.default_rng(seed))
        if port.variant.startswith(variant):
            return port
    raise AssertionError(f"no seed gave {variant}")


def test_a_sound_index_is_the_floor_of_the_volume(port_of: MakePort) -> None:
    port = port_of("sound")
    port.run_counter()
    for row in (0, 100, len(port.index) - 1):
        pulses = Fraction(int(port.volume_ul[row]), 1_000_000) // port.spec.face.weight_l
        assert port.index[row] - port.start_keyed == pulses


def test_each_pulse_is_where_the_count_steps(port_of: MakePort) -> None:
    port = port_of("sound")
    at_s, flow = port.each_pulse()
    assert (np.diff(at_s) > 0).all()
    assert flow == pytest.approx(0.2)
    assert np.searchsorted(at_s, port.marks_s, side="right").tolist() == port.counts.tolist()


def test_a_dead_input_stands_still_from_its_onset(port_of: MakePort) -> None:
    port = port_of("dead_input", onset_s=MIDDLE_S)
    sound = port.counts.copy()
    wiring.dead_input(port, np.random.default_rng(0))
    before = port.marks_s <= MIDDLE_S
    assert (port.counts[before] == sound[before]).all()
    assert len(set(port.counts[~before].tolist())) == 1


def test_bounce_doubles_with_even_steps_only(port_of: MakePort) -> None:
    port = until(wiring.double_count, lambda: port_of("double_count"), "bounce")
    assert (np.diff(port.counts) % 2 == 0).all()
    assert port.counts[-1] == 2 * port.pulses(port.marks_s[-1:])[0]


def test_both_edges_double_and_let_odd_steps_occur(port_of: MakePort) -> None:
    port = until(wiring.double_count, lambda: port_of("double_count"), "both_edges")
    assert (np.diff(port.counts) % 2 == 1).any()
    assert abs(port.counts[-1] - 2 * port.pulses(port.marks_s[-1:])[0]) <= 1


def test_a_long_debounce_loses_the_fast_pulses_and_no_slow_one(port_of: MakePort, plain_spec) -> None:
    slow = draws(minutes_apart=61, litres=30, flow_l_s=0.05)
    fast = draws(minutes_apart=173, litres=30, flow_l_s=0.5)
    both = type(slow)(
        np.unique(np.concatenate([slow.time_s, fast.time_s])),
        np.interp(np.unique(np.concatenate([slow.time_s, fast.time_s])), slow.time_s, slow.volume_l)
        + np.interp(np.unique(np.concatenate([slow.time_s, fast.time_s])), fast.time_s, fast.volume_l),
    )
    port = until(wiring.lost_counts, lambda: port_of("lost_counts", curve=both, severity=0.3), "debounce")
    _, flow = port_of("sound", curve=both).each_pulse()
    fast_share = (flow > 0.3).mean()
    assert port.parameter == pytest.approx(fast_share, abs=0.06)


def test_a_weak_contact_loses_its_share_at_any_flow(port_of: MakePort) -> None:
    port = until(wiring.lost_counts, lambda: port_of("lost_counts", severity=0.5), "random")
    assert port.parameter == pytest.approx(0.29, abs=0.03)


def test_slow_edges_add_their_share(port_of: MakePort) -> None:
    port = until(wiring.extra_counts, lambda: port_of("extra_counts", severity=0.5), "slow_edges")
    # A quarter of the pulses is hit; a hit adds 1/0.65 counts on the mean.
    assert port.parameter == pytest.approx(0.25 / 0.65, abs=0.04)


def test_damp_counts_come_without_water_and_only_while_it_is_wet(port_of: MakePort) -> None:
    port = port_of("wet_counts", curve=NO_WATER, severity=0.6)
    false_counts.wet_counts(port, np.random.default_rng(2))
    assert port.counts[-1] > 0
    rain = np.concatenate(([0.0], np.cumsum(port.sky.rain_mm)))
    stepped = np.flatnonzero(np.diff(port.counts) > 0)
    row = np.searchsorted(port.sky.hour_s, port.marks_s[stepped + 1])
    # Drying takes at most 48 h to fall by e: after 9 days the wettest splice is dry.
    assert (rain[row] - rain[np.maximum(row - 9 * 24, 0)] > 0.9).all()


def test_one_count_a_transmission_adds_the_number_of_reads(port_of: MakePort) -> None:
    port = until(false_counts.steady_counts, lambda: port_of("steady_counts", curve=NO_WATER), "transmission")
    assert np.diff(port.counts).tolist() == [1] * (len(port.marks_s) - 1)


def test_a_steady_trickle_of_counts_keeps_its_rate(port_of: MakePort) -> None:
    port = until(false_counts.steady_counts, lambda: port_of("steady_counts", curve=NO_WATER), "constant")
    hours = (port.marks_s[-1] - FIRST_S) / HOUR_S
    assert port.counts[-1] == pytest.approx(port.parameter * hours, abs=1)


def test_hum_is_counted_only_while_the_machine_runs(port_of: MakePort) -> None:
    port = until(false_counts.steady_counts, lambda: port_of("steady_counts", curve=NO_WATER), "machine_hours")
    still = np.diff(port.counts) == 0
    assert 0.5 < still.mean() < 0.95


def test_a_joint_that_opens_in_the_cold_loses_only_cold_pulses(port_of: MakePort) -> None:
    port = until(wiring.intermittent, lambda: port_of("intermittent"), "cold")
    sound = port_of("sound").counts
    lost = np.diff(sound) - np.diff(port.counts)
    temp = port.sky.temp_at((port.marks_s[1:] + port.marks_s[:-1]) // 2)
    assert temp[lost > 0].mean() < temp[lost == 0].mean() - 3
    assert port.parameter == pytest.approx(0.37, abs=0.12)


def test_a_turned_meter_lets_the_dial_fall_as_the_index_rises(port_of: MakePort) -> None:
    port = until(wiring.meter_reversed, lambda: port_of("meter_reversed"), "meter_turned")
    port.run_counter()
    assert port.dial_at(END_S - DAY_S) < port.dial_at(FIRST_S)
    assert port.index[-1] > port.index[0]
    moved = port.dial_at(FIRST_S) - port.dial_at(int(port.marks_s[-1]))
    assert abs(moved - (port.index[-1] - port.start_keyed)) <= 1


def test_a_turned_direction_signal_lets_the_index_fall(port_of: MakePort) -> None:
    port = until(wiring.meter_reversed, lambda: port_of("meter_reversed"), "signal_turned")
    port.run_counter()
    assert (np.diff(port.index) <= 0).all()
    assert port.index[-1] < port.index[0]


@pytest.mark.parametrize("fault", [keying.weight_decade, keying.unit_slip])
@pytest.mark.parametrize("seed", range(8))
def test_a_wrong_setting_keeps_one_exact_ratio_at_every_read(port_of: MakePort, fault, seed: int) -> None:
    port = port_of("setting")
    fault(port, np.random.default_rng(seed))
    port.run_counter()
    moved = (port.index - port.start_keyed) * float(port.recorded.resolution_l)
    true = port.counts * float(port.spec.face.weight_l)
    assert (np.abs(moved - port.parameter * true) <= float(port.recorded.resolution_l) * (1 + 1e-6) + true * 1e-8).all()


def test_a_small_counter_falls_by_its_capacity_while_the_dial_goes_on(port_of: MakePort) -> None:
    port = until(keying.digit_slip, lambda: port_of("digit_slip"), "rolls_over_early")
    port.read_dial_and_key()
    port.run_counter()
    falls = np.diff(port.shown)
    assert (falls < 0).sum() == 1
    assert falls.min() == pytest.approx(-port.actual.capacity, abs=200)
    assert port.counted_l(-1) - float(port.volume_ul[-1]) / 1e6 == pytest.approx(
        -port.actual.capacity * float(port.recorded.resolution_l), abs=2 * float(port.spec.face.weight_l)
    )


def test_lost_top_digits_are_missing_from_the_first_read(port_of: MakePort) -> None:
    port = until(keying.digit_slip, lambda: port_of("digit_slip"), "top_digits_lost")
    port.read_dial_and_key()
    port.run_counter()
    assert keying.since_of_digit_slip(port) == FIRST_S
    assert (port.start_right - port.shown[0]) // port.actual.capacity >= 1


PAINTED = Face(6, 1, "gal", "10", "1", "gal")


def slipped_start(port_of: MakePort, plain_spec, variant: str) -> Port:
    from dataclasses import replace

    spec = replace(
        plain_spec, face=PAINTED, setting=Setting(6, "gal", "10", "1", "gal"), dial_ul=int(421_375 * 3_785_411.784)
    )
    return until(
        lambda port, rng: keying.start_slip(port, rng, previous_start=123_456),
        lambda: port_of("start_slip", spec=spec),
        variant,
    )


@pytest.mark.parametrize(
    ("variant", "holds"),
    [
        ("transposed", lambda slip: slip % 9 == 0 and slip != 0),
        ("digit_dropped", lambda slip: slip < 0),
        ("zero_dropped", lambda slip: slip == 4213 - 42137),
        ("all_positions_typed", lambda slip: slip == 421370 - 42137),
        ("decimals_included", lambda slip: 421370 <= slip + 42137 < 421380),
        ("cloned", lambda slip: slip == 123456 - 42137),
        ("wrong_time", lambda slip: -25 <= slip < 0),
        ("dial_misread", lambda slip: abs(slip) in {10, 100, 1000, 10_000, 100_000}),
    ],
)
def test_a_start_slip_is_a_constant_of_its_own_kind(port_of: MakePort, plain_spec, variant: str, holds) -> None:
    port = slipped_start(port_of, plain_spec, variant)
    assert holds(port.start_keyed - 42137)
    assert port.parameter == pytest.approx(10 * (port.start_keyed - 42137))
    port.run_counter()
    offset = port.index - 42137 - port.counts // 10
    assert set(offset.tolist()) == {port.start_keyed - 42137}


def test_only_a_misread_or_early_dial_stands_wrong_in_the_record(port_of: MakePort, plain_spec) -> None:
    assert slipped_start(port_of, plain_spec, "transposed").dial_recorded == "0421370"
    assert slipped_start(port_of, plain_spec, "dial_misread").dial_recorded != "0421370"
    assert slipped_start(port_of, plain_spec, "wrong_time").dial_recorded < "0421370"


@pytest.mark.parametrize("variant", ["to_start", "to_zero", "to_last_stored"])
def test_a_reset_falls_once_and_counts_on(port_of: MakePort, variant: str) -> None:
    def reset() -> Port:
        port = port_of("index_reset", onset_s=MIDDLE_S)
        port.run_counter()
        return port

    port = until(upsets.index_reset, reset, variant)
    sound = reset().index
    after = port.marks_s >= MIDDLE_S
    assert (port.index[~after] == sound[~after]).all()
    assert len(set((port.index[after] - sound[after]).tolist())) == 1
    assert port.index[after][0] < sound[after][0]
    if variant == "to_start":
        assert port.index[after][0] == port.start_keyed
    if variant == "to_zero":
        assert port.index[after][0] == 0


def test_an_unrecorded_exchange_moves_the_dial_and_not_the_count(port_of: MakePort) -> None:
    port = until(upsets.meter_exchanged, lambda: port_of("meter_exchanged", onset_s=MIDDLE_S), "same_weight")
    assert port.counts.tolist() == port_of("sound").counts.tolist()
    assert port.dial_at(MIDDLE_S - 1) > 200_000
    assert port.dial_at(MIDDLE_S + DAY_S) < 1_000


def test_an_exchange_for_another_weight_changes_the_rate(port_of: MakePort) -> None:
    port = until(upsets.meter_exchanged, lambda: port_of("meter_exchanged", onset_s=MIDDLE_S), "weight_")
    sound = port_of("sound").counts
    after = port.marks_s >= MIDDLE_S + DAY_S
    ratio = (port.counts[-1] - port.counts[after][0]) / (sound[-1] - sound[after][0])
    assert ratio == pytest.approx(port.parameter, rel=0.01)


def test_story_6_crossed_endpoints_exchange_their_volumes(port_of: MakePort, plain_spec) -> None:
    thirsty = port_of("crossed", curve=draws(minutes_apart=30, litres=30, flow_l_s=0.2))
    frugal = port_of("crossed", curve=draws(minutes_apart=100, litres=30, flow_l_s=0.2))
    own = [port.counts.copy() for port in (thirsty, frugal)]
    cross_counts([thirsty, frugal])
    assert thirsty.counts.tolist() == own[1].tolist()
    assert frugal.counts.tolist() == own[0].tolist()
    assert thirsty.parameter * frugal.parameter == pytest.approx(1.0, abs=1e-5)


def test_stale_reads_repeat_then_catch_up(port_of: MakePort) -> None:
    port = port_of("stale_index", onset_s=MIDDLE_S)
    port.run_counter()
    reads = deliver(port, np.random.default_rng(1))
    held = reads.index != port.shown[reads.mark]
    own = reads.flag == FLAG_NONE
    assert held[own].sum() > 24
    assert port.parameter > DAY_S
    assert reads.index[own][-1] == port.shown[-1]


def test_a_shifted_clock_moves_the_stamp_and_leaves_the_index(port_of: MakePort) -> None:
    for seed in range(20):
        port = port_of("clock_shift", onset_s=MIDDLE_S)
        port.run_counter()
        reads = deliver(port, np.random.default_rng(seed))
        if port.variant == "zone":
            break
    shift = reads.at_s - port.marks_s[reads.mark]
    assert set(shift[reads.mark < 24].tolist()) == {0}
    assert set(shift[-24:].tolist()) == {int(port.parameter)}
    assert port.parameter != 0


def test_delivery_of_a_sound_port_never_invents_an_index(port_of: MakePort) -> None:
    port = port_of("sound")
    port.run_counter()
    for seed in range(30):
        port.variant = ""
        reads = deliver(port, np.random.default_rng(seed))
        if port.variant in ("glitch", "cell_fades"):
            continue
        assert np.isin(reads.index[reads.flag == FLAG_NONE], port.shown).all()
        assert (reads.received_s >= port.marks_s[reads.mark]).all()
        assert reads.last_mark() == len(port.marks_s) - 1


def test_a_silent_port_delivers_nothing(port_of: MakePort) -> None:
    port = port_of("sound")
    port.silent = True
    port.run_counter()
    assert deliver(port, np.random.default_rng(0)).last_mark() is None


def test_backflow_is_counted_both_ways_while_the_dial_keeps_the_net(port_of: MakePort) -> None:
    use = draws(minutes_apart=47, litres=21.0, flow_l_s=0.2)
    swings = backflow_events(np.random.default_rng(1), float(FIRST_S), float(END_S), swing_l=3.0, per_day=60)
    rocking = curve_of(swings, first_s=FIRST_S - DAY_S, last_s=END_S, max_flow_l_s=5.0)
    when = np.unique(np.concatenate([use.time_s, rocking.time_s]))
    both = UseCurve(
        when,
        np.interp(when, use.time_s, use.volume_l) + np.interp(when, rocking.time_s, rocking.volume_l),
    )
    port = port_of("backflow_counted", curve=both)
    wiring.backflow_counted(port, np.random.default_rng(0))
    assert rocking.volume_l[-1] == pytest.approx(0.0, abs=3.0)
    assert port.dial_at(END_S) == port_of("sound", curve=use).dial_at(END_S)
    # Each swing passes a contact 2 x 3 L / 3.785 L times on the mean; swings of 3 L scatter by 40 %.
    swung = float(swings.volume_l + 2 * np.abs(np.minimum(swings.flow_l_s, 0) * swings.duration_s).sum())
    extra = port.counts[-1] - port_of("sound", curve=use).counts[-1]
    assert extra == pytest.approx(swung / float(port.spec.face.weight_l), rel=0.1)
