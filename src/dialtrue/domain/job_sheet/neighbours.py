"""Which meters stand side by side: in one pit, under one address, a few paces apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from dialtrue.domain.job_sheet.register_plan import RegisterPlan

SIDE_BY_SIDE_M: Final = 3.0
"""Meters nearer than this may share a pit or a conduit. [m] Our assumption; a survey by hand is hardly finer."""
EARTH_M: Final = 6_371_000.0
"""Mean radius of the earth. [m] Definition of a sphere of that size; the error over a few metres is nothing."""

Point = tuple[float, float, float]
Cell = tuple[int, int, int]
_AROUND: Final[tuple[Cell, ...]] = tuple(
    (x, y, z) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)
)  # fmt: skip


def beside(registers: Sequence[RegisterPlan]) -> dict[str, tuple[str, ...]]:
    """Return for each meter serial the other meters that stand beside it.

    Parameters
    ----------
    registers : sequence of RegisterPlan
        All that are known, not only those of one page.

    Returns
    -------
    dict of str to tuple of str
        Serials without a neighbour are left out. Meters are side by side where they share a site, or lie within
        ``SIDE_BY_SIDE_M``.

    Raises
    ------
    Never raises.

    Source
    ------
    ``SIDE_BY_SIDE_M``.
    """
    near: dict[str, dict[str, None]] = {}
    sites: dict[str, dict[str, None]] = {}
    cells: dict[Cell, list[tuple[Point, str]]] = {}
    for plan in registers:
        sites.setdefault(plan.site, {})[plan.meter_serial] = None
        if plan.latitude is None or plan.longitude is None:
            continue
        point = _point(plan.latitude, plan.longitude)
        here = _cell(point)
        for step in _AROUND:
            for other, serial in cells.get(_moved(here, step), ()):
                if serial != plan.meter_serial and math.dist(point, other) <= SIDE_BY_SIDE_M:
                    near.setdefault(serial, {})[plan.meter_serial] = None
                    near.setdefault(plan.meter_serial, {})[serial] = None
        cells.setdefault(here, []).append((point, plan.meter_serial))
    for serials in sites.values():
        for serial in serials if len(serials) > 1 else ():
            near.setdefault(serial, {}).update({other: None for other in serials if other != serial})
    return {serial: tuple(others) for serial, others in near.items()}


def _point(latitude: float, longitude: float) -> Point:
    """Return a place on the globe in space. [m]"""
    up, round_ = math.radians(latitude), math.radians(longitude)
    return (
        EARTH_M * math.cos(up) * math.cos(round_),
        EARTH_M * math.cos(up) * math.sin(round_),
        EARTH_M * math.sin(up),
    )


def _cell(point: Point) -> Cell:
    """Return the cube, as wide as the distance looked for, that holds a point."""
    x, y, z = (math.floor(way / SIDE_BY_SIDE_M) for way in point)
    return x, y, z


def _moved(cell: Cell, step: Cell) -> Cell:
    """Return the cube beside another."""
    return cell[0] + step[0], cell[1] + step[1], cell[2] + step[2]
