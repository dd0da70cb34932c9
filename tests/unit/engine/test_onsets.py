"""Spans in which a fault may begin, the index at their edges, and what is thought of each before a read is seen."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import FAULTS
from dialtrue.engine.fleet import Fleet
from dialtrue.engine.onset_prior import LATE_SHARE, onset_log_prior, over_onsets
from dialtrue.engine.onsets import SPANS, Onsets, candidate_onsets
from dialtrue.engine.pairing import start_gaps
from tests.support.fleets import HOUR_US, START_US, Read, fleet_of, scan_of

DAY_US = 24 * HOUR_US


def onsets_of(reads: list[Read], fleet: Fleet | None = None, days: int = 70) -> Onsets:
    fleet = fleet_of() if fleet is None else fleet
    scan = scan_of(fleet, reads, days=days)
    return candidate_onsets(fleet, scan, start_gaps(fleet, scan)[0])


def daily(counts: list[int], first_day: int = 0) -> list[Read]:
    return [(0, 24.0 * (first_day + k), count, "") for k, count in enumerate(counts)]


def test_the_spans_are_of_one_length_from_the_fitting_to_the_last_read() -> None:
    onsets = onsets_of(daily([10 * k for k in range(65)]))
    edge = onsets.edge_us[0]
    assert edge[0] == START_US
    assert edge[-1] == START_US + 64 * DAY_US
    assert np.diff(edge) == pytest.approx(2 * DAY_US, abs=2)
    # The candidates are the fitting and the middle of each span.
    assert onsets.at_us[0, 0] == START_US
    assert onsets.at_us[0, 1:] == pytest.approx((edge[:-1] + edge[1:]) / 2, abs=1)


def test_each_moment_lies_in_the_span_that_holds_it() -> None:
    onsets = onsets_of(daily([10 * k for k in range(65)]))
    edge = onsets.edge_us[0]
    assert onsets.span_of(edge[:1]).tolist() == [0]
    assert onsets.span_of(edge[None, 1:-1]).tolist() == [list(range(2, SPANS + 1))]
    assert onsets.span_of(onsets.at_us).tolist() == [list(range(SPANS + 1))]
    # What comes before or after is put to the ends.
    assert onsets.span_of(np.array([[START_US - DAY_US, edge[-1], edge[-1] + DAY_US]])).tolist() == [[0, SPANS, SPANS]]


def test_the_index_at_an_edge_lies_on_the_line_between_the_days_reads() -> None:
    onsets = onsets_of(daily([0, 0, 100, 100, 400, *[400] * 60]))
    walk = np.interp((onsets.edge_us[0] - START_US) / DAY_US, np.arange(65), [0, 0, 100, 100, 400, *[400] * 60])
    assert onsets.edge_l[0] == pytest.approx(walk, abs=1e-3)
    assert (np.diff(onsets.edge_l[0]) >= 0).all()
    assert onsets.edge_l[0, -1] == onsets.still_l[0] == 400.0


def test_between_two_reads_the_index_goes_straight() -> None:
    reads = [(0, 0.0, 0, ""), (0, 24.0 * 32, 320, ""), (0, 24.0 * 64, 1_600, "")]
    onsets = onsets_of(reads)
    days = (onsets.edge_us[0] - START_US) / DAY_US
    assert onsets.edge_l[0] == pytest.approx(np.interp(days, [0, 32, 64], [0, 320, 1_600]), abs=1e-3)
    assert onsets.rate_l_day[0] == pytest.approx(1_600 / 64, rel=1e-6)


def test_from_the_fitting_to_the_first_read_the_start_index_leads() -> None:
    onsets = onsets_of(daily([640 + 20 * k for k in range(33)], first_day=32))
    days = (onsets.edge_us[0] - START_US) / DAY_US
    assert onsets.edge_us[0, 0] == START_US
    before = days < 32
    assert onsets.edge_l[0, before] == pytest.approx(20.0 * days[before], abs=1e-6)
    assert onsets.edge_l[0, -1] == 640 + 20 * 32


def test_a_fitting_years_before_the_first_read_is_none_of_the_windows() -> None:
    fleet = fleet_of(fit_us=[START_US - 2_000 * DAY_US])
    onsets = onsets_of(daily([20 * k for k in range(65)]), fleet)
    assert onsets.edge_us[0, 0] == START_US - 40 * DAY_US


def test_a_port_never_heard_has_spans_all_the_same() -> None:
    onsets = onsets_of(daily([0, 1]), fleet_of(2))
    assert (np.diff(onsets.edge_us[1]) >= 0).all()
    assert np.isfinite(onsets.edge_l[1]).all()


# --- The prior of the onset -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", FAULTS)
@pytest.mark.parametrize("spans", [1, SPANS])
def test_the_prior_of_the_onset_sums_to_one(code: str, spans: int) -> None:
    prior = np.exp(onset_log_prior(code, spans))
    assert prior.sum() == pytest.approx(1.0)
    assert prior[1:].sum() == pytest.approx(LATE_SHARE.get(code, 0.0))
    assert np.ptp(prior[1:]) == 0.0


def test_every_share_of_late_onsets_is_a_fault_and_a_share() -> None:
    assert set(LATE_SHARE) <= set(FAULTS)
    assert all(0 < share <= 1 for share in LATE_SHARE.values())


def test_what_is_the_same_in_every_span_is_not_changed_by_averaging() -> None:
    assert over_onsets(np.full((2, SPANS + 1), -3.5, np.float32), "dead_input") == pytest.approx([-3.5, -3.5])


def test_averaging_is_a_mean_of_likelihoods_and_not_of_their_logarithms() -> None:
    value = np.random.default_rng(1).normal(0, 4, (3, SPANS + 1)).astype(np.float32)
    late = LATE_SHARE["double_count"]
    want = np.log((1 - late) * np.exp(value[:, 0]) + late * np.exp(value[:, 1:]).mean(axis=1))
    assert over_onsets(value, "double_count") == pytest.approx(want, abs=1e-5)


def test_a_fault_that_cannot_be_made_at_the_fitting_looks_at_the_later_spans_only() -> None:
    value = np.zeros((1, SPANS + 1), np.float32)
    value[0, 0] = 50.0
    assert over_onsets(value, "index_reset")[0] == pytest.approx(0.0)
    assert over_onsets(value, "start_slip")[0] == pytest.approx(50.0)
