"""The verdict as a technician would say it."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.pulse_chain.battery import pull_up_ua
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import CORNERS
from dialtrue.domain.pulse_chain.figures import FitFigures
from dialtrue.domain.pulse_chain.levels import circuit_at
from dialtrue.domain.pulse_chain.measure import said_ohm, sensible
from dialtrue.domain.pulse_chain.missing import missing_figures
from dialtrue.domain.pulse_chain.suggest import Change, Suggestion
from dialtrue.domain.pulse_chain.verdict import LEVEL_RULES, FitVerdict, RuleResult
from dialtrue.domain.quantity import litres_per

OUTCOME_WORDS: Final = {
    "fits": "Fits",
    "fits_with_care": "Fits with care",
    "does_not_fit": "Does not fit",
    "unknown": "Not known",
}
STATUS_WORDS: Final = {
    "pass": "ok",
    "care": "care",
    "fail": "fails",
    "not_known": "not known",
    "not_asked": "not asked",
}
_OUTPUT_NOUNS: Final = {
    "dry_contact": "a contact",
    "changeover": "a changeover contact",
    "open_drain": "an open drain output",
    "open_collector": "an open collector output",
    "push_pull": "an active output",
    "s0_class_a": "a class A transistor output",
    "s0_class_b": "a class B transistor output",
    "current_sensor": "a two-wire current sensor",
    "not_known": "an unknown output",
}
_INPUT_NOUNS: Final = {
    "pull_up": "a contact input",
    "voltage": "a logic input without pull-up",
    "current": "a two-wire current input",
    "not_known": "an unknown input",
}
FLOW_UNITS: Final = {"us": ("gal", "gal/min", 1.0), "metric": ("m3", "m3/h", 60.0)}


FAR_ABOVE = 20.0
"""Times the greatest flow past which the figure itself says nothing more. Our assumption."""


def said_flow(flow_lpm: float, system: str) -> str:
    """Return a flow in gal/min (``us``) or m3/h (``metric``)."""
    unit, name, times = FLOW_UNITS[system]
    return f"{sensible(flow_lpm * times / float(litres_per(unit)))} {name}"


def said_volume(volume_l: float, system: str) -> str:
    """Return a volume in gal (``us``) or L (``metric``)."""
    if system == "us":
        return f"{sensible(volume_l / float(litres_per('gal')), digits=4)} gal"
    return f"{sensible(volume_l, digits=4)} L"


def said_amount(value: float | None, unit: str, system: str) -> str:
    """Return a value with its unit; volumes in the reader's unit, resistances as said."""
    if value is None:
        return "not known"
    if unit == "ohm":
        return said_ohm(value)
    if unit == "L":
        return said_volume(value, system)
    return f"{sensible(value)} {unit}".strip()


def verdict_sentence(chain: Chain, verdict: FitVerdict, figures: FitFigures, *, system: str = "us") -> str:
    """Say the verdict in a sentence or two.

    Parameters
    ----------
    chain, verdict, figures : Chain, FitVerdict, FitFigures
        The chain and what was found.
    system : str
        ``us`` or ``metric``.

    Returns
    -------
    str
        One line; names the deciding rule's figures with units.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    head = OUTCOME_WORDS[verdict.outcome]
    why = _why(chain, verdict.deciding, figures, system)
    if verdict.outcome == "unknown" and verdict.deciding.status == "care":
        return f"{head}: {why}."
    if verdict.outcome == "unknown":
        missing = missing_figures(chain, verdict.deciding.rule)
        what = ", ".join(missing) or "a figure"
        return f"{head}: the rule {verdict.deciding.rule} needs {what}."
    if verdict.outcome == "does_not_fit":
        loss = _loss(figures, system) if verdict.deciding.rule in ("on-time", "off-time", "max-rate") else ""
        return f"{head}: {why}{loss}."
    first = figures.first_loss_flow_lpm
    counted = ""
    if first is not None and chain.max_flow_lpm is not None and first != float("inf"):
        times = first / chain.max_flow_lpm
        reach = f"up to {said_flow(first, system)}, {sensible(times, digits=2)} times the greatest flow"
        counted = f"counts every pulse {reach if times <= FAR_ABOVE else 'far above the greatest flow'}"
    if verdict.outcome == "fits":
        return f"{head}: {counted or why}."
    return f"{head}: {counted + ', but ' if counted else ''}{why}."


def cannot_drive(chain: Chain) -> str:
    """Say that this kind of output cannot drive this kind of input (rule ``kinds``)."""
    return f"{_OUTPUT_NOUNS[chain.output.kind]} cannot drive {_INPUT_NOUNS[chain.input.kind]}"


def _why(chain: Chain, result: RuleResult, figures: FitFigures, system: str) -> str:
    """Return the deciding rule's figures in words."""
    value, limit = rule_amounts(chain, result, system=system)
    at = f" ({result.corner})" if result.corner and result.corner != "every corner alike" else ""
    top = said_flow(chain.max_flow_lpm, system) if chain.max_flow_lpm is not None else "the greatest flow"
    verb, below, above = ("carries", "above", "below") if _by_current(chain) else ("stands at", "below", "above")
    doubt = "; this limit rests on memory, check it on the sheet" if result.doubtful else ""
    sentences = {
        "kinds": cannot_drive(chain),
        "closed-level": f"while closed the line {verb} {value}, closed is read {below} {limit}{at}",
        "open-level": f"while open the line {verb} {value}, open is read {above} {limit}{at}{_site(figures)}",
        "line-resistance": f"the cable loop has {value}, the output allows {limit}{at}",
        "insulation": f"the leakage of {value} is under the {limit} of insulation that the output asks for",
        "on-time": f"at {top} the contact is closed {value}, the input needs {limit}",
        "off-time": f"at {top} the pause is {value}, the input needs {limit}",
        "bounce": f"the contact bounces {value}, the filter ignores {limit}: one closure may count twice",
        "slow-edge": f"the line is {value} between the thresholds, the filter ignores {limit}: an edge may count twice",
        "max-rate": f"at {top} there are {value}, the input counts {limit}",
        "edges": f"each pulse makes {sensible(result.value or 0.0)} counts: count one edge of one contact",
        "strobe": f"the line takes {value} to rise, the pull-up is on for {limit}{at}",
        "wetting": f"the closed output carries {value}, it is rated from {limit}{at}",
        "rating": f"the input has {value}, the output stands {limit}{at}",
        "over-voltage": f"the output drives {value}, the input stands {limit}",
        "damp": f"a damp splice under {value} is read as closed or in between, wished is {limit}{at}",
        "life": f"a meter that stops with its contact closed drains the cell in {value}, wished are {limit}",
        "resolution": f"the least step read is {value}, the billing unit is {limit}",
        "rollover": f"the index turns over after {value} at Q3, wished are {limit}",
        "conductors": f"the cable has {value}, the pulse pair and the tamper loop need {limit}",
    }
    return sentences[result.rule] + doubt


