"""The fit check of a whole fleet at once. Scalar twin: ``domain.pulse_chain.verdict.judge``, equal to the last bit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from dialtrue.domain.pulse_chain.battery import DAY_MS, DAYS_PER_YEAR, HOURS_PER_YEAR
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import CORNERS
from dialtrue.domain.pulse_chain.input import NOT_KNOWN_INPUT
from dialtrue.domain.pulse_chain.margins import CIRCUIT_RULES, can_drive
from dialtrue.domain.pulse_chain.output import NOT_KNOWN_OUTPUT
from dialtrue.domain.pulse_chain.rules import RULE_IDS, RULES, Rule, doubtful_figures
from dialtrue.domain.pulse_chain.timing import figure
from dialtrue.domain.pulse_chain.verdict import LEVEL_RULES, OUTCOMES, ROUNDING_SHARE, STATUSES
from dialtrue.engine.fleet_chains import Flags, FleetChains, Floats
from dialtrue.engine.fleet_circuit import FleetCircuit, circuit_of, crossings_ms, gather, leaks_for_level_ohm
from dialtrue.engine.fleet_timing import Timing, cut_off_flows, first_loss_flows, timing_of

BLOCK_ROWS: Final = 8192
"""Rows at a time: a block's columns stay in the processor's cache."""

_PASS, _CARE, _FAIL, _NOT_KNOWN, _NOT_ASKED = range(len(STATUSES))
_FITS, _FITS_WITH_CARE, _DOES_NOT_FIT, _UNKNOWN = range(len(OUTCOMES))


@dataclass(frozen=True, slots=True)
class FleetFit:
    """Verdicts of a fleet. Columns of the matrices follow ``RULES``; NaN = not known.

    outcome : int8, shape (n,) — place in ``OUTCOMES``. deciding : int8, shape (n,) — place in ``RULES``.
    status : int8, shape (n, rules) — place in ``STATUSES``. value, limit, margin, share : float64, shape (n, rules).
    corner : int8, shape (n, rules) — place in ``CORNERS``, -1 where there is none.
    high_flow_proof : int8, shape (n,) — 1 yes, 0 no, -1 not known. Flows in L/min, float64, shape (n,).
    """

    outcome: npt.NDArray[np.int8]
    deciding: npt.NDArray[np.int8]
    status: npt.NDArray[np.int8]
    value: Floats
    limit: Floats
    margin: Floats
    share: Floats
    corner: npt.NDArray[np.int8]
    high_flow_proof: npt.NDArray[np.int8]
    first_loss_flow_lpm: Floats
    cut_off_flow_lpm: Floats


def judge_fleet(fleet: FleetChains) -> FleetFit:
    """Judge every chain of a fleet.

    Parameters
    ----------
    fleet : FleetChains
        n chains.

    Returns
    -------
    FleetFit
        Row i is the verdict on chain i.

    Raises
    ------
    Never raises.

    Notes
    -----
    Scalar twin: ``domain.pulse_chain.verdict.judge`` with ``counting.first_loss_flow_lpm`` and ``cut_off_flow_lpm``.
    Cost O(64 n). Works in blocks of ``BLOCK_ROWS``.

    Source
    ------
    See the scalar twin.
    """
    count, rules = len(fleet), len(RULES)
    fit = FleetFit(
        np.zeros(count, np.int8),
        np.zeros(count, np.int8),
        np.full((count, rules), _NOT_ASKED, np.int8),
        np.full((count, rules), math.nan),
        np.full((count, rules), math.nan),
        np.full((count, rules), math.nan),
        np.full((count, rules), math.nan),
        np.full((count, rules), -1, np.int8),
        np.full(count, -1, np.int8),
        np.full(count, math.nan),
        np.full(count, math.nan),
    )
    with np.errstate(all="ignore"):
        for start in range(0, count, BLOCK_ROWS):
            stop = min(start + BLOCK_ROWS, count)
            _Block(fleet.rows(start, stop), fit, start, stop).run()
    return fit


class _Worst:
    """The least margin of one rule over corners, with its value, limit and corner."""

    __slots__ = ("at_most", "corner", "limit", "margin", "unknown", "value")

    def __init__(self, rule: Rule, rows: int) -> None:
        self.at_most = rule.sense == "at_most"
        self.margin = np.full(rows, math.nan)
        self.value, self.limit = np.full(rows, math.nan), np.full(rows, math.nan)
        self.corner = np.full(rows, -1, np.int8)
        self.unknown = np.zeros(rows, np.bool_)

    def take(self, place: int, value: Floats, limit: Floats) -> None:
        """Take one corner."""
        margin = limit - value if self.at_most else value - limit
        self.unknown |= np.isnan(margin)
        if place == 0:
            self.margin, self.value, self.limit = margin.copy(), value.copy(), limit.copy()
            self.corner[:] = 0
            return
        less = margin < self.margin
        self.margin[less], self.value[less], self.limit[less] = margin[less], value[less], limit[less]
        self.corner[less] = place


class _Block:
    """One block of rows."""

    def __init__(self, fleet: FleetChains, fit: FleetFit, start: int, stop: int) -> None:
        self.fleet, self.fit = fleet, fit
        self.part = slice(start, stop)
        self.rows = stop - start
        self.worst = {rule.id: _Worst(rule, self.rows) for rule in RULES}
        self.drives = self._drives()
        self.timing: Timing = timing_of(fleet)

    def run(self) -> None:
        """Judge the block."""
        self._circuit()
        self._plain()
        self._statuses()
        self._decide()
        self._proof()

    def _drives(self) -> Floats:
        """Return 1, 0 or NaN. Scalar twin: ``margins.can_drive``."""
        fleet = self.fleet
        outputs = (*fleet.outputs, NOT_KNOWN_OUTPUT)
        inputs = (*fleet.inputs, NOT_KNOWN_INPUT)
        table = np.array([[can_drive(Chain(output=output, input=entry)) for entry in inputs] for output in outputs])
        return table[fleet.output_at, fleet.input_at]

    def _circuit(self) -> None:
        """Take every corner of the rules of the circuit."""
        fleet, timing, worst = self.fleet, self.timing, self.worst
        parts = gather(fleet)
        noise, damp_limit = fleet.settings.noise_v, np.full(self.rows, fleet.settings.damp_ohm)
        hysteresis = fleet.of_input(lambda sheet: figure(sheet.hysteresis_v))
        line_limit = fleet.of_output(lambda sheet: figure(sheet.max_line_ohm))
        insulation = fleet.of_output(lambda sheet: figure(sheet.min_insulation_ohm))
        pull_up_on = fleet.of_input(lambda sheet: figure(sheet.pull_up_on_ms))
        min_ma = fleet.of_output(lambda sheet: figure(sheet.min_ma))
        max_out = fleet.of_output(lambda sheet: figure(sheet.max_v))
        max_in = fleet.of_input(lambda sheet: figure(sheet.max_v))
        worst_rise, worst_fall = np.full(self.rows, -math.inf), np.full(self.rows, -math.inf)
        for corner in CORNERS:
            circuit, place = circuit_of(parts, corner), corner.index
            low, high = circuit.low_v, circuit.high_v
            below, above = circuit.closed_below_v, circuit.open_above_v
            rise = _edge(timing.strobed, crossings_ms(low, high, above, circuit.open_tau_ms))
            fall = _edge(timing.strobed, crossings_ms(high, low, below, circuit.closed_tau_ms))
            worst_rise, worst_fall = np.maximum(worst_rise, rise), np.maximum(worst_fall, fall)
            begin = np.where(low < below, below, low)
            dwell = _never(crossings_ms(begin, high, above, circuit.open_tau_ms))
            dwell = np.where(np.isnan(hysteresis) & (dwell > timing.filter), math.nan, dwell)
            dwell = np.where(timing.strobed | (hysteresis >= noise), 0.0, dwell)
            strobe = _never(crossings_ms(np.zeros(self.rows), high, above, circuit.open_tau_ms))
            worst["closed-level"].take(place, low, below)
            worst["open-level"].take(place, high, above)
            worst["line-resistance"].take(place, circuit.loop_ohm, line_limit)
            worst["insulation"].take(place, circuit.leak_ohm, insulation)
            worst["on-time"].take(place, timing.closed, timing.need_closed + fall)
            worst["off-time"].take(place, timing.open, timing.need_open + rise)
            worst["slow-edge"].take(place, dwell, timing.filter)
            worst["strobe"].take(place, strobe, pull_up_on)
            carried = (circuit.source_v - low) / circuit.pull_ohm * 1e6 / 1000.0
            worst["wetting"].take(place, carried, min_ma)
            worst["rating"].take(place, circuit.source_v, max_out)
            worst["over-voltage"].take(place, circuit.open_v, max_in)
            worst["damp"].take(place, _never(leaks_for_level_ohm(circuit, above)), damp_limit)
        cannot = self.drives == 0.0
        for name in CIRCUIT_RULES:
            worst[name].unknown |= cannot
        self._flows(worst_rise, worst_fall, circuit_of(parts, None), cannot)

    def _flows(self, rise: Floats, fall: Floats, nominal: FleetCircuit, cannot: Flags) -> None:
        """Write the flows where counting fails, and keep the nominal circuit for the cell."""
        timing, weight = self.timing, self.fleet.columns["weight_l"]
        self.nominal = nominal
        first = first_loss_flows(timing, weight, rise=rise, fall=fall)
        low, high = nominal.low_v, nominal.high_v
        up = _edge(timing.strobed, crossings_ms(low, high, nominal.open_above_v, nominal.open_tau_ms))
        down = _edge(timing.strobed, crossings_ms(high, low, nominal.closed_below_v, nominal.closed_tau_ms))
        last = cut_off_flows(timing, weight, rise=up, fall=down)
        self.fit.first_loss_flow_lpm[self.part] = np.where(cannot, 0.0, first)
        self.fit.cut_off_flow_lpm[self.part] = np.where(cannot, 0.0, last)

    def _plain(self) -> None:
        """Take the rules that corners do not touch. Scalar twin: ``margins.plain_pairs``."""
        fleet, timing, settings = self.fleet, self.timing, self.fleet.settings
        bounce = np.where(timing.open_bounce > timing.bounce, timing.open_bounce, timing.bounce)
        counts = fleet.of_input(lambda sheet: 2.0 if sheet.edges == "both" else 1.0)
        counts = np.where(fleet.both_contacts, counts * 2.0, counts)
        counts = np.where(fleet.of_input(lambda sheet: sheet.kind == "not_known", np.bool_), math.nan, counts)
        resolution, weight = fleet.columns["resolution_l"], fleet.columns["weight_l"]
        step = np.where(resolution > weight, resolution, weight)
        hours = fleet.columns["index_capacity_l"] / (fleet.columns["q3_lpm"] * 60.0)
        wires = fleet.of_cable(lambda sheet: float(sheet.conductors) if sheet.key else math.nan)
        need = fleet.of_input(lambda sheet: 4.0 if sheet.tamper_loop == "two_wire" else 2.0)
        ones = np.ones(self.rows)
        life = np.where(self.drives == 0.0, math.nan, self._life())
        rate = 1000.0 / timing.period
        for name, value, limit in (
            ("kinds", self.drives, ones),
            ("bounce", bounce, timing.filter),
            ("max-rate", rate, timing.max_rate),
            ("edges", counts, ones),
            ("life", life, ones * settings.life_years),
            ("resolution", step, fleet.columns["billing_l"]),
            ("rollover", hours, ones * settings.rollover_h),
            ("conductors", wires, need),
        ):
            self.worst[name].take(0, value, limit)

    def _life(self) -> Floats:
        """Return years with the contact parked closed. Scalar twin: ``battery.life_years``."""
        fleet, timing, circuit = self.fleet, self.timing, self.nominal
        usual = fleet.columns["use_l_per_day"] / fleet.columns["weight_l"] * timing.width_nominal / DAY_MS
        usual = np.where(usual > 1.0, 1.0, usual)
        closed_share = np.where(timing.fixed, usual, np.where(np.isnan(timing.share_nominal), math.nan, 1.0))
        closed_ua = (circuit.source_v - circuit.low_v) / circuit.pull_ohm * 1e6
        open_ua = (circuit.source_v - circuit.high_v) / circuit.pull_ohm * 1e6
        line_ua = closed_share * closed_ua + (1.0 - closed_share) * open_ua
        on_share = fleet.of_input(lambda sheet: figure(sheet.pull_up_on_ms) / figure(sheet.sample_period_ms))
        line_ua = np.where(timing.strobed, line_ua * on_share, line_ua)
        sleep = fleet.of_input(lambda sheet: figure(sheet.base_ua) * HOURS_PER_YEAR / 1000.0)
        line = line_ua * HOURS_PER_YEAR / 1000.0
        send = fleet.of_input(lambda sheet: sheet.sends_per_day * DAYS_PER_YEAR * sheet.send_mah)
        lost = fleet.of_input(lambda sheet: figure(sheet.self_discharge_share) * figure(sheet.capacity_mah))
        taken = sleep + line + send + lost
        capacity = fleet.of_input(lambda sheet: figure(sheet.capacity_mah))
        return np.where(taken == 0.0, math.inf, capacity / taken)

    def _asked(self, rule_id: str) -> Flags:
        """Return where a rule applies. Scalar twin: ``margins.asked``."""
        fleet = self.fleet
        if rule_id == "line-resistance":
            return fleet.of_output(lambda sheet: sheet.max_line_ohm is not None, np.bool_)
        if rule_id == "insulation":
            return fleet.of_output(lambda sheet: sheet.min_insulation_ohm is not None, np.bool_)
        if rule_id == "strobe":
            return self.timing.strobed
        if rule_id == "wetting":
            return fleet.of_output(lambda sheet: sheet.min_ma is not None, np.bool_)
        if rule_id == "rating":
            return fleet.of_output(lambda sheet: sheet.max_v is not None, np.bool_)
        if rule_id == "over-voltage":
            active = fleet.of_output(lambda sheet: sheet.kind == "push_pull", np.bool_)
            return active & fleet.of_input(lambda sheet: sheet.max_v is not None, np.bool_)
        if rule_id == "resolution":
            return ~np.isnan(fleet.columns["billing_l"])
        if rule_id == "rollover":
            return ~np.isnan(fleet.columns["index_capacity_l"])
        return np.ones(self.rows, np.bool_)

    def _doubtful(self, rule: Rule) -> Flags:
        """Return where a rule rests on memory."""
        none: frozenset[str] = frozenset()
        by_output = self.fleet.of_output(
            lambda sheet: bool(doubtful_figures(rule, output=sheet.doubtful, entry=none, cable=none)), np.bool_
        )
        by_input = self.fleet.of_input(
            lambda sheet: bool(doubtful_figures(rule, output=none, entry=sheet.doubtful, cable=none)), np.bool_
        )
        by_cable = self.fleet.of_cable(
            lambda sheet: bool(doubtful_figures(rule, output=none, entry=none, cable=sheet.doubtful)), np.bool_
        )
        return by_output | by_input | by_cable

    def _statuses(self) -> None:
        """Write status, value, limit, margin, share and corner of every rule."""
        fit, care_share = self.fit, self.fleet.settings.care_share
        for place, rule in enumerate(RULES):
            worst, asked = self.worst[rule.id], self._asked(rule.id)
            unknown = worst.unknown | np.isnan(worst.margin)
            blank = ~asked | unknown
            share = np.where(
                (worst.limit > 0.0) & (worst.limit != math.inf),
                worst.margin / worst.limit,
                np.where(worst.margin >= 0.0, math.inf, -math.inf),
            )
            size = np.abs(worst.limit)
            slack = np.where(size != math.inf, ROUNDING_SHARE * size, 0.0)
            failing = ~(worst.margin >= -slack)
            refused = failing & ~self._doubtful(rule) if rule.refuses else np.zeros(self.rows, np.bool_)
            thin = (share < care_share) if rule.thin else np.zeros(self.rows, np.bool_)
            status = np.where(refused, _FAIL, np.where(failing | thin, _CARE, _PASS))
            status = np.where(asked, np.where(unknown, _NOT_KNOWN, status), _NOT_ASKED)
            fit.status[self.part, place] = status
            fit.value[self.part, place] = np.where(blank, math.nan, worst.value)
            fit.limit[self.part, place] = np.where(blank, math.nan, worst.limit)
            fit.margin[self.part, place] = np.where(blank, math.nan, worst.margin)
            fit.share[self.part, place] = np.where(blank, math.nan, share)
            fit.corner[self.part, place] = np.where(blank, -1, worst.corner)

    def _decide(self) -> None:
        """Write outcome and deciding rule. Scalar twin: ``verdict._decide``."""
        status, share = self.fit.status[self.part], self.fit.share[self.part]
        margin = self.fit.margin[self.part]
        needed = np.array([rule.needed for rule in RULES])
        thin = np.array([rule.thin for rule in RULES])
        failed, careful, passed = status == _FAIL, status == _CARE, status == _PASS
        missing = (status == _NOT_KNOWN) & needed
        deciding = _least(passed, share)
        tight = passed & thin
        deciding = np.where(tight.any(axis=1), _least(tight, share), deciding)
        outcome = np.full(self.rows, _FITS)
        some = careful.any(axis=1)
        outcome, deciding = np.where(some, _FITS_WITH_CARE, outcome), np.where(some, _least(careful, share), deciding)
        some = missing.any(axis=1)
        unsettled = missing.argmax(axis=1)
        for name in reversed(LEVEL_RULES):
            place = RULE_IDS.index(name)
            unsettled = np.where(careful[:, place] & ~(margin[:, place] >= 0.0), place, unsettled)
        outcome, deciding = np.where(some, _UNKNOWN, outcome), np.where(some, unsettled, deciding)
        some = failed.any(axis=1)
        worst = np.where(failed[:, 0], 0, _least(failed, share))
        outcome, deciding = np.where(some, _DOES_NOT_FIT, outcome), np.where(some, worst, deciding)
        self.fit.outcome[self.part], self.fit.deciding[self.part] = outcome, deciding

    def _proof(self) -> None:
        """Write whether a high-flow draw is needed. Scalar twin: ``verdict.high_flow_proof``."""
        timing = self.timing
        steady = np.where(timing.fixed, timing.open - timing.open_bounce, timing.closed - timing.bounce)
        need = np.where(timing.fixed, timing.bare_open, timing.bare_closed)
        needed = steady < self.fleet.settings.proof_factor * need
        unknown = np.isnan(steady) | np.isnan(need)
        self.fit.high_flow_proof[self.part] = np.where(unknown, -1, needed)


def _never(time: Floats) -> Floats:
    """Return NaN for an edge that never comes."""
    return np.where(time == math.inf, math.nan, time)


def _edge(strobed: Flags, time: Floats) -> Floats:
    """Return the edge an input must wait for. Scalar twin: ``margins.edge_times``."""
    return np.where(strobed, 0.0, _never(time))


def _least(among: Flags, share: Floats) -> npt.NDArray[np.intp]:
    """Return the first rule of the least share among some; 0 where there is none. Scalar twin: ``verdict._least``."""
    place = np.zeros(len(among), np.intp)
    best = np.full(len(among), math.nan)
    found = np.zeros(len(among), np.bool_)
    for rule in range(among.shape[1]):
        better = among[:, rule] & (~found | (share[:, rule] < best))
        place[better], best[better] = rule, share[better, rule]
        found |= among[:, rule]
    return place
