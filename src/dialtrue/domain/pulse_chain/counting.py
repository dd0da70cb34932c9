"""How much of the water is counted: the flow where counting starts to fail, and the count error against flow."""

from __future__ import annotations

import math
from dataclasses import dataclass

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import CORNERS, NOT_KNOWN, Spread, worst
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.levels import circuit_at
from dialtrue.domain.pulse_chain.margins import EdgeTimes, can_drive, edge_times
from dialtrue.domain.pulse_chain.timing import (
    figure,
    flow_at_period,
    least_period_ms,
    need_closed_ms,
    need_open_ms,
    period_ms,
    spread,
)


@dataclass(frozen=True, slots=True)
class CountShare:
    """Counts over pulses at one flow: for certain at least ``low``, usually ``expected``, at most ``high``."""

    flow_lpm: float
    low: float
    expected: float
    high: float


def worst_edges(chain: Chain) -> EdgeTimes:
    """Return the longest rise and the longest fall over all corners; NaN where one is not known. [ms]"""
    times = [edge_times(chain, circuit_at(chain, corner=corner)) for corner in CORNERS]
    rise, _ = worst([-time.rise for time in times])
    fall, _ = worst([-time.fall for time in times])
    return EdgeTimes(-rise, -fall)


def first_loss_flow_lpm(chain: Chain) -> float:
    """Return the flow above which a pulse may be lost, at the worst corner, bounce included.

    Parameters
    ----------
    chain : Chain
        The chain.

    Returns
    -------
    float
        [L/min]; 0 where no flow is counted for certain, NaN if a figure is missing.

    Raises
    ------
    Never raises.

    Source
    ------
    The rules on-time, off-time and max-rate solved for the flow.
    """
    if can_drive(chain) == 0.0:
        return 0.0
    edges = worst_edges(chain)
    output, entry = chain.output, chain.input
    closed = figure(output.bounce_ms) + need_closed_ms(entry) + edges.fall
    opened = output.open_bounce_ms + need_open_ms(entry) + edges.rise
    least = least_period_ms(output, closed, opened, figure(entry.max_rate_hz))
    return flow_at_period(figure(chain.weight_l), least)


def cut_off_flow_lpm(chain: Chain) -> float:
    """Return the flow above which no pulse is counted any more at nominal figures: no bounce, no spread, no jitter.

    Parameters
    ----------
    chain : Chain
        The chain.

    Returns
    -------
    float
        Between :func:`first_loss_flow_lpm` and this flow some pulses are lost, by chance. [L/min]; NaN if a figure is
        missing. Edges at the terminals count where the cable is known and are left out where it is not.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition; story of a school field: 0.20 x 60 x 1 gal / 100 ms = 120 gal/min.
    """
    if can_drive(chain) == 0.0:
        return 0.0
    edges = edge_times(chain, circuit_at(chain))
    fall = 0.0 if edges.fall != edges.fall else edges.fall
    rise = 0.0 if edges.rise != edges.rise else edges.rise
    closed, opened = nominal_needs_ms(chain.input)
    rate = figure(chain.input.max_rate_hz)
    least = least_period_ms(chain.output, closed + fall, opened + rise, rate, nominal=True)
    return flow_at_period(figure(chain.weight_l), least)


def nominal_needs_ms(entry: Input) -> tuple[float, float]:
    """Return the steady closed and open time that an input needs when its looks come without jitter. [ms]"""
    jitter = entry.samples_to_confirm * entry.sample_jitter_ms if entry.sampled else 0.0
    opening = entry.debounce_ms if entry.open_debounce_ms is None else entry.open_debounce_ms
    closed = _least_steady(need_closed_ms(entry), jitter, entry.debounce_ms, entry.min_on_ms)
    return closed, _least_steady(need_open_ms(entry), jitter, opening, entry.min_off_ms)


def _least_steady(need: float, jitter: float, *asked: float | None) -> float:
    """Return the need without the jitter of the looks, but no less than the sheet's own least time."""
    bare = need - jitter
    for time in asked:
        if time is not None and time > bare:
            bare = time
    return bare


def _hit(length_ms: float, first_ms: float, every_ms: float) -> float:
    """Return the chance that a state of that length is taken: certain from ``first`` on, none at one look less."""
    if every_ms <= 0.0:
        return 1.0 if length_ms >= first_ms else 0.0
    chance = (length_ms - (first_ms - every_ms)) / every_ms
    return min(1.0, max(0.0, chance))


