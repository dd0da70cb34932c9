"""How common faults are by crew, lot and hardware: conjugate, shrinking, never counting one find twice."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.engine import base_rates
from dialtrue.engine.base_rates import Checks, group_log_factor, kind_log_factor, learned_shares
from dialtrue.engine.posterior import PRIOR

SHARES = np.array([PRIOR[code] for code in FAULTS])
WET, DEAD, DECADE = COLUMN["wet_counts"], COLUMN["dead_input"], COLUMN["weight_decade"]


def checks(found: dict[int, str], *, sampled: bool = False) -> Checks:
    """Return one check a port, by row of the fleet."""
    rows = np.array(sorted(found), np.int64)
    return Checks(
        rows, np.array([COLUMN[found[int(row)]] for row in rows], np.int64), np.arange(len(rows), dtype=np.int64),
        np.full(len(rows), sampled), np.ones(len(rows), bool),
    )  # fmt: skip


def factors(groups: list[list[int]], made: Checks) -> np.ndarray:
    return np.exp(group_log_factor(np.array(groups, np.int64), made, SHARES))


def test_shares_follow_a_sample_as_the_dirichlet_says() -> None:
    made = checks({**dict.fromkeys(range(90), "sound"), **dict.fromkeys(range(90, 100), "wet_counts")}, sampled=True)
    got = learned_shares(SHARES / SHARES.sum(), made)
    want = stats.dirichlet.mean(
        base_rates.SHARE_PORTS * SHARES / SHARES.sum() + np.bincount(made.found, minlength=len(FAULTS))
    )
    assert got == pytest.approx(want)
    assert got[WET] > 5 * SHARES[WET]


def test_finds_that_findings_led_to_say_nothing_of_how_common_faults_are_at_all() -> None:
    made = checks(dict.fromkeys(range(50), "wet_counts"))
    assert learned_shares(SHARES / SHARES.sum(), made) == pytest.approx(SHARES / SHARES.sum())


def test_one_groups_factor_is_the_mean_of_gamma_times_poisson(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(base_rates, "CODE_SHAPE", 1e12)
    # Crew 0 has 100 of 400 ports and 6 of the 8 finds that findings led to.
    crew = [[0]] * 100 + [[1]] * 300
    found = {**dict.fromkeys(range(6), "dead_input"), 200: "dead_input", 201: "dead_input"}
    got = factors(crew, checks(found))
    shape = base_rates.FAMILY_SHAPE
    for row, finds, due in ((0, 6, 8 * 100 / 400), (399, 2, 8 * 300 / 400)):

        def weight(theta: float, finds: int = finds, due: float = due) -> float:
            return float(stats.gamma.pdf(theta, shape, scale=1 / shape) * stats.poisson.pmf(finds, theta * due))

        mean = integrate.quad(lambda t: t * weight(t), 0, 40)[0] / integrate.quad(weight, 0, 40)[0]
        assert got[row, DEAD] == pytest.approx(mean, rel=1e-6)
    # The whole family is suspected with it, other families are not.
    assert got[0, WET] > 1.5
    assert got[0, DECADE] == pytest.approx(1.0)
    assert (got[:, COLUMN["sound"]] == 1.0).all()


def test_the_code_that_was_found_rises_more_than_its_family() -> None:
    got = factors([[0]] * 100 + [[1]] * 300, checks(dict.fromkeys(range(6), "dead_input")))
    assert got[0, DEAD] > got[0, WET] > 1.0 > got[399, WET] > got[399, DEAD]


def test_three_bad_ports_of_a_crew_make_nobody_guilty() -> None:
    # Three of sixty at one crew and none at another of the same size: an even guess is still within a factor of two.
    got = factors([[0]] * 60 + [[1]] * 60, checks({0: "dead_input", 1: "dead_input", 2: "start_slip"}))
    assert 0.5 < got[0, DEAD] < 2.0
    assert 0.5 < got[119, DEAD] < 2.0


def test_a_lot_that_only_one_crew_used_is_not_counted_twice() -> None:
    found = dict.fromkeys(range(12), "wet_counts")
    apart = factors([[0]] * 100 + [[1]] * 300, checks(found))
    both = factors([[0, 0]] * 100 + [[1, 1]] * 300, checks(found))
    # Two groupings share the blame for one set of finds: hardly more than one alone, far from its square.
    assert both[0, WET] < 1.35 * apart[0, WET]
    assert both[0, WET] < 0.6 * apart[0, WET] ** 2


def test_a_lot_that_several_crews_used_takes_the_blame_from_the_crew() -> None:
    # Lot 1 is wet with both crews; crew 0 used it more often.
    groups = [[0, 1]] * 80 + [[0, 0]] * 20 + [[1, 1]] * 20 + [[1, 0]] * 80
    found = {**dict.fromkeys(range(12), "wet_counts"), **dict.fromkeys(range(100, 103), "wet_counts")}
    got = factors(groups, checks(found))
    lot = got[0, WET] / got[80, WET]
    crew = got[0, WET] / got[100, WET]
    assert lot > 2 * crew


def test_ports_of_which_the_records_say_nothing_are_left_alone() -> None:
    got = factors([[0]] * 50 + [[1]] * 50 + [[-1]] * 10, checks(dict.fromkeys(range(5), "dead_input")))
    assert (got[-10:] == 1.0).all()
    assert (factors([[-1]] * 10, checks({0: "dead_input"})) == 1.0).all()


def test_a_port_checked_twice_counts_once() -> None:
    once = checks(dict.fromkeys(range(5), "dead_input"))
    twice = Checks(*(np.concatenate([one, one]) for one in
                     (once.row, once.found, once.at_us, once.sampled, once.put_right)))  # fmt: skip
    groups = [[0]] * 50 + [[1]] * 50
    assert factors(groups, twice) == pytest.approx(factors(groups, once))


def test_no_check_means_no_factor() -> None:
    empty = np.zeros(0, np.int64)
    none = Checks(empty, empty, empty, np.zeros(0, bool), np.zeros(0, bool))
    assert (factors([[0], [1]], none) == 1.0).all()


def test_only_a_compound_meters_ports_can_be_swapped() -> None:
    compound = np.zeros(100, bool)
    compound[:20] = True
    got = kind_log_factor(compound)
    assert np.exp(got[0, COLUMN["ports_swapped"]]) == pytest.approx(5.0)
    assert (got[20:] == 0).all()
    assert np.exp(kind_log_factor(np.arange(1000) < 2)[0, COLUMN["ports_swapped"]]) == pytest.approx(8.0)
