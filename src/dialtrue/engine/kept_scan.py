"""The figures of a scan as they are kept from run to run: whole rows, and days in blocks of a period.

A run touches the blocks of the last days only; closed blocks lie untouched on the disk.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dialtrue.engine.fleet import Fleet, Ints
from dialtrue.engine.scan import Calendar, Scan, Windows, empty_scan
from dialtrue.engine.scan_kernel import DAY_US, PERIOD_DAYS

Array = NDArray[Any]
BLOCK_US = PERIOD_DAYS * DAY_US
_ALL = tuple(item.name for item in fields(Scan) if item.name != "calendar")
DAILY = tuple(name for name in _ALL if name.startswith("day_"))
"""One column a day."""
PERIODICAL = tuple(name for name in _ALL if name.startswith("hour_"))
"""One row of hours a period."""
PAIRED = ("pair_before", "pair_after")
"""One row a dial read."""
ROWS = tuple(name for name in _ALL if name not in (*DAILY, *PERIODICAL, *PAIRED))
"""One row a fitting, of one width whatever the window."""


@dataclass(slots=True)
class KeptScan:
    """Figures of ``size`` fittings from ``start_us`` on.

    ``rows`` maps a name of ``ROWS`` to its array; ``blocks[k]`` maps a name of ``DAILY`` or ``PERIODICAL`` to its array
    over the days [28 k, 28 (k + 1)): (n, 28) or (n, 24). A block may have fewer rows than there are fittings: those
    that came later have nothing in it. ``written`` counts the blocks, from the first, that stand as they were read.
    ``pair_row``, ``pair_us`` say for each passed dial read whose it is and when; ``pair_before``, ``pair_after`` (m, 3)
    are as in ``Scan``.
    """

    size: int
    start_us: int
    rows: dict[str, Array]
    blocks: list[dict[str, Array]]
    pair_row: Ints
    pair_us: Ints
    pair_before: Ints
    pair_after: Ints
    written: int = field(default=0)


def nothing_kept(start_us: int) -> KeptScan:
    """Return figures of no fitting."""
    none = np.zeros(0, np.int64)
    probe = _probe()
    rows = {name: getattr(probe, name)[:0] for name in ROWS}
    return KeptScan(0, start_us, rows, [], none, none, none.reshape(0, 3), none.reshape(0, 3))


def shapes() -> dict[str, list[Any]]:
    """Return type and width of each array, as a form to hold kept files against."""
    probe = _probe()
    return {name: [str(getattr(probe, name).dtype.descr), list(getattr(probe, name).shape[1:])] for name in _ALL}


def _probe() -> Scan:
    """Return the scan of one fitting over one period."""
    hours = np.zeros(24 * PERIOD_DAYS, np.int8)
    one, whole = np.ones(1), np.ones(1, np.int64)
    fleet = Fleet(
        meter_serial=[""], role=[""], endpoint_serial=[""], port=whole, site=[""], channel=whole, fit_us=whole,
        removed_us=whole, quantum_dial_l=one, capacity_dial_l=one, dial_fit_l=one, quantum_index_l=one,
        capacity_counts=whole, start_count=whole, weight_set_l=one, weight_meter_l=one, flow_limit_l_s=one,
        use_l_day=one, use_spread=one,
    )  # fmt: skip
    return empty_scan(fleet, Calendar(0, hours, hours, hours), 1)


def block_of(moment_us: int, start_us: int) -> int:
    """Return the number of the block that a moment lies in, 0 before the first."""
    return max(0, (moment_us - start_us) // BLOCK_US)


def part_of(calendar: Calendar, first_block: int) -> Calendar:
    """Return the calendar from a block on."""
    hour = first_block * 24 * PERIOD_DAYS
    return Calendar(
        calendar.start_us + first_block * BLOCK_US,
        calendar.hour_local[hour:],
        calendar.wet[hour:],
        calendar.cold[hour:],
    )


def opened(
    kept: KeptScan, fleet: Fleet, calendar: Calendar, windows: Windows, *, first_block: int, take: bool = False
) -> Scan:  # fmt: skip
    """Return a scan to go on with, from a block on; it shares no memory with what is kept afterwards.

    Parameters
    ----------
    kept : KeptScan
        Its fittings are the first of the fleet.
    fleet : Fleet
    calendar : Calendar
        The whole window; its last days may be later than any kept.
    windows : Windows
        Dial reads that were passed before get the figures kept for them.
    first_block : int
        Blocks before it are left out. [0 or more]
    take : bool
        Empty ``kept`` of its rows and of the blocks that are opened, one after another, so that hardly anything is
        held twice.

    Returns
    -------
    Scan
        Its calendar begins at the block.

    Raises
    ------
    Never raises.
    """
    scan = empty_scan(fleet, part_of(calendar, first_block), len(windows.dial_us))
    for name in ROWS:
        held = kept.rows.pop(name) if take else kept.rows[name]
        if take and held.flags.writeable and len(held) == fleet.size:
            setattr(scan, name, held)
        else:
            getattr(scan, name)[: kept.size] = held
    for number, block in enumerate(kept.blocks[first_block:]):
        for name in (*DAILY, *PERIODICAL):
            held = block.pop(name) if take else block[name]
            if name in DAILY:
                columns = getattr(scan, name)[:, number * PERIOD_DAYS : (number + 1) * PERIOD_DAYS]
                columns[: len(held)] = held[:, : columns.shape[1]]
            elif number < getattr(scan, name).shape[1]:
                getattr(scan, name)[: len(held), number] = held
    dial_row = np.repeat(np.arange(fleet.size), np.diff(windows.dial_first))
    at = find_pairs(kept, dial_row, windows.dial_us)
    for name in PAIRED:
        getattr(scan, name)[at >= 0] = getattr(kept, name)[at[at >= 0]]
    return scan


def find_pairs(kept: KeptScan, dial_row: Ints, dial_us: Ints) -> Ints:
    """Return for each dial read the place of its figures among those kept, -1 where it has none."""
    if not len(kept.pair_row) or not len(dial_us):
        return np.full(len(dial_us), -1, np.int64)
    times, code = np.unique(np.concatenate([kept.pair_us, dial_us]), return_inverse=True)
    held = kept.pair_row * len(times) + code[: len(kept.pair_us)]
    asked = dial_row * len(times) + code[len(kept.pair_us) :]
    order = np.argsort(held, kind="stable")
    place = np.minimum(np.searchsorted(held[order], asked), len(held) - 1)
    found = order[place]
    return np.where(held[found] == asked, found, -1)


def closed(kept: KeptScan, scan: Scan, windows: Windows, *, first_block: int) -> KeptScan:
    """Return what is to be kept after a scan that was opened from a block on.

    ``scan`` must not be finished: only dial reads that an index read has passed are kept.
    """
    size = len(scan.figures)
    blocks = list(kept.blocks[:first_block])
    for number in range(scan.calendar.periods):
        block = {}
        for name in DAILY:
            columns = getattr(scan, name)[:, number * PERIOD_DAYS : (number + 1) * PERIOD_DAYS]
            block[name] = _padded(columns)
        for name in PERIODICAL:
            block[name] = np.ascontiguousarray(getattr(scan, name)[:, number])
        blocks.append(block)
    passed = scan.pair_after[:, 0] >= 0
    dial_row = np.repeat(np.arange(size), np.diff(windows.dial_first))
    return KeptScan(
        size, kept.start_us, {name: getattr(scan, name) for name in ROWS}, blocks,
        dial_row[passed], windows.dial_us[passed], scan.pair_before[passed], scan.pair_after[passed],
        written=min(kept.written, first_block),
    )  # fmt: skip


def _padded(columns: Array) -> Array:
    """Return a block of its full width; days that have not come hold nothing."""
    if columns.shape[1] == PERIOD_DAYS:
        return np.ascontiguousarray(columns)
    filler = np.nan if columns.dtype.kind == "f" else 0
    block = np.full((columns.shape[0], PERIOD_DAYS), filler, columns.dtype)
    block[:, : columns.shape[1]] = columns
    return block


def rearranged(kept: KeptScan, place: Ints) -> KeptScan:
    """Return the figures in another order of fittings: row k takes what row ``place[k]`` had, nothing where -1."""
    size = len(place)
    last = int(np.flatnonzero(place >= 0)[-1]) + 1 if (place >= 0).any() else 0
    if last <= kept.size and (place[:last] == np.arange(last)).all() and last == kept.size:
        return replace(kept)
    new = nothing_kept(kept.start_us)
    probe = _probe()

    def moved(name: str, old: Array) -> Array:
        held = (place >= 0) & (place < len(old))
        filler = getattr(probe, name).reshape(-1)[:1]
        to = np.full((size, *old.shape[1:]), filler, old.dtype)
        to[held] = old[place[held]]
        return to

    where = np.full(kept.size, -1, np.int64)
    where[place[place >= 0]] = np.flatnonzero(place >= 0)
    row = where[kept.pair_row] if len(kept.pair_row) else kept.pair_row
    still = row >= 0
    new.size = size
    new.rows = {name: moved(name, array) for name, array in kept.rows.items()}
    new.blocks = [{name: moved(name, array) for name, array in block.items()} for block in kept.blocks]
    new.pair_row, new.pair_us = row[still], kept.pair_us[still]
    new.pair_before, new.pair_after = kept.pair_before[still], kept.pair_after[still]
    return new


def replaced(kept: KeptScan, chosen: Ints, other: KeptScan) -> KeptScan:
    """Return the figures with the rows ``chosen`` taken from ``other``, which holds just those in that order."""
    rows = {name: _put(name, array, chosen, other.rows[name], kept.size) for name, array in kept.rows.items()}
    blocks = []
    for number in range(max(len(kept.blocks), len(other.blocks))):
        mine = kept.blocks[number] if number < len(kept.blocks) else _no_block()
        theirs = other.blocks[number] if number < len(other.blocks) else _no_block()
        blocks.append({name: _put(name, mine[name], chosen, theirs[name], kept.size) for name in mine})
    keep = ~np.isin(kept.pair_row, chosen)
    columns = {
        name: np.concatenate([getattr(kept, name)[keep], getattr(other, name)])
        for name in ("pair_us", "pair_before", "pair_after")
    }
    row = np.concatenate([kept.pair_row[keep], chosen[other.pair_row]])
    return KeptScan(kept.size, kept.start_us, rows, blocks, row, columns["pair_us"], columns["pair_before"],
                    columns["pair_after"])  # fmt: skip


def _no_block() -> dict[str, Array]:
    probe = _probe()
    days = {name: getattr(probe, name)[:0] for name in DAILY}
    return days | {name: getattr(probe, name)[:0, 0] for name in PERIODICAL}


def _put(name: str, mine: Array, chosen: Ints, theirs: Array, size: int) -> Array:
    filler = getattr(_probe(), name).reshape(-1)[:1]
    to = np.full((size, *mine.shape[1:]), filler, mine.dtype)
    to[: len(mine)] = mine
    to[chosen] = filler
    if len(theirs):
        to[chosen[: len(theirs)]] = theirs
    return to


def fleet_part(fleet: Fleet, chosen: Ints) -> Fleet:
    """Return some fittings of a fleet, their channels numbered anew from 0."""
    parts: dict[str, Any] = {}
    for item in fields(Fleet):
        whole = getattr(fleet, item.name)
        parts[item.name] = [whole[row] for row in chosen] if isinstance(whole, list) else whole[chosen]
    parts["channel"] = np.unique(fleet.channel[chosen], return_inverse=True)[1].astype(np.int64)
    return Fleet(**parts)
