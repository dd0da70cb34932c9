"""One change of daily level: its day against a general change-point library, its size, and what chance gives."""

from __future__ import annotations

import numpy as np
import pytest
import ruptures

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence.level_change import CODES, INDEPENDENT_DAY, SEASON_SHARE, daily_levels, weigh
from dialtrue.engine.evidence.level_kernel import HABIT_SHARE, LEAST_SIDE, change_of_level
from dialtrue.engine.onset_prior import over_onsets
from dialtrue.engine.onsets import SPANS
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import HOUR_US, START_US, fleet_of

DAYS = 90


def series(random: np.random.Generator, *, days: int = DAYS, shape: float = 6.0) -> np.ndarray:
    """Return daily volumes that scatter as a household's do."""
    return random.gamma(shape, 1 / shape, days)


def found(volume: np.ndarray, fresh: np.ndarray | None = None, *, spans: int = 1) -> tuple[np.ndarray, ...]:
    """Return gain, log ratio, its error and the best day of each of ``spans`` equal spans."""
    days = len(volume)
    level = np.sqrt(volume / volume.mean())
    fresh = np.ones(days, bool) if fresh is None else fresh
    span = np.arange(days) * spans // days
    gain, ratio, error, day = np.zeros(spans), np.zeros(spans), np.zeros(spans), np.zeros(spans, np.int64)
    change_of_level(level, fresh, span, 1.0, gain, ratio, error, day)
    return gain, ratio, error, day


@pytest.mark.parametrize("method", ["Dynp", "Binseg"])
def test_the_day_of_change_is_the_one_a_general_library_finds(method: str) -> None:
    random = np.random.default_rng(1)
    for _ in range(25):
        volume = series(random)
        volume[random.integers(15, 75) :] *= random.choice([0.5, 1.4, 2.0])
        level = np.sqrt(volume / volume.mean())
        search = getattr(ruptures, method)(model="l2", min_size=LEAST_SIDE, jump=1).fit(level)
        assert int(found(volume)[3][0]) == search.predict(n_bkps=1)[0]


def test_each_span_is_spoken_for_by_its_own_best_day() -> None:
    volume = series(np.random.default_rng(2))
    volume[45:] *= 2.0
    gain, _, _, day = found(volume, spans=6)
    for k in range(6):
        assert day[k] // 15 == k
    assert int(gain.argmax()) == 3
    # A span beside the change gains less than the one that holds it.
    assert gain[3] > gain[2] > gain[0]


def test_days_without_a_read_are_left_out() -> None:
    random = np.random.default_rng(3)
    volume = series(random)
    volume[40:] *= 2.0
    fresh = random.random(DAYS) < 0.6
    spoilt = np.where(fresh, volume, 50.0)
    level = np.sqrt(spoilt)
    results = []
    for given, known in ((level, fresh), (level[fresh], np.ones(fresh.sum(), bool))):
        gain, ratio, error, day = np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1, np.int64)
        change_of_level(given, known, np.zeros(len(given), np.int64), 1.0, gain, ratio, error, day)
        results.append((gain[0], ratio[0], error[0]))
    assert results[0] == pytest.approx(results[1])


@pytest.mark.parametrize("factor", [0.1, 0.6, 2.0, 10.0])
def test_the_ratio_of_the_levels_is_unbiased_and_its_error_honest(factor: float) -> None:
    random = np.random.default_rng(4)
    off, errors = [], []
    for _ in range(300):
        volume = series(random)
        volume[45:] *= factor
        span = np.where(np.arange(DAYS) == 45, 0, -1)
        gain, ratio, error, day = np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1, np.int64)
        change_of_level(np.sqrt(volume / volume.mean()), np.ones(DAYS, bool), span, 1.0, gain, ratio, error, day)
        off.append(ratio[0] - np.log(factor))
        errors.append(error[0])
    assert np.mean(off) == pytest.approx(0.0, abs=0.02)
    # The stated error carries a floor: never too narrow, and wide where one side is nearly nothing.
    assert 0.55 < np.std(off) / np.mean(errors) < 1.1


def test_fewer_days_than_two_sides_say_nothing() -> None:
    gain, _, _, day = found(series(np.random.default_rng(5), days=2 * LEAST_SIDE - 1))
    assert gain[0] == 0.0
    assert day[0] == -1


# --- The block ----------------------------------------------------------------------------------------------------


def reads_by_day(volume: np.ndarray, channel: int = 0) -> list[tuple[int, float, int, str]]:
    index = np.concatenate(([0], np.cumsum(np.round(volume * 400).astype(int))))
    return [(channel, 24.0 * day, int(count), "") for day, count in enumerate(index)]


def told(volumes: np.ndarray) -> dict[str, np.ndarray]:
    """Return what the block says by code (n, 1 + SPANS), for ports with one read a day."""
    reads = [read for channel, volume in enumerate(volumes) for read in reads_by_day(volume, channel)]
    case, onsets = case_of(fleet_of(len(volumes)), reads, days=volumes.shape[1] + 1)
    return weigh(case, onsets).at_onset


