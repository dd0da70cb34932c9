"""What is at stake by the findings, and what came back by the adjustments."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from dialtrue.domain.contracts import TABLE
from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.progress.account import KIND_WORDS, Cause, Claims, Days, Month, Recovered, Stakes, days_between
from dialtrue.domain.quantity import convert, exact_decimal
from dialtrue.domain.words import counted
from dialtrue.services.figures_jobs import Job, is_fault
from dialtrue.services.findings_file import read_table, told

RECENT_DAYS = 30
Row = Mapping[str, Any]


def stakes_of(jobs: Sequence[Job]) -> Stakes:
    """Return the volume errors of doubtful ports. Never raises."""
    doubtful = [job for job in jobs if job.state == "doubtful"]
    errors = [job.finding.volume_error_l for job in doubtful if job.finding is not None]
    known = [error for error in errors if error is not None]
    over, under = sum(e for e in known if e > 0), sum(-e for e in known if e < 0)
    return Stakes(len(doubtful), float(over), float(under), len(doubtful) - len(known))


def put_right_of(jobs: Sequence[Job]) -> tuple[float, float]:
    """Return the volume errors at ports that were put right: registered above and below the truth [L]. Never raises."""
    errors = [
        job.finding.volume_error_l
        for job in jobs
        if job.state == "put_right" and job.finding is not None and job.finding.volume_error_l is not None
    ]
    return float(sum(e for e in errors if e > 0)), float(sum(-e for e in errors if e < 0))


def causes_of(jobs: Sequence[Job]) -> tuple[Cause, ...]:
    """Return the faults, open and put right, by where they lie. Never raises."""
    opened, righted, volume = Counter[str](), Counter[str](), Counter[str]()
    for job in jobs:
        code = _code(job)
        if code is None:
            continue
        kind = CATALOGUE[code].kind
        if job.state == "doubtful":
            opened[kind] += 1
            error = job.finding.volume_error_l if job.finding is not None else None
            volume[kind] += abs(error) if error is not None else 0.0  # type: ignore[assignment]
        else:
            righted[kind] += 1
    return tuple(Cause(kind, opened[kind], righted[kind], float(volume[kind])) for kind in KIND_WORDS)


def _code(job: Job) -> str | None:
    """Return the fault of a job that is in doubt or was put right; None for any other."""
    found = [check.found for check in (*job.before, *job.checks) if check.fault]
    if job.state == "put_right":
        return found[-1]
    if job.state != "doubtful":
        return None
    suspected = job.finding is not None and job.finding.action != "none" and is_fault(job.finding.fault)
    return job.finding.fault if suspected and job.finding is not None else found[-1]


def months_of(jobs: Sequence[Job], moment: dt.datetime) -> tuple[tuple[Month, ...], int]:
    """Return the faults by the month in which they began, months without one too; and how many began lately.

    Never raises.
    """
    opened, righted, recent = Counter[dt.date](), Counter[dt.date](), 0
    for job in jobs:
        if _code(job) is None or job.finding is None or job.finding.since is None:
            continue
        (opened if job.state == "doubtful" else righted)[job.finding.since.date().replace(day=1)] += 1
        recent += job.finding.since > moment - dt.timedelta(days=RECENT_DAYS)
    began = sorted({*opened, *righted})
    months, month = [], began[0] if began else dt.date.max
    while began and month <= max(began[-1], moment.date().replace(day=1)):
        months.append(Month(month, opened[month], righted[month]))
        month = (month + dt.timedelta(days=32)).replace(day=1)
    return tuple(months), recent


def delays_of(jobs: Sequence[Job], moment: dt.datetime) -> tuple[Days, Days, Days]:
    """Return the days from fault to finding: of those that a check confirmed, of those that still wait, of both.

    Never raises.

    Notes
    -----
    A fault that began and was confirmed before the findings' own ``since`` took no time.
    """
    confirmed, waiting = [], []
    for job in jobs:
        finding = job.finding
        if finding is None or finding.since is None or not is_fault(finding.fault):
            continue
        looks = [check.at for check in job.checks if check.fault]
        if looks:
            confirmed.append((finding.since, next((at for at in looks if at >= finding.since), looks[-1])))
        elif job.state == "doubtful":
            waiting.append((finding.since, moment))
    return days_between(confirmed), days_between(waiting), days_between([*confirmed, *waiting])


def recovered_of(path: Path, *, unit: str, zone: str, at: dt.datetime) -> tuple[Recovered, list[str]]:
    """Add up what the adjustments claim and refund.

    Parameters
    ----------
    path : Path
        An adjustments table of the contract.
    unit : str
        Unit to add up in.
    zone : str
        IANA zone of times without an offset.
    at : datetime
        The time of the run, aware.

    Returns
    -------
    tuple of Recovered and list of str
        Exact sums, and what is to be said of the file.

    Raises
    ------
    DialtrueError
        The file cannot be used.
    """
    table, log = read_table(path, TABLE["adjustments"], zone=zone, at=at)
    rows = table.to_pylist()
    decided = [row for row in rows if row["claimed"] not in (None, "")]
    said = told(log)
    if log.counts:
        said.append(f"{path.name}: {counted(sum(log.counts.values()), 'row')} left out of what was recovered.")
    recovered = Recovered(
        len(rows), unit, _claims([row for row in decided if row["basis"] == "confirmed"], unit),
        _claims([row for row in decided if row["basis"] != "confirmed"], unit),
        undecided=len(rows) - len(decided), methods=dict(sorted(Counter(row["method"] for row in rows).items())),
    )  # fmt: skip
    return recovered, said


def _claims(rows: Sequence[Row], unit: str) -> Claims:
    """Add up rows that have a claim."""
    claimed = refunded = Fraction(0)
    money: dict[str, tuple[Decimal, Decimal]] = {}
    without = 0
    for row in rows:
        volume = convert(exact_decimal(row["claimed"]), row["unit"], unit)
        claimed, refunded = claimed + max(volume, Fraction(0)), refunded + max(-volume, Fraction(0))
        if row["claimed_amount"] in (None, ""):
            without += volume != 0
            continue
        amount, currency = Decimal(row["claimed_amount"]), row["currency"] or "(currency not named)"
        before = money.get(currency, (Decimal(0), Decimal(0)))
        money[currency] = (before[0] + max(amount, Decimal(0)), before[1] + max(-amount, Decimal(0)))
    meters = {(row["meter_serial"], row["register_role"]) for row in rows}
    return Claims(len(meters), claimed, refunded, money, without)
