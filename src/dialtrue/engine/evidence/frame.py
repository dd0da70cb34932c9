"""The frame that every block of evidence fills: log-likelihoods by port and fault, and the words for them.

A block is one file with a function ``weigh(case) -> Block``. Blocks are taken as independent given the fault, so the
posterior adds their log-likelihoods. Only differences along a row matter; a block that has nothing to say of a port
leaves its row at zero.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.domain.finding import Figure
from dialtrue.engine.fleet import Fleet, Floats, Ints
from dialtrue.engine.onset_prior import over_onsets
from dialtrue.engine.pairing import Pairs
from dialtrue.engine.scan import Scan
from dialtrue.engine.start_lag import start_lag

N_FAULTS = len(FAULTS)
FLOOR = -18.0
"""No single block says worse than this of a fault [nat]. Our assumption: a record is wrong once in 65 million."""

Singles = NDArray[np.float32]
Words = Callable[[int, int], tuple[str, dict[str, Figure]]]


@dataclass(slots=True)
class Ring:
    """Rows whose endpoints are exchanged: the meter of ``rows[i]`` is counted by the channel of ``counted_by[i]``.

    ``kind`` is ``wires`` or ``records``; ``gain`` what the matches add up to [nat].
    """

    rows: list[int]
    counted_by: list[int]
    kind: str
    gain: float


@dataclass(slots=True)
class Notes:
    """What blocks leave for later blocks, the volume error and the words; shapes (n,), empty until its block has run.

    ``pairs_used`` usable pairs; ``history_log_ratio`` use after over use before [nat], nan if not known;
    ``level_log_ratio`` daily level after its one change over before [nat], nan where it does not change.
    ``wet_excess_l`` counts beyond dry hours' rate [L]; ``floor_l_h`` least hour of the days without a still one [L/h].
    ``nights_nat`` (n,) the most that still hours say for counts without pause [nat].
    ``onset_sum`` holds by code the (n, K) sum of what the blocks so far say of a beginning in each span of time [nat].
    """

    pairs_used: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    history_log_ratio: Floats = field(default_factory=lambda: np.zeros(0))
    level_log_ratio: Floats = field(default_factory=lambda: np.zeros(0))
    wet_excess_l: Floats = field(default_factory=lambda: np.zeros(0))
    floor_l_h: Floats = field(default_factory=lambda: np.zeros(0))
    nights_nat: Floats = field(default_factory=lambda: np.zeros(0))
    rings: list[Ring] = field(default_factory=list)
    onset_sum: dict[str, Singles] = field(default_factory=dict)


@dataclass(slots=True)
class Case:
    """All that the blocks may look at; only ``notes`` is written to while they do.

    ``end_us`` is the moment up to which a port is judged (its removal, or the last read of the programme);
    ``alarm_counts`` (n, 4) follow ``domain.contracts.ALARMS``.
    ``rivals`` (n,) is how many other fittings that stand at the same time claim the same channel. ``partner`` (n,) is
    the row of a compound meter's other register, -1 none, -2 where the survey has one but nothing is fitted.
    ``dial_doubted`` (n,) marks fittings whose dial text is the odd one out: the keyed start agrees with later looks;
    ``start_confirmed_wrong`` (n,) those whose later looks are off by just what start and dial differ. ``start_lag_l``
    (n,) is what ``start_lag`` finds: water drawn between reading the dial and keying the start [L].
    """

    fleet: Fleet
    scan: Scan
    pairs: Pairs
    end_us: Ints
    alarm_counts: Ints
    rivals: Ints
    partner: Ints
    compound: NDArray[np.bool_]
    dial_doubted: NDArray[np.bool_]
    start_confirmed_wrong: NDArray[np.bool_]
    notes: Notes = field(default_factory=Notes)
    start_lag_l: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.start_lag_l = start_lag(self.fleet, self.pairs)

    @property
    def days(self) -> Floats:
        """Days from the fitting, or the first read if later by far, to the last read. [day, > 0]"""
        figures = self.scan.figures
        start = np.minimum(self.fleet.fit_us, figures["first_us"])
        start = np.maximum(start, figures["first_us"] - 40 * 86_400_000_000)
        return np.maximum((figures["last_us"] - start) / 86_400e6, 1e-3)


@dataclass(slots=True)
class Block:
    """What one block of evidence says.

    ``loglik`` (n, n_faults) [nat]; ``parameter`` (n, n_faults) the ratio, share, rate or offset that fits best, nan
    where none; ``since_us`` (n, n_faults) best onset, 0 where the block does not know; ``apart`` says that the block
    looks at no read. ``says(row, column)`` gives the sentence and the figures with their units.

    ``at_onset`` holds by code a (n, K) log-likelihood of the fault given that it began in span k of ``Onsets``, less
    that of a sound port [nat]. What stands there must not stand in ``loglik`` too. ``fold`` empties it into the case's
    sum, and leaves in ``told`` (n, n_faults) what the block says on its own with the onset averaged over.
    """

    name: str
    loglik: Floats
    says: Words
    parameter: Floats
    since_us: Ints
    apart: bool = False
    at_onset: dict[str, Singles] = field(default_factory=dict)
    told: Floats = field(default_factory=lambda: np.zeros((0, N_FAULTS)))

    @classmethod
    def blank(cls, name: str, ports: int, says: Words) -> Block:
        """Return a block that says nothing yet."""
        # Column by column, as blocks write it: a column that is never written takes no room.
        return cls(
            name, np.zeros((ports, N_FAULTS), order="F"), says,
            np.broadcast_to(np.nan, (ports, N_FAULTS)), np.zeros((ports, N_FAULTS), np.int64, order="F"),
        )  # fmt: skip

    def measured(self) -> Floats:
        """Return ``parameter`` to be written to; a block that never asks keeps no room for it."""
        if not self.parameter.flags.writeable:
            self.parameter = np.full(self.parameter.shape, np.nan, order="F")
        return self.parameter

    def add(self, codes: str | tuple[str, ...], where: NDArray[np.bool_], amount: Floats | float) -> None:
        """Add ``amount`` [nat] to the columns of ``codes`` on the rows of ``where``."""
        for code in (codes,) if isinstance(codes, str) else codes:
            column = COLUMN[code]
            self.loglik[:, column] += np.where(where, amount, 0.0)

    def weight(self, row: int, column: int, against: int) -> float:
        """Return what the block says for one fault against another on a row [nat], the onset averaged over."""
        value = self.loglik[row, column] - self.loglik[row, against]
        if len(self.told):
            value += self.told[row, column] - self.told[row, against]
        return float(value)

    def fold(self, case: Case) -> None:
        """Add ``at_onset`` to the case's sum by code and let it go."""
        if not self.at_onset:
            return
        self.told = np.zeros((case.fleet.size, N_FAULTS), order="F")
        for code in list(self.at_onset):
            value = self.at_onset.pop(code)
            self.told[:, COLUMN[code]] = over_onsets(value, code)
            held = case.notes.onset_sum.get(code)
            if held is None:
                case.notes.onset_sum[code] = value
            else:
                held += value

    def add_all_but(self, codes: tuple[str, ...], where: NDArray[np.bool_], amount: Floats | float) -> None:
        """Add ``amount`` [nat] to every column but those of ``codes`` on the rows of ``where``."""
        self.add(tuple(code for code in FAULTS if code not in codes), where, amount)
