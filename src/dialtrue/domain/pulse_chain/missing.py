"""Which figures are missing, by the name the data sheet or the option gives them."""

from __future__ import annotations

from dialtrue.domain.pulse_chain.cable import Cable
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.pulse_chain.rules import fit_rule

_TIMED = ("on-time", "off-time", "max-rate")
_OPTIONAL = {"output.open_ohm", "output.min_ma", "output.max_v", "input.min_on_ms", "input.min_off_ms", "input.max_v",
             "cable.insulation_mohm_km", "input.leakage_ua", "output.saturation_v"}  # fmt: skip


def missing_figures(chain: Chain, rule_id: str) -> list[str]:
    """Return the missing figures of a rule that is not known.

    Parameters
    ----------
    chain : Chain
        The chain.
    rule_id : str
        A rule id.

    Returns
    -------
    list of str
        Such as ``output.bounce_ms``, ``cable_length``, ``max_flow``; a whole missing sheet is named alone.

    Raises
    ------
    UnknownFitRule
        No such rule.

    Source
    ------
    Definition.
    """
    sheets: dict[str, Output | Input | Cable] = {"output": chain.output, "input": chain.input, "cable": chain.cable}
    found: list[str] = []
    for sheet, held in sheets.items():
        if not held.key and any(name.startswith(f"{sheet}.") for name in fit_rule(rule_id).figures):
            found.append(f"the {sheet} sheet")
    for name in fit_rule(rule_id).figures:
        sheet, _, figure_name = name.partition(".")
        wanted = sheets[sheet].key and name not in _OPTIONAL and not _spared(chain, name)
        if wanted and getattr(sheets[sheet], figure_name) is None:
            found.append(name)
    if chain.length_m is None and "cable.ohm_per_km" in fit_rule(rule_id).figures:
        found.append("cable length")
    if rule_id in _TIMED:
        found += ["maximum flow"] if chain.max_flow_lpm is None else []
        found += ["pulse weight"] if chain.weight_l is None else []
    if rule_id == "life" and chain.output.fixed_width:
        found += ["expected use"] if chain.use_l_per_day is None else []
        found += ["pulse weight"] if chain.weight_l is None else []
    if rule_id == "rollover" and chain.q3_lpm is None:
        found.append("Q3")
    return found


def _spared(chain: Chain, name: str) -> bool:
    """Return whether a figure may be missing because another stands for it or the kind does not have it."""
    output, entry = chain.output, chain.input
    if name == "output.closed_share":
        return output.closed_ms is not None
    if name == "output.closed_ms":
        return True if output.closed_share is not None else output.closed_ms is not None
    if name == "output.high_v":
        return output.kind != "push_pull"
    if name == "output.off_leak_ua":
        return output.kind in ("push_pull", "current_sensor")
    if name == "input.pull_up_ohm":
        return entry.kind == "voltage"
    if name == "input.sample_period_ms":
        return not entry.sampled
    if name == "input.debounce_ms":
        return entry.sampled
    return name == "input.pull_up_on_ms"
