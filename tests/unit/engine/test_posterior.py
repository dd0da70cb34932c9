"""The posterior: blocks add up, nothing else does."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.engine.evidence.frame import Block
from dialtrue.engine.onset_prior import LATE_SHARE
from dialtrue.engine.onsets import SPANS, Onsets
from dialtrue.engine.posterior import CANDOUR, PRIOR, combine, onset_interval
from tests.support.fleets import HOUR_US, START_US

DAY_US = 24 * HOUR_US


def block(ports: int, **says: float) -> Block:
    """Return a block that says the same of every port."""
    made = Block.blank("a block", ports, lambda row, column: ("", {}))
    for code, amount in says.items():
        made.add(code, np.ones(ports, bool), amount)
    return made


def test_every_fault_has_a_prior_share() -> None:
    assert set(PRIOR) == set(FAULTS)
    assert min(PRIOR.values()) > 0


def test_without_evidence_the_posterior_is_the_prior() -> None:
    p = combine([block(3)], learn=False).probability
    total = sum(PRIOR.values())
    assert p == pytest.approx(np.tile([PRIOR[code] / total for code in FAULTS], (3, 1)))


def test_evidence_moves_the_odds_by_its_nats() -> None:
    before = combine([block(1)], learn=False).probability[0]
    after = combine([block(1, dead_input=3.0), block(1, sound=-1.0)], learn=False).probability[0]
    dead, sound = COLUMN["dead_input"], COLUMN["sound"]
    moved = np.log(after[dead] / after[sound]) - np.log(before[dead] / before[sound])
    assert moved == pytest.approx(CANDOUR * 4.0)


def test_shares_are_kept_where_learning_is_off() -> None:
    loud = block(400, lost_counts=12.0)
    total = sum(PRIOR.values())
    kept = combine([loud], learn=False).shares
    assert kept == pytest.approx([PRIOR[code] / total for code in FAULTS])
    learned = combine([loud]).shares
    assert learned[COLUMN["sound"]] < 0.7 * kept[COLUMN["sound"]]
    assert learned[COLUMN["lost_counts"]] > 5 * kept[COLUMN["lost_counts"]]


def test_causes_that_look_alike_keep_their_odds_however_many_ports_show_them() -> None:
    alike = block(400, steady_counts=12.2, backflow_counted=12.0)
    p = combine([alike]).probability[0]
    assert np.log(p[COLUMN["steady_counts"]] / p[COLUMN["backflow_counted"]]) == pytest.approx(
        CANDOUR * 0.2 + np.log(PRIOR["steady_counts"] / PRIOR["backflow_counted"])
    )


def test_what_nothing_explains_is_not_learned() -> None:
    odd = combine([block(400, not_listed=12.0)])
    assert odd.shares[COLUMN["not_listed"]] < 3 * PRIOR["not_listed"]


def test_a_share_of_ones_own_replaces_the_shipped_one() -> None:
    usual = combine([block(1)], learn=False).probability[0, COLUMN["wet_counts"]]
    damp = combine([block(1)], prior={"wet_counts": 0.1}, learn=False).probability[0, COLUMN["wet_counts"]]
    assert damp > 20 * usual


# --- Since when -----------------------------------------------------------------------------------------------------


def spans_of(ports: int) -> Onsets:
    """Return spans of three days each for like ports; the index plays no part."""
    edge = np.tile(START_US + np.arange(SPANS + 1) * 3 * DAY_US, (ports, 1)).astype(np.int64)
    at = np.concatenate((edge[:, :1], (edge[:, :-1] + edge[:, 1:]) // 2), axis=1)
    none = np.zeros(ports)
    return Onsets(edge, edge.astype(float), at, none, none)


def test_the_interval_holds_the_planted_onset_as_often_as_it_says() -> None:
    ports, late = 4_000, LATE_SHARE["dead_input"]
    random = np.random.default_rng(12)
    onsets = spans_of(ports)
    later = random.random(ports) < late
    true_us = np.where(later, START_US + random.uniform(0, SPANS * 3 * DAY_US, ports), START_US).astype(np.int64)
    # A watcher of a noisy clock: its log-likelihood of each candidate, divided by candour, which is taken off again.
    sd = 9 * DAY_US
    heard = true_us + random.normal(0, sd, ports)
    z = (heard[:, None] - onsets.at_us) / sd
    told = {"dead_input": (-0.5 * z**2 / CANDOUR).astype(np.float32)}
    code = np.full(ports, COLUMN["dead_input"])
    since, low, high = onset_interval(told, onsets, code, np.zeros(ports, np.int64))
    held = (low <= true_us) & (true_us <= high)
    # Whole spans are kept, so it holds a little more than nine in ten.
    assert 0.89 <= held.mean() <= 0.96
    assert (low <= since).all()
    assert (since <= high).all()
    assert np.median(np.abs(since - true_us)) < 8 * DAY_US


def sharp(k: int) -> dict[str, np.ndarray]:
    value = np.full((1, 1 + SPANS), -30.0, np.float32)
    value[0, k] = 0.0
    return {"dead_input": value}


DEAD = np.array([COLUMN["dead_input"]])


def test_a_moment_that_a_block_names_is_taken_where_the_spans_agree() -> None:
    onsets = spans_of(1)
    exact = np.array([START_US + 10 * 3 * DAY_US + DAY_US])
    since, low, high = onset_interval(sharp(11), onsets, DEAD, exact)
    assert since[0] == exact[0]
    assert low[0] <= exact[0] <= high[0]
    assert high[0] - low[0] <= 4 * 3 * DAY_US


def test_a_moment_that_the_spans_speak_against_is_not_taken() -> None:
    onsets = spans_of(1)
    exact = np.array([START_US + 25 * 3 * DAY_US])
    since, low, high = onset_interval(sharp(11), onsets, DEAD, exact)
    assert since[0] == onsets.at_us[0, 11]
    assert (low[0], high[0]) == (onsets.edge_us[0, 10], onsets.edge_us[0, 11])


def test_the_fitting_itself_is_an_onset_without_width() -> None:
    onsets = spans_of(1)
    since, low, high = onset_interval(sharp(0), onsets, DEAD, np.zeros(1, np.int64))
    assert since[0] == low[0] == high[0] == START_US


def test_where_no_block_says_when_the_fitting_is_named() -> None:
    onsets = spans_of(1)
    since, low, high = onset_interval({}, onsets, DEAD, np.zeros(1, np.int64))
    assert since[0] == low[0] == high[0] == START_US


def test_each_row_is_asked_about_its_own_fault() -> None:
    onsets = spans_of(2)
    told = {"dead_input": np.repeat(sharp(11)["dead_input"], 2, axis=0), "double_count": np.zeros((2, 1 + SPANS), "f4")}
    told["double_count"][1, 20] = 40.0
    codes = np.array([COLUMN["dead_input"], COLUMN["double_count"]])
    since, _, _ = onset_interval(told, onsets, codes, np.zeros(2, np.int64))
    assert since.tolist() == [onsets.at_us[0, 11], onsets.at_us[1, 20]]
