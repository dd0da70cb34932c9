"""From posterior to findings: the verdicts in order, what stands beside them, and the figures that stand first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from dialtrue.domain.faults import CATALOGUE, COLUMN, FAULTS
from dialtrue.domain.finding import Crossing, Evidence, Finding
from dialtrue.domain.watch_result import RowProblem, WatchResult, WatchSummary
from dialtrue.domain.words import counted
from dialtrue.engine.decision import ACTIONS
from dialtrue.files.programme import Programme
from dialtrue.services.finding_rows import FindingRows
from dialtrue.services.fleet_records import moment_of
from dialtrue.services.judged import Judged
from dialtrue.services.port_traces import trace_of
from dialtrue.services.verdicts import Verdicts, work_out

__all__ = ["Judged", "compose"]


def compose(judged: Judged, *, traces: int) -> WatchResult:
    """Write the findings, most costly to leave waiting first.

    Parameters
    ----------
    judged : Judged
    traces : int
        Findings for which the series are kept for drawing. [0 or more]

    Returns
    -------
    WatchResult

    Raises
    ------
    Never raises.
    """
    verdicts = work_out(judged)
    beside = [*_unfitted(judged), *_strangers(judged)]
    findings = FindingRows(judged, verdicts, beside)
    asked = np.flatnonzero(verdicts.decision.action > 0)
    drawn = asked[np.argsort(-verdicts.decision.priority[asked], kind="stable")][:traces]
    kept = {}
    for f in drawn.tolist():
        finding = findings.at_row(f)
        key = (finding.meter_serial, finding.endpoint_serial, finding.port)
        kept[key] = trace_of(judged.records, judged.case, f, verdicts.since_of(f) if finding.since else None)
    programme = judged.programme
    problems, bad_rows = _bad_rows(programme)
    return WatchResult(
        findings=findings,
        crossings=tuple(_crossings(judged, verdicts)),
        summary=_summary(judged, verdicts, beside),
        traces=kept,
        missing=tuple((item.table, item.without_it) for item in programme.missing),
        said=(*programme.notes, *judged.records.said, *_routine_said(judged, verdicts)),
        problems=problems,
        bad_rows=bad_rows,
        repairs=(*programme.repairs, *programme.accepted),
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


def _routine_said(judged: Judged, verdicts: Verdicts) -> list[str]:
    """Say how many checks go to ports without a sign of their own."""
    listed, budget = int(verdicts.decision.routine.sum()), judged.programme.watch.remote_checks_per_1000
    if not listed:
        return []
    return [
        f"{counted(listed, 'check')} asked for without any sign of a fault, where nobody has looked at the dial since "
        f"the fitting: the most useful first, {budget:g} a month for each 1,000 ports."
    ]


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


def _crossings(judged: Judged, verdicts: Verdicts) -> list[Crossing]:
    fleet, probability, code = judged.case.fleet, verdicts.probability, verdicts.code
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


def _summary(judged: Judged, verdicts: Verdicts, beside: Sequence[Finding]) -> WatchSummary:
    action = verdicts.decision.action
    by_fault = Counter({FAULTS[k]: int(count) for k, count in enumerate(np.bincount(verdicts.code)) if count})
    by_fault.update(finding.fault for finding in beside)
    errors = verdicts.error.middle_l[(action > 0) & np.isfinite(verdicts.error.middle_l)]
    sites = judged.programme.tables.get("sites")
    units = Counter(sites["dial_unit"].drop_null().to_pylist() if sites is not None else [])
    asks = Counter(ACTIONS[k] for k in action.tolist())
    asks.update(finding.action for finding in beside)
    return WatchSummary(
        ports=judged.case.fleet.size + len(beside),
        reads=judged.reads,
        first_read=moment_of(judged.first_us) if judged.reads else None,
        last_read=moment_of(judged.last_us) if judged.reads else None,
        by_fault=dict(sorted(by_fault.items(), key=lambda item: (-item[1], item[0]))),
        visits=asks["visit"],
        remote_checks=asks["remote_check"],
        over_registered_l=float(errors[errors > 0].sum()),
        under_registered_l=float(-errors[errors < 0].sum()),
        volume_at_stake_l=float(np.abs(errors).sum()),
        unit=units.most_common(1)[0][0] if units else "L",
    )


def _bad_rows(programme: Programme) -> tuple[tuple[RowProblem, ...], dict[str, int]]:
    """Return the rows left out, the first ones of each file, and their count by file; the reads' own last."""
    problems, counts = list(programme.problems), dict(programme.problem_counts)
    if programme.reads is not None:
        problems += programme.reads.problems
        counts |= programme.reads.problem_counts
    return tuple(problems), counts