def count_share(chain: Chain, flow_lpm: float) -> CountShare:
    """Return the share of pulses counted at a steady flow.

    Parameters
    ----------
    chain : Chain
        The chain.
    flow_lpm : float
        Steady flow. [L/min, > 0]

    Returns
    -------
    CountShare
        NaN in each place if a figure is missing. Above 1 where edges are counted twice.

    Raises
    ------
    Never raises.

    Notes
    -----
    A steady filter counts all pulses or none at nominal figures; between the worst corner and the best the share is a
    matter of chance, and ``low`` is 0 there. A sampled input hits a closed time of length t with chance t over its
    period where it asks for one look; several looks in the same way from the last but one. Both states must be hit.
    Over the input's greatest rate no more than that rate is counted.

    Source
    ------
    Geometric probability of a random phase; our assumption that phases of successive pulses are independent.
    """
    entry, output = chain.input, chain.output
    factor = (2.0 if entry.edges == "both" else 1.0) * (2.0 if chain.wiring == "both_contacts" else 1.0)
    certain, nominal = first_loss_flow_lpm(chain), cut_off_flow_lpm(chain)
    if certain != certain or nominal != nominal:
        return CountShare(flow_lpm, NOT_KNOWN, NOT_KNOWN, NOT_KNOWN)
    slack = flow_lpm * (1.0 - 1e-12)
    if slack <= certain:
        return CountShare(flow_lpm, factor, factor, factor)
    period = period_ms(figure(chain.weight_l), flow_lpm)
    nominal_share = _state_share(chain, period, spread(output.closed_share), jitter=0.0, side=0)
    best_share = _state_share(chain, period, spread(output.closed_share), jitter=entry.sample_jitter_ms, side=1)
    if not entry.sampled:
        nominal_share = 1.0 if slack <= nominal else 0.0
        best_share = max(best_share, nominal_share)
    rate = 1000.0 / period
    ceiling = min(1.0, figure(entry.max_rate_hz) / rate) if entry.max_rate_hz is not None else 1.0
    expected = min(nominal_share, ceiling)
    if not entry.sampled and nominal_share == 0.0 and ceiling < 1.0:
        expected = ceiling if _state_share(chain, period, spread(output.closed_share), jitter=0.0, side=0) else 0.0
    high = max(expected, min(best_share, ceiling))
    return CountShare(flow_lpm, 0.0, expected * factor, high * factor)


def _state_share(chain: Chain, period: float, share: Spread, *, jitter: float, side: int) -> float:
    """Return the chance that both states of a pulse are taken, at nominal (side 0) or kindest (side 1) figures."""
    entry, width = chain.input, chain.output.closed_ms
    if width is not None:
        closed = width.high if side else width.nominal
        opened = period - (width.low if side else width.nominal)
    else:
        closed = (share.high if side else share.nominal) * period
        opened = (1.0 - (share.low if side else share.nominal)) * period
    looks = entry.samples_to_confirm
    every = max(figure(entry.sample_period_ms) - jitter, 0.0) if entry.sampled else 0.0
    early = looks * (entry.sample_jitter_ms + jitter) if entry.sampled else 0.0
    hit_closed = _hit(closed, need_closed_ms(entry) - early, every)
    hit_open = _hit(opened, need_open_ms(entry) - early, every)
    return hit_closed * hit_open


def count_curve(chain: Chain, *, points: int = 121) -> list[CountShare]:
    """Return the share counted from the least flow to a quarter over the greatest, with the two edges of failing.

    Parameters
    ----------
    chain : Chain
        The chain; its greatest flow must be known.
    points : int
        Flows, evenly spaced. [>= 2]

    Returns
    -------
    list of CountShare
        Empty where the greatest flow is not known.

    Raises
    ------
    Never raises.

    Source
    ------
    :func:`count_share`.
    """
    top = figure(chain.max_flow_lpm)
    if top != top:
        return []
    most = 1.25 * top
    flows = {most * (number + 1) / points for number in range(points)}
    for edge in (first_loss_flow_lpm(chain), cut_off_flow_lpm(chain), top):
        if 0.0 < edge <= most and math.isfinite(edge):
            flows.update((edge, edge * (1.0 + 1e-9)))
    return [count_share(chain, flow) for flow in sorted(flows)]
