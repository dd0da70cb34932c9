"""The verdicts as arrays: named fault, runner-up, parameter, onset, volume error, action and next look of each port."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.faults import COLUMN, FAULTS, INNOCENT
from dialtrue.engine.calibration import calibrate
from dialtrue.engine.decision import ACTIONS, Decision, Stakes, decide, temper
from dialtrue.engine.next_check import NextLook, choose_look
from dialtrue.engine.posterior import onset_interval
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from dialtrue.engine.stakes import shown_by_arithmetic, stakes_of
from dialtrue.engine.volume import VolumeError, mixed, standing_of, volume_under
from dialtrue.services.judged import Judged

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

SINCE_FROM: dict[str, tuple[str, ...]] = {
    "dead_input": ("standstill", "pairs"),
    "vacant": ("standstill",),
    "stale_index": ("standstill",),
    "intermittent": ("standstill",),
    "index_reset": ("possibility", "pairs"),
    "double_count": ("granularity", "pairs", "level change"),
    "weight_decade": ("granularity", "pairs", "level change"),
    "use_change": ("level change",),
    "customer_leak": ("night floor", "level change"),
    "steady_counts": ("night floor",),
    "backflow_counted": ("night floor",),
    "wet_counts": ("weather",),
    "clock_shift": ("clock",),
}
"""Which blocks know the onset of a fault best, in order; others ask the pairs, then the level change."""
PARAMETER_FROM: dict[str, tuple[str, ...]] = {
    "index_reset": ("possibility", "pairs"),
    "digit_slip": ("possibility", "pairs"),
    "clock_shift": ("clock",),
    "start_slip": ("records", "pairs"),
    "use_change": (),
    "sound": (),
}
SETTING_FAULTS = ("weight_decade", "unit_slip")
RATIO_FAULTS = (*SETTING_FAULTS, "lost_counts", "extra_counts")
"""Faults whose ratio shows in the daily level where it began after the last look at the dial."""
PARAMETER_ELSE = {"double_count": 2.0, "dead_input": 0.0, "meter_reversed": -1.0}
"""What the parameter is by definition, where no block has measured it."""
_AT_FAULT = np.array([COLUMN[code] for code in FAULTS if code != "sound" and code not in INNOCENT])
LEAST_SHARE = 0.005
"""Probability below which a fault does not enter the interval of the volume error. Our assumption: one in two hundred
moves no tail of one in twenty."""
LIKELY = 4
"""Leading faults whose volumes make the interval of the volume error. Our assumption: the rest weigh nothing."""


@dataclass(slots=True)
class Verdicts:
    """Shapes (n,) unless said.

    ``probability`` (n, n_faults) as stated; ``code``, ``second`` columns of the named fault and the runner-up;
    ``suspect`` column of the likeliest cause that is somebody's fault;
    ``parameter``, ``other`` their parameters, nan where they have none; ``since_us`` with its 90 % interval;
    ``looked_at`` a dial read stands beside the index. ``look`` holds the next look of the rows of ``asked`` only.
    """

    probability: Floats
    code: Ints
    second: Ints
    suspect: Ints
    parameter: Floats
    other: Floats
    since_us: Ints
    since_low_us: Ints
    since_high_us: Ints
    error: VolumeError
    stakes: Stakes
    decision: Decision
    looked_at: NDArray[np.bool_]
    asked: Ints
    look: NextLook

    def since_of(self, row: int) -> tuple[int, int, int]:
        """Return the onset of one row and the ends of its interval [µs]."""
        return int(self.since_us[row]), int(self.since_low_us[row]), int(self.since_high_us[row])


def work_out(judged: Judged) -> Verdicts:
    """Name the fault of every port and decide what to do about it.

    Parameters
    ----------
    judged : Judged

    Returns
    -------
    Verdicts

    Raises
    ------
    Never raises.
    """
    case, n = judged.case, judged.case.fleet.size
    watch = judged.programme.watch
    leading = np.argmax(judged.posterior.probability, axis=1)
    last = case.pairs.last_rows()
    looked_at = last >= 0
    # A look from before the fault began says nothing of it.
    seen_us = case.pairs.at_us[np.maximum(last, 0)] if len(case.pairs.at_us) else np.zeros(n, np.int64)
    onset = _onset(judged, leading)
    since_seen = looked_at & (seen_us > onset[0])
    probability = temper(
        calibrate(judged.posterior.probability), since_seen, shown_by_arithmetic(judged.blocks, leading)
    )
    order = np.argsort(-probability, axis=1, kind="stable")[:, :LIKELY]
    parameters = [chosen(judged, order[:, rank], unseen=~since_seen) for rank in range(LIKELY)]
    error = _volumes(judged, probability, order, parameters, onset)
    since, low, high = onset
    stakes = stakes_of(case, order[:, 0], error.middle_l, since, judged.onsets.rate_l_day)
    prior = judged.posterior.shares
    if judged.group_log_factor is not None:
        prior = prior * np.exp(judged.group_log_factor)
    decision = decide(
        probability, stakes, costs=watch.costs, prior=prior,
        remote_checks_per_1000=watch.remote_checks_per_1000,
        settled=None if judged.settled_us is None else judged.settled_us > 0,
    )  # fmt: skip
    asked = np.flatnonzero((decision.action > 0) | (order[:, 0] != COLUMN["sound"]))
    look = choose_look(
        probability[asked], _rows(stakes, asked), decision.action[asked] == ACTIONS.index("visit"), costs=watch.costs
    )
    return Verdicts(
        probability, order[:, 0], order[:, 1], _AT_FAULT[np.argmax(probability[:, _AT_FAULT], axis=1)], parameters[0],
        parameters[1], since, low, high, error, stakes, decision, looked_at, asked, look,
    )  # fmt: skip


def _rows(stakes: Stakes, rows: Ints) -> Stakes:
    return Stakes(
        stakes.code[rows], stakes.error_l[rows], stakes.days[rows], stakes.use_l_day[rows], stakes.volume_l[rows],
        stakes.grain_l[rows], stakes.looked_at[rows],
    )  # fmt: skip


def chosen(judged: Judged, code: Ints, *, unseen: NDArray[np.bool_]) -> Floats:
    """Return the parameter of each port's fault from the block that knows it best, nan where none does.

    ``unseen`` (n,) marks ports whose dial nobody has read since the fault began: the looks before it know no ratio of
    it, and the change of the daily level does. Never raises.
    """
    value = np.full(len(code), np.nan)
    by_name = {block.name: block for block in judged.blocks}
    used, history = judged.case.notes.pairs_used > 0, judged.case.notes.history_log_ratio
    for column in np.unique(code):
        name, rows = FAULTS[int(column)], np.flatnonzero(code == column)
        if name == "register_mismatch":
            value[rows] = np.exp(history[rows])
            continue
        got = np.full(len(rows), np.nan)
        for block in PARAMETER_FROM.get(name, ("pairs", "records", "delivery")):
            found = by_name[block].parameter[rows, column]
            if block == "pairs":
                found = np.where(used[rows], found, np.nan)
            got = np.where(np.isnan(got), found, got)
        if name in RATIO_FAULTS:
            level = judged.case.notes.level_log_ratio[rows]
            ratio = _nearest_setting(name, level) if name in SETTING_FAULTS else np.exp(level)
            got = np.where(unseen[rows] & ~np.isnan(level), ratio, got)
        got = np.where(np.isnan(got), PARAMETER_ELSE.get(name, np.nan), got)
        if name in SETTING_FAULTS:
            got = np.where(np.isnan(got), _nearest_setting(name, history[rows]), got)
        value[rows] = got
    return value


def _nearest_setting(name: str, log_ratio: Floats) -> Floats:
    """Return the setting's ratio nearest to use after over use before, nan where that is not known."""
    table = np.asarray((DECADE_RATIOS if name == "weight_decade" else UNIT_RATIOS)[0], float)
    known = np.nan_to_num(log_ratio)
    nearest = table[np.argmin(np.abs(np.log(table)[None, :] - np.maximum(known, math.log(1e-9))[:, None]), axis=1)]
    return np.where(np.isfinite(log_ratio), nearest, np.nan)


