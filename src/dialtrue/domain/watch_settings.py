"""What a programme may say of the watch: what things cost it, how many looks it can afford, how common faults are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Final

MOST: Final = 1e6
"""Largest cost or number of days that makes sense. Our assumption."""


@dataclass(frozen=True, slots=True)
class Costs:
    """What actions and wrong bills cost, all in one currency. Our assumption throughout: see each field.

    The defaults are in visits: ``visit`` is 1 and the rest are shares of it. A programme that states money states all
    of it in the same money; only ratios matter.

    Attributes
    ----------
    visit : float
        One technician's visit to one site. [currency, > 0]
    wasted_visit : float
        Added where nothing was wrong on site: the crew's trust in the next alarm. [currency, 0 or more]
    remote_check : float
        One dial photograph or fresh read asked for, the asking and the filing included. [currency, 0 or more]
    desk_check : float
        One look into records and files. [currency, 0 or more]
    wrong_bill : float
        A wrong count that comes out late: complaint, correction, letter, apart from the water. [currency, 0 or more]
    wrong_record : float
        A wrong time, name or serial that bills the right volume. [currency, 0 or more]
    over_per_m3, under_per_m3 : float
        A cubic metre billed that did not pass, and one that passed and was not billed. [currency/m3, 0 or more]
    wait_days : float
        How long a fault that is left alone stays until something else shows it. [day, > 0]
    check_days, visit_days : float
        Until an asked check is back, and until a visit is made; the count stays wrong meanwhile. [day, 0 or more]
    """

    visit: float = 1.0
    wasted_visit: float = 6.0
    remote_check: float = 0.12
    desk_check: float = 0.06
    wrong_bill: float = 3.0
    wrong_record: float = 1.0
    over_per_m3: float = 0.06
    under_per_m3: float = 0.04
    wait_days: float = 180.0
    check_days: float = 7.0
    visit_days: float = 10.0


@dataclass(frozen=True, slots=True)
class WatchSettings:
    """The table ``[watch]`` of ``programme.toml``.

    Attributes
    ----------
    costs : Costs
    remote_checks_per_1000 : float
        Dial photographs a month for each thousand ports that go to ports without any sign of their own, most useful
        first. What a port's own evidence calls for is asked for besides. [0 to 1000]
    prior : dict
        Shares by fault code in place of the shipped ones. [-, > 0]
    """

    costs: Costs = field(default_factory=Costs)
    remote_checks_per_1000: float = 20.0
    prior: Mapping[str, float] = field(default_factory=dict)


COST_NAMES: Final[tuple[str, ...]] = tuple(item.name for item in fields(Costs))


def absurd(costs: Costs) -> str | None:
    """Say what is absurd about a set of costs, in words that end a sentence; None where nothing is.

    Parameters
    ----------
    costs : Costs
        Each figure already known to be a finite number of 0 or more.

    Returns
    -------
    str or None
        The first thing found.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: an action must cost something, and a look from afar less than going there. Nothing overrides it.

    Examples
    --------
    >>> absurd(Costs()) is None
    True
    >>> absurd(Costs(remote_check=2.0))
    'watch.costs.remote_check is 2, more than watch.costs.visit, 1: nobody would ask for a photograph'
    """
    if costs.visit <= 0:
        return "watch.costs.visit is 0; a visit must cost something, for the other costs are weighed against it"
    for name in ("remote_check", "desk_check"):
        figure = getattr(costs, name)
        if figure > costs.visit:
            what = "ask for a photograph" if name == "remote_check" else "open the file"
            return (
                f"watch.costs.{name} is {figure:g}, more than watch.costs.visit, {costs.visit:g}: nobody would {what}"
            )
    if costs.wasted_visit > 1000 * costs.visit:
        return f"watch.costs.wasted_visit is {costs.wasted_visit:g}, over a thousand visits: nobody would ever be sent"
    if costs.wait_days < 1:
        return f"watch.costs.wait_days is {costs.wait_days:g}; a fault that nobody looks for stays at least a day"
    if max(costs.check_days, costs.visit_days) > costs.wait_days:
        return "watch.costs.check_days or visit_days is longer than wait_days: acting would come too late to help"
    if costs.wrong_bill == costs.over_per_m3 == costs.under_per_m3 == costs.wrong_record == 0:
        return "watch.costs puts no price on a wrong bill: nothing would ever be asked for"
    return None
