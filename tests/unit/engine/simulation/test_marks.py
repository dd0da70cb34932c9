"""What the files could show of a planted fault: the yardstick by which a miss is called a miss."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable

import numpy as np
import pytest

from dialtrue.engine.simulation import keying, wiring
from dialtrue.engine.simulation.dial_rounds import Look
from dialtrue.engine.simulation.marks import KNOWN_VOLUME, SECOND_DIAL, shown_by
from dialtrue.engine.simulation.port import Port
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S
from dialtrue.engine.simulation.town import READ_EVERY_S, Town, TownPlan, build_town
from tests.support.known_water import FIRST_S

MakePort = Callable[..., Port]
MIDDLE_S = FIRST_S + 25 * DAY_S


def look(port: Port, day: float, *, wrong: bool = False) -> Look:
    at_s = int(FIRST_S + day * DAY_S)
    return Look(at_s, at_s + 60, "reader", port.dial_at(at_s), wrong)


def losing(port_of: MakePort, *, severity: float = 0.4, onset_s: int = FIRST_S) -> Port:
    for seed in range(60):
        port = port_of("lost_counts", severity=severity, onset_s=onset_s)
        wiring.lost_counts(port, np.random.default_rng(seed))
        if port.variant == "random":
            break
    port.run_counter()
    return port


def test_a_sound_port_has_nothing_to_show(port_of: MakePort) -> None:
    port = port_of("sound")
    port.run_counter()
    assert shown_by(port, port, [look(port, 30)], interval_s=HOUR_S) == ""


def test_a_right_look_after_the_onset_shows_lost_counts_and_nothing_else_does(port_of: MakePort) -> None:
    port = losing(port_of)
    assert shown_by(port, port, [], interval_s=HOUR_S) == SECOND_DIAL
    assert shown_by(port, port, [look(port, 30)], interval_s=HOUR_S) == "dial"


def test_a_misread_look_shows_nothing(port_of: MakePort) -> None:
    port = losing(port_of)
    assert shown_by(port, port, [look(port, 30, wrong=True)], interval_s=HOUR_S) == SECOND_DIAL


def test_a_look_before_the_onset_shows_nothing(port_of: MakePort) -> None:
    port = losing(port_of, onset_s=MIDDLE_S)
    assert shown_by(port, port, [look(port, 20)], interval_s=HOUR_S) == SECOND_DIAL
    assert shown_by(port, port, [look(port, 50)], interval_s=HOUR_S) == "dial"


def test_a_loss_within_the_grain_is_not_shown_by_the_dial(port_of: MakePort) -> None:
    port = losing(port_of, severity=0.0)
    assert shown_by(port, port, [look(port, 0.4)], interval_s=HOUR_S) == SECOND_DIAL


def test_a_tenfold_weight_shows_in_the_history(port_of: MakePort) -> None:
    for seed in range(40):
        port = port_of("weight_decade")
        keying.weight_decade(port, np.random.default_rng(seed))
        port.run_counter()
        if port.variant == "weight_hidden":
            break
    assert shown_by(port, port, [], interval_s=HOUR_S) == "history"


def test_a_wrong_record_shows_in_the_records(port_of: MakePort) -> None:
    for seed in range(40):
        port = port_of("weight_decade")
        keying.weight_decade(port, np.random.default_rng(seed))
        port.run_counter()
        if port.variant == "weight_on_record":
            break
    assert shown_by(port, port, [], interval_s=HOUR_S) == "records"


@pytest.fixture(scope="module", params=["hourly", "monthly"])
def town(request: pytest.FixtureRequest) -> Town:
    return build_town(
        TownPlan(seed=21, registers=300, days=120, fault_share=0.4, innocent_share=0.1, dial_reads="sparse",
                 read_interval_s=READ_EVERY_S[request.param], onset_span=(0.0, 1.0))
    )  # fmt: skip


def test_only_faults_have_a_mark(town: Town) -> None:
    for row in town.labels.to_pylist():
        healthy = row["fault"] in ("sound", "vacant", "customer_leak", "use_change")
        assert (row["shown_by"] is None) == healthy, row


def test_each_mark_belongs_to_its_faults(town: Town) -> None:
    marks: dict[str, Counter[str]] = defaultdict(Counter)
    for row in town.labels.to_pylist():
        if row["shown_by"]:
            marks[row["shown_by"]][row["fault"]] += 1
    assert set(marks["delivery"]) <= {"stale_index", "clock_shift"}
    assert set(marks[KNOWN_VOLUME]) <= {"register_mismatch"}
    assert set(marks["rain"]) <= {"wet_counts"}
    assert "register_mismatch" not in marks["dial"]
    assert "stale_index" not in marks["dial"]
    assert sum(marks[SECOND_DIAL].values()) > 5


def test_no_right_look_means_no_mark_on_the_dial(town: Town) -> None:
    for row in town.labels.to_pylist():
        if row["shown_by"] == "dial":
            assert row["right_looks"] > 0, row
