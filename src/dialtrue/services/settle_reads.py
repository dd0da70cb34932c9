"""The reads of the few ports that are to be put right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import numpy as np

from dialtrue.files.programme import Programme

Channel = list[tuple[dt.datetime, int]]
"""Moments and counts of one port, ascending; of two reads of one moment the later row stands."""

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_ESTIMATED = 1


def channels_of(programme: Programme, ports: Iterable[tuple[str, int]]) -> dict[tuple[str, int], Channel]:
    """Read the reads of some ports; estimated reads are left out, for they are no evidence.

    Parameters
    ----------
    programme : Programme
        As opened; its reads are taken once.
    ports : iterable of (endpoint serial, port)

    Returns
    -------
    dict
        A port that was never heard has an empty list.

    Raises
    ------
    DialtrueError
        A file of reads cannot be used.
    """
    found: dict[tuple[str, int], dict[int, int]] = {port: {} for port in ports}
    source = programme.reads
    if source is None or not found:
        return {port: [] for port in found}
    source.only({serial for serial, _ in found})
    wanted = {serial for serial, _ in found}
    for batch in source.batches():
        codes = [code for code, serial in enumerate(source.endpoints) if serial in wanted]
        rows = np.flatnonzero(np.isin(batch.endpoint, codes) & (batch.flag != _ESTIMATED))
        for row in rows.tolist():
            port = (source.endpoints[batch.endpoint[row]], int(batch.port[row]))
            if port in found:
                found[port][int(batch.at_us[row])] = int(batch.index[row])
    return {
        port: [(_EPOCH + dt.timedelta(microseconds=at), count) for at, count in sorted(held.items())]
        for port, held in found.items()
    }
