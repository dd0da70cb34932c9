"""Matches of channels with other meters' dials, for the neighbours and for the two ports of a compound meter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from dialtrue.domain.faults import COLUMN, FAULTS, INNOCENT
from dialtrue.engine.evidence import match_kernel as kernel
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.history import use_before
from dialtrue.engine.evidence.misreading import slip_density
from dialtrue.engine.evidence.possibility import capacity_counts, expected_first_counts
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onset_prior import over_onsets
from dialtrue.engine.scan_kernel import DAY_US

KIND_LOG_SHARE = np.log([0.7, 0.3])
"""Share of exchanges of wires, and of records. Our assumption."""
FAULT_SHARE, INNOCENT_SHARE = 0.003, 0.015
"""Share of each other fault, and of each innocent, that may explain a port instead. Our assumption."""


@dataclass(slots=True)
class Suit:
    """What a match needs of every port, computed once; shapes (n,), ``own`` (m,) by look.

    ``otherwise`` is the evidence of every other cause together, relative to sound, with ``stretch``: what it gains
    where the looks are asked for the density of the dial given the index, as a match is, and not the other way round;
    the logarithm of index over dial at each look [nat]. ``crossed`` and ``swapped`` are what the blocks so far give
    those two codes; ``own`` and ``began`` are the log densities of its looks and of its first read if it counts true.
    """

    case: Case
    otherwise: Floats
    stretch: Floats
    crossed: Floats
    swapped: Floats
    own: Floats
    began: Floats
    read_us: Ints
    pace: Floats
    pace_due: Floats
    capacity: Floats
    weight_l: Floats
    log_use: Floats
    use_spread: Floats
    log_rate: Floats

    def edges(self, row: Ints, by: Ints) -> tuple[Floats, Ints]:
        """Return (edges, 2) evidence for meter ``row`` counted by the channel of ``by``, wires and records, and looks.

        Relative to ``row`` counting true on its own channel [nat].
        """
        fleet, pairs, scan = self.case.fleet, self.case.pairs, self.case.scan
        figures = scan.figures
        out, looks = np.zeros((len(row), 2)), np.zeros(len(row), np.int64)
        kernel.weigh_edges(
            row, by, fleet.fit_us, pairs.anchored, fleet.quantum_dial_l, fleet.quantum_index_l, self.weight_l,
            fleet.weight_set_l, fleet.start_count, self.capacity, self.log_use, self.use_spread, self.log_rate,
            pairs.first, pairs.at_us, pairs.dial_l, pairs.index_l, pairs.bridge_l, pairs.misread, pairs.usable,
            self.own, self.began, scan.day_walk, scan.calendar.start_us, self.read_us, figures["first_us"],
            figures["last_us"], figures["first_count"].astype(float), figures["walk"].astype(float), self.pace,
            self.pace_due, out, looks,
        )  # fmt: skip
        return out + KIND_LOG_SHARE, looks


def evidence_so_far(case: Case, blocks: list[Block]) -> Floats:
    """Return the blocks' summed log-likelihoods relative to sound, onsets averaged over. (n, n_faults) [nat]"""
    total = np.zeros((case.fleet.size, len(FAULTS)), order="F")
    for block in blocks:
        total += block.loglik
    for code, value in case.notes.onset_sum.items():
        total[:, COLUMN[code]] += over_onsets(value, code)
    relative: Floats = np.ascontiguousarray(total - total[:, :1])
    return relative


def _stretch(case: Case) -> Floats:
    """Return the sum of the logarithms of index over dial at each port's looks. [nat]"""
    fleet, pairs = case.fleet, case.pairs
    f = pairs.fitting
    least = np.hypot(np.nan_to_num(fleet.quantum_dial_l[f] + fleet.weight_set_l[f], nan=1.0), pairs.bridge_l) + 1e-6
    ratio = np.log(np.maximum(np.abs(pairs.index_l), least) / np.maximum(np.abs(pairs.dial_l), least))
    return np.bincount(f, np.where(pairs.usable == 1, ratio, 0.0), fleet.size)


def suit_of(case: Case, blocks: list[Block]) -> Suit:
    """Work out what the matches need; cost O(n). Never raises."""
    fleet, scan = case.fleet, case.scan
    figures = scan.figures
    total = evidence_so_far(case, blocks)
    crossed, swapped = total[:, COLUMN["crossed"]], total[:, COLUMN["ports_swapped"]]
    share = np.array([INNOCENT_SHARE if code in INNOCENT else FAULT_SHARE for code in FAULTS])
    share[[COLUMN["crossed"], COLUMN["ports_swapped"]]] = 0.0
    share[COLUMN["sound"]] = 1.0
    with np.errstate(divide="ignore"):
        otherwise = logsumexp(total + np.log(share), axis=1)
    stretch = _stretch(case)
    otherwise = np.maximum(otherwise + stretch, 0.0)
    capacity, due = capacity_counts(case), expected_first_counts(case)
    own, began = np.zeros(len(case.pairs.at_us)), np.zeros(fleet.size)
    weight = np.where(fleet.weight_meter_l > 0, fleet.weight_meter_l, fleet.weight_set_l)
    # A start keyed before the last draw is no reason to follow another dial.
    own_l = case.pairs.index_l - case.start_lag_l[case.pairs.fitting]
    kernel.own_evidence(
        case.pairs.fitting, fleet.quantum_dial_l, fleet.quantum_index_l, weight, case.pairs.dial_l, own_l,
        case.pairs.bridge_l, case.pairs.misread, slip_density(case), case.pairs.usable, fleet.start_count,
        figures["first_count"].astype(float), capacity, due, own, began,
    )  # fmt: skip
    before = use_before(case)
    step_us = figures["step_us_total"] / np.maximum(figures["n"] - 1, 1)
    # Hourly reads reach the day's end; rarer ones come at the hour of the last.
    read_us = np.where(step_us < DAY_US // 4, DAY_US, (figures["last_us"] - scan.calendar.start_us) % DAY_US)
    with np.errstate(divide="ignore", invalid="ignore"):
        # Where the dial was looked at again it has said itself what the place uses.
        log_use = np.where(before.known & ~before.dialled, np.log(fleet.use_l_day) + before.shift_nat, np.nan)
        log_rate = np.where(figures["n"] >= 2, np.log(np.maximum(before.index_l_day, 1e-3)), np.nan)
        use = np.where(fleet.use_l_day > 0, fleet.use_l_day, before.index_l_day) / fleet.quantum_index_l
    return Suit(
        case=case, otherwise=otherwise, stretch=stretch, crossed=crossed, swapped=swapped, own=own, began=began,
        read_us=read_us.astype(np.int64), pace=np.maximum(before.index_l_day / fleet.quantum_index_l, 1e-3),
        pace_due=np.maximum(np.nan_to_num(use, nan=1.0), 1e-3), capacity=capacity, weight_l=weight, log_use=log_use,
        use_spread=before.spread_nat, log_rate=log_rate,
    )  # fmt: skip


def suspicious(suit: Suit, least: float) -> NDArray[np.bool_]:
    """Mark ports that something other than a sound count explains better by ``least`` [nat], and that were heard."""
    figures = suit.case.scan.figures
    odd = (suit.otherwise >= least) | (suit.crossed >= least) | (suit.case.pairs.start_broken == 1)
    return odd & (figures["n"] >= 2)
