"""Pulse timing of many chains. Scalar twin: ``domain.pulse_chain.timing`` and ``counting``."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from dialtrue.domain.pulse_chain.counting import nominal_needs_ms
from dialtrue.domain.pulse_chain.timing import figure, filter_ms, need_closed_ms, need_open_ms, spread, strobed
from dialtrue.engine.fleet_chains import Flags, FleetChains, Floats


@dataclass(frozen=True, slots=True)
class Timing:
    """Times of every row in ms, rates in Hz; NaN = not known. ``need_*`` include bounce, ``bare_*`` do not."""

    period: Floats
    closed: Floats
    open: Floats
    need_closed: Floats
    need_open: Floats
    bare_closed: Floats
    bare_open: Floats
    nominal_closed: Floats
    nominal_open: Floats
    bounce: Floats
    open_bounce: Floats
    filter: Floats
    max_rate: Floats
    strobed: Flags
    fixed: Flags
    share_low: Floats
    share_nominal: Floats
    share_high: Floats
    width_low: Floats
    width_nominal: Floats
    width_high: Floats


def timing_of(fleet: FleetChains) -> Timing:
    """Return the times of every row at its greatest flow."""
    period = 60_000.0 * fleet.columns["weight_l"] / fleet.columns["max_flow_lpm"]
    fixed = fleet.of_output(lambda sheet: sheet.closed_ms is not None, np.bool_)
    share_low = fleet.of_output(lambda sheet: spread(sheet.closed_share).low)
    share_high = fleet.of_output(lambda sheet: spread(sheet.closed_share).high)
    width_low = fleet.of_output(lambda sheet: spread(sheet.closed_ms).low)
    width_high = fleet.of_output(lambda sheet: spread(sheet.closed_ms).high)
    bounce = fleet.of_output(lambda sheet: figure(sheet.bounce_ms))
    open_bounce = fleet.of_output(lambda sheet: sheet.open_bounce_ms)
    bare_closed, bare_open = fleet.of_input(need_closed_ms), fleet.of_input(need_open_ms)
    return Timing(
        period=period,
        closed=np.where(fixed, width_low, share_low * period),
        open=np.where(fixed, period - width_high, (1.0 - share_high) * period),
        need_closed=bounce + bare_closed,
        need_open=open_bounce + bare_open,
        bare_closed=bare_closed,
        bare_open=bare_open,
        nominal_closed=fleet.of_input(lambda sheet: nominal_needs_ms(sheet)[0]),
        nominal_open=fleet.of_input(lambda sheet: nominal_needs_ms(sheet)[1]),
        bounce=bounce,
        open_bounce=open_bounce,
        filter=fleet.of_input(filter_ms),
        max_rate=fleet.of_input(lambda sheet: figure(sheet.max_rate_hz)),
        strobed=fleet.of_input(strobed, np.bool_),
        fixed=fixed,
        share_low=share_low,
        share_nominal=fleet.of_output(lambda sheet: spread(sheet.closed_share).nominal),
        share_high=share_high,
        width_low=width_low,
        width_nominal=fleet.of_output(lambda sheet: spread(sheet.closed_ms).nominal),
        width_high=width_high,
    )


def _least_periods(
    timing: Timing, closed_need: Floats, open_need: Floats, shares: tuple[Floats, Floats], widths: tuple[Floats, Floats]
) -> Floats:
    """Return the shortest pulse periods. Scalar twin: ``timing.least_period_ms``."""
    by_closed, by_open = closed_need / shares[0], open_need / (1.0 - shares[1])
    turning = np.where(by_open > by_closed, by_open, by_closed)
    turning = np.where(np.isnan(by_closed) | np.isnan(by_open), math.nan, turning)
    timed = np.where(np.isnan(closed_need), math.nan, widths[1] + open_need)
    least = np.where(timing.fixed, timed, turning)
    by_rate = 1000.0 / timing.max_rate
    limited = np.where(by_rate > least, by_rate, least)
    limited = np.where(np.isnan(least), math.nan, limited)
    return np.where(timing.fixed & (widths[0] < closed_need), math.inf, limited)


def _flows(weight_l: Floats, period: Floats) -> Floats:
    """Return flows at pulse periods. Scalar twin: ``timing.flow_at_period``."""
    return np.where(period <= 0.0, math.inf, 60_000.0 * weight_l / period)


def first_loss_flows(timing: Timing, weight_l: Floats, *, rise: Floats, fall: Floats) -> Floats:
    """Return flows above which a pulse may be lost. [L/min] Scalar twin: ``counting.first_loss_flow_lpm``."""
    shares, widths = (timing.share_low, timing.share_high), (timing.width_low, timing.width_high)
    return _flows(weight_l, _least_periods(timing, timing.need_closed + fall, timing.need_open + rise, shares, widths))


def cut_off_flows(timing: Timing, weight_l: Floats, *, rise: Floats, fall: Floats) -> Floats:
    """Return flows above which none is counted, nominal. [L/min] Scalar twin: ``counting.cut_off_flow_lpm``."""
    down, up = np.where(np.isnan(fall), 0.0, fall), np.where(np.isnan(rise), 0.0, rise)
    shares, widths = (timing.share_nominal, timing.share_nominal), (timing.width_nominal, timing.width_nominal)
    closed, opened = timing.nominal_closed + down, timing.nominal_open + up
    return _flows(weight_l, _least_periods(timing, closed, opened, shares, widths))
