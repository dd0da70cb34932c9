"""From posterior to findings: one row per fitted port, with reason, onset, volume error, action and next check."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.faults import CATALOGUE, COLUMN, FAULTS
from dialtrue.domain.finding import Crossing, Evidence, Finding
from dialtrue.domain.watch_result import RowProblem, WatchResult, WatchSummary
from dialtrue.engine.decision import ACTIONS, decide, temper
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.posterior import Posterior, onset_interval
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from dialtrue.engine.stakes import last_pair, shown_by_arithmetic, stakes_of
from dialtrue.engine.volume import VolumeError, mixed, standing_of, volume_under
from dialtrue.files.programme import Programme
from dialtrue.services.fleet_records import FleetRecords, moment_of
from dialtrue.services.port_traces import trace_of
from dialtrue.services.verdict_words import next_check, verdict_sentence

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
}
"""Which blocks know the onset of a fault best, in order; others ask the pairs, then the level change."""
PARAMETER_FROM: dict[str, tuple[str, ...]] = {
    "index_reset": ("possibility", "pairs"),
    "digit_slip": ("possibility", "pairs"),
    "clock_shift": ("delivery",),
    "start_slip": ("records", "pairs"),
    "use_change": (),
    "sound": (),
}
LIKELY = 4
"""Leading faults whose volumes make the interval of the volume error. Our assumption: the rest weigh nothing."""
LEAST_WEIGHT = 0.25
"""Evidence lighter than this is not listed [nat]. Our assumption: it moves no verdict."""


@dataclass(slots=True)
class Judged:
    """All that the watch has worked out, before it is put into words."""

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


def compose(judged: Judged, *, traces: int, keep: Sequence[int] = ()) -> WatchResult:
    """Write the findings, most costly to leave waiting first.

    Parameters
    ----------
    judged : Judged
    traces : int
        Findings for which the series are kept for drawing. [0 or more]
    keep : sequence of int
        Rows of the fleet whose series are kept whatever was found.

    Returns
    -------
    WatchResult

    Raises
    ------
    Never raises.
    """
    case, fleet = judged.case, judged.case.fleet
    n = fleet.size
    leading = np.argmax(judged.posterior.probability, axis=1)
    looked_at = last_pair(case.pairs, n) >= 0
    probability = temper(judged.posterior.probability, looked_at, shown_by_arithmetic(judged.blocks, leading))
    judged.posterior.probability = probability
    order = np.argsort(-probability, axis=1)
    code, second = order[:, 0], order[:, 1]
    parameter = _chosen(judged, code)
    error, (since, since_low, since_high) = _volumes(judged, order)
    watch = judged.programme.watch
    stakes = stakes_of(case, code, error.middle_l, since, judged.onsets.rate_l_day)
    decision = decide(
        probability, stakes, costs=watch.costs, prior=judged.posterior.shares,
        remote_checks_per_1000=watch.remote_checks_per_1000,
    )  # fmt: skip
    findings = [
        _finding(judged, f, int(code[f]), int(second[f]), parameter[f], int(since[f]), error, decision.action[f],
                 float(decision.priority[f]))
        for f in range(n)
    ]  # fmt: skip
    rows = sorted(range(n), key=lambda f: -findings[f].priority)
    drawn = [f for f in rows if findings[f].action != "none"][:traces]
    kept = {
        (findings[f].meter_serial, findings[f].endpoint_serial, findings[f].port): trace_of(
            judged.records, judged.case, judged.onsets, f, int(since[f]) if findings[f].since else 0
        )
        for f in dict.fromkeys((*drawn, *keep))
    }
    findings += _unfitted(judged)
    findings += _strangers(judged)
    findings.sort(key=lambda finding: (-finding.priority, finding.meter_serial, finding.port))
    programme = judged.programme
    problems, bad_rows = _bad_rows(programme)
    return WatchResult(
        findings=tuple(findings),
        crossings=tuple(_crossings(judged, code)),
        summary=_summary(judged, findings),
        traces=kept,
        missing=tuple((item.table, item.without_it) for item in programme.missing),
        said=(*programme.notes, *judged.records.said),
        problems=problems,
        bad_rows=bad_rows,
        repairs=(*programme.repairs, *programme.accepted),
    )


def _chosen(judged: Judged, code: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return the parameter of each port's named fault from the block that knows it best."""
    n = len(code)
    value = np.full(n, np.nan)
    by_name = {block.name: block for block in judged.blocks}
    used, history = judged.case.notes.pairs_used, judged.case.notes.history_log_ratio
    for f in range(n):
        name = FAULTS[int(code[f])]
        if name == "register_mismatch":
            value[f] = math.exp(history[f])
            continue
        for block in PARAMETER_FROM.get(name, ("pairs", "records", "delivery")):
            found = by_name[block].parameter[f, code[f]]
            if np.isfinite(found) and not (block == "pairs" and not used[f]):
                value[f] = found
                break
        else:
            value[f] = {"double_count": 2.0, "dead_input": 0.0, "meter_reversed": -1.0}.get(name, np.nan)
            if name in ("weight_decade", "unit_slip") and np.isfinite(history[f]):
                value[f] = _nearest_setting(name, float(math.exp(history[f])))
    return value


