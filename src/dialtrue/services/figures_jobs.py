"""Every fitting of a programme as one job: whose, where, with what, and what became of it."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from dialtrue.domain.faults import CATALOGUE, FAULTS
from dialtrue.domain.finding import Finding
from dialtrue.domain.progress.account import PairState, State
from dialtrue.domain.progress.settings import FiguresSettings
from dialtrue.domain.progress.street import street_of
from dialtrue.engine.fleet import NEVER
from dialtrue.engine.pairing import look_step_l
from dialtrue.services.base_rates import tie_checks
from dialtrue.services.figures_watch import Watched
from dialtrue.services.fleet_records import moment_of, us_of

DAY_US: Final = 86_400_000_000
Z95: Final = 1.959963984540054
"""Standard normal deviate of a 95 % interval."""
AT_EXCHANGE: Final = dt.timedelta(days=1)
"""A fault written down so soon after an exchange was that of the old endpoint. Our assumption."""
Key = tuple[str, str, int, str]


@dataclass(frozen=True, slots=True)
class Check:
    """What somebody found at a job's port."""

    at: dt.datetime
    found: str
    put_right: bool

    @property
    def fault(self) -> bool:
        """Whether it is a fault: neither sound nor a matter of the customer's."""
        return is_fault(self.found)


@dataclass(slots=True)
class Job:
    """One fitting. ``row`` points into the fleet; ``standing`` marks the one that a register has now.

    ``before`` holds faults that were found at the same register while an earlier endpoint stood there.
    """

    row: int
    key: Key
    register: tuple[str, str]
    site: str
    listed: bool
    by: Mapping[str, str]
    fitted_at: dt.datetime
    standing: bool
    last_heard: dt.datetime | None
    checks: tuple[Check, ...]
    finding: Finding | None
    state: State = "to_prove"
    pair: PairState = "not_yet"
    proved_by_pair: bool = False
    before: tuple[Check, ...] = ()

    @property
    def area(self) -> str:
        """Area or street."""
        return self.by["area"]

    def fault_within(self, days: int, *, put_right: bool = False) -> bool:
        """Tell whether a fault was found that soon after the fitting, and put right if that is asked."""
        last = self.fitted_at + dt.timedelta(days=days)
        return any(
            check.fault and self.fitted_at <= check.at <= last and (check.put_right or not put_right)
            for check in self.checks
        )


def is_fault(code: str) -> bool:
    """Tell whether a code is a fault: neither sound nor innocent. Never raises for a code of the catalogue."""
    return CATALOGUE[code].kind not in ("sound", "innocent")


def jobs_of(look: Watched, settings: FiguresSettings, *, moment: dt.datetime) -> tuple[list[Job], list[str]]:
    """Return every fitting as a job, with its state at a moment, and what is to be said.

    Never raises on normalised tables.
    """
    fleet, tables = look.records.fleet, look.programme.tables
    findings = {_key(each): each for each in look.findings}
    checks, said = _checks(look)
    standing = _standing(look)
    figures = look.scan.figures
    jobs = []
    for f in range(fleet.size):
        site = look.records.site_rows[f]
        fitting = look.records.fitting_rows[f]
        key = (fleet.meter_serial[f], fleet.endpoint_serial[f], int(fleet.port[f]), fleet.role[f])
        heard = int(figures["n"][f]) > 0
        known = site or {}
        by = {
            "crew": fitting["fitter"] or "", "area": known.get("area") or street_of(known.get("address") or ""),
            "endpoint": fitting["endpoint_sheet"] or known.get("endpoint") or "", "output": known.get("output") or "",
            "cable": known.get("cable") or "", "cable_lot": fitting["cable_lot"] or "",
        }  # fmt: skip
        jobs.append(
            Job(
                f, key, (key[0], key[3]), fleet.site[f] or "", site is not None, by, moment_of(int(fleet.fit_us[f])),
                f in standing, moment_of(int(figures["last_us"][f])) if heard else None, tuple(checks.get(f, ())),
                findings.get(key),
            )
        )  # fmt: skip
    _exchanges(jobs)
    _lay_proofs(jobs, look, settings, moment)
    if "checks" not in tables:
        said.append(
            "There are no checks: rework, put right and days from fault to finding cannot be told from records."
        )
    if "dial_reads" not in tables:
        said.append("There are no dial reads: nothing can prove a count, and no second pair can confirm one.")
    lost = sum(job.finding is None for job in jobs if job.standing)
    if lost:
        said.append(f"For {lost:,} fitted ports the findings have no row; nothing is known against them.")
    for job in jobs:
        job.state = _state(job)
    return jobs, said


