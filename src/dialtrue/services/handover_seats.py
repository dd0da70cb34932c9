"""Which fitted port each read belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dialtrue.services.handover_ports import Candidate

Ints = NDArray[np.int64]


class Seats:
    """Which port a read belongs to: by endpoint, port and the time between fitting (or repair) and removal."""

    def __init__(self, found: Sequence[Candidate]) -> None:
        seats: dict[tuple[str, int], int] = {}
        self.strangers: set[tuple[str, int]] = set()
        self._fitted = {(each.row["endpoint_serial"], int(each.row["port"] or 1)) for each in found}
        rows = []
        for number, each in enumerate(found):
            if each.handed is None or not each.seated:
                continue
            channel = seats.setdefault((each.row["endpoint_serial"], each.handed.port), len(seats))
            rows.append((channel, each.handed.from_us, each.handed.to_us, number))
        rows.sort()
        table = np.array(rows, np.int64).reshape(-1, 4)
        self._channel, self._from, self._to, self._number = (table[:, k].copy() for k in range(4))
        self._key = self._channel * 2**34 + self._from // 1_000_000
        self._seats = seats

    def of(self, serials: Sequence[str], endpoint: Any, port: Any, at_us: Any) -> Ints:
        """Return the number of each read's port, -1 where it belongs to none that could be handed over.

        ``endpoint`` are codes into ``serials``, -1 where blank.
        """
        both, inverse = np.unique(endpoint.astype(np.int64) * 128 + port, return_inverse=True)
        channels = [self._channel_of(serials[key // 128], key % 128) if key >= 0 else -1 for key in both.tolist()]
        if not len(self._key):
            return np.full(len(at_us), -1, np.int64)
        channel = np.array(channels, np.int64)[inverse]
        place = np.searchsorted(self._key, channel * 2**34 + at_us // 1_000_000, side="right") - 1
        held = np.maximum(place, 0)
        good = (place >= 0) & (channel >= 0) & (self._channel[held] == channel)
        good &= (self._from[held] <= at_us) & (at_us < self._to[held])
        return np.where(good, self._number[held], -1)

    def _channel_of(self, serial: str, port: int) -> int:
        """Return a port's channel, -1 for none; one that no fitting names is kept among the strangers."""
        if (serial, port) not in self._fitted:
            self.strangers.add((serial, port))
        return self._seats.get((serial, port), -1)
