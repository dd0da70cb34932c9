"""The least driving that any set of routes could need: two relaxations, each proved to lie at or below every plan.

A plan that makes n visits with r crew-days is a closed walk for each crew-day from its depot and back: n + r drives in
all. Join all depots into one place 0, with the shortest drive of any depot to and from each visit; no plan gets longer
by that. Windows, breaks, shifts and skills only forbid plans, so leaving them out cannot raise the least.

*Assignment.* Every visit is entered once and left once, and a depot is left and entered r times. The cheapest choice of
one successor for each visit and each of R copies of the depot (a copy may follow itself: a crew that stays at home)
asks for no more than that, so its cost is at or below every plan with at most R crew-days.

*Tree and spare edges.* Forget the direction and charge each drive the cheaper of its two ways. The plan's n + r edges
join all n + 1 places, since every route touches the depot. The cheapest n + r edges that join all places are a spanning
tree of least cost and the r cheapest others, an edge between depot and visit being allowed twice (there and back).
Every visit lies on exactly two edges and the depot on 2 r. So for any numbers p the plan's cost is unchanged if p[i] +
p[j] is added to each edge and 2 (sum of p over visits) + 2 r p[0] taken off; the least over trees and spare edges of
the changed costs, less that sum, is therefore a bound for every p. The numbers are improved by steps along the degrees
(subgradient); stopping anywhere leaves a bound. The least over all r that are possible is taken at each step.

*Cuts.* A set S of visits whose jobs and ways fill more than k - 1 crew-days is entered and left by k crew-days at
least, so that a plan crosses its edge 2 k times or more. Any price q >= 0 may therefore be taken off every edge that
crosses, if 2 k q is added to the value: for a plan that keeps to the rule that raises nothing. Sets are the branches of
the trees as they come; prices are improved by the same steps. ``crew_need`` counts k from below.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.routing.crew_need import CrewNeed
from dialtrue.engine.routing.tree_bound import tree_bound


@dataclass(frozen=True, slots=True)
class DrivingBound:
    """The least driving. [s] ``by`` names the relaxation that gave it, ``least_crew_days`` the r it counts with."""

    seconds: float
    by: str
    least_crew_days: int
    assignment_s: float
    tree_s: float


def least_driving(
    seconds: np.ndarray,
    depots: int,
    *,
    most_crew_days: int,
    jobs_s: np.ndarray | None = None,
    usable_s: np.ndarray | None = None,
    most_stops: np.ndarray | None = None,
    endpoints: np.ndarray | None = None,
    most_endpoints: np.ndarray | None = None,
    steps: int | None = None,
) -> DrivingBound:
    """Return a lower bound on the driving of all plans that make all the visits.

    Parameters
    ----------
    seconds : int64, shape (depots + visits, depots + visits)
        Driving from row to column, depots first. [s, >= 0]
    depots : int
        How many depots. [>= 1]
    most_crew_days : int
        No plan has more. [>= 1]
    jobs_s : float64, shape (visits,), optional
        Time on site. [s]
    usable_s : float64, shape (crew-days,), optional
        Longest that each crew-day can spend on jobs and driving; tells how many there must be. [s]
    most_stops : float64, shape (crew-days,), optional
        Most visits of each crew-day, infinite where free.
    endpoints : float64, shape (visits,), optional
        What each visit takes out of the van.
    most_endpoints : float64, shape (crew-days,), optional
        What each van carries, infinite where free.
    steps : int, optional
        Steps of the subgradient; by default fewer for more visits. [>= 0]

    Returns
    -------
    DrivingBound
        ``seconds`` at or below the driving of every plan that makes all these visits. Zero where there are none.

    Raises
    ------
    Never raises.

    Notes
    -----
    Proof in the module's docstring. Cost O(steps * visits^2 * cuts). The same input gives the same bound.

    Source
    ------
    Own proof above; the idea of spare edges on a spanning tree is common in the study of vehicle routes.
    """
    visits = seconds.shape[0] - depots
    if visits == 0:
        return DrivingBound(0.0, "nothing to drive", 0, 0.0, 0.0)
    cost = _one_depot(seconds, depots)
    most = max(1, min(most_crew_days, visits))
    need = CrewNeed(
        cost, most, jobs_s=np.zeros(visits) if jobs_s is None else jobs_s, usable_s=usable_s, most_stops=most_stops,
        endpoints=endpoints, most_endpoints=most_endpoints,
    )  # fmt: skip
    assignment = _assignment(cost, most)
    count = steps if steps is not None else max(300, min(700, 300_000 // (visits + 1)))
    tree = tree_bound(cost, need, need.of_all(), most, steps=count)
    best, by = max((tree, "trees and cuts"), (assignment, "assignment"))
    return DrivingBound(max(0.0, best), by, need.of_all(), assignment, tree)


def _one_depot(seconds: np.ndarray, depots: int) -> np.ndarray:
    """Join all depots into place 0."""
    cost = np.empty((seconds.shape[0] - depots + 1,) * 2, dtype=np.float64)
    cost[1:, 1:] = seconds[depots:, depots:]
    cost[0, 1:] = seconds[:depots, depots:].min(axis=0)
    cost[1:, 0] = seconds[depots:, :depots].min(axis=1)
    cost[0, 0] = 0.0
    return cost


def _assignment(cost: np.ndarray, copies: int) -> float:
    """Return the least cost of one successor for each visit and each copy of the depot."""
    # Imported here: scipy.optimize is slow to import and only routes need it.
    from scipy.optimize import linear_sum_assignment

    index = np.concatenate([np.zeros(copies, dtype=np.int64), np.arange(1, cost.shape[0])])
    wide = cost[np.ix_(index, index)]
    visits = np.arange(copies, len(index))
    wide[visits, visits] = 1e15  # a visit cannot follow itself
    rows, columns = linear_sum_assignment(wide)
    return float(wide[rows, columns].sum())