def _onset(judged: Judged, code: Ints) -> tuple[Ints, Ints, Ints]:
    """Return the onset of each port's fault and the 90 % interval it lies in [us]."""
    by_name = {block.name: block for block in judged.blocks}
    exact = np.zeros(len(code), np.int64)
    for column in np.unique(code):
        rows = np.flatnonzero(code == column)
        for block in reversed(SINCE_FROM.get(FAULTS[int(column)], ("pairs", "level change"))):
            found = by_name[block].since_us[rows, column]
            exact[rows] = np.where(found > 0, found, exact[rows])
    since, low, high = onset_interval(judged.case.notes.onset_sum, judged.onsets, code, exact)
    fit = judged.case.fleet.fit_us
    return np.maximum(since, fit), np.maximum(low, fit), np.maximum(high, fit)


def _volumes(
    judged: Judged, probability: Floats, order: Ints, parameters: list[Floats], onset: tuple[Ints, Ints, Ints]
) -> VolumeError:
    """Return the volume errors with intervals over the likely faults; ``onset`` is the named faults'."""
    standing = standing_of(judged.case)
    weight = np.take_along_axis(probability, order, axis=1)
    under = []
    for rank in range(LIKELY):
        counts = weight[:, rank] >= LEAST_SHARE if rank else np.ones(len(weight), bool)
        if rank and not counts.any():
            break
        # A fault too improbable to move the interval stands there as a second sound port of no weight.
        weight[:, rank] = np.where(counts, weight[:, rank], 0.0)
        code = np.where(counts, order[:, rank], COLUMN["sound"])
        since, low, high = _onset(judged, code) if rank else onset
        under.append(
            volume_under(
                judged.case, judged.onsets, standing, code=code, parameter=parameters[rank], since_us=since,
                low_us=low, high_us=high,
            )
        )  # fmt: skip
    return mixed(under, weight[:, : len(under)])
