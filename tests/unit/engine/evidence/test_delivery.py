"""Alarms with their own error rates."""

from __future__ import annotations

from dialtrue.domain.contracts import ALARMS
from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import delivery
from dialtrue.engine.evidence.frame import Block, Case
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import Read, fleet_of


def a_case(alarms: list[tuple[int, int]]) -> Case:
    reads: list[Read] = [read for port in (0, 1) for read in reads_of(home(30, seed=port), channel=port)]
    return case_of(fleet_of(2), reads, days=31, alarms=alarms)[0]


def two_ports(alarms: list[tuple[int, int]]) -> Block:
    return delivery.weigh(a_case(alarms))


def test_a_cut_wire_alarm_speaks_for_a_dead_input_and_its_absence_a_little_against() -> None:
    block = two_ports([(0, ALARMS.index("cut_wire"))])
    dead, sound = COLUMN["dead_input"], COLUMN["sound"]
    assert 2.0 < block.weight(0, dead, sound) < 5.0
    assert -1.0 < block.weight(1, dead, sound) < 0.0


def test_a_flow_without_pause_speaks_for_a_leak_before_it_speaks_for_counts_of_no_water() -> None:
    block = two_ports([(0, ALARMS.index("continuous_flow"))])
    assert block.weight(0, COLUMN["customer_leak"], COLUMN["sound"]) > block.weight(
        0, COLUMN["wet_counts"], COLUMN["sound"]
    )


def test_a_programme_without_alarms_is_no_evidence_of_health() -> None:
    assert not two_ports([]).loglik.any()


def test_the_picture_counts_the_alarms() -> None:
    case = a_case([(0, ALARMS.index("cut_wire")), (0, ALARMS.index("cut_wire"))])
    drawn = delivery.picture(case, 0)
    assert drawn is not None
    assert "cut wire 2" in drawn.caption
    assert delivery.picture(case, 1) is None
