"""The reads of a night: unpacked ahead, and counted in the order of their times."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dialtrue.engine.scan import Scanner
from dialtrue.engine.scan_order import find_astray, in_order
from dialtrue.files.reads import Piece, ReadsSource
from dialtrue.files.reads_batch import LeanReads
from dialtrue.services.reads_by_time import NEVER_US
from dialtrue.services.reads_scan import Channels


def decoded(source: ReadsSource) -> Iterator[Piece]:
    """Yield a source's pieces unpacked, the next ones being unpacked meanwhile; raises what a piece raises."""
    with ThreadPoolExecutor(2) as pool:
        waiting: deque[tuple[Piece, Future[None]]] = deque()
        for piece in source.pieces():
            waiting.append((piece, pool.submit(piece.decode)))
            if len(waiting) > 2:
                first, done = waiting.popleft()
                done.result()
                yield first
        for first, done in waiting:
            done.result()
            yield first


def feed(scanner: Scanner, parts: list[LeanReads], channels: Channels) -> None:
    """Count reads; those of channels that are out of order or corrected are brought in order first.

    Parameters
    ----------
    scanner : Scanner
        Has seen no read as late as these.
    parts : list of LeanReads
        In the order of the files.
    channels : Channels
        Notes too what nobody listens to.

    Raises
    ------
    Never raises.
    """
    jobs = [channels.job(reads) for reads in parts]
    last_us = np.full(scanner.channels, -NEVER_US, np.int64)
    astray = np.zeros(scanner.channels, bool)
    for job in jobs:
        find_astray(job.runs.first, job.channel, job.reads.at_us, last_us, astray)
    aside: list[list[NDArray[Any]]] = []
    for job in jobs:
        reads, runs = job.reads, job.runs
        led = (job.channel >= 0) & astray[np.maximum(job.channel, 0)]
        if led.any():
            rows = np.repeat(led, runs.rows)
            flag = reads.flag[rows] if len(reads.flag) else np.zeros(int(rows.sum()), np.int8)
            channel = np.repeat(job.channel[led], runs.rows[led])
            aside.append([channel, reads.at_us[rows], reads.index[rows], flag, reads.known_us[rows]])
        scanner.count(runs.first, np.where(led, -1, job.channel).astype(np.int32), reads.at_us, reads.index, reads.flag)
    if aside:
        channel, at_us, index, flag, known_us = (np.concatenate(column) for column in zip(*aside, strict=True))
        scanner.count(*in_order(channel, at_us, index, flag, known_us, scanner.channels))
