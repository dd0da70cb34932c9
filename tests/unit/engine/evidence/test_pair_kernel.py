"""The pair likelihoods against scipy's densities and against integrals taken without a short cut."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate, stats

from dialtrue.engine.evidence import pair_kernel as pk
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from tests.support.looks import Looks, good_density, log_integral, looks

LOST, DOUBLED = (0.02, 0.985), (1.015, 1.95)
TOP_L_DAY = 400.0


def used(n: int = 6, seed: int = 0) -> np.ndarray:
    """Return what a dial has moved at ``n`` looks [L]."""
    return np.floor(np.cumsum(np.random.default_rng(seed).uniform(3_000, 6_000, n)))


def shared(ratio: float, *, scatter: float = 0.0, seed: int = 0, n: int = 6) -> Looks:
    """Return looks at a count that lost or doubled a share, which scatters from look to look by a part of itself."""
    random = np.random.default_rng(seed)
    d = used(n, seed)
    own = ratio + (1 - ratio) * scatter * random.normal(size=n)
    return looks(d, np.cumsum(own * np.diff(d, prepend=0.0)) + random.normal(0, 0.5, n))


def clocked(rate: float, *, scatter: float = 0.0, seed: int = 0, n: int = 6) -> Looks:
    """Return looks at a count that counts ``rate`` L a day beside the water, ten days apart."""
    random = np.random.default_rng(seed)
    d = used(n, seed)
    more = np.cumsum(10 * rate * (1 + scatter * random.normal(size=n)))
    return looks(d, d + more + random.normal(0, 0.4, n))


def share_of(given: Looks, bounds: tuple[float, float] = LOST, attempts: int = 3) -> tuple[float, float]:
    return pk.free_share(given.d, given.x, given.clock, given.bridge, given.misread, *given.quanta, *bounds, 0, 0.0,
                         0.0, given.base, attempts)  # fmt: skip


def drift_of(given: Looks, attempts: int = 3) -> tuple[float, float]:
    return pk.drift(given.d, given.x, given.clock, given.bridge, given.misread, *given.quanta, TOP_L_DAY, pk.REGULAR,
                    pk.LOOSE, 0.5, 0, 0.0, 0.0, given.base, attempts)  # fmt: skip


def walked(given: Looks, ratio: float, rate: float, scatter: float) -> float:
    return pk.walk_on(given.d, given.x, given.clock, given.bridge, given.misread, *given.quanta, 0, 0.0, 0.0, 0.0,
                      ratio, rate, scatter, given.base)  # fmt: skip


def fixed(given: Looks, ratio: float, first: int, low_l: float, high_l: float, floor: float = -400.0) -> float:
    return pk.fixed_ratio(given.d, given.x, given.bridge, given.misread, *given.quanta, ratio, first, low_l, high_l,
                          given.base, floor)  # fmt: skip


# --- What a look says ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("qd", "w", "qe"), [(10.0, 3.785, 0.7), (1.0, 28.317, 5.1), (0.9, 1.3, 11.3)])
def test_the_noise_of_a_look_is_that_of_rounding_dial_pulse_and_index(qd: float, w: float, qe: float) -> None:
    random = np.random.default_rng(7)
    begin, use = random.uniform(0, 1e6, 40_000), random.uniform(1e3, 1e5, 40_000)
    phase, start = random.uniform(0, w, 40_000), random.uniform(0, 1e3, 40_000)

    def dial(volume: np.ndarray) -> np.ndarray:
        return np.floor(volume / qd) * qd

    def index(volume: np.ndarray) -> np.ndarray:
        return np.floor((start + w * np.floor((volume + phase) / w)) / qe) * qe

    apart = index(begin + use) - index(begin) - (dial(begin + use) - dial(begin))
    assert apart.std() == pytest.approx(pk.noise_l(1.0, qd, w, qe, 0.0), rel=0.02)


@pytest.mark.parametrize("day_l", [0.0, 400.0])
def test_a_true_count_is_scipys_mixture_of_good_late_and_misread_looks(day_l: float) -> None:
    given = looks([1_000.0, 2_000.0, 3_000.0], [1_000.4, 1_980.0, 3_090.0], misread=np.array([0.004, 0.03, 0.01]))
    slip = np.array([0.0, 0.0, 0.002])
    out = np.zeros(3)
    total = pk.true_logs(given.d, given.x, given.bridge, given.misread, slip, day_l, *given.quanta, out)
    for j in range(3):
        apart, wide = given.x[j] - given.d[j], 2 * (given.d[j] + given.x[j])
        bad = (1 - pk.SLIP_SHARE) * stats.uniform.pdf(apart, -wide / 2, wide) + pk.SLIP_SHARE * slip[j]
        hour = np.hypot(pk.noise_l(1.0, *given.quanta, given.bridge[j]), pk.WRONG_HOUR * day_l)
        good = (1 - pk.LATE_NOTE) * good_density(given, j, given.d[j]) + pk.LATE_NOTE * stats.norm.pdf(apart, 0, hour)
        want = np.log((1 - given.misread[j]) * good + given.misread[j] * bad)
        assert out[j] == pytest.approx(want, rel=1e-5)
    assert total == pytest.approx(out.sum())


@pytest.mark.parametrize("bounds", [LOST, DOUBLED])
def test_the_shares_that_lost_and_doubled_pulses_give_are_a_distribution(bounds: tuple[float, float]) -> None:
    low, high = bounds
    edges = [low, *(e for e in (0.2, 1.6) if low < e < high), high]
    whole = sum(integrate.quad(pk.share_density, a, b)[0] for a, b in pairwise(edges))
    assert whole == pytest.approx(1.0, abs=1e-6)


def test_an_offset_of_any_size_is_log_uniform_from_a_step_to_the_capacity() -> None:
    least, capacity = 2.0, 1e6
    sizes = np.geomspace(least, capacity, 20_001)
    density = np.exp([pk.any_size(size, least, capacity) for size in sizes])
    assert 2 * np.trapezoid(density, sizes) == pytest.approx(1.0, abs=1e-3)
    assert pk.any_size(-500.0, least, capacity) == pk.any_size(500.0, least, capacity)


# --- Exact ratios -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [2.0, 0.1, 0.0, -1.0])
@pytest.mark.parametrize("onset_l", [0.0, 4_000.0, 9_000.0])
def test_an_exact_ratio_is_the_integral_over_the_place_of_its_onset(ratio: float, onset_l: float) -> None:
    d = used(seed=3)
    x = np.where(d > onset_l, onset_l + ratio * (d - onset_l), d) + np.random.default_rng(1).normal(0, 0.4, len(d))
    given = looks(d, x)
    first = int(np.searchsorted(d, onset_l + 1))
    low, high = (0.0, 0.0) if onset_l == 0 else (onset_l - 1_500, onset_l + 1_000)

    def log_value(offset: float) -> float:
        total = 0.0
        for j in range(first, len(d)):
            sd = pk.noise_l(ratio, *given.quanta, given.bridge[j])
            bad = given.misread[j] / pk.spread_l(d[j], x[j], sd, given.qd + given.w)
            good = (1 - given.misread[j]) * good_density(given, j, offset + ratio * d[j], ratio)
            total += np.log(good + bad) - given.base[j]
        return total

    if onset_l == 0:
        # Where it began is known, but not what the steps of dial and index left out then.
        shared = (ratio**2 * given.qd**2 + given.w**2 + given.qe**2) / 12.0

        def at_fitting(offset: float) -> float:
            return log_value(offset) - 0.5 * offset**2 / shared - 0.5 * np.log(2 * np.pi * shared)

        want = log_integral(at_fitting, -10 * shared**0.5, 10 * shared**0.5, 0.0, 0.3)
    else:
        ends = sorted(((1 - ratio) * low, (1 - ratio) * high))
        want = log_integral(log_value, *ends, (1 - ratio) * onset_l, 1.0) - np.log(ends[1] - ends[0])
    assert fixed(given, ratio, first, low, high) == pytest.approx(want, abs=1e-3)


def test_one_misread_dial_takes_its_own_weight_off_an_exact_ratio_and_no_more() -> None:
    d = used(seed=4)
    clean = looks(d, 2.0 * d, misread=np.full(6, 0.01))
    spoilt = clean.with_index(2, 700.0)
    given = fixed(clean, 2.0, 0, 0.0, 0.0), fixed(spoilt, 2.0, 0, 0.0, 0.0)
    sd = pk.noise_l(2.0, *clean.quanta, 0.2)
    lost = stats.norm.logpdf(0.0, 0.0, sd) - np.log(0.01 / (2 * (spoilt.d[2] + spoilt.x[2])))
    # One look fewer tells what the step at the fitting left out.
    assert given[0] - given[1] == pytest.approx(lost + spoilt.base[2] - clean.base[2], abs=0.1)


def test_what_the_looks_cannot_reach_is_left_at_the_floor() -> None:
    given = looks(used(), used())
    assert fixed(given, 10.0, 0, 0.0, 0.0, floor=-37.0) == -37.0
    assert fixed(given, 10.0, 6, 0.0, 0.0, floor=-37.0) == 0.0


# --- A share lost or doubled, counts by the clock -------------------------------------------------------------------


@pytest.mark.parametrize("scatter", [0.0, 0.04, 0.3])
@pytest.mark.parametrize("ratio", [0.5, 0.8, 0.95, 1.1, 1.4])
def test_a_free_share_is_the_integral_over_the_ratio(ratio: float, scatter: float) -> None:
    given = shared(ratio, scatter=scatter, seed=round(ratio * 100))
    bounds = LOST if ratio < 1 else DOUBLED
    got, best = share_of(given, bounds)
    each = [
        log_integral(lambda r, s=s: walked(given, r, 0.0, s) + np.log(pk.share_density(r)), *bounds, best, 0.002)
        for s in (pk.LOOSE, pk.REGULAR)
    ]
    # Laplace's rule with the spread of the fit: within a factor of two.
    assert got == pytest.approx(np.logaddexp(*each) - np.log(2), abs=0.7)
    assert best == pytest.approx(ratio, abs=3 * abs(1 - ratio) * max(scatter, 0.002) / 6**0.5)


@pytest.mark.parametrize("scatter", [0.0, 0.04, 0.3])
@pytest.mark.parametrize("rate", [2.0, 20.0, 100.0])
def test_a_drift_is_the_integral_over_the_rate(rate: float, scatter: float) -> None:
    given = clocked(rate, scatter=scatter, seed=int(rate))
    got, best = drift_of(given)
    each = [
        log_integral(
            lambda v, s=s: walked(given, 1.0, v, s) - np.log(v * np.log(1e4)), TOP_L_DAY * 1e-4, TOP_L_DAY, best, 0.1
        )
        for s in (pk.LOOSE, pk.REGULAR)
    ]
    assert got == pytest.approx(np.logaddexp(*each) - np.log(2), abs=0.7)
    assert best == pytest.approx(rate, abs=0.1 + 3 * rate * scatter / 6**0.5)


def test_one_misread_dial_does_not_draw_the_ratio_or_the_rate_to_itself() -> None:
    _, ratio = share_of(shared(0.8, seed=5).with_index(3, 2_500.0))
    assert ratio == pytest.approx(0.8, abs=0.005)
    _, rate = drift_of(clocked(20.0, seed=6).with_index(3, 2_500.0))
    assert rate == pytest.approx(20.0, abs=0.5)


def test_a_share_and_a_clock_are_told_apart_where_use_differs_from_look_to_look() -> None:
    assert share_of(shared(1.1, seed=8), DOUBLED)[0] > drift_of(shared(1.1, seed=8))[0] + 3.0
    assert drift_of(clocked(45.0, seed=8))[0] > share_of(clocked(45.0, seed=8), DOUBLED)[0] + 3.0


def test_a_true_count_is_worth_more_than_any_share_or_rate() -> None:
    for seed in range(20):
        given = shared(1.0, seed=seed)
        for told in (share_of(given, LOST, 1), share_of(given, DOUBLED, 1), drift_of(given, 1)):
            assert told[0] < 0.0


# --- Offsets, another dial, stops ---------------------------------------------------------------------------------


@pytest.mark.parametrize("step_l", [-2_160.0, 37.0, 500.0])
def test_an_offset_is_the_integral_over_its_size(step_l: float) -> None:
    d = used(seed=5)
    given = looks(d, np.where(np.arange(6) >= 2, d + step_l, d) + np.random.default_rng(2).normal(0, 0.4, 6))

    def log_value(size: float) -> float:
        total = 0.0
        for j in range(2, 6):
            wide = pk.spread_l(d[j], given.x[j], pk.noise_l(1.0, *given.quanta, given.bridge[j]), given.qd + given.w)
            good = (1 - given.misread[j]) * good_density(given, j, d[j] + size)
            total += np.log(good + given.misread[j] / wide) - given.base[j]
        return total

    got, best = pk.offset(given.d, given.x, given.bridge, given.misread, *given.quanta, 2, given.base)
    assert got == pytest.approx(log_integral(log_value, step_l - 300, step_l + 300, best, 0.3), abs=0.05)
    assert best == pytest.approx(step_l, abs=1.0)


def course_of(given: Looks) -> tuple[float, float]:
    return pk.other_course(given.d, given.x, given.bridge, given.misread, *given.quanta, given.base)


def test_another_households_course_beats_a_share_and_the_true_count_and_a_share_beats_it_back() -> None:
    d = used(seed=9)
    other = np.array([2_100.0, 3_900.0, 1_200.0, 5_200.0, 2_800.0, 2_000.0])
    strange = looks(d, np.cumsum(other))
    told, ratio = course_of(strange)
    assert told > 30.0
    assert ratio == pytest.approx(other.sum() / d[-1], rel=1e-6)
    assert told > share_of(strange)[0] + 3.0
    lost = shared(0.6, seed=9)
    assert share_of(lost)[0] > course_of(lost)[0] + 5.0
    assert course_of(looks(d, d))[0] < -5.0


@pytest.mark.parametrize("seed", [0, 1, 2, 4])
def test_another_households_course_is_the_integral_over_the_ratio_of_the_two(seed: int) -> None:
    random = np.random.default_rng(seed)
    step = random.uniform(3_000, 6_000, 6)
    other = 0.6 * step * np.exp(pk.COURSE * random.normal(size=6))
    given = looks(np.floor(np.cumsum(step)), np.floor(np.cumsum(other)))
    dd, dx = np.diff(given.d, prepend=0.0), np.diff(given.x, prepend=0.0)

    def log_value(log_ratio: float) -> float:
        r, total = np.exp(log_ratio), 0.0
        for j in range(6):
            ends = given.bridge[j] ** 2 + (given.bridge[j - 1] ** 2 if j else 0.0)
            sd = np.sqrt((r**2 + 2) / 6 + ends + (pk.COURSE * r * dd[j]) ** 2)
            wide = pk.spread_l(given.d[j], given.x[j], sd, 2.0)
            good = (1 - given.misread[j]) * stats.norm.pdf(dx[j], r * dd[j], sd)
            total += np.log(good + given.misread[j] / wide) - given.base[j]
        return total - np.log(np.log(1e4))

    got, ratio = course_of(given)
    want = log_integral(log_value, np.log(0.01), np.log(100.0), np.log(ratio), 0.1)
    assert got == pytest.approx(want, abs=0.3)


def test_an_index_that_stands_still_follows_no_dial() -> None:
    told, ratio = course_of(looks(used(), np.zeros(6)))
    assert told < 0.0
    assert np.isnan(ratio)


def stops_of(given: Looks) -> tuple[float, float]:
    return pk.stops(given.d, given.x, given.clock, given.bridge, given.misread, *given.quanta, 0, 0.0, 0.0, given.base,
                    3)  # fmt: skip


def test_a_joint_that_stops_now_and_then_is_no_steady_loss() -> None:
    d = used(8, seed=10)
    kept = np.array([1.0, 0.35, 1.0, 1.0, 0.7, 1.0, 0.2, 1.0])
    patchy = looks(d, np.cumsum(kept * np.diff(d, prepend=0.0)))
    assert stops_of(patchy)[0] > share_of(patchy)[0] + 5.0
    steady = shared(0.7, seed=10, n=8)
    assert share_of(steady)[0] > stops_of(steady)[0] + 5.0


def test_spans_in_which_a_joint_lost_nothing_at_all_speak_for_it() -> None:
    d = used(8, seed=10)
    clean = np.array([0.6, 0.35, 1.0, 1.0, 0.7, 1.0, 0.2, 1.0])
    lossy = np.where(clean == 1.0, 0.9, clean)
    told = [stops_of(looks(d, np.round(np.cumsum(kept * np.diff(d, prepend=0.0)))))[0] for kept in (clean, lossy)]
    # Four spans, each known to a liter instead of to some hundreds.
    assert told[0] > told[1] + 4 * 2.0


def test_a_splice_that_loses_in_rain_is_told_from_a_steady_loss_by_the_wet_hours_between_the_looks() -> None:
    d = used(12, seed=11)
    wet = np.array([0.1, 0.5, 0.3, 0.0, 0.2, 0.6, 0.1, 0.4, 0.0, 0.3, 0.5, 0.2])
    in_wet = np.cumsum(wet * np.diff(d, prepend=0.0))

    def told(given: Looks) -> tuple[float, float]:
        return pk.shunted(given.d, given.x, in_wet, given.bridge, given.misread, *given.quanta, 0, 0.0, 0.0,
                          given.base, 3)  # fmt: skip

    damp, steady = looks(d, np.round(d - 0.8 * in_wet)), shared(0.78, seed=11, n=12)
    value, share = told(damp)
    assert share == pytest.approx(0.8, abs=0.03)
    assert value > max(share_of(damp)[0], stops_of(damp)[0]) + 5.0
    assert share_of(steady)[0] > told(steady)[0] + 5.0


# --- Settings come no nearer to one -------------------------------------------------------------------------------


def test_no_settings_ratio_is_nearer_to_one_than_the_bound_that_spares_the_trying() -> None:
    from dialtrue.engine.evidence.pair_shape import NEAREST

    ratios = np.concatenate((DECADE_RATIOS[0], UNIT_RATIOS[0], [0.0, 2.0, -1.0]))
    apart = np.abs(1 - ratios) / np.maximum(1.0, ratios)
    assert apart.min() >= NEAREST
    assert apart.min() == pytest.approx(NEAREST, rel=0.01)
