"""The one observation that would settle a case best: most information about the cause for its cost."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import xlogy

from dialtrue.domain.faults import FAULTS
from dialtrue.domain.watch_settings import Costs
from dialtrue.engine.decision import Stakes, leaving_costs
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.observations import CHANCE, LOOKS, photo_power

NAMES = tuple(LOOKS)
SITE_HOUR = 0.3
"""What an hour on site costs once somebody is there. Our assumption. [visits]"""
WORTH = 0.5
"""A look must tell at least this share of what the most telling one tells. Our assumption: cheap is not enough."""
DOUBT = 0.1
"""Doubt that a look is to remove even where the posterior leaves none. Our assumption. [-]"""
SEPARATED = 1.645
"""Standard deviations that keep each of two causes on its side nineteen times in twenty (normal distribution)."""


@dataclass(slots=True)
class NextLook:
    """Shapes (n,). ``look`` index into ``NAMES``; ``information`` what it is expected to tell [nat]."""

    look: Ints
    information: Floats


def mutual_information(probability: Floats, chance: Floats, power: Floats | None = None) -> Floats:
    """Return the expected information of a look about the cause.

    Parameters
    ----------
    probability : float64, shape (n, n_faults)
        Present posterior. [-]
    chance : float64, shape (n_faults, outcomes)
        P(outcome given fault). [-]
    power : float64, shape (n, n_faults), optional
        Share of each fault's chance that shows; the rest looks like the first fault's row.

    Returns
    -------
    float64, shape (n,)
        Mutual information of outcome and fault. [nat, 0 or more]

    Raises
    ------
    Never raises.

    Source
    ------
    Definition: H(outcome) - sum_f p_f H(outcome given f).

    Examples
    --------
    >>> import numpy as np
    >>> sure = np.array([[0.99, 0.01], [0.01, 0.99]])
    >>> round(float(mutual_information(np.array([[0.5, 0.5]]), sure)[0]), 3)
    0.637
    """
    if power is None:
        outcome = probability @ chance
        within = probability @ xlogy(chance, chance).sum(axis=1)
    else:
        given = power[:, :, None] * chance + (1.0 - power)[:, :, None] * chance[0]
        outcome = np.einsum("nf,nfo->no", probability, given)
        within = (probability * xlogy(given, given).sum(axis=2)).sum(axis=1)
    return np.maximum(within - xlogy(outcome, outcome).sum(axis=1), 0.0)


def choose_look(probability: Floats, stakes: Stakes, going: NDArray[np.bool_], *, costs: Costs) -> NextLook:
    """Choose for each port the look that tells most for its cost.

    Parameters
    ----------
    probability : float64, shape (n, n_faults)
        Present posterior. [-]
    stakes : Stakes
    going : bool, shape (n,)
        A technician goes there anyway: looks on site then cost only their minutes.
    costs : Costs
        Prices.

    Returns
    -------
    NextLook

    Raises
    ------
    Never raises.

    Notes
    -----
    Cost is the price plus what stays wrong until the outcome is known. Only looks that tell at least half of what the
    most telling one tells are compared.

    Source
    ------
    Chances by fault are our assumptions (``observations``), in the order of evidence of field practice.
    """
    n = len(probability)
    # Near certainty no look tells much: ask which one would best show that the verdict is wrong.
    probability = (1.0 - DOUBT) * probability
    probability[:, 0] += DOUBT
    power = photo_power(np.nan_to_num(stakes.volume_l), np.nan_to_num(stakes.grain_l, nan=1.0))
    a_day = (probability * leaving_costs(stakes, costs)[1]).sum(axis=1) / costs.wait_days / costs.visit
    information, price = np.zeros((n, len(NAMES))), np.zeros((n, len(NAMES)))
    for place, name in enumerate(NAMES):
        look = LOOKS[name]
        information[:, place] = mutual_information(probability, CHANCE[name], power if name == "photo" else None)
        on_site = SITE_HOUR * look.minutes / 60.0
        if look.place == "site":
            price[:, place] = np.where(going, on_site, 1.0 + on_site)
        else:
            price[:, place] = (costs.desk_check if look.place == "desk" else costs.remote_check) / costs.visit
        days = np.where(going & (look.place == "site"), 0.0, look.days)
        price[:, place] += 0.02 + a_day * days
    best = information.max(axis=1, keepdims=True)
    score = np.where(information >= WORTH * best, information / price, -1.0)
    # Who is there anyway has no reason to wait for the post.
    remote = np.array([LOOKS[name].place != "site" for name in NAMES])
    told_on_site = (information[:, ~remote] >= WORTH * best).any(axis=1)
    score = np.where(going[:, None] & told_on_site[:, None] & remote, -1.0, score)
    chosen = np.argmax(score, axis=1)
    return NextLook(chosen, information[np.arange(n), chosen])


def volume_to_separate_l(
    one: float,
    other: float,
    *,
    weight_l: float,
    step_l: float,
    one_by_chance: bool = False,
    other_by_chance: bool = False,
) -> float:
    """Return the volume after which two ratios of index to dial no longer look alike.

    Parameters
    ----------
    one, other : float
        Ratio of index difference to dial difference under the two causes. [-, 0 or more]
    weight_l, step_l : float
        Volume per pulse, and the dial's reading step. [L, > 0]
    one_by_chance, other_by_chance : bool
        That cause loses or adds pulses by chance rather than by a fixed ratio.

    Returns
    -------
    float
        Volume on the dial [L]; infinite where the ratios are equal.

    Raises
    ------
    Never raises.

    Notes
    -----
    With a fixed ratio r the index difference lies within one pulse and r reading steps of r V whatever the phase, so
    two fixed ratios never overlap from |one - other| V = 2 w + (one + other) d on. Chance adds 1.645 standard
    deviations of the binomial on its side: each cause stays apart nineteen times in twenty.

    Source
    ------
    Register arithmetic; normal distribution for the binomial part.

    Examples
    --------
    >>> round(volume_to_separate_l(1.0, 0.1, weight_l=10, step_l=1), 1)
    23.4
    """
    apart = abs(one - other)
    if apart < 1e-9:
        return math.inf
    fixed = 2.0 * weight_l + (one + other) * step_l
    by_chance = 0.0
    for ratio, chance in ((one, one_by_chance), (other, other_by_chance)):
        share = min(abs(1.0 - ratio), 0.5) if chance else 0.0
        by_chance += SEPARATED * math.sqrt(weight_l * share * (1.0 - share))
    # apart V - by_chance sqrt(V) - fixed = 0, solved for sqrt(V).
    root = (by_chance + math.sqrt(by_chance * by_chance + 4.0 * apart * fixed)) / (2.0 * apart)
    return root * root


BY_CHANCE = ("lost_counts", "extra_counts", "intermittent")
FIXED_RATIO = {"sound": 1.0, "customer_leak": 1.0, "use_change": 1.0, "vacant": 1.0, "dead_input": 0.0,
               "double_count": 2.0, "lost_counts": 0.8, "extra_counts": 1.2, "intermittent": 0.7}  # fmt: skip
"""Ratio of index to dial where the port's own estimate is not known. Our assumption."""


def ratio_of(code: str, parameter: float) -> float:
    """Return the ratio of index to dial under a fault, nan where no ratio describes it. Never raises."""
    own = code in ("lost_counts", "extra_counts", "intermittent", "weight_decade", "unit_slip", "double_count")
    if own and math.isfinite(parameter) and parameter > 0:
        return parameter
    return FIXED_RATIO.get(code, math.nan)


def look_name(place: int) -> str:
    """Return the name of a look by its place in ``NAMES``. Never raises for a place that exists."""
    return NAMES[place]


assert FAULTS[0] == "sound"  # the first row of every chance is that of a port that counts true
