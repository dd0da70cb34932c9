"""The fittings of a kept state beside those of today: which are the same, which have to be counted anew."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from dialtrue.engine.fleet import Fleet, Ints
from dialtrue.engine.kept_scan import KeptScan, find_pairs, fleet_part
from dialtrue.services.fleet_records import DialReads, FleetRecords

_KEY = ("meter_serial", "role", "endpoint_serial", "port", "fit_us")


@dataclass(slots=True)
class Matched:
    """``place`` (n,) is the kept row of each of today's fittings, -1 where it is new; ``anew`` (n,) marks those whose
    reads have to be counted again; ``gone`` says that a kept fitting is not there any more."""

    place: Ints
    anew: NDArray[np.bool_]
    gone: bool


def fittings_table(fleet: Fleet) -> pa.Table:
    """Return what of the fittings decides how reads are counted."""
    limit, weight = counting_figures(fleet)
    return pa.table({
        "meter_serial": pa.array(fleet.meter_serial, pa.string()), "role": pa.array(fleet.role, pa.string()),
        "endpoint_serial": pa.array(fleet.endpoint_serial, pa.string()), "port": fleet.port, "fit_us": fleet.fit_us,
        "removed_us": fleet.removed_us, "capacity_counts": fleet.capacity_counts, "limit_per_us": limit,
        "weight_counts": weight,
    })  # fmt: skip


def counting_figures(fleet: Fleet) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the flow limit in counts a microsecond and the pulse weight in counts, as the scan takes them."""
    return fleet.flow_limit_l_s / fleet.quantum_index_l / 1e6, fleet.weight_set_l / fleet.quantum_index_l


def match_fittings(
    old: pa.Table, fleet: Fleet, *, horizon_us: int, heard: set[tuple[str, int]]
) -> Matched:  # fmt: skip
    """Compare the fittings of a kept state with today's.

    Parameters
    ----------
    old : pa.Table
        As ``fittings_table`` made it.
    fleet : Fleet
        Today's.
    horizon_us : int
        Reads up to this moment are in the kept figures. [µs]
    heard : set
        Endpoint and port of reads that no kept fitting listened to.

    Returns
    -------
    Matched
        A fitting is counted anew if anything changed that the count of its reads so far hangs on.

    Raises
    ------
    Never raises.
    """
    new = fittings_table(fleet)
    place = _places(old, new)
    known = place >= 0
    at = place[known]
    anew = np.zeros(fleet.size, bool)
    changed = np.zeros(len(at), bool)
    for name in ("capacity_counts", "limit_per_us", "weight_counts"):
        before, now = old[name].to_numpy()[at], new[name].to_numpy()[known]
        changed |= ~((before == now) | ((before != before) & (now != now)))
    before, now = old["removed_us"].to_numpy()[at], fleet.removed_us[known]
    changed |= (before != now) & (np.minimum(before, now) < horizon_us)
    anew[known] = changed
    channels = heard | set(zip(old["endpoint_serial"].to_pylist(), old["port"].to_pylist(), strict=True))
    for row in np.flatnonzero(~known & (fleet.fit_us <= horizon_us)).tolist():
        anew[row] = (fleet.endpoint_serial[row], int(fleet.port[row])) in channels
    return Matched(place, anew, gone=int(known.sum()) < old.num_rows)


def _places(old: pa.Table, new: pa.Table) -> Ints:
    rows = old.num_rows
    place = np.full(new.num_rows, -1, np.int64)
    if rows <= new.num_rows and old.select(_KEY).equals(new.select(_KEY).slice(0, rows)):
        place[:rows] = np.arange(rows)
        first = rows
        waiting: dict[tuple[object, ...], list[int]] = {}
    else:
        first, waiting = 0, defaultdict(list)
        for row, key in enumerate(zip(*(old[name].to_pylist() for name in _KEY), strict=True)):
            waiting[key].append(row)
    later = new.slice(first)
    for row, key in enumerate(zip(*(later[name].to_pylist() for name in _KEY), strict=True), start=first):
        if waiting.get(key):
            place[row] = waiting[key].pop(0)
    return place


def missed_looks(kept: KeptScan, dials: DialReads, size: int) -> NDArray[np.bool_]:
    """Return which fittings have a dial read now between reads that were counted without it."""
    missed = np.zeros(size, bool)
    row = dials.fitting
    held = row < kept.size
    row, at_us = row[held], dials.at_us[held]
    figures = kept.rows["figures"]
    passed = (figures["n"][row] > 0) & (at_us <= figures["last_us"][row])
    missed[row[passed & (find_pairs(kept, row, at_us) < 0)]] = True
    return missed


def records_part(records: FleetRecords, chosen: Ints) -> FleetRecords:
    """Return the records of some fittings, rows ascending, with channels and dial reads numbered anew."""
    fleet = fleet_part(records.fleet, chosen)
    names = {code: name for name, code in records.channels.items()}
    old = np.unique(records.fleet.channel[chosen])
    channels = {names[int(code)]: number for number, code in enumerate(old)}
    number = np.full(records.fleet.size, -1, np.int64)
    number[chosen] = np.arange(len(chosen))
    dials = records.dials
    held = number[dials.fitting] >= 0
    part = DialReads(
        number[dials.fitting[held]], dials.at_us[held], dials.raw_l[held], dials.misread[held], dials.clock_sd_h[held],
        dials.row[held],
    )  # fmt: skip
    return replace(records, fleet=fleet, channels=channels, dials=part)
