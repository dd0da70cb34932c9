"""What a Parquet file's own statistics tell of its row groups, so that it need not be unpacked or looked for."""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from typing import Any, Final

import pyarrow as pa

from dialtrue.files.limits import MAX_INDEX
from dialtrue.files.reads_part import ReadsRules

_PER_S: Final = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9}


class Told:
    """Statistics of each row group, asked for by the contract's names.

    A file that tells nothing, or tells it in a form that is not understood, is unpacked and looked at instead.
    """

    def __init__(self, about: Any, schema: pa.Schema, columns: dict[str, str], rules: ReadsRules) -> None:
        self._about, self._rules = about, rules
        paths = {about.schema.column(place).path: place for place in range(about.num_columns)}
        self._place = {to: paths[column] for column, to in columns.items() if column in paths}
        self._kind = {to: schema.field(column).type for to, column in columns.items()}

    def _of(self, group: int, name: str) -> Any:
        place = self._place.get(name)
        return None if place is None else self._about.row_group(group).column(place).statistics

    def _bounds(self, group: int, name: str) -> tuple[int, int] | None:
        told = self._of(group, name)
        if told is None or not told.has_min_max:
            return None
        low, high = told.min_raw, told.max_raw
        return (low, high) if isinstance(low, int) and isinstance(high, int) and low <= high else None

    def may_hold(self, group: int, serials: Sequence[str]) -> bool:
        """Tell whether a row group may hold any of some serials, given in ascending order."""
        told = self._of(group, "endpoint_serial")
        if told is None or not told.has_min_max or not isinstance(told.min, str) or not isinstance(told.max, str):
            return True
        place = bisect.bisect_left(serials, told.min)
        return place < len(serials) and serials[place] <= told.max

    def _times_us(self, group: int) -> tuple[int, int] | None:
        kind = self._kind["at"]
        if not pa.types.is_timestamp(kind) or kind.tz is None:
            return None
        bounds = self._bounds(group, "at")
        if bounds is None:
            return None
        low, high = (value * 10**6 // _PER_S[kind.unit] for value in bounds)
        return (low, high) if self._rules.low_us <= low and high <= self._rules.high_us else None

    def span_us(self) -> tuple[int, int] | None:
        """Return first and last time of the file, None where it does not tell or they are out of bounds."""
        spans = []
        for group in range(self._about.num_row_groups):
            if self._about.row_group(group).num_rows:
                span = self._times_us(group)
                if span is None:
                    return None
                spans.append(span)
        return (min(low for low, _ in spans), max(high for _, high in spans)) if spans else None

    def bounded(self, group: int) -> bool:
        """Tell whether times and counts of a row group are surely within bounds."""
        counts = self._bounds(group, "index") if pa.types.is_integer(self._kind["index"]) else None
        return self._times_us(group) is not None and counts is not None and counts[0] >= 0 and counts[1] <= MAX_INDEX

    def port(self, group: int) -> int:
        """Return the one port of a row group: 1 where none is written, 0 where there are several or it is not told."""
        if "port" not in self._kind:
            return 1
        if not pa.types.is_integer(self._kind["port"]):
            return 0
        told, bounds = self._of(group, "port"), self._bounds(group, "port")
        alike = bounds is not None and bounds[0] == bounds[1] and told.has_null_count and not told.null_count
        return bounds[0] if alike and bounds is not None and 1 <= bounds[0] <= 99 else 0

    def known(self, group: int) -> tuple[str, ...]:
        """Return the columns that need no unpacking: a port that is the same in every row, flags that are all blank."""
        known = ("port",) if "port" in self._kind and self.port(group) else ()
        flags = self._of(group, "flag")
        blank = flags is not None and flags.has_null_count and flags.null_count == self._about.row_group(group).num_rows
        return (*known, "flag") if blank else known
