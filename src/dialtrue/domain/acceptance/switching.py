"""Switching between normal, tightened and reduced inspection over a series of lots."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.acceptance.single_plans import Severity

WINDOW: Final = 5
TOO_MANY: Final = 2
BACK_TO_NORMAL: Final = 5
STOP_AFTER: Final = 5
RELAX_AFTER: Final = 10
"""Lots. Two rejected of five or fewer in a row tighten; five accepted in a row on tightened return to normal; five
rejected while on tightened stop; ten accepted in a row relax. Source: ``ISO-2859-1`` for all but the last;
``MIL-STD-105E`` for ten lots, in place of which the newer standard keeps a switching score."""


@dataclass(frozen=True, slots=True)
class DecidedLot:
    """A lot as decided on its first sample, and how strictly it was inspected."""

    lot: str
    accepted: bool
    severity: Severity


@dataclass(frozen=True, slots=True)
class SwitchState:
    """How the next lot is inspected, why, and whether inspection is to stop until the contractor has acted."""

    severity: Severity
    stopped: bool
    why: str


def switched(history: Iterable[DecidedLot], *, reduced: bool = True, relax_after: int = RELAX_AFTER) -> SwitchState:
    """Follow the switching rules over a series of lots.

    Parameters
    ----------
    history : iterable of DecidedLot
        First samples only, in the order of their draws. A lot that a person chose to inspect more strictly than the
        rules asked, or as reduced, starts the rules afresh from there. A lot that was drawn by a looser plan than the
        rules ask by now, as when several are drawn at once, tells nothing of a return to normal and is passed over.
    reduced : bool
        Whether the utility allows reduced inspection at all.
    relax_after : int
        Lots accepted in a row before it. [lots, >= 1]

    Returns
    -------
    SwitchState

    Raises
    ------
    Never raises.

    Source
    ------
    See ``RELAX_AFTER``.

    Examples
    --------
    >>> lots = [DecidedLot("1", False, "normal"), DecidedLot("2", True, "normal"), DecidedLot("3", False, "normal")]
    >>> switched(lots)
    SwitchState(severity='tightened', stopped=False, why='2 of the last 3 lots were rejected')
    """
    state: Severity = "normal"
    why = "no rule has been met"
    stopped = False
    run: list[bool] = []
    for lot in history:
        chosen = lot.severity != state and (
            lot.severity == "tightened" or (lot.severity, state) == ("reduced", "normal")
        )
        if chosen or (stopped and lot.severity == state):
            state, run, stopped = lot.severity, [], False
            why = f"{state} inspection was chosen for lot {lot.lot}"
        elif state == "tightened" and lot.severity != state:
            continue
        run.append(lot.accepted)
        accepted = _accepted_in_a_row(run)
        recent = run[-WINDOW:]
        if state == "normal" and recent.count(False) >= TOO_MANY:
            first = next(place for place, good in enumerate(recent) if not good)
            state, why, run = "tightened", f"{TOO_MANY} of the last {len(recent) - first} lots were rejected", []
        elif state == "normal" and reduced and accepted >= relax_after:
            state, why, run = "reduced", f"{accepted} lots were accepted in a row", []
        elif state == "tightened" and accepted >= BACK_TO_NORMAL:
            state, why, run = "normal", f"{accepted} lots were accepted in a row on tightened inspection", []
        elif state == "tightened" and run.count(False) >= STOP_AFTER:
            stopped, why = True, f"{STOP_AFTER} lots were rejected on tightened inspection"
        elif state == "reduced" and not lot.accepted:
            state, why, run = "normal", "a lot was rejected on reduced inspection", []
    return SwitchState(state, stopped, why)


def _accepted_in_a_row(run: list[bool]) -> int:
    """Return how many lots at the end of a run were accepted."""
    return next((place for place, good in enumerate(reversed(run)) if not good), len(run))
