"""The rules that a port must pass before its reads go to another system."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.faults import CATALOGUE, INNOCENT

LEAST_PROBABILITY: Final = 0.8
"""Least probability that a port counts true. Our assumption: override it by ``--least-probability``."""

PORTS_PER_FILE: Final = 250
"""Ports in one file of a form that has many files. Our assumption: a year of hourly reads of so many is opened whole
by common tools; override it by ``[handover] ports_per_file``."""


@dataclass(frozen=True, slots=True)
class HandoverSettings:
    """What a programme may set: the least probability [0.5 to 1], and the ports of one file [1 to 10,000].

    ``allow_checks`` lets a port through that counts true and of which only a check from the desk is asked.
    """

    least_probability: float = LEAST_PROBABILITY
    ports_per_file: int = PORTS_PER_FILE
    allow_checks: bool = False


@dataclass(frozen=True, slots=True)
class PortCase:
    """What is known of one fitted port when it is to be handed over.

    ``fault`` is blank where no finding speaks of it. ``repaired_at`` is when a fault was found and put right, None
    where none was. ``missing`` names blank cells that billing needs. ``start_wanted`` is the start index that belongs
    to the dial at the fitting, blank where it cannot be worked out. ``reads`` counts those that may be handed over, -1
    where nobody could.
    """

    fault: str
    probability: float
    runner_up: str
    runner_up_probability: float
    action: str
    next_check: str
    remedy: str
    repaired_at: dt.datetime | None
    missing: tuple[str, ...]
    start_keyed: str
    start_wanted: str
    shared: bool
    exact: bool
    reads: int

    @property
    def true_probability(self) -> float:
        """Probability that the port counts true, as far as the two likeliest causes say. [0 to 1]"""
        named = self.probability if counts_true(self.fault) else 0.0
        return named + (self.runner_up_probability if counts_true(self.runner_up) else 0.0)


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a port is left out: a code, a sentence, and what would let it through."""

    code: str
    says: str
    remedy: str


def counts_true(fault: str) -> bool:
    """Return whether a port with this verdict counts true: sound, or innocent. Never raises."""
    return fault == "sound" or fault in INNOCENT


def reasons_against(
    case: PortCase, *, least_probability: float = LEAST_PROBABILITY, allow_checks: bool = False
) -> tuple[Reason, ...]:
    """Return why a port must not be handed over, none if it may.

    Parameters
    ----------
    case : PortCase
        What is known of it.
    least_probability : float
        Least probability that it counts true. [0.5 to 1]
    allow_checks : bool
        Let it pass where only a check from the desk is asked for.

    Returns
    -------
    tuple of Reason
        In the order of the work: identity and records first, then the count, then the reads.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: a bill may rest on a port that the watch finds sound or innocent and asks nothing about, whose
    records are complete, whose start index is the dial's, and that was heard; override by ``--include-doubtful``.
    """
    found: list[Reason] = []
    if case.shared:
        found.append(
            Reason(
                "shared_port",
                "another meter has the same endpoint and port on record at the same time",
                "Read both labels again and correct fittings.",
            )
        )
    if case.missing:
        blank = ", ".join(case.missing)
        found.append(Reason("record_incomplete", f"blank: {blank}", f"Fill in {blank}."))
    elif case.repaired_at is None and case.start_wanted and case.start_keyed != case.start_wanted:
        found.append(
            Reason(
                "start_differs",
                f"the start index {case.start_keyed} is not the dial's, {case.start_wanted}",
                "See a photograph of the fitting; set the index to the dial, or correct the record.",
            )
        )
    if not case.exact:
        found.append(
            Reason(
                "no_exact_volume",
                "its volumes have more than 18 decimal places in m3",
                "Check index_resolution and index_unit.",
            )
        )
    found += _of_the_count(case, least_probability, allow_checks)
    if case.reads == 0:
        since = "since the repair" if case.repaired_at is not None else "while it was fitted"
        found.append(Reason("no_reads", f"no read {since}", "Find out why it is silent; then hand over again."))
    return tuple(found)


def _of_the_count(case: PortCase, least_probability: float, allow_checks: bool) -> list[Reason]:
    """Return what the watch's verdict has against it."""
    if not case.fault:
        return [Reason("no_finding", "no finding speaks of it", "Watch the programme again with this port in it.")]
    title = CATALOGUE[case.fault].title
    check = case.next_check or CATALOGUE[case.fault].settling_check
    if not counts_true(case.fault) and case.repaired_at is None:
        then = f"{case.remedy or CATALOGUE[case.fault].remedy} Then record it in checks."
        return [Reason("not_sound", f"{case.fault}: {title}", then)]
    found = []
    if case.action != "none" and not (allow_checks and case.action == "remote_check"):
        what = "a visit" if case.action == "visit" else "a check from the desk"
        found.append(Reason("asks_for_action", f"{case.fault}, but {what} is asked for", check))
    if case.repaired_at is None and case.true_probability < least_probability:
        says = f"the probability that it counts true is {case.true_probability:.2f}, below {least_probability:g}"
        found.append(Reason("unsure", says, check))
    return found
