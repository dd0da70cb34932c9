"""The figures by which a watch is judged: each moves when, and only when, what it speaks of goes wrong."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path

import pytest

from dialtrue.domain.finding import Crossing
from dialtrue.services.watch_quality import (
    Planted,
    Quality,
    calibration_error,
    macro_f1,
    read_planted_ports,
    read_true_crossings,
    score_findings,
)
from tests.support.watch_results import finding


def planted(number: int, fault: str, *, error_l: float = 0.0, water_l: float = 10_000.0, shown_by: str = "") -> Planted:
    return Planted((f"W-{number}", f"E-{number}", 1), fault, error_l, water_l, shown_by)


def told(number: int, fault: str, action: str, **more):
    return finding(meter_serial=f"W-{number}", endpoint_serial=f"E-{number}", fault=fault, action=action, **more)


def ring(number: int, *meters: int) -> list[Crossing]:
    return [
        Crossing(number, f"W-{meter}", f"E-{meter}", f"E-{meters[(place + 1) % len(meters)]}", 1, "", 0.9)
        for place, meter in enumerate(meters)
    ]


def test_a_visit_is_wasted_on_the_sound_and_on_the_innocent_alone() -> None:
    truth = [planted(1, "sound"), planted(2, "customer_leak"), planted(3, "dead_input"), planted(4, "sound")]
    visits = [told(number, "dead_input", "visit") for number in (1, 2, 3)]
    quality = score_findings(truth, visits, days=60)
    assert (quality.visits, quality.healthy) == (2, 3)
    assert quality.port_days == 180
    assert quality.wasted == Counter({("sound", "dead_input"): 1, ("customer_leak", "dead_input"): 1})


def test_a_remote_check_at_a_healthy_port_is_no_visit() -> None:
    quality = score_findings([planted(1, "sound")], [told(1, "lost_counts", "remote_check")], days=30)
    assert (quality.visits, quality.checks) == (0, 1)


@pytest.mark.parametrize(
    ("error_l", "water_l", "material"),
    [(-501, 10_000, True), (-499, 10_000, False), (199, 0, False), (201, 0, True), (501, 10_000, True)],
)
def test_a_fault_is_material_from_a_twentieth_of_the_water_and_two_hundred_litres(error_l, water_l, material) -> None:
    assert planted(1, "lost_counts", error_l=error_l, water_l=water_l).material is material


def test_an_innocent_is_never_a_material_fault() -> None:
    assert not planted(1, "vacant", error_l=5_000).material


def test_flagged_and_named_are_told_apart() -> None:
    truth = [planted(number, "lost_counts", error_l=-2_000, shown_by="dial") for number in (1, 2, 3)]
    judged = [told(1, "lost_counts", "visit"), told(2, "extra_counts", "remote_check"), told(3, "lost_counts", "none")]
    quality = score_findings(truth, judged, days=30)
    assert (quality.material, quality.flagged, quality.rightly) == (3, 2, 2)


def test_what_only_a_second_dial_could_show_is_counted_by_itself() -> None:
    truth = [
        planted(1, "lost_counts", error_l=-2_000, shown_by="second_dial"),
        planted(2, "lost_counts", error_l=-2_000, shown_by="second_dial"),
        planted(3, "lost_counts", error_l=-2_000, shown_by="second_dial"),
        planted(4, "register_mismatch", error_l=-2_000, shown_by="known_volume"),
        planted(5, "dead_input", error_l=-2_000, shown_by="standstill"),
    ]
    judged = [
        told(1, "sound", "remote_check", priority=2.0),
        told(2, "sound", "remote_check", priority=0.0),
        told(3, "lost_counts", "visit", priority=2.0),
        told(5, "dead_input", "visit"),
    ]
    quality = score_findings(truth, judged, days=30)
    assert (quality.hidden, quality.hidden_asked, quality.unknowable) == (3, 1, 1)
    assert (quality.shown, quality.shown_flagged, quality.shown_rightly) == (1, 1, 1)


def test_a_port_without_a_finding_counts_as_sound() -> None:
    quality = score_findings([planted(1, "dead_input", error_l=-900)], [], days=30)
    assert quality.named == Counter({("dead_input", "sound"): 1})
    assert quality.flagged == 0


def test_intervals_are_counted_where_they_are_given() -> None:
    truth = [planted(1, "sound", error_l=5), planted(2, "lost_counts", error_l=-900), planted(3, "sound")]
    judged = [
        told(1, "sound", "none", volume_error_low_l=-10.0, volume_error_high_l=10.0),
        told(2, "lost_counts", "visit", volume_error_low_l=-100.0, volume_error_high_l=0.0),
        told(3, "sound", "none", volume_error_low_l=None, volume_error_high_l=None),
    ]
    quality = score_findings(truth, judged, days=30)
    assert (quality.covered, quality.intervals) == (1, 2)
    assert (quality.fault_covered, quality.fault_intervals) == (0, 1)


def test_a_ring_of_three_told_as_a_pair_is_not_found_whole() -> None:
    truth = [*ring(1, 1, 2, 3), *ring(2, 7, 8)]
    said = [*ring(1, 1, 2), *ring(2, 7, 8)]
    quality = score_findings([], [], days=30, true_crossings=truth, crossings=said)
    assert (quality.crossed, quality.crossed_found) == (5, 3)  # W-1 -> E-2 is true in both
    assert (quality.rings, quality.rings_found) == (3, 1)
    assert (quality.crossings_told, quality.crossings_right) == (4, 3)


def test_macro_f1_weighs_the_rare_code_like_the_common_one() -> None:
    named = Counter({("sound", "sound"): 98, ("dead_input", "sound"): 2})
    # sound: precision 98/100, recall 1; dead_input: never named.
    assert macro_f1(named) == pytest.approx((2 * 98 / (98 + 100) + 0) / 2)
    assert macro_f1(Counter({("sound", "sound"): 3, ("crossed", "crossed"): 1})) == 1.0
    assert math.isnan(macro_f1(Counter()))


def test_macro_f1_agrees_with_the_reference_library() -> None:
    metrics = pytest.importorskip("sklearn.metrics")
    named = Counter({("a", "a"): 7, ("a", "b"): 2, ("b", "a"): 1, ("b", "b"): 5, ("c", "a"): 3, ("c", "c"): 1})
    truth = [code for (code, _), count in named.items() for _ in range(count)]
    said = [name for (_, name), count in named.items() for _ in range(count)]
    assert macro_f1(named) == pytest.approx(metrics.f1_score(truth, said, average="macro"))


def test_calibration_is_nought_where_stated_and_true_shares_agree() -> None:
    assert calibration_error([(0.75, True)] * 3 + [(0.75, False)]) == pytest.approx(0)
    assert calibration_error([(0.95, True), (0.95, False)]) == pytest.approx(0.45)
    assert calibration_error([(1.0, True)] * 9 + [(0.2, True)]) == pytest.approx(0.08)
    assert math.isnan(calibration_error([]))


def test_towns_add_up() -> None:
    one = score_findings([planted(1, "sound")], [told(1, "dead_input", "visit")], days=30)
    whole = Quality()
    whole.add(one)
    whole.add(one)
    assert (whole.towns, whole.ports, whole.visits, whole.port_days) == (2, 2, 2, 60)
    assert whole.named == Counter({("sound", "dead_input"): 2})
    assert len(whole.stated) == 2


def test_truth_is_read_with_its_leading_zeros(tmp_path: Path) -> None:
    (tmp_path / "labels.csv").write_text(
        "meter_serial,endpoint_serial,port,fault,volume_error_l,true_volume_l,shown_by\n"
        "0042,007,2,lost_counts,-1200.5,9000,dial\n0043,008,1,sound,,,\n",
        encoding="utf-8",
    )
    (tmp_path / "crossings.csv").write_text(
        "ring,meter_serial,endpoint_serial,true_endpoint_serial,true_port,kind,probability\n1,0042,007,009,1,wires,1\n",
        encoding="utf-8",
    )
    assert read_planted_ports(tmp_path) == [
        Planted(("0042", "007", 2), "lost_counts", -1200.5, 9000.0, "dial"),
        Planted(("0043", "008", 1), "sound", 0.0, 0.0, ""),
    ]
    assert read_true_crossings(tmp_path)[0].true_endpoint_serial == "009"