def _by_current(chain: Chain) -> bool:
    """Return whether the input judges a current."""
    return chain.input.threshold_unit == "mA"


def rule_amounts(chain: Chain, result: RuleResult, *, system: str = "us") -> tuple[str, str]:
    """Return value and limit of a result in words; levels of a current input as the currents they stand for."""
    if _by_current(chain) and result.rule in LEVEL_RULES and result.value is not None and result.limit is not None:
        circuit = circuit_at(chain, corner=CORNERS[result.corner_index])
        value, limit = (pull_up_ua(circuit, level) / 1000.0 for level in (result.value, result.limit))
        return f"{sensible(value)} mA", f"{sensible(limit)} mA"
    return said_amount(result.value, result.unit, system), said_amount(result.limit, result.unit, system)


def _site(figures: FitFigures) -> str:
    """Say how the damp line reads."""
    if figures.site_reads == "closed":
        return ": it reads closed always, nothing is counted"
    if figures.site_reads == "between":
        return ": dead or false pulses"
    return ""


def _loss(figures: FitFigures, system: str) -> str:
    """Say where counting starts to fail."""
    first, last = figures.first_loss_flow_lpm, figures.cut_off_flow_lpm
    if first is None or last is None or last == float("inf"):
        return ""
    if first == 0.0 and last == 0.0:
        return "; nothing is counted for certain at any flow"
    if said_flow(first, system) == said_flow(last, system):
        return f"; counts are lost above {said_flow(last, system)}"
    return f"; counts may be lost above {said_flow(first, system)} and all are above {said_flow(last, system)}"


def change_words(change: Change, *, system: str = "us") -> str:
    """Say one change."""
    if change.kind == "weight" and isinstance(change.after, float | int):
        return f"use the {said_volume(change.after, system)} output"
    after = change.after if isinstance(change.after, str) else said_amount(change.after, change.unit, system)
    return {
        "debounce": f"set the filter to {after}",
        "pull_up": f"set the pull-up to {after}",
        "edges": "count one edge",
        "wiring": "wire one contact only",
        "cable": f"use the cable {after}",
        "input": f"use the input {after}",
    }[change.kind]


def suggestion_words(suggestion: Suggestion, *, system: str = "us") -> str:
    """Say a suggestion with the verdict it leads to."""
    what = " and ".join(change_words(change, system=system) for change in suggestion.changes)
    return f"{what[0].upper()}{what[1:]}: {OUTCOME_WORDS[suggestion.verdict.outcome].lower()}"


def reminders(chain: Chain, verdict: FitVerdict, figures: FitFigures) -> list[str]:
    """Return what to watch beside the verdict: polarity, parked contact, high-flow proof, tamper loop, gel splices."""
    said: list[str] = []
    if chain.output.polarised:
        how = {"closed": "reads closed for ever", "between": "reads either way", "open": "reads open for ever"}
        end = how.get(figures.reversed_reads or "", "may not count")
        said.append(f"Polarity: with its two wires swapped this output {end}; mark the wires and prove after.")
    if verdict.high_flow_proof:
        said.append("A hose cannot prove this chain: ask for a high-flow draw, or lean on this check.")
    share = figures.parked_share
    if share is not None and not chain.output.fixed_width and chain.input.base_ua is not None:
        said.append(
            f"About {sensible(share * 100, digits=2)} % of idle meters of this kind stop with the contact closed."
        )
    if figures.damp_stood_ohm is not None and 0.0 < figures.damp_stood_ohm != float("inf"):
        said.append(f"Splices: gel-filled; the line stands leakage down to {said_ohm(figures.damp_stood_ohm)}.")
    life = verdict.result("life")
    if life.status == "care" and chain.input.pull_up_on_ms is None:
        said.append("Cell: an input that energises its pull-up only while it looks would last longer.")
    if chain.input.tamper_loop != "none":
        said.append("Tamper loop: wire it, or bridge it and write that down; open it on purpose at the proof.")
    return said
