"""Who shares an endpoint, on which port: small cases by hand; the invariants are in tests/property/test_plan.py."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.engine.port_groups import HIGH, LOW, SINGLE, PortGroups, port_groups


def grouped(*rows: tuple[int, int, int], most: int = 2, split: list[bool] | None = None) -> PortGroups:
    """Group rows of site, meter and role, all at one mount."""
    site, serial, role = np.array(rows, dtype=np.int64).reshape(-1, 3).T
    ones = np.zeros(len(rows), np.int64)
    return port_groups(
        site=site,
        serial=serial,
        role=role,
        compound=np.zeros(len(rows), np.bool_),
        mount=ones,
        endpoint=ones - 1,
        most_ports=ones + most,
        split=None if split is None else np.array(split),
    )


@pytest.mark.parametrize(
    ("rows", "most", "places"),
    [
        ([(0, 0, SINGLE), (0, 1, SINGLE), (0, 2, SINGLE)], 2, [(1, 1), (1, 2), (2, 1)]),
        ([(0, 0, SINGLE), (0, 1, SINGLE), (0, 2, SINGLE)], 1, [(1, 1), (2, 1), (3, 1)]),
        ([(0, 0, SINGLE), (1, 1, SINGLE)], 4, [(1, 1), (1, 1)]),
        ([(0, 0, LOW), (0, 0, HIGH)], 2, [(1, 2), (1, 1)]),
        ([(0, 0, LOW), (0, 0, HIGH)], 1, [(1, 2), (1, 1)]),  # no endpoint has two ports: asked, never left out
        ([(0, 9, SINGLE), (0, 0, HIGH), (0, 0, LOW)], 4, [(1, 3), (1, 1), (1, 2)]),
        ([(0, 9, SINGLE), (0, 0, HIGH), (0, 0, LOW)], 2, [(1, 1), (2, 1), (2, 2)]),
        ([(0, 0, HIGH), (0, 0, LOW), (0, 1, HIGH), (0, 1, LOW)], 4, [(1, 1), (1, 2), (2, 1), (2, 2)]),
        ([(0, 0, LOW), (0, 9, SINGLE)], 4, [(1, 2), (1, 3)]),  # port 1 waits for the register that was not surveyed
    ],
)
def test_places_by_hand(rows: list[tuple[int, int, int]], most: int, places: list[tuple[int, int]]) -> None:
    groups = grouped(*rows, most=most)
    assert list(zip(groups.number.tolist(), groups.port.tolist(), strict=True)) == places


def test_a_group_has_room_for_the_register_to_come() -> None:
    assert grouped((0, 0, HIGH)).size.tolist() == [2]


def test_a_meter_that_is_split_off_has_an_endpoint_of_its_own() -> None:
    rows = [(0, 0, SINGLE), (0, 1, SINGLE), (0, 2, SINGLE)]
    groups = grouped(*rows, split=[True, False, False])
    assert groups.number.tolist() == [1, 2, 2]


def test_no_row_gives_no_group() -> None:
    assert len(grouped().size) == 0


def test_what_is_odd_is_marked() -> None:
    groups = grouped((0, 0, SINGLE), (1, 0, SINGLE), (2, 1, LOW))
    assert groups.twice.tolist() == [True, True, False]
    assert groups.one_row.tolist() == [False, False, True]
    assert not groups.apart.any()
