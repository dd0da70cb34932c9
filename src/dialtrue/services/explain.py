"""Explain: lay open what stands behind the verdict on one meter."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from dialtrue.domain.errors.explain import MeterNotFitted, MeterUnknown, PortUnknown
from dialtrue.domain.explanation import (
    NATS_PER_BIT,
    BlockSay,
    Chance,
    DayProfile,
    Explanation,
    Fingerprint,
    Look,
    NeighbourFit,
    OddsInBits,
    WetDry,
)
from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.domain.finding import Finding
from dialtrue.domain.near_serials import near_serials
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.watch_result import PortTrace
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.pictures.hours import hour_shares
from dialtrue.engine.evidence.pictures.looks import followed_dial, look_noise_l
from dialtrue.engine.evidence.pictures.numbers import pulses_per_weight
from dialtrue.engine.fleet import Floats
from dialtrue.engine.posterior import CANDOUR
from dialtrue.services.explain_pictures import pictures_of
from dialtrue.services.finding_rows import FindingRows
from dialtrue.services.judged import Judged
from dialtrue.services.port_traces import trace_of
from dialtrue.services.verdicts import Verdicts, work_out
from dialtrue.services.watch import Progress, judge_folder

LEADING = 5


def explain_meter(
    folder: Path,
    meter: str,
    *,
    at: dt.datetime,
    as_of: dt.datetime | None = None,
    endpoint: str = "",
    port: int | None = None,
    role: str = "",
    accept: Sequence[str] = (),
    progress: Progress | None = None,
) -> tuple[Explanation, ...]:
    """Run the watch on a folder and lay open the verdict on each fitting of one meter.

    Parameters
    ----------
    folder : Path
        Programme folder of plain files.
    meter : str
        Serial of the meter, exactly as in the records.
    at : datetime
        The time of the run, aware.
    as_of : datetime, optional
        Judge with only what was known then.
    endpoint, role : str
        Only the fitting of this endpoint, or of this register (high, low, single); blank for all.
    port : int, optional
        Only the fitting of this port.
    accept : sequence of str
        Repairs to make, as ``watch_folder`` takes them.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    tuple of Explanation
        One a fitting, in the order of the records.

    Raises
    ------
    MeterUnknown, MeterNotFitted, PortUnknown
        Nothing fits what was asked for; near matches are offered.
    DialtrueError
        A file cannot be used.

    Source
    ------
    Bayes' rule: the blocks' log-likelihoods add up to the logarithm of the odds.
    """
    judged = judge_folder(folder, at=at, as_of=as_of, accept=accept, progress=progress)
    rows = chosen_rows(judged, meter, endpoint=endpoint, port=port, role=role)
    verdicts = work_out(judged)
    findings = FindingRows(judged, verdicts, ())
    explained = tuple(explain_row(judged, verdicts, row, findings.at_row(row)) for row in rows)
    if progress is not None:
        progress("weighing the evidence", 3, 3)
    return explained


def chosen_rows(judged: Judged, meter: str, *, endpoint: str, port: int | None, role: str) -> list[int]:
    """Return the fleet's rows of a meter, as ``explain_meter`` chooses them; raises as it does."""
    fleet = judged.case.fleet
    of_meter = [row for row in range(fleet.size) if fleet.meter_serial[row] == meter]
    if not of_meter:
        _refuse(judged, meter)
    rows = [
        row
        for row in of_meter
        if endpoint in ("", fleet.endpoint_serial[row])
        and (port is None or port == int(fleet.port[row]))
        and role in ("", fleet.role[row])
    ]
    if not rows:
        asked = [f"endpoint {endpoint}"] if endpoint else []
        asked += [f"port {port}"] if port is not None else []
        asked += [f"a {role} register"] if role else []
        there = (
            f"endpoint {fleet.endpoint_serial[row]} port {fleet.port[row]} ({fleet.role[row]})" for row in of_meter
        )
        raise PortUnknown(meter=meter, asked=" and ".join(asked), fittings=", ".join(there))
    return rows


def _refuse(judged: Judged, meter: str) -> None:
    """Raise the error that helps most with a serial that no fitting has."""
    fleet, tables = judged.case.fleet, judged.programme.tables
    surveyed = set(tables["sites"]["meter_serial"].to_pylist()) if "sites" in tables else set()
    if meter in surveyed:
        raise MeterNotFitted(meter=meter)
    worn_by = [fleet.meter_serial[row] for row in range(fleet.size) if fleet.endpoint_serial[row] == meter]
    close = near_serials(meter, fleet.meter_serial)
    if worn_by:
        near = f"That is an endpoint's serial; it is fitted to meter {worn_by[0]}."
    elif close:
        near = f"Did you mean {' or '.join(close)}? Serials are text: leading zeros count."
    else:
        near = "Give the serial as it stands in fittings.csv; `dialtrue watch` lists those that ask for work."
    raise MeterUnknown(folder=judged.programme.folder, meter=meter, near=near)


