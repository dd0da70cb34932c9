"""Every fitted port of a programme as arrays: what the records say of meter, index and time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEVER = np.iinfo(np.int64).max
"""A removal time for a fitting that still stands. [µs]"""


@dataclass(slots=True)
class Fleet:
    """One row per fitting, plus one per channel heard without a fitting (its meter serial is blank).

    Shapes are (n,) unless said. nan or -1 means not known. Times are UTC microseconds, volumes litres.

    Attributes
    ----------
    channel : int64
        Which (endpoint, port) the fitting listens to; several fittings may share one.
    quantum_dial_l, capacity_dial_l : float64
        Value of the dial's least moving digit, and what it holds. [L, > 0]
    dial_fit_l : float64
        Dial at the fitting. [L]
    quantum_index_l : float64
        Value of the index's least digit. [L, > 0]
    capacity_counts : int64
        10^index_digits; 0 where not known.
    start_count : int64
        Start index as keyed, in counts of ``quantum_index_l``.
    weight_set_l, weight_meter_l : float64
        Volume per pulse that the endpoint was told, and that the survey gives. [L/pulse, > 0]
    flow_limit_l_s : float64
        Most that the meter can pass. [L/s]
    use_l_day, use_spread : float64
        Expected use, and the standard deviation of its logarithm. [L/day, -]
    """

    meter_serial: list[str]
    role: list[str]
    endpoint_serial: list[str]
    port: Ints
    site: list[str]
    channel: Ints
    fit_us: Ints
    removed_us: Ints
    quantum_dial_l: Floats
    capacity_dial_l: Floats
    dial_fit_l: Floats
    quantum_index_l: Floats
    capacity_counts: Ints
    start_count: Ints
    weight_set_l: Floats
    weight_meter_l: Floats
    flow_limit_l_s: Floats
    use_l_day: Floats
    use_spread: Floats

    @property
    def size(self) -> int:
        """Number of rows."""
        return len(self.meter_serial)
