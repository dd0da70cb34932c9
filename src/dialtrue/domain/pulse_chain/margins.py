"""Every rule's value and limit at every corner of a chain. NaN = not known."""

from __future__ import annotations

import math
from dataclasses import dataclass

from dialtrue.domain.pulse_chain.battery import life_years, parked_closed_share, pull_up_ua
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import CORNERS, NOT_KNOWN
from dialtrue.domain.pulse_chain.levels import (
    Circuit,
    circuit_at,
    closed_level_v,
    dwell_ms,
    fall_ms,
    leak_for_level_ohm,
    open_level_v,
    rise_ms,
    strobe_rise_ms,
)
from dialtrue.domain.pulse_chain.output import CONTACT_KINDS
from dialtrue.domain.pulse_chain.timing import (
    closed_least_ms,
    figure,
    filter_ms,
    max_rate,
    need_closed_ms,
    need_open_ms,
    open_least_ms,
    period_ms,
    strobed,
)

Pairs = list[tuple[float, float]]
"""(value, limit), one for each corner, or one alone where corners do not matter."""


@dataclass(frozen=True, slots=True)
class EdgeTimes:
    """Edge times at one corner; NaN where the edge never comes, for then its level rule decides. [ms]"""

    rise: float
    fall: float


def can_drive(chain: Chain) -> float:
    """Return 1 where this kind of output can drive this kind of input, 0 where it cannot, NaN where a kind is missing.

    Source: see the rule ``kinds``.
    """
    output, entry = chain.output.kind, chain.input.kind
    if output == "not_known" or entry == "not_known":
        return NOT_KNOWN
    if output == "current_sensor":
        return 1.0 if entry == "current" else 0.0
    if output == "push_pull":
        return 1.0 if entry in ("pull_up", "voltage") else 0.0
    return 1.0 if entry == "pull_up" and output in CONTACT_KINDS else 0.0


def never_is_unknown(time: float) -> float:
    """Return NaN for an edge that never comes."""
    return NOT_KNOWN if time == math.inf else time


def edge_times(chain: Chain, circuit: Circuit) -> EdgeTimes:
    """Return the edge times that the input must wait for; none where the pull-up is strobed (rule ``strobe``)."""
    if strobed(chain.input):
        return EdgeTimes(0.0, 0.0)
    return EdgeTimes(never_is_unknown(rise_ms(circuit)), never_is_unknown(fall_ms(circuit)))


def _slow_edge(chain: Chain, circuit: Circuit, filter_time: float) -> float:
    """Return the dwell that counts: none with hysteresis above the noise, NaN where only hysteresis would save it."""
    if strobed(chain.input):
        return 0.0
    hysteresis = figure(chain.input.hysteresis_v)
    if hysteresis >= chain.settings.noise_v:
        return 0.0
    dwell = never_is_unknown(dwell_ms(circuit))
    if hysteresis != hysteresis and dwell > filter_time:
        return NOT_KNOWN
    return dwell


def circuit_pairs(chain: Chain, circuits: list[Circuit]) -> dict[str, Pairs]:
    """Return value and limit of each rule that needs the circuit, at each of ``circuits``."""
    output, entry, settings = chain.output, chain.input, chain.settings
    period = period_ms(figure(chain.weight_l), figure(chain.max_flow_lpm))
    closed, opened = closed_least_ms(output, period), open_least_ms(output, period)
    need_closed = figure(output.bounce_ms) + need_closed_ms(entry)
    need_open = output.open_bounce_ms + need_open_ms(entry)
    filter_time = filter_ms(entry)
    pairs: dict[str, Pairs] = {name: [] for name in CIRCUIT_RULES}
    for circuit in circuits:
        low, high = closed_level_v(circuit), open_level_v(circuit)
        times = edge_times(chain, circuit)
        pairs["closed-level"].append((low, circuit.closed_below_v))
        pairs["open-level"].append((high, circuit.open_above_v))
        pairs["line-resistance"].append((circuit.loop_ohm, figure(output.max_line_ohm)))
        pairs["insulation"].append((circuit.leak_ohm, figure(output.min_insulation_ohm)))
        pairs["on-time"].append((closed, need_closed + times.fall))
        pairs["off-time"].append((opened, need_open + times.rise))
        pairs["slow-edge"].append((_slow_edge(chain, circuit, filter_time), filter_time))
        pairs["strobe"].append((never_is_unknown(strobe_rise_ms(circuit)), figure(entry.pull_up_on_ms)))
        pairs["wetting"].append((pull_up_ua(circuit, low) / 1000.0, figure(output.min_ma)))
        pairs["rating"].append((circuit.source_v, figure(output.max_v)))
        pairs["over-voltage"].append((circuit.open_v, figure(entry.max_v)))
        stood = never_is_unknown(leak_for_level_ohm(circuit, circuit.open_above_v))
        pairs["damp"].append((stood, settings.damp_ohm))
    return pairs