def explain_row(judged: Judged, verdicts: Verdicts, row: int, finding: Finding) -> Explanation:
    """Lay open the verdict on one row of the fleet.

    Parameters
    ----------
    judged, verdicts : Judged, Verdicts
        What the watch worked out and named.
    row : int
        Row of the fleet.
    finding : Finding
        What the watch says of that row.

    Returns
    -------
    Explanation

    Raises
    ------
    Never raises.

    Source
    ------
    Bayes' rule; bits are natural logarithms over ln 2.
    """
    case, stated = judged.case, verdicts.probability[row]
    order = np.argsort(-stated, kind="stable")[:LEADING]
    named, runner_up = COLUMN[finding.fault], COLUMN[finding.runner_up]
    other = runner_up if finding.fault == "sound" else COLUMN["sound"]
    says = []
    for block in judged.blocks:
        share = (1.0 if block.apart else CANDOUR) / NATS_PER_BIT
        words, figures = block.says(row, named) if _may_speak(block.name, case, row) else ("Nobody has looked.", {})
        to_other, to_runner_up = (share * block.weight(row, named, against) for against in (other, runner_up))
        says.append(BlockSay(block.name, words, figures, round(to_other, 3), round(to_runner_up, 3)))
    says.sort(key=lambda item: -item.bits_to_other)
    trace = trace_of(judged.records, case, row, verdicts.since_of(row) if finding.since else None)
    return Explanation(
        finding=finding,
        trace=trace,
        chances=tuple(Chance(FAULTS[int(column)], float(stated[column])) for column in order),
        other=FAULTS[other],
        says=tuple(says),
        to_other=_sums(judged, stated, row, named, other, sum(item.bits_to_other for item in says)),
        to_runner_up=_sums(judged, stated, row, named, runner_up, sum(item.bits_to_runner_up for item in says)),
        looks=_looks(case, row, trace),
        fingerprint=_fingerprint(case, row),
        wet_dry=_wet_dry(case, row, trace.dial_unit),
        day_profile=_day_profile(case, row),
        neighbour=_neighbour(case, row),
        pictures=pictures_of(case, row, trace, tuple(says)),
    )


def _sums(judged: Judged, stated: Floats, row: int, named: int, against: int, spoken: float) -> OddsInBits:
    """Split the logarithm of the stated odds into what stood before, what was said together, and what caution took."""
    posterior = judged.posterior
    bits = (posterior.loglik[row, named] - posterior.loglik[row, against]) / NATS_PER_BIT
    worked_out = _log_odds(posterior.probability[row], named, against)
    total = _log_odds(stated, named, against)
    before = worked_out - bits
    return OddsInBits(
        before=round(before, 3),
        together=round(bits - spoken, 3),
        caution=round(total - worked_out, 3),
        total=round(total, 3),
    )


def _log_odds(probability: Floats, named: int, against: int) -> float:
    """Return the logarithm to base two of the odds of two columns."""
    return math.log2(max(float(probability[named]), 1e-300)) - math.log2(max(float(probability[against]), 1e-300))


def _may_speak(block: str, case: Case, row: int) -> bool:
    """Say whether a block has words for a row: the pairs have none where no dial was read."""
    return block != "pairs" or bool(len(case.pairs.rows_of(row)))


def _looks(case: Case, row: int, trace: PortTrace) -> tuple[Look, ...]:
    """The dial reads of the trace, with difference and noise where an index stands beside the dial."""
    per = float(litres_per(trace.dial_unit))
    pair_rows = case.pairs.rows_of(row)
    noise = dict(zip(case.pairs.at_us[pair_rows].tolist(), (look_noise_l(case, pair_rows) / per).tolist(), strict=True))
    looks = []
    for point in trace.dial_points:
        both = point.dial_volume is not None and point.index_volume is not None
        at_us = (point.at - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(microseconds=1)
        apart = (point.index_volume or 0.0) - (point.dial_volume or 0.0) if both else None
        looks.append(
            Look(
                point.at, point.source, point.dial_text, point.index_count, point.dial_volume, point.index_volume,
                apart, noise.get(at_us) if both else None,
            )
        )  # fmt: skip
    return tuple(looks)


def _fingerprint(case: Case, row: int) -> Fingerprint | None:
    figures = case.scan.figures[row]
    if figures["n"] < 2:
        return None
    return Fingerprint(
        weight_over_resolution=pulses_per_weight(case, row),
        common_divisor=int(figures["granule"]),
        steps=int(figures["forward"]),
        odd_steps=int(figures["odd"]),
        zero_steps=int(figures["zero_steps"]),
        short_steps=int(figures["short_steps"]),
    )


def _wet_dry(case: Case, row: int, unit: str) -> WetDry | None:
    hours = case.scan.wet_hours[row].astype(float)
    dry, wet = float(hours[:, 0].sum()), float(hours[:, 1].sum())
    if not dry or not wet:
        return None
    volume = case.scan.wet_counts[row].astype(float) * float(case.fleet.quantum_index_l[row]) / float(litres_per(unit))
    dry_rate = np.divide(volume[:, 0], hours[:, 0], out=np.zeros(24), where=hours[:, 0] > 0)
    return WetDry(
        wet_hours=int(wet),
        dry_hours=int(dry),
        wet_per_hour=float(volume[:, 1].sum() / wet),
        dry_per_hour=float(volume[:, 0].sum() / dry),
        expected_wet_per_hour=float((dry_rate * hours[:, 1]).sum() / wet),
    )


def _day_profile(case: Case, row: int) -> DayProfile | None:
    shares = hour_shares(case, row)
    return None if shares is None else DayProfile(tuple(shares[0].tolist()), tuple(shares[1].tolist()))


def _neighbour(case: Case, row: int) -> NeighbourFit | None:
    followed = followed_dial(case, row)
    if followed is None:
        return None
    fleet = case.fleet
    ring = next(ring for ring in case.notes.rings if row in ring.rows and row in ring.counted_by)
    by = ring.counted_by[ring.rows.index(row)]
    return NeighbourFit(
        meter_serial=fleet.meter_serial[followed],
        endpoint_serial=fleet.endpoint_serial[followed],
        port=int(fleet.port[followed]),
        counted_by_endpoint=fleet.endpoint_serial[by],
        counted_by_port=int(fleet.port[by]),
        kind=ring.kind,
        bits=ring.gain / NATS_PER_BIT,
    )
