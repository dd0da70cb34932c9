"""A plan whose ports are not right is refused, with site and meter."""

from __future__ import annotations

import pytest

from dialtrue.domain.errors import PortMissing, PortsExchanged, PortTaken
from dialtrue.domain.planning.ports import PlannedPort, check_planned_ports, check_port_count, port_label

SINGLE = PlannedPort("S1", "M1", "single", 1, 1)


def compound(high: int | None, low: int | None, *, number: int = 1, other: int | None = None) -> list[PlannedPort]:
    return [PlannedPort("S2", "M2", "high", number, high), PlannedPort("S2", "M2", "low", other or number, low)]


def test_a_plan_in_order_is_accepted() -> None:
    check_planned_ports([SINGLE, *compound(1, 2)])
    check_planned_ports([PlannedPort("S1", "M3", "single", 1, 2), SINGLE])
    check_planned_ports([])


@pytest.mark.parametrize(
    ("ports", "error", "words"),
    [
        (compound(1, None), PortMissing, "site S2, meter M2: compound: second register has no port"),
        (compound(None, None), PortMissing, "the register has no port"),
        ([PlannedPort("S1", "M1", "single", None, None)], PortMissing, "site S1, meter M1: the register has no port"),
        (compound(2, 1), PortsExchanged, "the high register is planned on port 2"),
        (compound(1, 3), PortsExchanged, "the low register is planned on port 3"),
        (compound(1, 2, other=2), PortsExchanged, "on two endpoints"),
        ([SINGLE, PlannedPort("S1", "M9", "single", 1, 1)], PortTaken, "port 1 of endpoint 1 is planned for 2"),
    ],
)
def test_a_wrong_plan_is_refused(ports: list[PlannedPort], error: type[Exception], words: str) -> None:
    with pytest.raises(error, match=words):
        check_planned_ports(ports)


def test_a_count_short_of_more_than_second_registers_says_how_many() -> None:
    rows = [("S1", "M1", "single"), ("S2", "M2", "high"), ("S2", "M2", "low")]
    check_port_count(rows, 3)
    with pytest.raises(PortMissing, match="site S2, meter M2: compound: second register has no port"):
        check_port_count(rows, 2)
    with pytest.raises(PortMissing, match="1 port for 3 registers: 2 registers would have none"):
        check_port_count(rows, 1)


def test_the_label_names_the_register() -> None:
    assert [port_label(role, port) for role, port in (("high", 1), ("low", 2), ("single", 3))] == [
        "PORT 1 = HIGH",
        "PORT 2 = LOW",
        "PORT 3",
    ]
