"""Count a burst: a train of contact edges through the circuit, the thresholds and the input's filter."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.levels import (
    Circuit,
    closed_level_v,
    closed_tau_ms,
    crossing_ms,
    open_level_v,
    open_tau_ms,
)

Edge = tuple[float, bool]
"""Time [ms] and the new state, True = closed. The line starts open and settled."""

GREATEST_SAMPLES: Final = 10_000_000


@dataclass(frozen=True, slots=True)
class BurstCount:
    """What the input made of a burst.

    ``line_edges`` are the times at which the line crossed a threshold: falling through ``closed_below_v`` (True),
    rising through ``open_above_v`` (False). A line that reads closed before the burst begins has a first edge
    (True) at minus infinity. ``confirmed_edges`` are the states the filter let through.
    """

    counted: int
    line_edges: tuple[Edge, ...]
    confirmed_edges: tuple[Edge, ...]


def pulse_train(
    *,
    pulses: int,
    closed_ms: float,
    open_ms: float,
    start_ms: float = 0.0,
    bounces: int = 0,
    bounce_ms: float = 0.0,
) -> list[Edge]:
    """Return the contact edges of a burst of equal pulses.

    Parameters
    ----------
    pulses : int
        [>= 0]
    closed_ms, open_ms : float
        From first closing to last opening, and the pause. [ms, > 0]
    start_ms : float
        First closing. [ms]
    bounces : int
        Rebounds after each closing, equally spread over ``bounce_ms``, half of the time open. [>= 0]
    bounce_ms : float
        [ms, < closed_ms]

    Returns
    -------
    list of Edge

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> pulse_train(pulses=1, closed_ms=30.0, open_ms=30.0)
    [(0.0, True), (30.0, False)]
    """
    edges: list[Edge] = []
    step = bounce_ms / (2 * bounces) if bounces else 0.0
    for number in range(pulses):
        closing = start_ms + number * (closed_ms + open_ms)
        edges.append((closing, True))
        for rebound in range(bounces):
            edges.append((closing + (2 * rebound + 1) * step, False))
            edges.append((closing + (2 * rebound + 2) * step, True))
        edges.append((closing + closed_ms, False))
    return edges


def line_edges(circuit: Circuit, contact_edges: list[Edge]) -> tuple[Edge, ...]:
    """Return when the line crosses its thresholds for a train of contact edges.

    Parameters
    ----------
    circuit : Circuit
        At one corner.
    contact_edges : list of Edge
        In order of time.

    Returns
    -------
    tuple of Edge
        Exact crossings of the piecewise exponential, with the two thresholds as the two switching levels.

    Raises
    ------
    Never raises.

    Source
    ------
    First-order circuit; see ``levels.crossing_ms``.
    """
    low, high = closed_level_v(circuit), open_level_v(circuit)
    fall_tau, rise_tau = closed_tau_ms(circuit), open_tau_ms(circuit)
    crossings: list[Edge] = []
    level, reads_closed = high, high <= circuit.closed_below_v
    if reads_closed:
        crossings.append((-math.inf, True))
    for number, (time, closed) in enumerate(contact_edges):
        until = contact_edges[number + 1][0] if number + 1 < len(contact_edges) else math.inf
        final, tau = (low, fall_tau) if closed else (high, rise_tau)
        if closed != reads_closed:
            threshold = circuit.closed_below_v if closed else circuit.open_above_v
            wait = crossing_ms(level, final, threshold, tau)
            if time + wait < until:
                crossings.append((time + wait, closed))
                reads_closed = closed
        level = final + (level - final) * math.exp(-(until - time) / tau) if tau > 0.0 else final
    return tuple(crossings)


def count_burst(
    circuit: Circuit,
    entry: Input,
    contact_edges: list[Edge],
    *,
    sample_phase_ms: float = 0.0,
    settle_ms: float | None = None,
) -> BurstCount:
    """Count a burst as the input would.

    Parameters
    ----------
    circuit : Circuit
        The chain's circuit at one corner, from ``levels.circuit_at``.
    entry : Input
        Its filter: debounce and minimum times, or sampling.
    contact_edges : list of Edge
        Contact edges in order of time, as from :func:`pulse_train`.
    sample_phase_ms : float
        Time of the first look of a sampled input. [ms]
    settle_ms : float or None
        How long after the last edge the input goes on looking; None: until it is certain to have settled. [ms]

    Returns
    -------
    BurstCount

    Raises
    ------
    Never raises.

    Notes
    -----
    A continuous input takes a state that the line has shown without a break for its filter time. A sampled input takes
    a state after ``samples_to_confirm`` equal looks. A count is a confirmed closing; where both edges count, an opening
    is one too. An input whose pull-up is strobed is taken as settled at each look: the rule ``strobe`` watches that.

    Source
    ------
    Our assumption: the filter restarts at every change, the usual two-sided debounce.
    """
    edges = line_edges(circuit, contact_edges)
    last = contact_edges[-1][0] if contact_edges else 0.0
    if entry.sampled:
        confirmed = _sampled(edges, entry, sample_phase_ms, last, settle_ms)
    else:
        confirmed = _steady(edges, entry, math.inf if settle_ms is None else last + settle_ms)
    counted = sum(1 for _, closed in confirmed if closed or entry.edges == "both")
    return BurstCount(counted, edges, tuple(confirmed))


def _steady(edges: tuple[Edge, ...], entry: Input, end: float) -> list[Edge]:
    """Return the states that lasted their filter time."""
    debounce = entry.debounce_ms or 0.0
    opening = debounce if entry.open_debounce_ms is None else entry.open_debounce_ms
    need = {True: max(debounce, entry.min_on_ms or 0.0), False: max(opening, entry.min_off_ms or 0.0)}
    confirmed: list[Edge] = []
    held = bool(edges) and edges[0][0] == -math.inf
    for number, (time, closed) in enumerate(edges):
        until = edges[number + 1][0] if number + 1 < len(edges) else end
        if closed != held and until - time >= need[closed]:
            held = closed
            confirmed.append((time + need[closed], closed))
    return confirmed


def _sampled(edges: tuple[Edge, ...], entry: Input, phase: float, last: float, settle_ms: float | None) -> list[Edge]:
    """Return the states that enough equal looks agreed on."""
    period = entry.sample_period_ms or 1.0
    line_end = edges[-1][0] if edges and edges[-1][0] > last else last
    end = line_end + (entry.samples_to_confirm + 1) * period if settle_ms is None else last + settle_ms
    looks = min(int((end - phase) / period) + 1, GREATEST_SAMPLES)
    confirmed: list[Edge] = []
    held = seen = bool(edges) and edges[0][0] == -math.inf
    place, alike = 0, 0
    for number in range(max(looks, 0)):
        time = phase + number * period
        state = seen
        while place < len(edges) and edges[place][0] <= time:
            state = edges[place][1]
            place += 1
        alike = alike + 1 if state == seen else 1
        seen = state
        if seen != held and alike >= entry.samples_to_confirm:
            held = seen
            confirmed.append((time, held))
    return confirmed
