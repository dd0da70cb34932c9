"""Registers of a whole programme to endpoints and ports: who shares one, in which order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

SINGLE, HIGH, LOW = 0, 1, 2
"""Codes of the register's role."""


@dataclass(frozen=True, slots=True)
class PortGroups:
    """Where each register goes. Arrays follow the rows, except ``size``, ``mount`` and ``endpoint`` (one a group).

    ``group`` number of the endpoint, counted over the programme; ``number`` counted at the site from 1; ``port`` from
    1. ``twice``, ``one_row``, ``apart``: the same register in two rows; a compound meter with one row; its rows at two
    mounts or endpoints. ``unit``: number of the meter. ``size`` ports that the group needs; ``mount``, ``endpoint``
    codes of its first row.
    """

    group: Ints
    number: Ints
    port: Ints
    unit: Ints
    twice: Flags
    one_row: Flags
    apart: Flags
    size: Ints
    mount: Ints
    endpoint: Ints


def port_groups(
    *,
    site: Ints,
    serial: Ints,
    role: Ints,
    compound: Flags,
    mount: Ints,
    endpoint: Ints,
    most_ports: Ints,
    split: Flags | None = None,
) -> PortGroups:
    """Group registers to endpoints.

    Parameters
    ----------
    site, serial, mount, endpoint : int64, shape (n,)
        Codes of site, meter, mount and of the endpoint that the survey names; -1 is blank.
    role : int64, shape (n,)
        ``SINGLE``, ``HIGH`` or ``LOW``.
    compound : bool, shape (n,)
        The survey calls the meter a compound.
    most_ports : int64, shape (n,)
        Most ports of any endpoint that may serve the row.
    split : bool, shape (n,), optional
        Rows whose meter gets an endpoint of its own.

    Returns
    -------
    PortGroups
        The two registers of a compound meter are on ports 1 and 2 of one endpoint, high and low, always. Other meters
        of the same site and mount follow on the ports that are left, in the order of the rows.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition; the fixed order of high and low is our rule (``domain.planning.ports``).
    """
    rows = len(site)
    order = np.arange(rows)
    alone = (role == SINGLE) & ~compound
    # A meter of one register is a unit of its own row; the rows of a compound meter are one unit.
    unit = np.where(alone, -1 - order, site * (serial.max(initial=-1) + 2) + serial)
    _, unit_first, unit = np.unique(unit, return_index=True, return_inverse=True)
    unit = unit.reshape(-1)
    in_unit = np.bincount(unit, minlength=len(unit_first))
    is_pair = ~alone[unit_first]
    width = np.where(is_pair, 2, 1)
    twice = _twice(serial, role)
    one_row = is_pair[unit] & (in_unit[unit] == 1)
    apart = (mount != mount[unit_first][unit]) | (endpoint != endpoint[unit_first][unit])
    unit_group = _units_to_groups(
        np.stack([site[unit_first], mount[unit_first], endpoint[unit_first]]),
        unit_first,
        is_pair,
        most_ports[unit_first],
        np.zeros(len(unit_first), np.bool_) if split is None else split[unit_first],
    )
    group_raw = unit_group[unit]
    # Number the groups by the first row of each.
    _, group_first, group_raw = np.unique(group_raw, return_index=True, return_inverse=True)
    by_row = np.argsort(group_first, kind="stable")
    rank = np.empty(len(by_row), np.int64)
    rank[by_row] = np.arange(len(by_row))
    group = rank[group_raw.reshape(-1)]
    group_first = group_first[by_row]
    port = _ports(group, unit, unit_first, role, is_pair)
    size = np.zeros(len(group_first), np.int64)
    np.add.at(size, group[unit_first], width)
    np.maximum.at(size, group, port)
    return PortGroups(
        group,
        _number_at_site(site[group_first])[group],
        port,
        unit.astype(np.int64),
        twice,
        one_row,
        apart,
        size,
        mount[group_first],
        endpoint[group_first],
    )


def _twice(serial: Ints, role: Ints) -> Flags:
    """Return which rows name a register that another row names too."""
    key = serial * 3 + role
    _, back, counts = np.unique(key, return_inverse=True, return_counts=True)
    return (counts > 1)[back.reshape(-1)]


def _units_to_groups(places: Ints, first: Ints, is_pair: Flags, most: Ints, split: Flags) -> Ints:
    """Return the group of each meter: those of one site, mount and wished endpoint share while there are ports."""
    units = len(first)
    group = np.arange(units, dtype=np.int64)
    if not units:
        return group
    _, family, counts = np.unique(places, axis=1, return_inverse=True, return_counts=True)
    family = family.reshape(-1)
    shared = np.flatnonzero((counts[family] > 1) & ~split & (places[1] >= 0))
    if not len(shared):
        return group
    # Compound meters first, for theirs are ports 1 and 2; then by row.
    shared = shared[np.lexsort((first[shared], ~is_pair[shared], family[shared]))]
    now, left, holder = -1, 0, -1
    waiting: list[tuple[int, int]] = []
    for place in shared.tolist():
        if family[place] != now:
            now, holder, left, waiting = int(family[place]), -1, 0, []
        if is_pair[place]:
            waiting.append((place, int(most[place]) - 2))
            continue
        if left == 0:
            while waiting and left == 0:
                holder, left = waiting.pop(0)
            if left <= 0:
                holder, left = place, int(most[place])
        group[place] = holder
        left -= 1
    return group


def _ports(group: Ints, unit: Ints, first: Ints, role: Ints, is_pair: Flags) -> Ints:
    """Return the port of each row: compound meters first, high before low, then by row."""
    rows = len(group)
    pair_row = is_pair[unit]
    within = np.where(role == LOW, 1, 0)
    order = np.lexsort((np.arange(rows), within, first[unit], ~pair_row, group))
    starts = np.r_[True, group[order][1:] != group[order][:-1]] if rows else np.zeros(0, np.bool_)
    begin = np.maximum.accumulate(np.where(starts, np.arange(rows), 0)) if rows else np.zeros(0, np.int64)
    port = np.empty(rows, np.int64)
    port[order] = np.arange(rows) - begin + 1
    # A compound meter with one row keeps the port of its role, and the other stays free for the register to come.
    lone = pair_row & (np.bincount(unit, minlength=len(first))[unit] == 1)
    shift = np.zeros(group.max(initial=-1) + 1, np.int64)
    np.add.at(shift, group[lone], 1)
    port = np.where(lone, np.where(role == LOW, 2, 1), port + np.where(pair_row, 0, shift[group]))
    return port


def _number_at_site(site: Ints) -> Ints:
    """Return the number of each group at its site, counted from 1 in the order of the groups."""
    order = np.argsort(site, kind="stable")
    sorted_site = site[order]
    starts = np.r_[True, sorted_site[1:] != sorted_site[:-1]] if len(site) else np.zeros(0, np.bool_)
    begin = np.maximum.accumulate(np.where(starts, np.arange(len(site)), 0)) if len(site) else np.zeros(0, np.int64)
    number = np.empty(len(site), np.int64)
    number[order] = np.arange(len(site)) - begin + 1
    return number
