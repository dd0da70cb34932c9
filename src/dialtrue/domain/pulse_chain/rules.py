"""The rules of the fit check: what each compares, in which unit, and what its failing means."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import Final, Literal

from dialtrue.domain.errors import UnknownFitRule


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. The margin is limit - value where ``sense`` is ``at_most``, value - limit where it is ``at_least``.

    ``refuses``: failing means *does not fit*, otherwise *fits with care*. ``needed``: a missing figure: *not known*.
    ``thin``: a small margin means care. ``figures`` are the sheet figures it rests on, as ``output.bounce_ms``;
    ``minor`` those among them that move it by microseconds only, so that a doubt about them is none about the rule.
    """

    id: str
    unit: str
    sense: Literal["at_most", "at_least"]
    refuses: bool
    needed: bool
    thin: bool
    asks: str
    formula: str
    source: str
    figures: tuple[str, ...]
    minor: tuple[str, ...] = ()


_LINE: Final = ("cable.ohm_per_km", "output.closed_ohm", "input.supply_v", "input.pull_up_ohm")
_EDGE: Final = (*_LINE, "input.capacitance_pf", "cable.capacitance_pf_per_m", "input.closed_below", "input.open_above")
_TIME: Final = ("output.closed_share", "output.closed_ms", "output.bounce_ms", "input.debounce_ms")

