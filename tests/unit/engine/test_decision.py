"""What to do about a posterior: certain things are simple, innocents are left in peace, waste is dear, a look is worth
what it changes."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import CATALOGUE, COLUMN, FAULTS, INNOCENT
from dialtrue.domain.watch_settings import Costs
from dialtrue.engine.decision import ACTIONS, LOOKED_AT, UNPAIRED_MOST, Stakes, decide, leaving_costs, temper
from dialtrue.engine.observations import CHANCE, LOOKS, OUTCOMES, photo_power

WELL = ("sound", *sorted(INNOCENT))


def certain(code: str, share: float = 1.0, rest: str = "sound") -> np.ndarray:
    """Return one row with ``share`` on a code and what is left on another."""
    row = np.zeros((1, len(FAULTS)))
    row[0, COLUMN[rest]] = 1 - share
    row[0, COLUMN[code]] += share
    return row


def stakes(
    probability: np.ndarray, *, error_l: float = -20_000.0, use_l_day: float = 500.0, looked_at: bool = True
) -> Stakes:
    n = len(probability)
    return Stakes(
        np.argmax(probability, axis=1), np.full(n, error_l), np.full(n, 60.0), np.full(n, use_l_day),
        np.full(n, 30_000.0), np.full(n, 20.0), np.full(n, looked_at),
    )  # fmt: skip


def action(probability: np.ndarray, *, costs: Costs | None = None, **case: float | bool) -> str:
    decision = decide(probability, stakes(probability, **case), costs=costs)  # type: ignore[arg-type]
    return ACTIONS[int(decision.action[0])]


def test_a_sound_port_that_was_looked_at_is_left_alone() -> None:
    assert action(certain("sound"), error_l=0.0) == "none"


def test_a_dead_input_of_long_standing_is_visited() -> None:
    assert action(certain("dead_input"), error_l=-60_000.0) == "visit"


@pytest.mark.parametrize("code", sorted(INNOCENT))
@pytest.mark.parametrize("error_l", [0.0, -1e6, float("nan")])
def test_innocents_are_never_visited(code: str, error_l: float) -> None:
    assert action(certain(code), error_l=error_l) == "none"
    assert action(certain(code, 0.9, "dead_input"), error_l=error_l) != "visit"


@pytest.mark.parametrize("code", ["stale_index", "clock_shift"])
@pytest.mark.parametrize("share", [0.6, 0.9, 1.0])
def test_late_or_shifted_data_goes_to_the_desk(code: str, share: float) -> None:
    assert action(certain(code, share), error_l=-1e6) == "remote_check"


def test_doubt_asks_for_a_photograph_before_a_van() -> None:
    row = certain("dead_input", 0.4)
    decision = decide(row, stakes(row))
    assert ACTIONS[int(decision.action[0])] == "remote_check"
    assert LOOKED_AT[int(decision.look[0])] == "photo"


def test_a_repeated_index_is_settled_by_a_fresh_read_or_in_the_files() -> None:
    row = certain("stale_index", 0.5, "dead_input")
    assert LOOKED_AT[int(decide(row, stakes(row)).look[0])] in ("fresh_read", "desk")


def test_a_wasted_visit_that_is_dearer_means_fewer_visits() -> None:
    rows = np.concatenate([certain("dead_input", share) for share in np.linspace(0, 1, 201)])
    visits = [
        int((decide(rows, stakes(rows), costs=Costs(wasted_visit=dear)).action == ACTIONS.index("visit")).sum())
        for dear in (0.5, 2.5, 10.0, 40.0)
    ]
    assert visits == sorted(visits, reverse=True)
    assert visits[0] > visits[-1] > 0


def test_a_photograph_that_costs_nothing_is_never_declined_where_a_fault_may_be() -> None:
    row = certain("dead_input", 0.02)
    assert action(row, costs=Costs(remote_check=0.0)) == "remote_check"
    assert action(row, costs=Costs(remote_check=0.9)) == "none"


def test_the_gain_of_a_look_is_the_preposterior_sum_done_by_hand() -> None:
    row = certain("dead_input", 0.3)
    case, costs = stakes(row), Costs(check_days=0.0, visit_days=0.0)
    dead, sound = COLUMN["dead_input"], COLUMN["sound"]
    leave = float(leaving_costs(case, costs)[0][0, dead])
    chance = CHANCE["photo"]
    total = costs.remote_check
    for outcome in range(chance.shape[1]):
        p_dead, p_sound = 0.3 * chance[dead, outcome], 0.7 * chance[sound, outcome]
        go = p_dead * (costs.visit + 0.03 * leave) + p_sound * (costs.visit + costs.wasted_visit)
        file = (p_dead + p_sound) * costs.desk_check + p_dead * leave
        again = p_dead * (costs.visit + 0.03 * leave) + (p_dead + p_sound) * costs.remote_check
        total += min(p_dead * leave, go, file, again)
    assert decide(row, case, costs=costs).gain[0] == pytest.approx(0.3 * leave - total, rel=1e-6)


def test_the_larger_error_comes_first() -> None:
    rows = np.repeat(certain("dead_input"), 2, axis=0)
    case = stakes(rows)
    case.error_l[:] = (-20_000.0, -50_000.0)
    priority = decide(rows, case).priority
    assert priority[1] > priority[0]


def test_billing_too_much_may_be_priced_apart_from_billing_too_little() -> None:
    rows = np.repeat(certain("weight_decade"), 2, axis=0)
    case = stakes(rows)
    case.error_l[:] = (20_000.0, -20_000.0)
    over, under = decide(rows, case, costs=Costs(over_per_m3=0.2, under_per_m3=0.01)).priority
    assert over > under


def test_an_unknown_error_or_use_is_no_reason_to_fail() -> None:
    row = certain("dead_input")
    case = stakes(row)
    for figures in (case.error_l, case.days, case.use_l_day, case.volume_l, case.grain_l):
        figures[:] = np.nan
    decision = decide(row, case)
    assert np.isfinite(decision.priority).all()
    assert np.isfinite(decision.gain).all()


def test_no_port_at_all_is_no_reason_to_fail() -> None:
    none = np.zeros((0, len(FAULTS)))
    assert len(decide(none, stakes(none)).action) == 0


def mostly_sound(n: int, doubt: np.ndarray) -> np.ndarray:
    rows = np.repeat(certain("sound"), n, axis=0)
    rows[:, COLUMN["lost_counts"]] = doubt
    rows[:, COLUMN["sound"]] -= doubt
    return rows


def test_the_months_budget_goes_to_ports_never_looked_at_the_most_useful_first() -> None:
    doubt = np.linspace(0.0, 0.01, 1000)
    rows = mostly_sound(1000, doubt)
    case = stakes(rows, looked_at=False, error_l=0.0)
    case.looked_at[-5:] = True
    decision = decide(rows, case, prior=rows.mean(axis=0), remote_checks_per_1000=20.0)
    asked = np.flatnonzero(decision.action == ACTIONS.index("remote_check"))
    assert decision.routine.sum() == 20
    assert asked.tolist() == list(range(975, 995))
    assert not (decide(rows, case, prior=rows.mean(axis=0), remote_checks_per_1000=0.0).action).any()


def test_what_a_ports_own_evidence_calls_for_does_not_draw_on_the_budget() -> None:
    rows = mostly_sound(1000, np.full(1000, 0.01))
    rows[:30] = certain("dead_input", 0.5)
    case = stakes(rows, looked_at=False)
    decision = decide(rows, case, prior=certain("sound", 0.98, "dead_input")[0], remote_checks_per_1000=20.0)
    assert (decision.action[:30] > 0).all()
    assert decision.routine.sum() == 20
    assert not decision.routine[:30].any()


def test_a_fault_that_was_put_right_asks_for_nothing() -> None:
    row = certain("dead_input")
    assert decide(row, stakes(row), settled=np.array([True])).action[0] == 0


@pytest.mark.parametrize(("looked_at", "arithmetic", "most"), [(False, False, UNPAIRED_MOST), (True, False, 0.99),
                                                               (False, True, 0.99)])  # fmt: skip
def test_no_fault_is_stated_above_095_without_a_look_or_arithmetic(
    looked_at: bool, arithmetic: bool, most: float
) -> None:
    row = certain("dead_input", 0.99, "vacant")
    got = temper(row, np.array([looked_at]), np.array([arithmetic]))
    assert got[0, COLUMN["dead_input"]] == pytest.approx(most)
    assert got.sum() == pytest.approx(1.0)
    assert np.argmax(got) == COLUMN["dead_input"]


def test_tempering_leaves_doubt_where_there_was_none_at_all() -> None:
    got = temper(certain("dead_input"), np.array([False]), np.array([False]))
    assert got[0, COLUMN["sound"]] == pytest.approx(1 - UNPAIRED_MOST)


def test_without_a_look_even_a_near_certain_loss_is_photographed_first() -> None:
    row = temper(certain("dead_input", 0.999, "vacant"), np.array([False]), np.array([False]))
    assert action(row, looked_at=False, error_l=-30_000.0) == "remote_check"


def test_chances_are_chances_and_every_code_in_them_is_a_code() -> None:
    for name, table in CHANCE.items():
        assert np.allclose(table.sum(axis=1), 1.0)
        assert (table > 0).all()
        assert set(OUTCOMES[name]) <= set(FAULTS)
        for code, row in OUTCOMES[name].items():
            assert len(row) == len(LOOKS[name].outcomes), (name, code)
            assert sum(row) == pytest.approx(1.0, abs=1e-9), (name, code)


def test_a_photograph_says_nothing_until_more_than_the_grain_has_passed() -> None:
    power = photo_power(np.array([0.0, 10.0, 10_000.0]), np.array([100.0, 100.0, 100.0]))
    lost = power[:, COLUMN["lost_counts"]]
    assert lost[0] == 0.0
    assert lost[1] < 0.01
    assert lost[2] > 0.99
    assert (power[:, COLUMN["start_slip"]] == 1.0).all()


@pytest.mark.parametrize("code", [code for code in FAULTS if CATALOGUE[code].kind not in ("sound", "innocent")])
def test_every_fault_that_is_certain_asks_for_something(code: str) -> None:
    assert action(certain(code)) != "none"


def test_what_nothing_listed_explains_is_looked_at_before_anybody_goes() -> None:
    assert action(certain("not_listed"), error_l=-200_000.0) == "remote_check"
