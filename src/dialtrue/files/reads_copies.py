"""Reads that repeat another of the same part in endpoint, port, time and index."""

from __future__ import annotations

from typing import Final

import numpy as np

from dialtrue.files.reads_part import ReadsPart

_UNSORTED_SAMPLE: Final = 4096


def copies_in(part: ReadsPart) -> np.ndarray:
    """Return the rows of a part that copy another: beside it in a sorted part, anywhere in an unsorted one."""
    rows = len(part.serial_codes)
    if rows < 2:
        return np.zeros(0, np.int64)
    sample = part.serial_codes[:_UNSORTED_SAMPLE]
    if np.count_nonzero(sample[1:] != sample[:-1]) * 4 > len(sample):
        return _copies_anywhere(part)
    alike = part.at_us[1:] == part.at_us[:-1]
    found = np.flatnonzero(alike) + 1 if alike.any() else np.zeros(0, np.int64)
    if found.size:
        same = (
            (part.serial_codes[found] == part.serial_codes[found - 1])
            & (part.ports(found) == part.ports(found - 1))
            & (part.index[found] == part.index[found - 1])
        )
        found = found[same]
    return found


def _copies_anywhere(part: ReadsPart) -> np.ndarray:
    """Return rows that repeat an earlier one, in any order of rows."""
    # One 64-bit mix of the four figures; rows that share a mix are then compared in full.
    endpoint = part.serial_codes
    mixed = part.at_us.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed ^= (endpoint.astype(np.uint64) << np.uint64(20)) ^ part.port.astype(np.uint64)
    mixed = (mixed ^ (mixed >> np.uint64(29))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed ^= part.index.astype(np.uint64) * np.uint64(0x94D049BB133111EB)
    ordered = np.sort(mixed)
    twice = ordered[1:][ordered[1:] == ordered[:-1]]
    if not twice.size:
        return twice.astype(np.int64)
    rows = np.flatnonzero(np.isin(mixed, twice))
    port = part.ports(rows)
    seen: set[tuple[int, int, int, int]] = set()
    copies = []
    for place, row in enumerate(rows.tolist()):
        key = (int(endpoint[row]), int(port[place]), int(part.at_us[row]), int(part.index[row]))
        if key in seen:
            copies.append(row)
        seen.add(key)
    return np.array(copies, np.int64)
