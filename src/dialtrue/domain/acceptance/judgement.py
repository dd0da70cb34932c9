"""The judgement of a lot: each grade accepted, rejected or not yet; its rate with interval; what is left to find."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from dialtrue.domain.acceptance.chance import acceptance_chance, exact_interval, score_interval, share_proved
from dialtrue.domain.acceptance.plan import GRADES, GradePlan, LotPlan
from dialtrue.domain.words import counted

Outcome = Literal["accept", "reject", "not_yet"]

OUTCOME_WORDS: dict[Outcome, str] = {"accept": "Accept", "reject": "Reject", "not_yet": "Not yet"}


@dataclass(frozen=True, slots=True)
class GradeResult:
    """What a sample says of one grade.

    ``inspected`` of the plan's sites were looked at, ``bad`` of them are bad, ``more`` must still be looked at before
    the lot can be accepted. ``exact`` and ``score`` are 95 % intervals of the share of bad sites [-]; ``proved`` is the
    share that an accepted sample shows the lot to lie below, with 95 % confidence [-].
    """

    plan: GradePlan
    inspected: int
    bad: int
    outcome: Outcome
    more: int
    exact: tuple[float, float]
    score: tuple[float, float]
    proved: float | None

    @property
    def share(self) -> float:
        """Share of bad sites among those looked at. [-]"""
        return self.bad / self.inspected if self.inspected else math.nan


@dataclass(frozen=True, slots=True)
class Screening:
    """How many bad sites to expect among ``sites`` that nobody has looked at, with the ends of the interval."""

    grade: str
    sites: int
    expected: float
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class LotJudgement:
    """The judgement of a lot.

    ``whole_open`` counts sites inspected in any case that nobody has seen; ``whole_bad`` those found bad, by grade.
    ``rest`` counts sites that nobody has looked at.
    """

    plan: LotPlan
    outcome: Outcome
    grades: tuple[GradeResult, ...]
    whole: int
    whole_open: int
    whole_bad: Mapping[str, int]
    rest: int
    screening: tuple[Screening, ...]


def grade_result(plan: GradePlan, lot_size: int, *, inspected: int, bad: int) -> GradeResult:
    """Judge one grade.

    Parameters
    ----------
    plan : GradePlan
        What was laid down before.
    lot_size : int
        Sites drawn from. [sites]
    inspected, bad : int
        Sites of the plan's sample that were looked at, and bad ones among them. [sites]

    Returns
    -------
    GradeResult
        Rejected as soon as more are bad than may be; accepted as soon as the sites still open cannot change it.

    Raises
    ------
    MoreDefectsThanInspected

    Source
    ------
    ``ISO-2859-1`` for the rule; ``CLOPPER-PEARSON`` and ``WILSON-SCORE`` for the intervals.

    Examples
    --------
    >>> from dialtrue.domain.acceptance.plan import Demand
    >>> lot_7 = grade_result(GradePlan("critical", Demand("aql"), 50, 1), 500, inspected=50, bad=3)
    >>> lot_7.outcome, [round(100 * end, 1) for end in lot_7.exact]
    ('reject', [1.3, 16.5])
    """
    exact, score = exact_interval(bad, inspected), score_interval(bad, inspected)
    missing = max(0, plan.size - inspected)
    more = max(0, missing - max(0, plan.accept - bad))
    outcome: Outcome = "reject" if bad > plan.accept else "not_yet" if more else "accept"
    proved = None
    if outcome == "accept" and inspected and lot_size:
        proved = share_proved(lot_size, inspected, accept=bad)
    return GradeResult(plan, inspected, bad, outcome, more, exact, score, proved)


def judge_lot(
    plan: LotPlan,
    sample: Sequence[frozenset[str] | None],
    whole: Sequence[frozenset[str] | None] = (),
) -> LotJudgement:
    """Judge a lot.

    Parameters
    ----------
    plan : LotPlan
        As drawn.
    sample : sequence of frozenset or None
        For each site of the sample, in the order of the draw, the grades of defects found; None where nobody has seen
        it.
    whole : sequence of frozenset or None
        The same for sites inspected in any case. They count for no sample: nothing about them is left to chance.

    Returns
    -------
    LotJudgement
        Rejected if any grade is; accepted if all are and every site of ``whole`` was seen.

    Raises
    ------
    Never raises.

    Source
    ------
    ``ISO-2859-1``; grades judged apart.
    """
    results = []
    for each in plan.grades:
        seen = [grades for grades in sample[: each.size] if grades is not None]
        bad = sum(each.grade in grades for grades in seen)
        results.append(grade_result(each, plan.lot_size, inspected=len(seen), bad=bad))
    looked = sum(grades is not None for grades in sample)
    whole_seen = [grades for grades in whole if grades is not None]
    whole_open = len(whole) - len(whole_seen)
    outcomes = {result.outcome for result in results}
    outcome: Outcome = "accept"
    if "reject" in outcomes:
        outcome = "reject"
    elif "not_yet" in outcomes or whole_open:
        outcome = "not_yet"
    rest = plan.lot_size - looked
    return LotJudgement(
        plan,
        outcome,
        tuple(results),
        len(whole),
        whole_open,
        {grade: sum(grade in grades for grades in whole_seen) for grade in GRADES},
        rest,
        tuple(screening(result, rest) for result in results if result.outcome == "reject"),
    )


def screening(result: GradeResult, sites: int) -> Screening:
    """Return how many bad sites to expect among sites that nobody has looked at; see ``expected_bad``."""
    return Screening(result.plan.grade, sites, *expected_bad(result.bad, result.inspected, sites))


def expected_bad(bad: int, inspected: int, sites: int) -> tuple[float, int, int]:
    """Return how many of ``sites`` are bad, if they are like those inspected: expected, least and most.

    Parameters
    ----------
    bad, inspected, sites : int
        [sites]

    Returns
    -------
    tuple
        The share times the sites, and the ends of its exact 95 % interval times the sites, rounded outwards. [sites]

    Raises
    ------
    MoreDefectsThanInspected

    Source
    ------
    ``CLOPPER-PEARSON``. Our assumption: the sites not seen are like those seen, as a random draw makes likely.

    Examples
    --------
    >>> expected_bad(9, 60, 240)
    (36.0, 17, 64)
    """
    low, high = exact_interval(bad, inspected)
    expected = bad * sites / inspected if inspected else math.nan
    return expected, math.floor(low * sites), math.ceil(high * sites)


def percent(share: float, digits: int = 1) -> str:
    """Print a share in per cent, such as ``6.0 %``. Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> percent(0.06), percent(0.164532), percent(0.05, 0)
    ('6.0 %', '16.5 %', '5 %')
    """
    return f"{100 * share:.{digits}f} %"


def grade_words(result: GradeResult, lot_size: int) -> str:
    """Say the result of one grade in a sentence or three. Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> from dialtrue.domain.acceptance.plan import Demand
    >>> grade_words(grade_result(GradePlan("critical", Demand("zero"), 59, 0), 2000, inspected=40, bad=0), 2000)
    'critical: 0 bad of 40, accept at 0 in 59. Not yet: 19 more must be seen.'
    """
    plan = result.plan
    head = f"{plan.grade}: {result.bad} bad of {result.inspected}, accept at {plan.accept} in {plan.size}."
    interval = (
        f"{percent(result.exact[0])} to {percent(result.exact[1])} with 95 % confidence" if result.inspected else ""
    )
    if result.outcome == "not_yet":
        if not result.inspected:
            return f"{head} Not yet: nobody has looked."
        return f"{head} Not yet: {counted(result.more, 'more', 'more')} must be seen."
    if result.outcome == "reject":
        return f"{head} Reject: {percent(result.share)} bad, {interval}."
    if result.inspected >= lot_size:
        return f"{head} Accept: every site was seen."
    proved = f" Shows fewer than {percent(result.proved)} bad, with 95 % confidence." if result.proved else ""
    return f"{head} Accept.{proved}"


def plan_risk_words(plan: GradePlan, lot_size: int, share: float) -> str:
    """Say how often a plan passes a lot of a given quality. Never raises.

    Source
    ------
    Definition; exact.

    Examples
    --------
    >>> from dialtrue.domain.acceptance.plan import Demand
    >>> plan_risk_words(GradePlan("critical", Demand("aql"), 50, 1), 500, 0.04)
    'A lot with 4 % critical would pass 39 times in 100.'
    """
    chance = acceptance_chance(lot_size, round(share * lot_size), size=plan.size, accept=plan.accept)
    return f"A lot with {percent(share, 0)} {plan.grade} would pass {times_in_100(chance)}."


def times_in_100(chance: float) -> str:
    """Say a chance as times in a hundred, never as a plain 0 or 100 where it is neither. Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> times_in_100(0.3912), times_in_100(0.0004), times_in_100(0.999), times_in_100(0.0)
    ('39 times in 100', 'less than once in 100', 'more than 99 times in 100', 'never')
    """
    if chance <= 0.0:
        return "never"
    if chance >= 1.0:
        return "every time"
    if chance < 0.005:
        return "less than once in 100"
    if chance > 0.995:
        return "more than 99 times in 100"
    times = round(100 * chance)
    return "once in 100" if times == 1 else f"{times} times in 100"


def lot_words(judgement: LotJudgement) -> str:
    """Say what is to be done with a lot, in plain words. Never raises.

    Source
    ------
    Definition.
    """
    said = []
    if judgement.outcome == "reject":
        for each in judgement.screening:
            said.append(
                f"The contractor screens all {counted(each.sites, 'site')} that nobody has looked at: expect "
                f"{each.expected:.0f} more {each.grade}, {each.low} to {each.high}."
                if each.sites
                else f"Every site was seen; put right what was found {each.grade}."
            )
        said.append("Then draw a new sample of the lot.")
    elif judgement.outcome == "accept":
        found = any(result.bad for result in judgement.grades) or any(judgement.whole_bad.values())
        said.append("Accepted: what was found bad is put right all the same." if found else "Accepted.")
    elif all(not result.more for result in judgement.grades):
        said.append("The sample would be accepted.")
    if judgement.whole_open:
        said.append(
            f"{judgement.whole_open} of {counted(judgement.whole, 'site')} that are inspected in any case "
            f"{'is' if judgement.whole_open == 1 else 'are'} still open."
        )
    return " ".join(said)
