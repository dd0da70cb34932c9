"""What a plan asks for is what the town holds: shares apart, rounds of dial reads, rounds of the van, onsets."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from itertools import pairwise

import numpy as np
import pytest

from dialtrue.domain.errors import BadTownPlan
from dialtrue.domain.faults import INNOCENT
from dialtrue.engine.simulation.town import READ_EVERY_S, Town, TownPlan, build_town


def _kinds(town: Town) -> Counter[str]:
    return Counter(
        "sound" if code == "sound" else "innocent" if code in INNOCENT else "fault"
        for code in town.labels["fault"].to_pylist()
    )


def _looks(town: Town) -> dict[tuple[str, str], list[dict]]:
    looks: dict[tuple[str, str], list[dict]] = defaultdict(list)
    for row in town.dial_reads.to_pylist():
        if row["source"] != "fitter":
            looks[(row["meter_serial"], row["register_role"])].append(row)
    return looks


@pytest.mark.parametrize(("fault_share", "innocent_share"), [(0.04, 0.1), (0.1, 0.0), (0.0, 0.1)])
def test_faults_and_innocents_are_planted_in_their_own_shares(fault_share: float, innocent_share: float) -> None:
    town = build_town(TownPlan(seed=8, registers=300, days=14, fault_share=fault_share, innocent_share=innocent_share))
    kinds = _kinds(town)
    assert kinds["innocent"] == pytest.approx(300 * innocent_share, abs=2)
    assert kinds["fault"] == pytest.approx(300 * fault_share, abs=8)  # each code once, rings round up


def test_slips_of_the_hand_cluster_by_crew_and_resets_do_not() -> None:
    uneven: dict[str, list[float]] = {"start_slip": [], "index_reset": []}
    for seed in range(12):
        for code, shares in uneven.items():
            plan = TownPlan(seed=seed, registers=240, days=14, fault_share=0.12, faults={code: 1},
                            read_interval_s=86_400)  # fmt: skip
            town = build_town(plan)
            crew = {row["endpoint_serial"]: row["fitter"] for row in town.fittings.to_pylist()}
            count = Counter(crew[row["endpoint_serial"]] for row in town.labels.to_pylist() if row["fault"] == code)
            shares.append(max(count.values()) / sum(count.values()))
    assert np.mean(uneven["start_slip"]) > np.mean(uneven["index_reset"]) + 0.1


def test_a_rare_fault_is_drawn_and_not_always_the_commonest() -> None:
    plans = [TownPlan(seed=seed, registers=60, days=14, fault_share=0.02, innocent_share=0.0) for seed in range(30)]
    seen = Counter(code for plan in plans for code in build_town(plan).labels["fault"].to_pylist())
    assert len(seen) > 8


def test_dense_dial_reads_come_monthly_on_nearly_every_register() -> None:
    town = build_town(TownPlan(seed=8, registers=120, days=120, dial_reads="dense", read_interval_s=86_400))
    looks = _looks(town)
    assert len(looks) > 0.93 * town.sites.num_rows
    gaps = []
    for rows in looks.values():
        days = sorted(row["at"] for row in rows if row["source"] == "reader")
        gaps += [(b - a).total_seconds() / 86_400 for a, b in pairwise(days)]
    assert np.median(gaps) == pytest.approx(30, abs=2)


def test_sparse_dial_reads_come_once_on_a_third_of_the_registers() -> None:
    town = build_town(TownPlan(seed=8, registers=300, days=60, dial_reads="sparse", read_interval_s=86_400))
    looks = _looks(town)
    assert 0.2 < len(looks) / town.sites.num_rows < 0.45
    assert np.mean([len(rows) for rows in looks.values()]) < 1.2


def test_some_dial_reads_are_wrong_and_the_labels_say_which() -> None:
    town = build_town(TownPlan(seed=8, registers=300, days=120, dial_reads="dense", read_interval_s=86_400))
    wrong = sum(len(row["dial_misread"].split()) for row in town.labels.to_pylist() if row["dial_misread"])
    assert 0.003 < wrong / town.dial_reads.num_rows < 0.02


def test_monthly_reads_come_with_the_van_some_days_early_or_late() -> None:
    town = build_town(TownPlan(seed=8, registers=60, days=200, read_interval_s=READ_EVERY_S["monthly"]))
    by_port: dict[tuple[str, int], list[dt.datetime]] = defaultdict(list)
    for row in town.reads.select(["endpoint_serial", "port", "at"]).to_pylist():
        by_port[(row["endpoint_serial"], row["port"])].append(row["at"])
    gaps = [(b - a).total_seconds() / 86_400 for at in by_port.values() for a, b in pairwise(at[1:])]
    assert np.median(gaps) == pytest.approx(30, abs=3)
    assert np.std([gap for gap in gaps if gap < 45]) > 1.0


def test_faults_begin_where_the_plan_lets_them() -> None:
    plan = TownPlan(
        seed=8, registers=80, days=60, fault_share=0.3, faults={"index_reset": 1}, onset_span=(0.9, 0.95),
        read_interval_s=86_400,
    )  # fmt: skip
    late = [row["since"] for row in build_town(plan).labels.to_pylist() if row["fault"] == "index_reset"]
    assert len(late) == 24
    assert min(late) > plan.start + dt.timedelta(days=0.9 * 60)


@pytest.mark.parametrize(
    ("name", "value"),
    [("innocent_share", 0.95), ("innocent_share", -0.1), ("dial_reads", "often"), ("onset_span", (0.5, 0.2))],
)
def test_a_share_or_a_span_that_cannot_be_is_refused(name: str, value: object) -> None:
    with pytest.raises(BadTownPlan) as caught:
        TownPlan(**{"seed": 1, name: value})
    assert caught.value.facts["name"] == name
