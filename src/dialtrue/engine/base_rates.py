"""How common each fault is where this crew worked, with this cable lot and this hardware: learned from checks.

A check is somebody's look at a port with what was found. Checks that a finding asked for tell which groups have more
than their part of the finds; checks drawn as a sample tell how common faults are at all. Both shrink towards the
shipped shares, so three bad ports of a crew make nobody guilty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.faults import CATALOGUE, COLUMN, FAULTS, INNOCENT
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onset_prior import LATE_SHARE
from dialtrue.engine.pairing import Pairs

Flags = NDArray[np.bool_]
N_FAULTS = len(FAULTS)
FAMILY_SHAPE = 2.0
"""Shape of the gamma spread of a group's factor on a whole family of faults: one in six groups has more than 1.7 times
the usual rate. Our assumption: as much as two finds in a usual group."""
CODE_SHAPE = 4.0
"""The same for one code within its family: groups differ less in which fault than in how many. Our assumption."""
SHARE_PORTS = 250.0
"""Weight of the shipped shares against ports checked as a sample. Our assumption, as in ``posterior.PRIOR_PORTS``."""
SWEEPS = 25
KIND_ONLY = ("ports_swapped", "port_unread")
"""Faults that only a compound meter can have: their share belongs to these alone."""
KIND_MOST = 8.0
"""Most that this raises their share. Our assumption: more would call one compound meter in six swapped unseen."""
MISSED = {"register_mismatch": 0.6, "wet_counts": 0.4, "backflow_counted": 0.4, "steady_counts": 0.3,
          "intermittent": 0.3, "clock_shift": 0.5, "stale_index": 0.5}  # fmt: skip
MISSED_ELSE = 0.05
"""Share of faults that a look misses, by code. Our assumption: damp and flow come and go, a ratio hides from a dial."""
WRONGLY_FOUND = 0.02
"""Share of checks that name a wrong cause. Our assumption."""

_FAMILY_NAMES = ("wiring", "setting", "record", "data", "metering")
_FAMILY = np.array([_FAMILY_NAMES.index(kind) if (kind := CATALOGUE[code].kind) in _FAMILY_NAMES else -1
                    for code in FAULTS])  # fmt: skip
_LEARNED = np.flatnonzero(_FAMILY >= 0)


@dataclass(slots=True)
class Checks:
    """What was found where, by time; shapes (m,).

    ``row`` of the fleet; ``found`` column of the fault; ``at_us``; ``sampled`` the port was drawn, not suspected;
    ``put_right`` the fault was taken away.
    """

    row: Ints
    found: Ints
    at_us: Ints
    sampled: Flags
    put_right: Flags

    @property
    def any(self) -> bool:
        """Whether there is one at all."""
        return len(self.row) > 0


def learned_shares(prior: Floats, checks: Checks) -> Floats:
    """Return the shares of all faults with what a sample of ports has shown.

    Parameters
    ----------
    prior : float64, shape (n_faults,)
        Shipped or stated shares, which sum to 1. [-]
    checks : Checks
        Only those drawn as a sample count; a port counts once, with its first check.

    Returns
    -------
    float64, shape (n_faults,)
        Mean of the Dirichlet posterior. [-]

    Raises
    ------
    Never raises.

    Source
    ------
    Dirichlet-multinomial, conjugate; the prior weighs as much as 250 ports (our assumption).
    """
    rows, first = np.unique(checks.row[checks.sampled], return_index=True)
    counts = np.bincount(checks.found[checks.sampled][first], minlength=N_FAULTS)
    mean: Floats = (SHARE_PORTS * prior + counts) / (SHARE_PORTS + len(rows))
    return mean


def group_log_factor(groups: Ints, checks: Checks, shares: Floats) -> Floats:
    """Return what crew, cable lot and hardware add to the prior of each port.

    Parameters
    ----------
    groups : int64, shape (n, groupings)
        Which group of each grouping a port belongs to, -1 where the records do not say.
    checks : Checks
    shares : float64, shape (n_faults,)
        Shares in the programme as a whole. [-]

    Returns
    -------
    float64, shape (n, n_faults)
        Natural logarithm of the product of the groups' factors; 0 for what is no fault. [nat]

    Raises
    ------
    Never raises.

    Notes
    -----
    Finds of code c in a cell of ports are Poisson with mean E_c times one factor per grouping. A grouping's factor is a
    gamma variable of mean 1 for the family of c times another for c itself. E_c is the share of c times the ports
    drawn as a sample, plus the cell's part, by number of ports, of the finds of c that findings led to. Each factor in
    turn takes its conjugate mean given the others, so a lot that only one crew used is not counted twice.

    Source
    ------
    Gamma-Poisson, conjugate: (a + finds) / (a + expected). Shapes are our assumption.
    """
    n = len(groups)
    log_factor = np.zeros((n, N_FAULTS))
    if not n or not checks.any or not groups.shape[1]:
        return log_factor
    cells, cell = np.unique(groups, axis=0, return_inverse=True)
    cell = cell.reshape(-1)
    finds, expected = _exposure(cell, len(cells), n, checks, shares)
    factor = _fit_factors(cells, finds, expected)
    log_factor[:, _LEARNED] = np.log(factor)[cell]
    return log_factor


def _exposure(cell: Ints, cells: int, n: int, checks: Checks, shares: Floats) -> tuple[Floats, Floats]:
    """Return finds and expected finds by cell and learned code; a port counts once for each thing found there."""
    finds, expected = np.zeros((cells, N_FAULTS)), np.zeros((cells, N_FAULTS))
    once = np.unique(np.stack([checks.row, checks.found], axis=1), axis=0, return_index=True)[1]
    np.add.at(finds, (cell[checks.row[once]], checks.found[once]), 1.0)
    drawn = np.unique(checks.row[checks.sampled])
    expected += np.bincount(cell[drawn], minlength=cells)[:, None] * shares[None, :]
    led = once[~checks.sampled[once]]
    led_to = np.bincount(checks.found[led], minlength=N_FAULTS)
    expected += np.bincount(cell, minlength=cells)[:, None] / n * led_to[None, :]
    return finds[:, _LEARNED], expected[:, _LEARNED]


def _fit_factors(cells: Ints, finds: Floats, expected: Floats) -> Floats:
    """Return the product of all factors by cell and learned code."""
    family = _FAMILY[_LEARNED]
    total = np.ones_like(expected)
    parts = []
    for grouping in range(cells.shape[1]):
        group = cells[:, grouping]
        known = group >= 0
        count = int(group.max()) + 1 if known.any() else 0
        if count > 1:
            parts.append((group, known, np.ones((count, len(_FAMILY_NAMES))), np.ones((count, len(family)))))
    for _ in range(SWEEPS):
        for group, known, by_family, by_code in parts:
            rows = group[known]
            for factor, shape, pooled in ((by_family, FAMILY_SHAPE, True), (by_code, CODE_SHAPE, False)):
                mine = factor[rows][:, family] if pooled else factor[rows]
                seen, due = (
                    _sums(rows, len(factor), finds[known]),
                    _sums(rows, len(factor), expected[known] * total[known] / mine),
                )
                if pooled:
                    seen, due = _pool(seen, family), _pool(due, family)
                fresh = (shape + seen) / (shape + due)
                mine_now = fresh[rows][:, family] if pooled else fresh[rows]
                total[known] *= mine_now / mine
                factor[:] = fresh
    return total


def _sums(rows: Ints, count: int, values: Floats) -> Floats:
    summed = np.zeros((count, values.shape[1]))
    np.add.at(summed, rows, values)
    return summed


def _pool(values: Floats, family: NDArray[np.int64]) -> Floats:
    return np.stack([values[:, family == kind].sum(axis=1) for kind in range(len(_FAMILY_NAMES))], axis=1)


def kind_log_factor(compound: Flags) -> Floats:
    """Return what the kind of meter adds to the prior: only a compound meter's ports can be swapped or left unread.

    Parameters
    ----------
    compound : bool, shape (n,)
        The port is one of a compound meter's.

    Returns
    -------
    float64, shape (n, n_faults)
        [nat]

    Raises
    ------
    Never raises.

    Source
    ------
    A share of all ports belongs to those that can have the fault (arithmetic); bounded, see ``KIND_MOST``.
    """
    n = len(compound)
    log_factor = np.zeros((n, N_FAULTS))
    count = int(compound.sum())
    if count:
        more = np.log(min(n / count, KIND_MOST))
        for code in KIND_ONLY:
            log_factor[compound, COLUMN[code]] = more
    return log_factor


def weigh_checks(case: Case, checks: Checks) -> tuple[Block, Ints]:
    """Weigh what was found at each port itself.

    Parameters
    ----------
    case : Case
    checks : Checks
        Sorted by time.

    Returns
    -------
    Block
        Found sound: a fault from before is improbable, by what a look misses; one that began later is as likely as the
        time since. Found at fault: that one.
    settled_us : int64, shape (n,)
        When the fault was found and put right, 0 where it was not, or where later looks show that it is not right.

    Raises
    ------
    Never raises.

    Source
    ------
    Bayes' rule; shares missed, wrongly found and begun late are our assumptions.
    """
    n = case.fleet.size
    last: dict[int, int] = {}
    fault: dict[int, int] = {}
    for k in range(len(checks.row)):
        row = int(checks.row[k])
        last[row] = k
        if FAULTS[int(checks.found[k])] != "sound" and FAULTS[int(checks.found[k])] not in INNOCENT:
            fault[row] = k

    def says(row: int, column: int) -> tuple[str, dict[str, str | int | float | None]]:
        k = fault.get(row, last.get(row, -1))
        found = CATALOGUE[FAULTS[int(checks.found[k])]].title if k >= 0 else ""
        days = (int(case.end_us[row]) - int(checks.at_us[k])) / 86_400e6 if k >= 0 else 0.0
        words = f"Somebody looked {days:.0f} days before the end and found: {found}." if k >= 0 else ""
        return words, {"days_before_the_end": round(days, 1)}

    block = Block.blank("checks", n, says)
    block.apart = True
    settled = np.zeros(n, np.int64)
    late = np.array([LATE_SHARE.get(code, 0.0) for code in FAULTS])
    missed = np.array([MISSED.get(code, MISSED_ELSE) for code in FAULTS])
    for row, k in last.items():
        if row in fault:
            k = fault[row]
            block.loglik[row] = np.log(WRONGLY_FOUND)
            block.loglik[row, checks.found[k]] = 0.0
            at = int(checks.at_us[k])
            if checks.put_right[k] and not _wrong_again(case.pairs, case, row, at):
                settled[row] = at
            continue
        span = max(int(case.end_us[row]) - int(case.fleet.fit_us[row]), 1)
        since = np.clip((int(case.end_us[row]) - int(checks.at_us[k])) / span, 0.0, 1.0)
        after = late * since
        chance = np.where(_FAMILY >= 0, after + (1.0 - after) * missed, 1.0)
        found = int(checks.found[k])
        if FAULTS[found] in INNOCENT:
            chance[[COLUMN[code] for code in ("sound", *INNOCENT)]] = 0.2
            chance[found] = 1.0
        block.loglik[row] = np.log(chance)
    return block, settled


def _wrong_again(pairs: Pairs, case: Case, row: int, at_us: int) -> bool:
    """Say whether looks after a repair disagree with the index by more than reading and bridging explain."""
    rows = pairs.rows_of(row)
    rows = rows[pairs.at_us[rows] >= at_us - 3_600_000_000]
    if len(rows) < 2:
        return False
    dial = float(pairs.dial_l[rows[-1]] - pairs.dial_l[rows[0]])
    index = float(pairs.index_l[rows[-1]] - pairs.index_l[rows[0]])
    fleet = case.fleet
    grain = float(np.nansum([fleet.weight_set_l[row], fleet.quantum_dial_l[row], fleet.quantum_index_l[row]]))
    noise = 1.5 * grain + 3.0 * float(np.hypot(pairs.bridge_l[rows[0]], pairs.bridge_l[rows[-1]])) + 0.03 * abs(dial)
    return abs(index - dial) > noise
