"""The cell: what a year takes, and how many years it lasts."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.levels import Circuit, circuit_at, closed_level_v, open_level_v
from dialtrue.domain.pulse_chain.timing import figure, strobed

HOURS_PER_YEAR: Final = 8766.0
"""365.25 days. Source: ``BATTERY-BUDGET``."""
DAYS_PER_YEAR: Final = 365.25
DAY_MS: Final = 86_400_000.0


def pull_up_ua(circuit: Circuit, level_v: float) -> float:
    """Return the current through the pull-up at a level of the line. [uA] Source: Ohm."""
    return (circuit.source_v - level_v) / circuit.pull_ohm * 1e6


def pulses_per_day(chain: Chain) -> float:
    """Return the pulses a day at the expected use. [1/day] NaN if not known."""
    return figure(chain.use_l_per_day) / figure(chain.weight_l)


def usual_closed_share(chain: Chain) -> float:
    """Return the share of time the contact is closed over a long time.

    A contact that turns with the meter stops anywhere, so it is closed for its closed share; an output of fixed width
    is closed for its pulses only. [0 .. 1, NaN if not known] Source: definition.
    """
    output = chain.output
    if output.closed_ms is not None:
        share = pulses_per_day(chain) * output.closed_ms.nominal / DAY_MS
        return 1.0 if share > 1.0 else share
    return figure(None if output.closed_share is None else output.closed_share.nominal)


def parked_closed_share(chain: Chain) -> float:
    """Return the closed share of a meter that stopped with its contact closed: 1, or the usual one for fixed width."""
    if chain.output.closed_ms is not None:
        return usual_closed_share(chain)
    return 1.0 if chain.output.closed_share is not None else figure(None)


def yearly_mah(chain: Chain, *, closed_share: float) -> float:
    """Return what a year takes from the cell.

    Parameters
    ----------
    chain : Chain
        Its input's cell figures, at nominal supply, pull-up and 20 C.
    closed_share : float
        Share of time the contact is closed. [0 .. 1]

    Returns
    -------
    float
        Sleep, pull-up current closed and open, sends and self-discharge. NaN if a figure is missing. [mAh/year]

    Raises
    ------
    Never raises.

    Notes
    -----
    Self-discharge is a share of the *rated* capacity every year, the cautious model. A strobed pull-up draws only while
    energised.

    Source
    ------
    ``BATTERY-BUDGET``.
    """
    entry = chain.input
    circuit = circuit_at(chain)
    closed_ua = pull_up_ua(circuit, closed_level_v(circuit))
    open_ua = pull_up_ua(circuit, open_level_v(circuit))
    line_ua = closed_share * closed_ua + (1.0 - closed_share) * open_ua
    if strobed(entry):
        line_ua = line_ua * (figure(entry.pull_up_on_ms) / figure(entry.sample_period_ms))
    sleep_mah = figure(entry.base_ua) * HOURS_PER_YEAR / 1000.0
    line_mah = line_ua * HOURS_PER_YEAR / 1000.0
    send_mah = entry.sends_per_day * DAYS_PER_YEAR * entry.send_mah
    lost_mah = figure(entry.self_discharge_share) * figure(entry.capacity_mah)
    return sleep_mah + line_mah + send_mah + lost_mah


def life_years(chain: Chain, *, closed_share: float) -> float:
    """Return the years of life of the cell.

    Parameters
    ----------
    chain : Chain
        Its input's cell figures.
    closed_share : float
        Share of time the contact is closed. [0 .. 1]

    Returns
    -------
    float
        Usable capacity over what a year takes; NaN if a figure is missing. [years]

    Raises
    ------
    Never raises.

    Source
    ------
    ``BATTERY-BUDGET``.
    """
    taken = yearly_mah(chain, closed_share=closed_share)
    if taken == 0.0:
        return float("inf")
    return figure(chain.input.capacity_mah) / taken