def _nearest_setting(name: str, ratio: float) -> float:
    table = (DECADE_RATIOS if name == "weight_decade" else UNIT_RATIOS)[0]
    return float(table[int(np.argmin(np.abs(np.log(table) - math.log(max(ratio, 1e-9)))))])


def _onset(judged: Judged, code: NDArray[np.intp]) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Return the onset of each port's named fault and the 90 % interval it lies in [us]."""
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
    judged: Judged, order: NDArray[np.intp]
) -> tuple[VolumeError, tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]]:
    """Return the volume errors, with intervals over the likely faults, and the named faults' onsets."""
    standing, under = standing_of(judged.case), []
    onsets = [_onset(judged, order[:, rank]) for rank in range(LIKELY)]
    for rank, (since, low, high) in enumerate(onsets):
        code = order[:, rank]
        under.append(
            volume_under(
                judged.case, judged.onsets, standing, code=code, parameter=_chosen(judged, code), since_us=since,
                low_us=low, high_us=high,
            )
        )  # fmt: skip
    weight = np.take_along_axis(judged.posterior.probability, order[:, :LIKELY], axis=1)
    return mixed(under, weight), onsets[0]


def _finding(
    judged: Judged, f: int, code: int, second: int, parameter: float, since_us: int, error: VolumeError,
    action: int, priority: float,
) -> Finding:  # fmt: skip
    fleet, probability = judged.case.fleet, judged.posterior.probability[f]
    fault, runner_up = FAULTS[code], FAULTS[second]
    site = judged.records.site_rows[f]
    unit = str(site["dial_unit"]) if site else ""
    since = moment_of(since_us) if fault != "sound" and since_us else None
    shown = float(parameter) if math.isfinite(parameter) and fault not in ("sound", "vacant", "customer_leak") else None
    paired = bool(judged.case.notes.pairs_used[f])
    sentence = verdict_sentence(
        fault, parameter=shown, since=since, dial_unit=unit,
        at_fitting=bool(since_us <= fleet.fit_us[f] + 86_400_000_000),
        has_pair=paired,
        doubt=runner_up if fault == "sound" and action else "",
    )  # fmt: skip
    against = second if fault == "sound" else COLUMN["sound"]
    items = []
    for block in judged.blocks:
        weight = block.weight(f, code, against)
        if abs(weight) >= LEAST_WEIGHT:
            says, figures = block.says(f, code)
            items.append(Evidence(block.name, says, figures, round(weight, 3)))
    items.sort(key=lambda item: -item.weight)
    middle, low, high = (float(a[f]) for a in (error.middle_l, error.low_l, error.high_l))
    # Two registers under one serial have no volume of their own until somebody has looked.
    told = math.isfinite(middle) and (fault != "duplicate_serial" or action != 0)
    return Finding(
        meter_serial=fleet.meter_serial[f],
        endpoint_serial=fleet.endpoint_serial[f],
        port=int(fleet.port[f]),
        register_role=fleet.role[f],
        fault=fault,
        probability=float(probability[code]),
        runner_up=runner_up,
        runner_up_probability=float(probability[second]),
        action=ACTIONS[action],  # type: ignore[arg-type]
        since=since,
        volume_error_l=round(middle, 3) if told else None,
        volume_error_low_l=round(low, 3) if math.isfinite(low) else None,
        volume_error_high_l=round(high, 3) if math.isfinite(high) else None,
        parameter=shown,
        next_check=next_check(fault, runner_up, has_pair=paired, weight_l=float(fleet.weight_set_l[f]), unit=unit),
        remedy=CATALOGUE[fault].remedy,
        verdict=sentence,
        evidence=tuple(items),
        priority=round(priority, 4),
    )