def test_shuffled_days_give_no_gain_beyond_chance() -> None:
    random = np.random.default_rng(6)
    # Days of one household in a random order: nothing changes, whatever the days are like.
    own = home(DAYS, seed=11, pulses_a_day=300.0).reshape(-1, 24).sum(axis=1) / 300.0
    said = told(np.stack([random.permutation(own) for _ in range(39)]))
    sound = np.log(1 - HABIT_SHARE - SEASON_SHARE)
    for code in CODES:
        averaged = over_onsets(said[code], code)
        # A likelihood ratio is above three at most once in three by chance; shuffles stay well below that.
        assert (averaged > np.log(3)).mean() <= 0.11, code
        assert np.median(averaged) < -sound


@pytest.mark.parametrize(
    ("code", "factor", "rivals"),
    [("double_count", 2.0, ("extra_counts", "use_change", "customer_leak", "weight_decade")),
     ("weight_decade", 10.0, ("use_change", "steady_counts", "customer_leak", "double_count")),
     ("weight_decade", 0.1, ("use_change", "lost_counts", "intermittent"))],
)  # fmt: skip
def test_an_exact_factor_is_preferred_to_a_free_change_where_it_is_true(
    code: str, factor: float, rivals: tuple[str, ...]
) -> None:
    random = np.random.default_rng(7)
    volumes = np.stack([series(random, shape=10.0) for _ in range(12)])
    volumes[:, 45:] *= factor
    said = told(volumes)
    mine = over_onsets(said[code], code)
    # No more than this, for a season or a guest changes a sound port's level too.
    assert np.median(mine) > 2.0
    assert (np.abs(said[code].argmax(axis=1) - (1 + SPANS // 2)) <= 1).mean() > 0.8
    for rival in rivals:
        assert (mine > over_onsets(said[rival], rival)).mean() >= 0.75, rival


@pytest.mark.parametrize("hour", [0, 9, 23])
def test_the_moment_of_change_is_that_of_the_read_before_it(hour: int) -> None:
    volume = np.round(400 * np.random.default_rng(13).gamma(40.0, 1 / 40.0, DAYS)).astype(int)
    volume[45:] *= 3
    index = np.concatenate(([0], np.cumsum(volume)))
    reads = [(0, 24.0 * day + hour, int(count), "") for day, count in enumerate(index)]
    case, onsets = case_of(fleet_of(), reads, days=DAYS + 2)
    since = weigh(case, onsets).since_us[0, COLUMN["use_change"]]
    assert since == START_US + (24 * 45 + hour) * HOUR_US


def test_a_factor_that_no_setting_makes_is_not_given_to_one() -> None:
    random = np.random.default_rng(8)
    volumes = np.stack([series(random, shape=10.0) for _ in range(12)])
    volumes[:, 45:] *= 1.45
    said = told(volumes)
    free = {code: over_onsets(said[code], code) for code in ("customer_leak", "extra_counts")}
    for code in ("double_count", "weight_decade", "unit_slip"):
        for rival in free.values():
            assert np.median(over_onsets(said[code], code) - rival) < -np.log(2)


def test_a_season_that_the_whole_town_shares_does_not_count() -> None:
    random = np.random.default_rng(9)
    town = np.stack([series(random, shape=12.0) for _ in range(60)])
    town[:, 45:] *= 1.8
    in_town, apart = told(town), told(town[:1])
    for code in ("use_change", "customer_leak", "double_count"):
        averaged = over_onsets(in_town[code], code)
        assert np.median(averaged) < 0.5
        assert averaged[0] < over_onsets(apart[code], code)[0] - 1.5


def test_a_standstill_is_left_to_the_block_that_knows_it() -> None:
    pulses = home(DAYS, seed=10, pulses_a_day=200.0)
    pulses[24 * 30 : 24 * 50] = 0
    case, _ = case_of(fleet_of(), reads_of(pulses), days=DAYS + 1)
    level, fresh = daily_levels(case)
    assert not fresh[0, 31:49].any()
    assert (level[0, fresh[0]] > 0).all()


def test_the_share_of_days_that_are_their_own_draws_grows_with_the_distance_between_reads() -> None:
    volume = series(np.random.default_rng(12), days=180, shape=20.0)
    volume[90:] *= 1.6
    index = np.concatenate(([0], np.cumsum(np.round(volume * 400).astype(int))))
    gains = []
    for every in (1, 4):
        reads = [(0, 24.0 * day, int(index[day]), "") for day in range(0, 181, every)]
        case, onsets = case_of(fleet_of(), reads, days=181)
        block = weigh(case, onsets)
        gains.append(block.says(0, 0)[1]["gain_nat"])
    # A quarter of the days with a read, but each of them nearly twice as much its own.
    assert gains[1] > 1.2 * 0.25 * gains[0]
    assert INDEPENDENT_DAY < 1
