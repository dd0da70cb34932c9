"""The volume error: its interval as a mixture over likely faults, and against ports whose water is known exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.stats import norm

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.engine.evidence.frame import Case, Ring
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.volume import VolumeUnder, mixed, standing_of, volume_under
from tests.support.cases import case_of
from tests.support.fleets import HOUR_US, START_US, fleet_of

DAY_US = 24 * HOUR_US


def under(middle: float, sd: float) -> VolumeUnder:
    return VolumeUnder(np.array([middle]), np.array([sd]))


def test_one_certain_fault_gives_the_normal_interval() -> None:
    error = mixed([under(100.0, 10.0)], np.array([[1.0]]))
    assert error.low_l[0] == pytest.approx(norm.ppf(0.05, 100, 10), abs=1e-3)
    assert error.high_l[0] == pytest.approx(norm.ppf(0.95, 100, 10), abs=1e-3)


def test_a_likely_runner_up_lies_within_the_interval() -> None:
    error = mixed([under(0.0, 5.0), under(-900.0, 5.0)], np.array([[0.7, 0.3]]))
    assert error.middle_l[0] == 0.0
    # The lower twentieth of the mixture lies inside the runner-up: a sixth of its own probability.
    assert error.low_l[0] == pytest.approx(norm.ppf(0.05 / 0.3, -900, 5), abs=0.01)


def test_an_unlikely_runner_up_does_not_widen_it() -> None:
    error = mixed([under(0.0, 5.0), under(-900.0, 5.0)], np.array([[0.99, 0.01]]))
    assert error.low_l[0] > -12


def test_a_runner_up_without_a_figure_is_passed_over() -> None:
    error = mixed([under(0.0, 5.0), under(float("nan"), float("nan"))], np.array([[0.6, 0.4]]))
    assert error.high_l[0] == pytest.approx(norm.ppf(0.95, 0, 5), abs=1e-3)


def test_a_named_fault_without_a_figure_has_no_interval() -> None:
    error = mixed([under(float("nan"), float("nan")), under(0.0, 5.0)], np.array([[0.6, 0.4]]))
    assert np.isnan([error.low_l[0], error.high_l[0]]).all()


# --- Ports whose water is known exactly -------------------------------------------------------------------------------

DAYS = 30
GRAINS = [(1.0, 1.0, 1.0), (10.0, 10.0, 10.0), (10.0, 1.0, 1.0), (37.85, 0.5, 0.5), (28.0, 4.0, 1.0)]
"""Pulse weight, index's and dial's least digit [L]: pulses no finer than the index."""
COARSE = [(1.0, 10.0, 1.0), (0.5, 100.0, 10.0)]
"""An index far coarser than the pulse."""
CODE = {name: np.array([COLUMN[name]]) for name in FAULTS}


@dataclass
class Known:
    """Ports run by exact register arithmetic: ``registered`` less ``true`` is the error that an interval must hold."""

    case: Case
    onsets: Onsets
    registered: np.ndarray
    true: np.ndarray

    def under(self, code: str, parameter: float = np.nan, since_day: float = 0.0) -> VolumeUnder:
        n = self.case.fleet.size
        since = np.full(n, START_US + round(since_day * DAY_US))
        return volume_under(
            self.case, self.onsets, standing_of(self.case), code=np.repeat(CODE[code], n),
            parameter=np.full(n, parameter), since_us=since, low_us=since, high_us=since,
        )  # fmt: skip

    def coverage(self, under: VolumeUnder) -> float:
        told = mixed([under], np.ones((len(self.true), 1)))
        error = self.registered - self.true
        return float(((told.low_l <= error) & (error <= told.high_l)).mean())


def known_ports(
    grains: Sequence[tuple[float, float, float]], *, ports: int = 400, seed: int = 1, ratio: float = 1.0,
    from_day: float = 0.0, look_days: Sequence[int] = (), factors: np.ndarray | None = None,
) -> Known:  # fmt: skip
    """Run sound ports, or ports whose counts go by ``ratio`` from a day on, and read them once a day."""
    random = np.random.default_rng(seed)
    w, q, qd = np.array([grains[k % len(grains)] for k in range(ports)]).T
    fit = random.uniform(1e4, 9e4, ports)
    use = random.uniform(300, 900, ports)[:, None] * random.gamma(6, 1 / 6, (ports, DAYS))
    volume = np.concatenate((np.zeros((ports, 1)), np.cumsum(use, axis=1)), axis=1)
    dial_fit = np.floor(fit / qd) * qd
    pulses = np.floor((volume + random.uniform(0, w)[:, None]) / w[:, None])
    begun = pulses[:, [round(from_day)]]
    share = ratio if factors is None else factors[:, None]
    pulses = np.where(np.arange(DAYS + 1) > from_day, begun + np.round(share * (pulses - begun)), pulses)
    start = np.floor(dial_fit / q + 1e-9)
    index = start[:, None] + np.floor(pulses * w[:, None] / q[:, None] + 1e-9)
    fleet = fleet_of(
        ports, quantum_dial_l=qd, quantum_index_l=q, weight_set_l=w, weight_meter_l=w, dial_fit_l=dial_fit,
        start_count=start, capacity_dial_l=qd * 1e7, capacity_counts=np.full(ports, 10**9),
    )  # fmt: skip
    reads = [(k, 24.0 * day, int(index[k, day]), "") for k in range(ports) for day in range(DAYS + 1)]
    shown = np.floor((fit[:, None] + volume) / qd[:, None]) * qd[:, None]
    dials = [(k, 24.0 * day, float(shown[k, day])) for k in range(ports) for day in look_days]
    case, onsets = case_of(fleet, reads, days=DAYS + 1, dials=dials)
    case.notes.wet_excess_l, case.notes.floor_l_h = np.zeros(ports), np.zeros(ports)
    return Known(case, onsets, index[:, -1] * q - dial_fit, volume[:, -1])


def test_what_the_reads_say_has_passed_is_the_index_less_the_dial_at_the_fitting() -> None:
    known = known_ports([*GRAINS, *COARSE])
    assert standing_of(known.case).registered == pytest.approx(known.registered, abs=1e-6)


@pytest.mark.parametrize("look_days", [(), (12, 25)])
def test_nine_intervals_in_ten_hold_a_sound_ports_error(look_days: tuple[int, ...]) -> None:
    known = known_ports(GRAINS, ports=1_000, look_days=look_days)
    assert 0.87 <= known.coverage(known.under("sound")) <= 0.93


def test_an_index_far_coarser_than_the_pulse_is_held_too() -> None:
    known = known_ports(COARSE, ports=600)
    # The remainder lies evenly within the step, which a normal interval of the same spread overcovers.
    assert 0.87 <= known.coverage(known.under("sound")) <= 0.975


def test_a_sound_error_is_not_pulled_to_one_side() -> None:
    known = known_ports(GRAINS, ports=1_000)
    off = known.registered - known.true - known.under("sound").middle_l
    assert np.mean(off / known.case.fleet.weight_set_l) == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize("look_days", [(15, 28), ()])
@pytest.mark.parametrize(
    ("code", "ratio"), [("double_count", 2.0), ("weight_decade", 10.0), ("weight_decade", 0.1), ("unit_slip", 0.264172)]
)
def test_an_exact_ratio_is_taken_off_to_within_pulse_and_step(
    code: str, ratio: float, look_days: tuple[int, ...]
) -> None:
    known = known_ports(GRAINS, ratio=ratio, look_days=look_days, ports=500)
    under = known.under(code, ratio)
    error = known.registered - known.true
    step = known.case.fleet.weight_set_l + known.case.fleet.quantum_dial_l
    tail = step / min(ratio, 1.0) + 25.0
    assert np.quantile(np.abs(under.middle_l - error) / tail, 0.95) < 1.5
    assert known.coverage(under) >= 0.85


def test_a_share_lost_is_known_up_to_the_look_and_loosely_after() -> None:
    factors = np.random.default_rng(3).uniform(0.5, 0.9, 300)
    near, far = (known_ports(GRAINS, ports=300, factors=factors, look_days=(day,)) for day in (DAYS, 10))
    spread = [np.median(known.under("lost_counts", 0.7).sd_l) for known in (near, far)]
    assert spread[1] > 5 * spread[0]
    assert near.coverage(near.under("lost_counts", 0.7)) >= 0.85


def test_a_ratio_from_the_middle_on_leaves_what_went_before() -> None:
    known = known_ports([(1.0, 1.0, 1.0)], ratio=2.0, from_day=15)
    error = known.registered - known.true
    under = known.under("double_count", 2.0, since_day=15)
    assert under.middle_l == pytest.approx(error, abs=8.0)


def test_an_index_that_runs_back_owes_what_it_took_and_what_it_did_not_count() -> None:
    known = known_ports([(1.0, 1.0, 1.0)], ratio=-1.0, look_days=(15,))
    error = known.registered - known.true
    assert error == pytest.approx(-2 * known.true, abs=3.0)
    assert known.under("meter_reversed", -1.0).middle_l == pytest.approx(error, abs=6.0)


def test_a_reversed_meter_whose_index_still_rises_was_right_all_along() -> None:
    known = known_ports([(1.0, 1.0, 1.0)])
    assert known.under("meter_reversed", -1.0).middle_l == pytest.approx(known.registered - known.true, abs=3.0)


def test_a_dead_input_owes_the_use_since_by_the_places_own_pace() -> None:
    known = known_ports([(1.0, 1.0, 1.0)], ratio=0.0, from_day=20)
    under = known.under("dead_input", 0.0, since_day=20)
    error = known.registered - known.true
    assert np.median(under.middle_l / error) == pytest.approx(1.0, abs=0.1)
    assert known.coverage(under) > 0.85
    looked = known_ports([(1.0, 1.0, 1.0)], ratio=0.0, from_day=20, look_days=(DAYS,))
    assert looked.under("dead_input", 0.0, since_day=20).middle_l == pytest.approx(
        looked.registered - looked.true, abs=8.0
    )


def test_exchanged_endpoints_are_told_by_the_other_channel_of_the_ring() -> None:
    known = known_ports([(1.0, 1.0, 1.0)], ports=2)
    moved = standing_of(known.case).moved
    known.case.notes.rings.append(Ring([0, 1], [1, 0], "wires", 30.0))
    under = known.under("crossed")
    assert under.middle_l == pytest.approx(known.registered - moved[::-1], abs=1e-6)
    assert (under.sd_l < 0.011 * moved[::-1] + 2.0).all()


def test_an_exchange_between_two_weights_is_counted_by_the_meters_own() -> None:
    known = known_ports([(1.0, 1.0, 1.0), (10.0, 10.0, 10.0)], ports=2)
    moved = standing_of(known.case).moved
    known.case.notes.rings.append(Ring([0, 1], [1, 0], "wires", 30.0))
    under = known.under("crossed")
    assert under.middle_l == pytest.approx(known.registered - moved[::-1] * np.array([0.1, 10.0]), abs=1e-6)


def test_a_start_keyed_off_is_off_by_what_was_keyed_under_every_name() -> None:
    known = known_ports([(1.0, 1.0, 1.0)])
    known.case.fleet.start_count[:] -= 2_160
    known.case.scan.figures["first_count"] -= 2_160
    known.case.scan.figures["last_count"] -= 2_160
    for code in ("start_slip", "sound"):
        middle = known.under(code, -2_160.0).middle_l
        assert middle == pytest.approx(known.registered - 2_160 - known.true, abs=4.0), code


def test_a_port_never_heard_owes_what_its_history_says() -> None:
    fleet = fleet_of(1, use_l_day=[400.0])
    case, onsets = case_of(fleet, [], days=DAYS)
    case.end_us[:] = START_US + DAYS * DAY_US
    case.notes.wet_excess_l, case.notes.floor_l_h = np.zeros(1), np.zeros(1)
    at = np.array([START_US])
    under = volume_under(
        case, onsets, standing_of(case), code=CODE["port_unread"], parameter=np.array([np.nan]), since_us=at, low_us=at,
        high_us=at,
    )  # fmt: skip
    assert under.middle_l[0] == pytest.approx(-400.0 * DAYS)
    assert 0.2 < under.sd_l[0] / (400.0 * DAYS) < 1.0