CIRCUIT_RULES = (
    "closed-level", "open-level", "line-resistance", "insulation", "on-time", "off-time", "slow-edge", "strobe",
    "wetting", "rating", "over-voltage", "damp",
)  # fmt: skip


def plain_pairs(chain: Chain) -> dict[str, Pairs]:
    """Return value and limit of each rule that corners do not touch."""
    output, entry, settings = chain.output, chain.input, chain.settings
    bounce = figure(output.bounce_ms)
    bounce = output.open_bounce_ms if output.open_bounce_ms > bounce else bounce
    counts = 2.0 if entry.edges == "both" else 1.0
    counts = counts * 2.0 if chain.wiring == "both_contacts" else counts
    counts = NOT_KNOWN if entry.kind == "not_known" else counts
    resolution, weight = figure(chain.resolution_l), figure(chain.weight_l)
    step = resolution if resolution > weight else weight
    hours = figure(chain.index_capacity_l) / (figure(chain.q3_lpm) * 60.0)
    wires = 4.0 if entry.tamper_loop == "two_wire" else 2.0
    return {
        "kinds": [(can_drive(chain), 1.0)],
        "bounce": [(bounce, filter_ms(entry))],
        "max-rate": [(max_rate(chain), figure(entry.max_rate_hz))],
        "edges": [(counts, 1.0)],
        "life": [(life_years(chain, closed_share=parked_closed_share(chain)), settings.life_years)],
        "resolution": [(step, figure(chain.billing_l))],
        "rollover": [(hours, settings.rollover_h)],
        "conductors": [(float(chain.cable.conductors) if chain.cable.key else NOT_KNOWN, wires)],
    }


def asked(chain: Chain, rule_id: str) -> bool:
    """Return whether a rule applies to a chain at all.

    Source: definition; a limit that no sheet states is not asked, except for the rules that counting rests on.
    """
    output, entry = chain.output, chain.input
    if rule_id == "line-resistance":
        return output.max_line_ohm is not None
    if rule_id == "insulation":
        return output.min_insulation_ohm is not None
    if rule_id == "strobe":
        return strobed(entry)
    if rule_id == "wetting":
        return output.min_ma is not None
    if rule_id == "rating":
        return output.max_v is not None
    if rule_id == "over-voltage":
        return output.kind == "push_pull" and entry.max_v is not None
    if rule_id == "resolution":
        return chain.billing_l is not None
    if rule_id == "rollover":
        return chain.index_capacity_l is not None
    return True


def rule_pairs(chain: Chain) -> dict[str, Pairs]:
    """Return value and limit of every rule at every corner.

    Parameters
    ----------
    chain : Chain
        The chain to be judged.

    Returns
    -------
    dict of str to list of (value, limit)
        64 pairs for the rules of the circuit, one for the others. Rules of the circuit are not known where the output
        cannot drive the input: no number comes from a circuit that does not exist.

    Raises
    ------
    Never raises.

    Source
    ------
    See ``rules.RULES``.
    """
    pairs = plain_pairs(chain)
    if can_drive(chain) == 0.0:
        pairs["life"] = [(NOT_KNOWN, chain.settings.life_years)]
        return pairs | {name: [(NOT_KNOWN, NOT_KNOWN)] for name in CIRCUIT_RULES}
    return pairs | circuit_pairs(chain, [circuit_at(chain, corner=corner) for corner in CORNERS])
