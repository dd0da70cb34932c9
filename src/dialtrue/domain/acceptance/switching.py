"""Switching between normal, tightened and reduced inspection over a series of lots."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.acceptance.judgement import GradeResult
from dialtrue.domain.acceptance.single_plans import AQLS, Severity, aql_place, letter_of_size, plan_of_letter

WINDOW: Final = 5
TOO_MANY: Final = 2
BACK_TO_NORMAL: Final = 5
STOP_AFTER: Final = 5
RELAX_AFTER: Final = 10
RELAX_AT_SCORE: Final = 30
SCORE_OF_A_SMALL_PLAN: Final = 2
SCORE_OF_A_LARGE_PLAN: Final = 3
"""Lots, and points of the switching score.

Two lots rejected of five or fewer in a row tighten; five accepted in a row on tightened return to normal; five rejected
while on tightened stop. Ten accepted in a row relax (``MIL-STD-105E``); or else a score of 30, to which a lot accepted
by a plan of acceptance number 0 or 1 adds 2, one by a larger plan adds 3 if the next stricter limit would have
accepted it too, and any other sets it back to 0 (``ISO-2859-1``, from memory)."""


@dataclass(frozen=True, slots=True)
class DecidedLot:
    """A lot as decided on its first sample, how strictly it was inspected, and what it adds to the switching score."""

    lot: str
    accepted: bool
    severity: Severity
    score: int = SCORE_OF_A_SMALL_PLAN


@dataclass(frozen=True, slots=True)
class SwitchState:
    """How the next lot is inspected, why, and whether inspection is to stop until the contractor has acted."""

    severity: Severity
    stopped: bool
    why: str


def switched(
    history: Iterable[DecidedLot], *, reduced: bool = True, relax_after: int = RELAX_AFTER, by_score: bool = False
) -> SwitchState:
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
    by_score : bool
        Relax by the switching score instead.

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
    score = 0
    for lot in history:
        chosen = lot.severity != state and (
            lot.severity == "tightened" or (lot.severity, state) == ("reduced", "normal")
        )
        if chosen or (stopped and lot.severity == state):
            state, run, stopped, score = lot.severity, [], False, 0
            why = f"{state} inspection was chosen for lot {lot.lot}"
        elif state == "tightened" and lot.severity != state:
            continue
        run.append(lot.accepted)
        score = score + lot.score if lot.accepted and lot.score else 0
        accepted = _accepted_in_a_row(run)
        recent = run[-WINDOW:]
        if state == "normal" and recent.count(False) >= TOO_MANY:
            first = next(place for place, good in enumerate(recent) if not good)
            state, why, run = "tightened", f"{TOO_MANY} of the last {len(recent) - first} lots were rejected", []
        elif state == "normal" and reduced and by_score and score >= RELAX_AT_SCORE:
            state, why, run = "reduced", f"the switching score is {score}", []
        elif state == "normal" and reduced and not by_score and accepted >= relax_after:
            state, why, run = "reduced", f"{accepted} lots were accepted in a row", []
        elif state == "tightened" and accepted >= BACK_TO_NORMAL:
            state, why, run = "normal", f"{accepted} lots were accepted in a row on tightened inspection", []
        elif state == "tightened" and run.count(False) >= STOP_AFTER:
            stopped, why = True, f"{STOP_AFTER} lots were rejected on tightened inspection"
        elif state == "reduced" and not lot.accepted:
            state, why, run = "normal", "a lot was rejected on reduced inspection", []
        if state != "normal":
            score = 0
    return SwitchState(state, stopped, why)


def score_of(results: Sequence[GradeResult]) -> int:
    """Return what a lot adds to the switching score: the least of its grades that are judged by a limit.

    Parameters
    ----------
    results : sequence of GradeResult
        The grades of a lot on normal inspection.

    Returns
    -------
    int
        0 sets the score back. A lot without such a grade adds as a small plan does, if it was accepted. [points]

    Raises
    ------
    Never raises.

    Source
    ------
    See ``RELAX_AT_SCORE``.
    """
    points = [SCORE_OF_A_SMALL_PLAN if result.outcome == "accept" else 0 for result in results]
    for place, result in enumerate(results):
        plan = result.plan
        if points[place] and plan.demand.kind == "aql" and plan.accept > 1:
            limit, letter = aql_place(plan.demand.percent), letter_of_size(plan.size)
            stricter = plan_of_letter(letter, AQLS[limit - 1]) if limit and letter else None
            points[place] = SCORE_OF_A_LARGE_PLAN if stricter is not None and result.bad <= stricter.accept else 0
    return min(points, default=SCORE_OF_A_SMALL_PLAN)


def _accepted_in_a_row(run: list[bool]) -> int:
    """Return how many lots at the end of a run were accepted."""
    return next((place for place, good in enumerate(reversed(run)) if not good), len(run))
