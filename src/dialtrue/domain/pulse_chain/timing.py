"""Pulse timing: how long closed and open at a flow, and how long the input needs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from dialtrue.domain.errors import UnknownMeterSize
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import NOT_KNOWN, UNKNOWN_SPREAD, Spread
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.quantity import litres_per


@dataclass(frozen=True, slots=True)
class FlowLimits:
    """Flows of one meter size, exact. [L/min] ``source`` is a key of the sources page."""

    min_flow_lpm: Fraction
    q3_lpm: Fraction
    max_flow_lpm: Fraction
    source: str


Q4_OVER_Q3: Final = Fraction(5, 4)
"""Source: ``OIML-R49`` 4.1."""
ASSUMED_RATIO: Final = 80
"""Q3/Q1 taken for a DN size. Our assumption: the commonest mechanical class; override by --min-flow."""

_US_GPM: Final[dict[str, tuple[str, str]]] = {
    "5/8in": ("0.25", "20"),
    "3/4in": ("0.5", "30"),
    "1in": ("0.75", "50"),
    "1-1/2in": ("1.5", "100"),
    "2in": ("2", "160"),
    "3in": ("4", "300"),
    "4in": ("7", "500"),
    "6in": ("12", "1000"),
}
"""Least test flow and safe maximum of displacement meters. [US gal/min] Source: ``US-FLOW-LIMITS``; states differ."""
_DN_Q3: Final[dict[str, str]] = {
    "DN15": "2.5",
    "DN20": "4",
    "DN25": "6.3",
    "DN32": "10",
    "DN40": "16",
    "DN50": "25",
    "DN65": "40",
    "DN80": "63",
    "DN100": "100",
    "DN150": "250",
}
"""Usual Q3 of a nominal size, from the R5 series of ``OIML-R49``. [m3/h] Our assumption: common practice, the plate
decides; override by --max-flow."""


def _limits() -> dict[str, FlowLimits]:
    """Return the table in L/min, exact."""
    table: dict[str, FlowLimits] = {}
    for size, (least, most) in _US_GPM.items():
        top = Fraction(most) * litres_per("gal")
        table[size] = FlowLimits(Fraction(least) * litres_per("gal"), top / Q4_OVER_Q3, top, "US-FLOW-LIMITS")
    for size, cubic in _DN_Q3.items():
        q3 = Fraction(cubic) * 1000 / 60
        table[size] = FlowLimits(q3 / ASSUMED_RATIO, q3, q3 * Q4_OVER_Q3, "OIML-R49")
    return table


FLOW_LIMITS: Final[dict[str, FlowLimits]] = _limits()
"""Flow limits by meter size. For US sizes the safe maximum stands for Q4, and Q3 is taken as Q4 / 1.25."""


def flow_limits(size: str, *, overrides: dict[str, FlowLimits] | None = None) -> FlowLimits:
    """Return the flow limits of a meter size.

    Parameters
    ----------
    size : str
        ``5/8in`` … ``6in`` or ``DN15`` … ``DN150``; blanks and capitals do not matter.
    overrides : dict or None
        The utility's own table; it goes first.

    Returns
    -------
    FlowLimits
        [L/min]

    Raises
    ------
    UnknownMeterSize
        In neither table.

    Source
    ------
    ``US-FLOW-LIMITS`` and ``OIML-R49``.

    Examples
    --------
    >>> flow_limits("2in").max_flow_lpm / litres_per("gal")
    Fraction(160, 1)
    """
    wanted = size.replace(" ", "").lower()
    for table in (overrides or {}, FLOW_LIMITS):
        for name, limits in table.items():
            if name.replace(" ", "").lower() == wanted:
                return limits
    raise UnknownMeterSize(size=size, allowed=", ".join(FLOW_LIMITS))


def known_most(first: float, second: float) -> float:
    """Return the greater of two; the known one if only one is known; NaN if neither is."""
    if first != first:
        return second
    if second != second:
        return first
    return second if second > first else first


def figure(value: float | None) -> float:
    """Return the figure, NaN for a missing one."""
    return NOT_KNOWN if value is None else value


def spread(value: Spread | None) -> Spread:
    """Return the spread, each end NaN for a missing one."""
    return UNKNOWN_SPREAD if value is None else value


def look_ms(entry: Input) -> float:
    """Return how long a state must stand so that a sampled input is certain to take it. [ms]

    Source: definition; looks lie at most period + jitter apart.
    """
    return entry.samples_to_confirm * (figure(entry.sample_period_ms) + entry.sample_jitter_ms)


def need_closed_ms(entry: Input) -> float:
    """Return the steady closed time that the input needs, edges and bounce not included.

    Parameters
    ----------
    entry : Input
        Data sheet.

    Returns
    -------
    float
        The greatest of debounce, least closed time and, for a sampled input, its looks. NaN if not known. [ms]

    Raises
    ------
    Never raises.

    Source
    ------
    Definition of the filter (see ``burst.count_burst``).
    """
    asked = known_most(figure(entry.debounce_ms), figure(entry.min_on_ms))
    return _with_looks(entry, asked)


def need_open_ms(entry: Input) -> float:
    """Return the steady open time that the input needs, edges and bounce not included. [ms] Source: as above."""
    debounce = entry.debounce_ms if entry.open_debounce_ms is None else entry.open_debounce_ms
    asked = known_most(figure(debounce), figure(entry.min_off_ms))
    return _with_looks(entry, asked)


def _with_looks(entry: Input, asked: float) -> float:
    """Return the greater of the asked time and the looks; a sampled input whose period is not known is not known."""
    if not entry.sampled:
        return asked
    looks = look_ms(entry)
    return looks if looks != looks else known_most(asked, looks)


def filter_ms(entry: Input) -> float:
    """Return the longest disturbance the input ignores. [ms]

    A steady filter ignores what is shorter than its debounce; a sampled one what is shorter than its looks, early ones.
    Source: definition.
    """
    if entry.sampled:
        return entry.samples_to_confirm * (figure(entry.sample_period_ms) - entry.sample_jitter_ms)
    return figure(entry.debounce_ms)


def strobed(entry: Input) -> bool:
    """True where the pull-up is energised only while the input looks."""
    return entry.sampled and entry.pull_up_on_ms is not None


def period_ms(weight_l: float, flow_lpm: float) -> float:
    """Return the time from pulse to pulse. [ms] Source: definition, T = w / Q."""
    return 60_000.0 * weight_l / flow_lpm


def closed_least_ms(output: Output, period: float) -> float:
    """Return the shortest closed time at a pulse period, bounce included. [ms]"""
    if output.closed_ms is not None:
        return output.closed_ms.low
    return spread(output.closed_share).low * period


def open_least_ms(output: Output, period: float) -> float:
    """Return the shortest open time at a pulse period. [ms] A fixed pulse longer than the period leaves none."""
    if output.closed_ms is not None:
        return period - output.closed_ms.high
    return (1.0 - spread(output.closed_share).high) * period


def least_period_ms(
    output: Output, closed_need_ms: float, open_need_ms: float, max_rate_hz: float, *, nominal: bool = False
) -> float:
    """Return the shortest pulse period at which every pulse is counted.

    Parameters
    ----------
    output : Output
        Share or fixed time.
    closed_need_ms, open_need_ms : float
        Time needed in each state, bounce and edges included. [ms]
    max_rate_hz : float
        The input's greatest rate; NaN is left out, infinite is no limit. [Hz]
    nominal : bool
        Use the nominal closed share or time instead of its worse ends.

    Returns
    -------
    float
        Infinite if no period will do; NaN if a figure is missing. [ms]

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> reed = Output(key="r", kind="dry_contact", closed_share=Spread.exactly(0.2))
    >>> round(least_period_ms(reed, 100.0, 100.0, math.inf), 6)
    500.0
    """
    if output.closed_ms is not None:
        width = output.closed_ms
        shortest, longest = (width.nominal, width.nominal) if nominal else (width.low, width.high)
        if shortest < closed_need_ms:
            return math.inf
        if closed_need_ms != closed_need_ms:
            return NOT_KNOWN
        least = longest + open_need_ms
    else:
        share = spread(output.closed_share)
        low, high = (share.nominal, share.nominal) if nominal else (share.low, share.high)
        by_closed = closed_need_ms / low
        by_open = open_need_ms / (1.0 - high)
        if by_closed != by_closed or by_open != by_open:
            return NOT_KNOWN
        least = by_open if by_open > by_closed else by_closed
    if least != least:
        return NOT_KNOWN
    return known_most(least, 1000.0 / max_rate_hz)


def flow_at_period(weight_l: float, period: float) -> float:
    """Return the flow at which pulses follow each other in ``period`` ms; 0 for an infinite period. [L/min]"""
    if period <= 0.0:
        return math.inf
    return 60_000.0 * weight_l / period


def max_rate(chain: Chain) -> float:
    """Return the pulse rate at the greatest flow. [Hz]"""
    return 1000.0 / period_ms(figure(chain.weight_l), figure(chain.max_flow_lpm))