def _bare(
    meter: str, endpoint: str, port: int, role: str, fault: str, words: str, evidence: Evidence, *, ask: bool = True
) -> Finding:
    return Finding(
        meter_serial=meter, endpoint_serial=endpoint, port=port, register_role=role, fault=fault, probability=0.97,
        runner_up="sound", runner_up_probability=0.02, action="remote_check" if ask else "none",
        since=None, volume_error_l=None,
        volume_error_low_l=None, volume_error_high_l=None, parameter=None,
        next_check=CATALOGUE[fault].settling_check, remedy=CATALOGUE[fault].remedy, verdict=words, evidence=(evidence,),
        priority=1.0 if ask else 0.0,
    )  # fmt: skip


def _unfitted(judged: Judged) -> list[Finding]:
    """Registers of a compound meter that the survey has and nothing is fitted to."""
    return [
        _bare(
            row["meter_serial"], "", 1, row["register_role"] or "single", "port_unread",
            "One register of a compound meter has no port: nothing is fitted to it.",
            Evidence("records", "The survey has a second register here that nothing is fitted to.", {}, 8.0),
        )
        for row in judged.records.unfitted
    ]  # fmt: skip


def _strangers(judged: Judged) -> list[Finding]:
    """Endpoints that were heard though no fitting names them."""
    return [
        _bare(
            "", serial, port, "single", "not_listed", "Heard, but no fitting names this endpoint and port.",
            Evidence("records", "Reads arrive from an endpoint that no fitting names.", {"reads": count}, 8.0),
            ask="fittings" in judged.programme.tables,
        )
        for (serial, port), count in sorted(judged.heard.items())
    ]  # fmt: skip


def _crossings(judged: Judged, code: NDArray[np.intp]) -> list[Crossing]:
    fleet, probability = judged.case.fleet, judged.posterior.probability
    found: list[Crossing] = []
    for ring in judged.case.notes.rings:
        if any(FAULTS[int(code[row])] not in ("crossed", "ports_swapped") for row in ring.rows):
            continue
        number = len({item.ring for item in found}) + 1
        for row, by in zip(ring.rows, ring.counted_by, strict=True):
            p = max(probability[row, COLUMN["crossed"]], probability[row, COLUMN["ports_swapped"]])
            found.append(
                Crossing(number, fleet.meter_serial[row], fleet.endpoint_serial[row], fleet.endpoint_serial[by],
                         int(fleet.port[by]), ring.kind, round(float(p), 4))
            )  # fmt: skip
    return found


def _summary(judged: Judged, findings: list[Finding]) -> WatchSummary:
    by_fault: dict[str, int] = {}
    for finding in findings:
        by_fault[finding.fault] = by_fault.get(finding.fault, 0) + 1
    asked = [finding for finding in findings if finding.action != "none" and finding.volume_error_l is not None]
    errors = [finding.volume_error_l or 0.0 for finding in asked]
    units = [row["dial_unit"] for row in judged.records.site_rows if row and row["dial_unit"]]
    return WatchSummary(
        ports=len(findings),
        reads=judged.reads,
        first_read=moment_of(judged.first_us) if judged.reads else None,
        last_read=moment_of(judged.last_us) if judged.reads else None,
        by_fault=dict(sorted(by_fault.items(), key=lambda item: (-item[1], item[0]))),
        visits=sum(finding.action == "visit" for finding in findings),
        remote_checks=sum(finding.action == "remote_check" for finding in findings),
        over_registered_l=sum(error for error in errors if error > 0),
        under_registered_l=-sum(error for error in errors if error < 0),
        volume_at_stake_l=sum(abs(error) for error in errors),
        unit=max(set(units), key=units.count) if units else "L",
    )


def _bad_rows(programme: Programme) -> tuple[tuple[RowProblem, ...], dict[str, int]]:
    """Return the rows left out, the first ones of each file, and their count by file; the reads' own last."""
    problems, counts = list(programme.problems), dict(programme.problem_counts)
    if programme.reads is not None:
        problems += programme.reads.problems
        counts |= programme.reads.problem_counts
    return tuple(problems), counts
