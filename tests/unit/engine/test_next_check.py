"""The look that tells most for its cost, and the volume that separates two causes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.domain.watch_settings import Costs
from dialtrue.engine.decision import Stakes
from dialtrue.engine.next_check import NAMES, choose_look, mutual_information, volume_to_separate_l
from dialtrue.engine.observations import CHANCE


def row(**shares: float) -> np.ndarray:
    made = np.zeros((1, len(FAULTS)))
    for code, share in shares.items():
        made[0, COLUMN[code]] = share
    made[0, COLUMN["sound"]] += 1 - made.sum()
    return made


def chosen(*, going: bool = False, volume_l: float = 30_000.0, **shares: float) -> str:
    p = row(**shares)
    stakes = Stakes(
        np.argmax(p, axis=1), np.array([-20_000.0]), np.array([60.0]), np.array([500.0]), np.array([volume_l]),
        np.array([20.0]), np.array([True]),
    )  # fmt: skip
    return NAMES[int(choose_look(p, stakes, np.array([going]), costs=Costs()).look[0])]


def test_information_is_that_of_the_joint_table() -> None:
    rng = np.random.default_rng(5)
    p = rng.dirichlet(np.ones(len(FAULTS)), size=3)
    for chance in CHANCE.values():
        got = mutual_information(p, chance)
        for f in range(3):
            joint = p[f][:, None] * chance
            apart = joint.sum(axis=1)[:, None] * joint.sum(axis=0)[None, :]
            assert got[f] == pytest.approx(stats.entropy(joint.ravel(), apart.ravel()), abs=1e-12)


def test_a_look_without_power_tells_nothing() -> None:
    p = row(lost_counts=0.5)
    nothing = mutual_information(p, CHANCE["photo"], np.zeros((1, len(FAULTS))))
    whole = mutual_information(p, CHANCE["photo"], np.ones((1, len(FAULTS))))
    assert nothing[0] == pytest.approx(0.0, abs=1e-12)
    assert whole[0] == pytest.approx(float(mutual_information(p, CHANCE["photo"])[0]))


@pytest.mark.parametrize(("shares", "from_afar", "on_site"), [
    ({"dead_input": 0.5, "vacant": 0.4}, "photo", "cover_off"),
    ({"wet_counts": 0.7, "customer_leak": 0.2}, "photo", "cover_off"),
    ({"weight_decade": 0.9}, "photo", "draw"),
    ({"crossed": 0.8, "use_change": 0.1}, "photo", "draw_watch_both"),
    ({"stale_index": 0.7, "dead_input": 0.2}, "fresh_read", "draw"),
    ({"clock_shift": 0.8}, "desk", "desk"),
    ({"meter_exchanged": 0.9}, "plate", "cover_off"),
    ({"steady_counts": 0.6, "customer_leak": 0.39}, "photo", "valve_shut"),
    ({"backflow_counted": 0.6, "customer_leak": 0.39}, "photo", "valve_shut"),
    ({"register_mismatch": 0.9}, "known_volume", "known_volume"),
])  # fmt: skip
def test_each_doubt_has_its_own_look(shares: dict[str, float], from_afar: str, on_site: str) -> None:
    assert chosen(**shares) == from_afar
    assert chosen(going=True, **shares) == on_site


def test_causes_that_look_alike_on_a_dial_are_parted_at_the_meter() -> None:
    assert chosen(going=True, extra_counts=0.5, backflow_counted=0.3, steady_counts=0.2) == "valve_shut"


# --- how much has to pass ---------------------------------------------------------------------------------------------


SETTINGS = [(1.0, 0.1, 10.0, 1.0), (1.0, 2.0, 10.0, 1.0), (1.0, 0.8327, 1.0, 1.0), (0.1, 0.1337, 1.0, 1.0)]


@pytest.mark.parametrize(("one", "other", "weight", "step"), SETTINGS)
def test_from_that_volume_on_two_fixed_ratios_never_give_one_index_difference(
    one: float, other: float, weight: float, step: float
) -> None:
    volume = volume_to_separate_l(one, other, weight_l=weight, step_l=step)
    rng = np.random.default_rng(11)

    def differences(ratio: float, passed: float) -> np.ndarray:
        """Index differences for a dial that was read as having moved ``passed``; dial and pulses floor."""
        phase, first = rng.random(20_000), rng.random(20_000)
        true = passed + step * (rng.random(20_000) - first)
        return weight * (np.floor(ratio * true / weight + phase) - np.floor(phase))

    low, high = min(one, other), max(one, other)
    assert differences(low, 1.001 * volume).max() < differences(high, 1.001 * volume).min()
    # A third of it is not enough.
    assert differences(low, volume / 3).max() >= differences(high, volume / 3).min()


def test_the_laundrys_fifty_gallons_do_not_part_a_decade_from_cubic_feet_and_a_hundred_do() -> None:
    # Story 5, weights in gallons.
    assert 50 < volume_to_separate_l(0.1, 0.1337, weight_l=1.0, step_l=1.0) < 100


@pytest.mark.parametrize("share", [0.05, 0.1, 0.2, 0.3])
def test_a_loss_by_chance_stays_apart_from_sound_as_often_as_the_binomial_says(share: float) -> None:
    volume = volume_to_separate_l(1.0, 1 - share, weight_l=1.0, step_l=1e-9, other_by_chance=True)
    pulses = round(volume)
    # Sound gives all pulses but one; the lossy port must fall short of that by one more.
    assert stats.binom.cdf(pulses - 2, pulses, 1 - share) > 0.95
    assert volume > volume_to_separate_l(1.0, 1 - share, weight_l=1.0, step_l=1e-9)


def test_equal_ratios_are_never_told_apart() -> None:
    assert volume_to_separate_l(1.0, 1.0, weight_l=1.0, step_l=1.0) == float("inf")