def _key(finding: Finding) -> Key:
    return (finding.meter_serial, finding.endpoint_serial, finding.port, finding.register_role or "single")


def _standing(look: Watched) -> set[int]:
    """Return the rows that are fitted now: of each register the last that was not taken off."""
    fleet = look.records.fleet
    last: dict[tuple[str, str], int] = {}
    for f in np.argsort(fleet.fit_us, kind="stable").tolist():
        if fleet.removed_us[f] == NEVER:
            last[fleet.meter_serial[f], fleet.role[f]] = f
    return set(last.values())


def _checks(look: Watched) -> tuple[dict[int, list[Check]], list[str]]:
    table = look.programme.tables.get("checks")
    if table is None or not table.num_rows:
        return {}, []
    tied, strangers = tie_checks(table, look.records)
    found: dict[int, list[Check]] = {}
    columns = (tied.row, tied.found, tied.at_us, tied.put_right)
    for row, code, at_us, right in zip(*(column.tolist() for column in columns), strict=True):
        found.setdefault(row, []).append(Check(moment_of(at_us), FAULTS[code], right))
    said = (
        [f"{strangers:,} rows of checks name no fitting that stood then; they are in no figure."] if strangers else []
    )
    return found, said


def _exchanges(jobs: Iterable[Job]) -> None:
    """Give what was found when an endpoint was exchanged to the one that was taken off, and let the new one know."""
    registers: dict[tuple[str, str], list[Job]] = {}
    for job in jobs:
        registers.setdefault(job.register, []).append(job)
    for of in registers.values():
        of.sort(key=lambda job: job.fitted_at)
        for old, new in itertools.pairwise(of):
            edge = new.fitted_at + AT_EXCHANGE
            moved = tuple(check for check in new.checks if check.fault and check.at <= edge)
            old.checks += moved
            new.checks = tuple(check for check in new.checks if check not in moved)
            new.before = (*old.before, *(check for check in old.checks if check.fault))


def _lay_proofs(jobs: Iterable[Job], look: Watched, settings: FiguresSettings, moment: dt.datetime) -> None:
    """Say of each job what dial reads beside its index prove, and how its second look stands."""
    pairs, step = look.pairs, look_step_l(look.records.fleet)
    moment_us = us_of(moment, 0)
    seen = look.records.dials.at_us
    for job in jobs:
        first, last = int(pairs.first[job.row]), int(pairs.first[job.row + 1])
        fit_us = us_of(job.fitted_at, 0)
        age_us = moment_us - fit_us
        low, high = settings.pair_from_days * DAY_US, settings.pair_to_days * DAY_US
        found: list[PairState] = []
        for k in range(first, last):
            state = _pair_state(look, k, float(step[job.row]), settings.proof_width)
            job.proved_by_pair |= state == "agrees"
            if low <= int(seen[k]) - fit_us <= high:
                found.append(state)
        if found:
            order: tuple[PairState, ...] = ("differs", "agrees", "too_little", "no_index")
            job.pair = next(state for state in order if state in found)
        elif age_us > high:
            job.pair = "overdue"
        else:
            job.pair = "due" if age_us >= low else "not_yet"


def _pair_state(look: Watched, k: int, step_l: float, width: float) -> PairState:
    """Say what one dial read beside the index tells: the 95 % interval of index over dial against one."""
    pairs = look.pairs
    if not pairs.usable[k]:
        return "no_index"
    if pairs.odd[k]:
        return "differs"
    half = Z95 * float(np.hypot(step_l, pairs.bridge_l[k]))
    dial, index = float(pairs.dial_l[k]), float(pairs.index_l[k])
    if not np.isfinite(half) or not np.isfinite(dial - index):
        return "no_index"
    if abs(index - dial) > half:
        return "differs"
    return "agrees" if dial > 0 and half <= width * dial else "too_little"


def _state(job: Job) -> State:
    """Place a job: doubt goes before all, a repair before a proof."""
    finding, last = job.finding, job.checks[-1] if job.checks else None
    if finding is not None and finding.action != "none" and is_fault(finding.fault):
        return "doubtful"
    if last is not None and last.fault and not last.put_right:
        return "doubtful"
    if job.before or any(check.fault for check in job.checks):
        return "put_right"
    if job.proved_by_pair or (last is not None and last.found == "sound"):
        return "proved"
    return "to_prove"
