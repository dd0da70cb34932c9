"""The honest end of a demo: misses and false alarms are counted, not only hits."""

from __future__ import annotations

from pathlib import Path

from dialtrue.services.compare_planted import read_planted, score_planted
from tests.support.watch_results import finding


def key(number: int) -> tuple[str, str, int]:
    return f"W-{number}", f"E-{number}", 1


def found(number: int, fault: str, action: str):
    return finding(meter_serial=f"W-{number}", endpoint_serial=f"E-{number}", fault=fault, action=action)


def test_each_planted_fault_is_named_named_otherwise_or_unnoticed() -> None:
    truth = {key(1): "dead_input", key(2): "dead_input", key(3): "crossed", key(4): "unit_slip"}
    findings = [
        found(1, "dead_input", "visit"),
        found(2, "lost_counts", "visit"),
        found(3, "sound", "none"),
    ]
    score = score_planted(truth, findings)
    assert (score.planted, score.named, score.named_otherwise, score.unnoticed) == (4, 1, 1, 2)
    assert set(score.missed) == {("dead_input", 1, 2), ("crossed", 1, 1), ("unit_slip", 1, 1)}


def test_false_alarms_on_sound_ports_and_customers_are_counted() -> None:
    truth = {key(1): "sound", key(2): "sound", key(3): "sound", key(4): "vacant", key(5): "customer_leak"}
    findings = [
        found(1, "sound", "none"),
        found(2, "dead_input", "visit"),
        found(3, "start_slip", "remote_check"),
        found(4, "dead_input", "visit"),
        found(5, "customer_leak", "none"),
    ]
    score = score_planted(truth, findings)
    assert (score.sound, score.sound_visits, score.sound_checks) == (3, 1, 1)
    assert (score.innocent, score.innocent_visits) == (2, 1)
    assert score.planted == 0


def test_labels_keep_leading_zeros(tmp_path: Path) -> None:
    (tmp_path / "labels.csv").write_text(
        "meter_serial,endpoint_serial,port,fault\n0042,007,2,sound\n", encoding="utf-8"
    )
    assert read_planted(tmp_path) == {("0042", "007", 2): "sound"}
