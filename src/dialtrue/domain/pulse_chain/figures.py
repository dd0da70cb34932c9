"""The figures beside the verdict: flows, damp, energy, resolution, time to rollover."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.pulse_chain.battery import (
    life_years,
    parked_closed_share,
    pull_up_ua,
    pulses_per_day,
    usual_closed_share,
    yearly_mah,
)
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import CORNERS, worst
from dialtrue.domain.pulse_chain.counting import cut_off_flow_lpm, first_loss_flow_lpm
from dialtrue.domain.pulse_chain.levels import circuit_at, closed_level_v, leak_for_level_ohm, line_reads, open_level_v
from dialtrue.domain.pulse_chain.margins import can_drive
from dialtrue.domain.pulse_chain.output import REVERSED_DIODE_V
from dialtrue.domain.pulse_chain.reach import longest_cable_m
from dialtrue.domain.pulse_chain.timing import closed_least_ms, figure, open_least_ms, period_ms

HOURS_PER_DAY: Final = 24.0


@dataclass(frozen=True, slots=True)
class FitFigures:
    """Figures of one chain; None = not known. Units by name.

    ``first_loss_flow_lpm``: above it a pulse may be lost at the worst corner. ``cut_off_flow_lpm``: above it none is
    counted at nominal figures. ``damp_stood_ohm``: least leakage for a clear open at the worst corner;
    ``damp_stood_nominal_ohm``: at nominal figures; ``damp_closed_ohm``: leakage under which the open line reads closed,
    nominal. ``site_open_v`` and ``site_reads``: the open line at the leakage stated for the site, nominal.
    ``leak_every_hour_lph``: least steady leak that leaves no hour of a day without a count; ``leak_in_a_day_lph``:
    least that moves the index once a day. ``reversed_reads``: how the input reads the line if the wires are swapped.
    """

    pulse_rate_hz: float | None
    pulse_period_ms: float | None
    closed_ms: float | None
    open_ms: float | None
    first_loss_flow_lpm: float | None
    cut_off_flow_lpm: float | None
    cut_off_share_q3: float | None
    cut_off_share_q4: float | None
    closed_level_v: float | None
    open_level_v: float | None
    damp_stood_ohm: float | None
    damp_stood_nominal_ohm: float | None
    damp_closed_ohm: float | None
    site_open_v: float | None
    site_reads: str | None
    closed_current_ua: float | None
    yearly_mah: float | None
    life_years: float | None
    yearly_parked_mah: float | None
    life_parked_years: float | None
    parked_share: float | None
    pulses_per_day: float | None
    gap_at_min_flow_s: float | None
    leak_every_hour_lph: float | None
    leak_in_a_day_lph: float | None
    rollover_q3_h: float | None
    rollover_use_years: float | None
    longest_cable_m: float | None
    reversed_reads: str | None


def _none(value: float) -> float | None:
    """Return None for a figure that is not known."""
    return None if value != value else value


def fit_figures(chain: Chain) -> FitFigures:
    """Return every figure beside the verdict.

    Parameters
    ----------
    chain : Chain
        The chain.

    Returns
    -------
    FitFigures
        None where a figure that is needed is missing, or where the output cannot drive the input.

    Raises
    ------
    Never raises.

    Source
    ------
    See the functions called; flows and leaks are definitions.
    """
    driven = can_drive(chain) == 1.0
    nominal = circuit_at(chain)
    low, high = closed_level_v(nominal), open_level_v(nominal)
    site_leak = chain.leakage_ohm
    site_v = _site_open_v(chain, site_leak) if site_leak is not None and driven else None
    stood = worst([-_leak_stood(chain, number) for number in range(len(CORNERS))])[0] if driven else figure(None)
    period = period_ms(figure(chain.weight_l), figure(chain.max_flow_lpm))
    cut_off = cut_off_flow_lpm(chain)
    usual, parked = usual_closed_share(chain), parked_closed_share(chain)
    step = _step_l(chain)
    use_year = figure(chain.use_l_per_day) * 365.25
    return FitFigures(
        pulse_rate_hz=_none(1000.0 / period),
        pulse_period_ms=_none(period),
        closed_ms=_none(closed_least_ms(chain.output, period)),
        open_ms=_none(open_least_ms(chain.output, period)),
        first_loss_flow_lpm=_none(first_loss_flow_lpm(chain)),
        cut_off_flow_lpm=_none(cut_off),
        cut_off_share_q3=_none(cut_off / figure(chain.q3_lpm)),
        cut_off_share_q4=_none(cut_off / figure(chain.max_flow_lpm)),
        closed_level_v=_none(low) if driven else None,
        open_level_v=_none(high) if driven else None,
        damp_stood_ohm=_none(-stood),
        damp_stood_nominal_ohm=_none(leak_for_level_ohm(nominal, nominal.open_above_v)) if driven else None,
        damp_closed_ohm=_none(leak_for_level_ohm(nominal, nominal.closed_below_v)) if driven else None,
        site_open_v=None if site_v is None else _none(site_v),
        site_reads=None if site_v is None or site_v != site_v else line_reads(nominal, site_v),
        closed_current_ua=_none(pull_up_ua(nominal, low)) if driven else None,
        yearly_mah=_none(yearly_mah(chain, closed_share=usual)) if driven else None,
        life_years=_none(life_years(chain, closed_share=usual)) if driven else None,
        yearly_parked_mah=_none(yearly_mah(chain, closed_share=parked)) if driven else None,
        life_parked_years=_none(life_years(chain, closed_share=parked)) if driven else None,
        parked_share=_none(usual),
        pulses_per_day=_none(pulses_per_day(chain)),
        gap_at_min_flow_s=_none(period_ms(figure(chain.weight_l), figure(chain.min_flow_lpm)) / 1000.0),
        leak_every_hour_lph=_none(step),
        leak_in_a_day_lph=_none(step / HOURS_PER_DAY),
        rollover_q3_h=_none(figure(chain.index_capacity_l) / (figure(chain.q3_lpm) * 60.0)),
        rollover_use_years=_none(figure(chain.index_capacity_l) / use_year) if use_year != 0.0 else None,
        longest_cable_m=longest_cable_m(chain),
        reversed_reads=_reversed(chain),
    )


def _leak_stood(chain: Chain, number: int) -> float:
    """Return the least leakage for a clear open at one corner. [ohm]"""
    circuit = circuit_at(chain, corner=CORNERS[number])
    return leak_for_level_ohm(circuit, circuit.open_above_v)


def _step_l(chain: Chain) -> float:
    """Return the least volume that moves the index: the pulse weight or the resolution, whichever is greater. [L]"""
    weight, resolution = figure(chain.weight_l), figure(chain.resolution_l)
    return resolution if resolution > weight else weight


def _site_open_v(chain: Chain, leakage_ohm: float) -> float:
    """Return the open level at nominal figures with a leakage. [V]"""
    return open_level_v(dataclasses.replace(circuit_at(chain), leak_ohm=leakage_ohm))


def _reversed(chain: Chain) -> str | None:
    """Say how the input reads a polarised output whose wires are swapped; None where there is no polarity or figure."""
    if not chain.output.polarised or chain.input.kind != "pull_up":
        return None
    circuit = circuit_at(chain)
    if circuit.closed_below_v != circuit.closed_below_v or circuit.open_above_v != circuit.open_above_v:
        return None
    return line_reads(circuit, REVERSED_DIODE_V)
