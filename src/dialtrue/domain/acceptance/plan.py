"""The plan of a lot: how many sites are looked at, and how many bad ones of each grade it may show."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Final, Literal

from dialtrue.domain.acceptance.chance import acceptance_chance, bad_at_chance, zero_plan_size
from dialtrue.domain.acceptance.single_plans import (
    AQLS,
    Severity,
    aql_place,
    plan_of_letter,
    single_plan,
)
from dialtrue.domain.errors.sample import BadDemand

GRADES: Final = ("critical", "major", "minor")
"""Grades of defects, judged apart; the worst first."""


@dataclass(frozen=True, slots=True)
class Demand:
    """What is asked of a grade: ``aql`` with its limit [%], ``zero`` with the share to stay below [%], or ``none``."""

    kind: Literal["aql", "zero", "none"]
    percent: Decimal = Decimal(0)

    def __str__(self) -> str:
        return self.kind if self.kind == "none" else f"{self.kind} {self.percent}"

    @property
    def words(self) -> str:
        """The demand as people say it."""
        return f"AQL {self.percent} %" if self.kind == "aql" else f"none bad shows below {self.percent} %"


@dataclass(frozen=True, slots=True)
class GradePlan:
    """The plan for one grade: of the first ``size`` sites of the sample, up to ``accept`` may be bad."""

    grade: str
    demand: Demand
    size: int
    accept: int
    letter: str = ""


@dataclass(frozen=True, slots=True)
class LotPlan:
    """The plan of a lot.

    ``lot_size`` counts the sites drawn from, without those that are inspected whole; ``size`` the sites to draw.
    ``grades`` holds a plan for each grade that is judged, the worst first.
    """

    lot_size: int
    size: int
    grades: tuple[GradePlan, ...]
    severity: Severity = "normal"
    level: str = "II"

    @property
    def inspects_all(self) -> bool:
        """Tell whether every site of the lot is looked at, so that nothing is left to chance."""
        return self.size >= self.lot_size


def demand_named(text: str) -> Demand:
    """Return the demand that a text names.

    Parameters
    ----------
    text : str
        ``aql 1.0``, ``zero 5`` or ``none``; a percent sign may follow.

    Returns
    -------
    Demand

    Raises
    ------
    BadDemand
        Another form, or a share out of range.
    UnknownAql
        A limit whose plans are not known here.

    Source
    ------
    Definition.

    Examples
    --------
    >>> str(demand_named("AQL 1")), str(demand_named("zero 5 %")), str(demand_named("none"))
    ('aql 1.0', 'zero 5', 'none')
    """
    words = text.lower().replace("%", " ").split()
    if words == ["none"]:
        return Demand("none")
    try:
        kind, figure = words
        percent = Decimal(figure)
    except (ValueError, InvalidOperation):
        raise BadDemand(text=text[:60]) from None
    if not percent.is_finite() or not 0 < percent < 100:
        raise BadDemand(text=text[:60])
    if kind == "aql":
        return Demand("aql", AQLS[aql_place(percent)])
    if kind == "zero":
        return Demand("zero", percent)
    raise BadDemand(text=text[:60])


def lot_plan(
    lot_size: int,
    demands: dict[str, Demand],
    *,
    level: str = "II",
    severity: Severity = "normal",
    confidence: Fraction = Fraction(95, 100),
) -> LotPlan:
    """Return the plan of a lot.

    Parameters
    ----------
    lot_size : int
        Sites to draw from. [sites, >= 0]
    demands : dict
        The demand on each of ``GRADES``; a grade that is missing is not judged.
    level, severity : str
        As ``single_plan`` takes them. A demand at zero does not change with the severity: what it proves would change.
    confidence : Fraction
        Of the demands at zero. [-, 0 < c < 1]

    Returns
    -------
    LotPlan
        Each grade is judged over its own first sites of the sample, critical defects over all of it: an inspector who
        has seen one must not be made to forget it. Where that is more than the table asks, the acceptance number is the
        table's for the larger sample if it has one, else it stays.

    Raises
    ------
    UnknownLevel, UnknownAql, BadShare

    Source
    ------
    ``ISO-2859-1``; one letter for all classes where they differ is its own remedy. Our assumption: critical defects
    are counted over the whole sample.

    Examples
    --------
    >>> plan = lot_plan(500, {"critical": demand_named("zero 5"), "major": demand_named("aql 2.5")})
    >>> plan.size, [(each.grade, each.size, each.accept) for each in plan.grades]
    (56, [('critical', 56, 0), ('major', 50, 3)])
    """
    plans = []
    for grade in GRADES:
        demand = demands.get(grade, Demand("none"))
        if demand.kind == "aql" and lot_size >= 2:
            found = single_plan(lot_size, demand.percent, level=level, severity=severity)
            plans.append(GradePlan(grade, demand, min(found.size, lot_size), found.accept, found.letter))
        elif demand.kind == "zero" and lot_size >= 1:
            size = zero_plan_size(lot_size, Fraction(demand.percent) / 100, confidence=confidence)
            plans.append(GradePlan(grade, demand, size, 0))
        elif demand.kind != "none":
            plans.append(GradePlan(grade, demand, lot_size, 0))
    size = max((plan.size for plan in plans), default=0)
    largest = max((plan.letter for plan in plans), default="")
    if plans and plans[0].grade == "critical" and plans[0].size < size:
        plans[0] = _over_all(plans[0], size, largest, severity=severity)
    return LotPlan(lot_size, size, tuple(plans), severity, level)


def _over_all(plan: GradePlan, size: int, letter: str, *, severity: Severity) -> GradePlan:
    """Return the plan for critical defects stretched over a larger sample, by the table's own cell if it has one."""
    if plan.demand.kind == "aql" and letter:
        cell = plan_of_letter(letter, plan.demand.percent, severity=severity)
        if cell.size == size:
            return GradePlan(plan.grade, plan.demand, size, cell.accept, cell.letter)
    return GradePlan(plan.grade, plan.demand, size, plan.accept, plan.letter)


