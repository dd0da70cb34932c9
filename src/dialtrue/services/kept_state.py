"""The figures of a watch between memory and disk: what a run keeps, as named arrays and plain facts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from dialtrue.domain.errors.watch_state import StateDamaged, StateOfAnotherVersion
from dialtrue.engine.kept_scan import DAILY, PERIODICAL, ROWS, KeptScan, shapes
from dialtrue.engine.scan import Calendar
from dialtrue.files.watch_state_file import StateFile

_PAIRS = ("pair_row", "pair_us", "pair_before", "pair_after")
_HOURS = ("hour_local", "wet", "cold")


@dataclass(slots=True)
class KeptState:
    """What an earlier run kept.

    ``scan`` holds the reads up to ``horizon_us`` that were known at ``known_us``; ``calendar`` the hours up to there;
    ``facts`` the rest: counts, files, what was heard that nothing is fitted to.
    """

    scan: KeptScan
    calendar: Calendar
    facts: dict[str, Any]
    file: StateFile

    @property
    def horizon_us(self) -> int:
        """Up to when reads are in the figures. [µs]"""
        return int(self.facts["horizon_us"])

    @property
    def known_us(self) -> int:
        """Up to when reads were known. [µs]"""
        return int(self.facts["known_us"])

    @property
    def heard(self) -> dict[tuple[str, int], int]:
        """Reads by endpoint and port that no fitting listened to."""
        return {(serial, int(port)): int(rows) for serial, port, rows in self.facts["heard"]}


def unpacked(file: StateFile, folder: Path) -> KeptState:
    """Return a state as loaded, its arrays still on disk.

    Raises
    ------
    StateOfAnotherVersion
        Its arrays have another form than this release counts in.
    StateDamaged
        It lacks something, or its parts do not fit together.
    """
    facts, arrays = file.facts, file.arrays
    try:
        if facts["shapes"] != shapes():
            raise StateOfAnotherVersion(folder=str(folder))
        blocks = [
            {name: arrays[array_name(number, name)] for name in (*DAILY, *PERIODICAL)}
            for number in range(facts["blocks"])
        ]
        row, us, before, after = (np.array(arrays[name]) for name in _PAIRS)
        rows = {name: arrays[f"rows-{name}"] for name in ROWS}
        scan = KeptScan(
            int(facts["fittings"]), int(facts["start_us"]), rows, blocks, row, us, before, after, len(blocks)
        )  # fmt: skip
        calendar = Calendar(scan.start_us, *(np.array(arrays[name]) for name in _HOURS))
        if file.fittings.num_rows != scan.size or any(len(array) != scan.size for array in scan.rows.values()):
            raise StateDamaged(folder=str(folder), reason="its parts do not fit together")
    except KeyError as error:
        raise StateDamaged(folder=str(folder), reason=f"{error} is missing") from error
    # The scan alone holds its arrays: what a run has taken out of it is let go.
    return KeptState(scan, calendar, facts, replace(file, arrays={}))


def packed(scan: KeptScan, calendar: Calendar, fittings: pa.Table, facts: dict[str, Any], before: StateFile | None
           ) -> StateFile:  # fmt: skip
    """Return what is to be put on disk; blocks that stand there as they are get linked. Never raises."""
    arrays = {f"rows-{name}": scan.rows[name] for name in ROWS}
    for number, block in enumerate(scan.blocks):
        arrays |= {array_name(number, name): block[name] for name in (*DAILY, *PERIODICAL)}
    linked = {}
    if before is not None:
        linked = {name: before.linked[name] for name in block_names(range(scan.written))}
        for name in linked:
            del arrays[name]
    arrays |= {name: getattr(scan, name) for name in _PAIRS}
    arrays |= {name: getattr(calendar, name) for name in _HOURS}
    plain = facts | {"start_us": scan.start_us, "blocks": len(scan.blocks), "fittings": scan.size, "shapes": shapes()}
    return StateFile(plain, fittings, arrays, linked)


def array_name(block: int, name: str) -> str:
    """Return the name under which an array of a block is kept."""
    return f"block-{block:05d}-{name}"


def block_names(blocks: Iterable[int]) -> list[str]:
    """Return the names of all arrays of some blocks."""
    return [array_name(number, name) for number in blocks for name in (*DAILY, *PERIODICAL)]
