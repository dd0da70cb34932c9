"""All that the watch has worked out of a programme, before it is put into words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.posterior import Posterior
from dialtrue.files.programme import Programme
from dialtrue.services.fleet_records import FleetRecords


@dataclass(slots=True)
class Judged:
    """What was read, what the blocks said and what follows from it.

    ``settled_us`` (n,) is when the fault of a port was found and put right, 0 where it was not; None where no check
    was ever recorded. ``group_log_factor`` (n, n_faults) is what crew, lot and hardware add to the shares [nat].
    """

    programme: Programme
    records: FleetRecords
    case: Case
    onsets: Onsets
    blocks: list[Block]
    posterior: Posterior
    heard: dict[tuple[str, int], int]
    reads: int
    first_us: int
    last_us: int
    settled_us: NDArray[np.int64] | None = None
    group_log_factor: NDArray[np.float64] | None = None