def plan_words(plan: LotPlan) -> str:
    """Say a plan in one line, as it stands in the draw and on the page. Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> plan_words(lot_plan(500, {"critical": demand_named("aql 1.0")}))
    '50 of 500 (level II, normal): critical, accept at 1 in 50 (AQL 1.0 %)'
    """
    head = f"all {plan.lot_size:,}" if plan.inspects_all else f"{plan.size:,} of {plan.lot_size:,}"
    grades = "; ".join(
        f"{each.grade}, accept at {each.accept} in {each.size:,} ({each.demand.words})" for each in plan.grades
    )
    return f"{head} (level {plan.level}, {plan.severity}): {grades or 'no grade is judged'}"


def characteristic(plan: GradePlan, lot_size: int, *, most: float | None = None) -> list[tuple[float, float]]:
    """Return the operating characteristic: share of bad sites and the chance that the lot passes.

    Parameters
    ----------
    plan : GradePlan
        The plan for a grade.
    lot_size : int
        Sites drawn from. [sites, >= 1]
    most : float, optional
        Where the curve ends; by default where one lot in a hundred passes. [-, 0..1]

    Returns
    -------
    list of (float, float)
        Up to some sixty points, each a whole number of bad sites. Shares rise, chances fall. [-]

    Raises
    ------
    Never raises.

    Source
    ------
    Definition; exact.
    """
    last = bad_at_chance(lot_size, size=plan.size, accept=plan.accept, chance=0.01)
    if most is not None:
        last = min(lot_size, max(1, round(most * lot_size)))
    last = max(last, 1)
    steps = sorted({round(last * step / 60) for step in range(61)})
    return [(bad / lot_size, acceptance_chance(lot_size, bad, size=plan.size, accept=plan.accept)) for bad in steps]