RULES: Final[tuple[Rule, ...]] = (
    Rule(
        "kinds", "", "at_least", True, True, False,
        "Can this kind of output drive this kind of input at all?",
        "a contact or transistor needs an input with a pull-up; a logic input without pull-up needs an active output; "
        "a two-wire current sensor needs a current input and the other way round",
        "Our assumption: the physics of the kinds; EN-60947-5-6 for the current sensor",
        ("output.kind", "input.kind"),
    ),
    Rule(
        "closed-level", "V", "at_most", True, True, True,
        "While closed, is the line low enough to read closed?",
        "V_low = (V/R_pull + E/(R_on + R_loop)) / (1/R_pull + 1/R_leak + 1/(R_on + R_loop)) <= V_closed; "
        "R_loop = 2 L rho(T) / A; a current input's threshold is V - I R_source",
        "Kirchhoff; IEC-60028, ASTM-B258 for the wire",
        (*_LINE, "output.saturation_v", "input.closed_below", "input.leakage_ua"),
    ),
    Rule(
        "open-level", "V", "at_least", True, True, True,
        "While open, is the line high enough to read open, at the leakage stated for the site?",
        "V_high = V R_leak / (R_pull + R_leak) - I_off (R_pull || R_leak) >= V_open",
        "Kirchhoff",
        ("input.supply_v", "input.pull_up_ohm", "input.open_above", "output.off_leak_ua", "output.open_ohm",
         "output.high_v", "input.leakage_ua", "cable.insulation_mohm_km"),
    ),
    Rule(
        "line-resistance", "ohm", "at_most", True, False, False,
        "Is the loop within the resistance that the output's standard allows?",
        "2 L rho(T) / A <= R_line",
        "EN-60947-5-6 cl. 5.6: 50 ohm for the current sensor",
        ("cable.ohm_per_km", "output.max_line_ohm"),
    ),
    Rule(
        "insulation", "ohm", "at_least", True, False, False,
        "Is the leakage stated for the site above the insulation that the output's standard asks for?",
        "R_leak >= R_insulation",
        "EN-60947-5-6 cl. 5.7: 1 Mohm for the current sensor",
        ("output.min_insulation_ohm", "cable.insulation_mohm_km"),
    ),
    Rule(
        "on-time", "ms", "at_least", True, True, True,
        "At the greatest flow, is the contact closed long enough to be counted?",
        "closed time (share x w/Q, or the fixed width) >= bounce + fall + max(debounce, least closed time, "
        "looks x (period + jitter))",
        "Definition; flows by US-FLOW-LIMITS and OIML-R49",
        (*_TIME, "input.min_on_ms", "input.sample_period_ms", *_LINE, "input.closed_below", "input.open_above"),
        (*_LINE, "input.closed_below", "input.open_above"),
    ),
    Rule(
        "off-time", "ms", "at_least", True, True, True,
        "At the greatest flow, is the pause long enough to be seen?",
        "open time >= bounce at opening + rise + max(debounce, least open time, looks x (period + jitter)); "
        "rise = R C ln((V_high - V_low) / (V_high - V_open))",
        "Definition; first-order circuit",
        (*_TIME, "input.min_off_ms", "input.sample_period_ms", *_EDGE),
        ("cable.ohm_per_km", "output.closed_ohm"),
    ),
    Rule(
        "bounce", "ms", "at_most", True, True, False,
        "Does the filter outlast the bounce, so that one closure is one count?",
        "bounce <= debounce, or <= looks x (period - jitter) for a sampled input",
        "REED-BOUNCE for a usual reed; the sheet decides",
        ("output.bounce_ms", "input.debounce_ms", "input.sample_period_ms"),
    ),
    Rule(
        "slow-edge", "ms", "at_most", True, True, False,
        "Does the rising line cross the thresholds fast enough to be one edge?",
        "R C ln((V_high - V_closed) / (V_high - V_open)) <= filter, unless the hysteresis is above the noise",
        "First-order circuit; noise: our assumption, --noise overrides",
        (*_EDGE, "input.hysteresis_v", "input.debounce_ms"),
    ),
    Rule(
        "max-rate", "Hz", "at_most", True, True, True,
        "Is the pulse rate at the greatest flow within the input's own limit?",
        "Q / w <= rate",
        "Definition",
        ("input.max_rate_hz",),
    ),
    Rule(
        "edges", "counts/pulse", "at_most", True, True, False,
        "Is one pulse one count?",
        "1, doubled where both edges count, doubled where both contacts of a changeover output are wired",
        "Definition",
        ("input.edges",),
    ),
    Rule(
        "strobe", "ms", "at_most", True, False, True,
        "Is the pull-up energised long enough before each look for the line to rise?",
        "R C ln(V_high / (V_high - V_open)) <= pull-up time",
        "First-order circuit",
        (*_EDGE, "input.pull_up_on_ms"),
    ),
    Rule(
        "wetting", "mA", "at_least", True, False, False,
        "Does the closed output carry the current that it is rated to switch?",
        "(V - V_low) / R_pull >= I_min",
        "IEC-62053-31 Table 1 (memory, medium) for its classes",
        (*_LINE, "output.min_ma"),
    ),
    Rule(
        "rating", "V", "at_most", True, False, False,
        "Is the input's voltage within what the output stands?",
        "V <= U_max",
        "IEC-62053-31 Table 1 (memory, medium) for its classes; the sheet decides",
        ("input.supply_v", "output.max_v"),
    ),
    Rule(
        "over-voltage", "V", "at_most", True, False, False,
        "Is the high level of an active output within what the input stands?",
        "V_high <= V_max",
        "The input's sheet",
        ("output.high_v", "input.max_v"),
    ),
    Rule(
        "damp", "ohm", "at_most", False, False, False,
        "How much leakage across the pair does the line stand, against what is wished?",
        "least R_leak for a clear open = 1 / ((V/R_pull - I_off) / V_open - 1/R_pull) <= wished",
        "Kirchhoff; wish of 1 Mohm by IEC-60364-6",
        ("input.supply_v", "input.pull_up_ohm", "input.open_above", "output.off_leak_ua"),
    ),
    Rule(
        "life", "years", "at_least", False, False, False,
        "Does the cell last the wished years when the meter stops with its contact closed?",
        "capacity / (sleep + pull-up current + sends + self-discharge of the rated capacity), 8766 h a year",
        "BATTERY-BUDGET; rated model, the cautious one",
        ("input.capacity_mah", "input.base_ua", "input.self_discharge_share", "input.pull_up_ohm"),
    ),
    Rule(
        "resolution", "L", "at_most", False, False, False,
        "Is the least digit read fine enough for the billing unit?",
        "max(resolution, weight) <= billing unit",
        "Definition",
        (),
    ),
    Rule(
        "rollover", "h", "at_least", False, False, False,
        "Does the index hold long enough at Q3 before it turns over?",
        "index capacity / Q3 >= 1600 h",
        "OIML-R49 indicating range",
        (),
    ),
    Rule(
        "conductors", "wires", "at_least", False, False, False,
        "Has the cable wires enough for the pulse pair and the tamper loop?",
        "2, and 2 more for a tamper loop of its own",
        "Definition",
        ("input.tamper_loop",),
    ),
)  # fmt: skip

RULE_IDS: Final[tuple[str, ...]] = tuple(rule.id for rule in RULES)
RULE_BY_ID: Final[dict[str, Rule]] = {rule.id: rule for rule in RULES}


def fit_rule(rule_id: str) -> Rule:
    """Return the rule of that id.

    Raises
    ------
    UnknownFitRule
        No such rule; names the nearest first.
    """
    found = RULE_BY_ID.get(rule_id)
    if found is None:
        nearest = difflib.get_close_matches(rule_id, RULE_IDS, n=3, cutoff=0.4)
        allowed = ", ".join(nearest + [name for name in RULE_IDS if name not in nearest])
        raise UnknownFitRule(rule=rule_id, allowed=allowed)
    return found


def doubtful_figures(rule: Rule, *, output: frozenset[str], entry: frozenset[str], cable: frozenset[str]) -> list[str]:
    """Return the figures of a rule that rest on memory only, as ``output.min_ma``."""
    doubts = {"output": output, "input": entry, "cable": cable}
    found: list[str] = []
    for name in rule.figures:
        sheet, _, figure_name = name.partition(".")
        if figure_name in doubts[sheet] and name not in rule.minor:
            found.append(name)
    return found
