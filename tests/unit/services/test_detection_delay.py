"""Days from onset to the first word, and visits in vain."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import CensoredData, ecdf

from dialtrue.domain.errors import BadTruth
from dialtrue.domain.replay_result import PlantedFault, ReplayStep
from dialtrue.services.detection_delay import delay_curve, read_truth, score_replay
from tests.support.replays import asked

START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)


def day(number: float) -> dt.datetime:
    return START + dt.timedelta(days=number)


def steps(*asked_for: dict[str, str]) -> list[ReplayStep]:
    """One step a week; each maps a meter to the action it asks for."""
    return [
        ReplayStep(day(7 * k), 9, 100, tuple(asked(meter, action=action) for meter, action in actions.items()))
        for k, actions in enumerate(asked_for)
    ]


def fault(meter: str, code: str = "dead_input", since: float | None = 0.0) -> PlantedFault:
    return PlantedFault((meter, f"E-{meter}", 1), code, None if since is None else day(since), code not in
                        ("sound", "vacant"))  # fmt: skip


@given(st.lists(st.tuples(st.integers(0, 12), st.booleans()), min_size=1, max_size=30))
def test_the_curve_is_the_product_limit_estimate_of_a_general_library(waits: list[tuple[int, bool]]) -> None:
    curve = delay_curve("all", waits)
    whole = CensoredData.right_censored(
        np.array([wait for wait, _ in waits], float), np.array([not found for _, found in waits])
    )
    expected = ecdf(whole).cdf
    for at in range(14):
        assert curve.by(at) == pytest.approx(float(expected.evaluate(at)), abs=1e-9)


def test_a_fault_waits_from_its_onset_to_the_first_step_that_asks() -> None:
    score = score_replay(steps({}, {}, {"A": "remote_check"}, {"A": "visit"}), [fault("A", since=3)])
    assert score.curves[0].days == (11.0,)
    assert score.curves[0].median_days == 11.0


def test_a_flag_before_the_onset_is_no_find_and_a_visit_before_it_is_in_vain() -> None:
    score = score_replay(steps({"A": "visit"}, {"A": "visit"}, {}, {"A": "visit"}), [fault("A", since=8)])
    assert score.curves[0].days == (13.0,)
    assert [step.wasted for step in score.steps] == [1, 0, 0, 0]


def test_a_visit_asked_for_again_and_again_is_wasted_once() -> None:
    truth = [fault("A", "sound", None), fault("B", "vacant", 2)]
    score = score_replay(steps({}, {"A": "visit", "B": "remote_check"}, {"A": "visit"}, {"B": "visit"}), truth)
    assert [step.new_visits for step in score.steps] == [0, 1, 0, 1]
    # Two visits among two healthy ports in 21 days.
    assert score.wasted_rate == pytest.approx(2 / (2 * 21) * 30_000)


def test_a_fault_that_began_after_the_last_step_is_not_counted() -> None:
    score = score_replay(steps({}, {}), [fault("A", since=9), fault("B", since=1)])
    assert score.curves[0].ports == 1
    assert score.curves[0].flagged == 0


def test_families_and_codes_share_the_ports_among_them() -> None:
    truth = [fault("A"), fault("B", "wet_counts"), fault("C", "unit_slip"), fault("D", "sound", None)]
    score = score_replay(steps({}, {"A": "visit", "C": "visit"}), truth)
    assert [(curve.name, curve.ports, curve.flagged) for curve in score.curves] == [
        ("all faults", 3, 2), ("wiring and counting", 2, 1), ("settings", 1, 1),
    ]  # fmt: skip
    assert {curve.name for curve in score.by_fault} == {"dead_input", "wet_counts", "unit_slip"}


def test_only_what_misleads_enough_is_material(tmp_path: Path) -> None:
    (tmp_path / "labels.csv").write_text(
        "meter_serial,endpoint_serial,port,fault,since,volume_error_l,true_volume_l\n"
        "A,E,1,lost_counts,2026-01-02T00:00:00Z,-600,10000\n"
        "B,E,2,lost_counts,2026-01-02T00:00:00Z,-400,10000\n"
        "C,E,3,lost_counts,2026-01-02T00:00:00Z,-190,100\n"
        "D,E,4,vacant,,0,0\n",
        encoding="utf-8",
    )
    assert [port.material for port in read_truth(tmp_path)] == [True, False, False, False]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("meter_serial,endpoint_serial,port,fault\nA,E,1,sound\n", "no column since"),
        ("meter_serial,endpoint_serial,port,fault,since\nA,E,one,sound,\n", "row 2"),
        ("meter_serial,endpoint_serial,port,fault,since\nA,E,1,dead_input,May\n", "row 2"),
    ],
)
def test_labels_that_cannot_be_used_are_named(tmp_path: Path, text: str, reason: str) -> None:
    (tmp_path / "labels.csv").write_text(text, encoding="utf-8")
    with pytest.raises(BadTruth, match=reason):
        read_truth(tmp_path)


def test_a_folder_without_labels_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadTruth, match=r"labels\.csv"):
        read_truth(tmp_path)
