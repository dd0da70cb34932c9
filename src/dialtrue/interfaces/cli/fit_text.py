"""Plain text and JSON of a fit check."""

from __future__ import annotations

from typing import Any

from dialtrue.domain.pulse_chain.measure import said_ohm, sensible
from dialtrue.domain.pulse_chain.missing import missing_figures
from dialtrue.domain.pulse_chain.rules import RULES, Rule
from dialtrue.domain.pulse_chain.verdict import RuleResult
from dialtrue.domain.pulse_chain.words import (
    OUTCOME_WORDS,
    STATUS_WORDS,
    rule_amounts,
    said_amount,
    said_flow,
    said_volume,
    suggestion_words,
)
from dialtrue.interfaces.cli.as_json import plain
from dialtrue.interfaces.cli.output import aligned, wrapped
from dialtrue.services.fit import FitAnswer
from dialtrue.services.fit_population import PopulationAnswer

FORM_ONE = "dialtrue.fit/1"
FORM_MANY = "dialtrue.fit-sites/1"


def answer_lines(answer: FitAnswer, *, system: str) -> list[str]:
    """Print the answer for one chain: the sentence, the margins, the figures, what to watch, what would make it fit."""
    lines = wrapped(answer.sentence, indent=0)
    rows = [("rule", "", "value", "limit", "margin", "corner")]
    for result in answer.verdict.results:
        if result.status != "not_asked":
            rows.append(_margin_row(answer, result, system))
    lines += ["", *aligned(rows, right=(2, 3, 4))]
    unknown = [result.rule for result in answer.verdict.results if result.status == "not_known"]
    for rule in unknown:
        missing = ", ".join(missing_figures(answer.chain, rule))
        lines += wrapped(f"{rule} needs {missing}." if missing else f"{rule} waits for the rules above it.", indent=2)
    lines += ["", *aligned(_figure_rows(answer, system))]
    if answer.reminders:
        lines.append("")
        for said in answer.reminders:
            lines += wrapped(said, indent=2)
    if answer.suggestions:
        lines += ["", "What would make it fit, the smallest change first:"]
        for place, suggestion in enumerate(answer.suggestions, start=1):
            lines += wrapped(f"{place}. {suggestion_words(suggestion, system=system)}.", indent=2)
    return lines


def _margin_row(answer: FitAnswer, result: RuleResult, system: str) -> tuple[str, str, str, str, str, str]:
    """Return one line of the table of margins."""
    mark = ">" if result.rule == answer.verdict.deciding.rule else " "
    name, status = f"{mark} {result.rule}", STATUS_WORDS[result.status]
    if result.value is None:
        return name, status, "", "", "", ""
    if result.rule == "kinds":
        return name, status, "", "", "", ""
    value, limit = rule_amounts(answer.chain, result, system=system)
    share = result.share
    margin = "" if share is None else f"{share * 100:+.0f} %" if abs(share) < 100 else "over 100 times"
    corner = "" if result.corner == "every corner alike" else result.corner
    doubt = " (memory)" if result.doubtful else ""
    return name, status + doubt, value, limit, margin, corner[:38]


def _figure_rows(answer: FitAnswer, system: str) -> list[tuple[str, str]]:
    """Return the figures beside the verdict that are known."""
    figures = answer.figures
    wanted: list[tuple[str, float | None, Any]] = [
        ("pulse at the greatest flow every", figures.pulse_period_ms, lambda v: f"{sensible(v)} ms"),
        ("counts may be lost above", figures.first_loss_flow_lpm, lambda v: said_flow(v, system)),
        ("none is counted above, nominal", figures.cut_off_flow_lpm, lambda v: said_flow(v, system)),
        ("  as a share of Q4 or safe maximum", figures.cut_off_share_q4, lambda v: f"{sensible(v * 100)} %"),
        ("  as a share of Q3", figures.cut_off_share_q3, lambda v: f"{sensible(v * 100)} %"),
        ("longest cable that fits", figures.longest_cable_m, lambda v: _length(v, system)),
        ("damp: leakage it stands, worst corner", figures.damp_stood_ohm, said_ohm),
        ("damp: reads closed under, nominal", figures.damp_closed_ohm, said_ohm),
        ("open line at the site's leakage", figures.site_open_v, lambda v: f"{sensible(v)} V, {figures.site_reads}"),
        ("current while closed", figures.closed_current_ua, lambda v: f"{sensible(v)} uA"),
        ("cell in usual use", figures.life_years, lambda v: f"{sensible(v)} years"),
        ("cell with the contact parked closed", figures.life_parked_years, lambda v: f"{sensible(v)} years"),
        ("pulses a day", figures.pulses_per_day, sensible),
        ("pulse at the least flow every", figures.gap_at_min_flow_s, lambda v: f"{sensible(v)} s"),
        ("least leak with no hour without a count", figures.leak_every_hour_lph, lambda v: _volume(v, system) + "/h"),
        ("least leak that shows in a day", figures.leak_in_a_day_lph, lambda v: _volume(v, system) + "/h"),
        ("index turns over at Q3 after", figures.rollover_q3_h, lambda v: f"{sensible(v)} h"),
        ("index turns over in use after", figures.rollover_use_years, lambda v: f"{sensible(v)} years"),
    ]
    return [(name, say(value)) for name, value, say in wanted if value is not None]


def _volume(volume_l: float, system: str) -> str:
    """Return a volume in the reader's unit."""
    return said_volume(volume_l, system)


def _length(length_m: float, system: str) -> str:
    """Return a length in the reader's unit."""
    if length_m == 0.0:
        return "no length fits"
    if length_m >= 10_000.0:
        return "10 km or more"
    return f"{sensible(length_m / 0.3048)} ft" if system == "us" else f"{sensible(length_m)} m"


def rule_lines(rule: Rule, answer: FitAnswer | None, *, system: str) -> list[str]:
    """Explain a rule: what it asks, formula, the figures of this chain, source."""
    lines = wrapped(f"{rule.id}: {rule.asks}", indent=0)
    lines += wrapped(rule.formula, indent=2)
    if answer is not None:
        result = answer.verdict.result(rule.id)
        lines += wrapped(f"Here: {STATUS_WORDS[result.status]}.", indent=2)
        if result.value is not None and result.limit is not None:
            value, limit = rule_amounts(answer.chain, result, system=system)
            margin = said_amount(result.margin, rule.unit, system)
            named = result.corner and result.corner != "every corner alike"
            corner = f", at the corner {result.corner}" if named else ""
            lines += wrapped(f"Value {value}, limit {limit}, margin {margin}{corner}.", indent=2)
        lines += aligned([(f"{name} =", said) for name, said in _sheet_figures(answer, rule)], indent=4)
        if result.doubtful:
            lines += wrapped(f"From memory, check on the sheet: {', '.join(result.doubtful)}.", indent=2)
    means = "does not fit" if rule.refuses else "fits with care"
    lines += wrapped(f"If it fails: {means}.", indent=2)
    return lines + wrapped(f"Source: {rule.source}.", indent=2)


def _sheet_figures(answer: FitAnswer, rule: Rule) -> list[tuple[str, str]]:
    """Return the sheet figures that a rule used."""
    sheets: dict[str, Any] = {"output": answer.chain.output, "input": answer.chain.input, "cable": answer.chain.cable}
    found = []
    for name in rule.figures:
        sheet, _, figure_name = name.partition(".")
        held = getattr(sheets[sheet], figure_name)
        if held is None:
            continue
        if hasattr(held, "nominal"):
            said = " / ".join(sensible(end, digits=4) for end in dict.fromkeys((held.low, held.nominal, held.high)))
        else:
            said = sensible(held, digits=4) if isinstance(held, float) else str(held)
        found.append((name, said))
    return found


def answer_document(answer: FitAnswer, *, system: str) -> dict[str, Any]:
    """Return the document that ``dialtrue fit --json`` prints for one chain; a key is never renamed within a form."""
    return {
        "form": FORM_ONE,
        "verdict": answer.verdict.outcome,
        "sentence": answer.sentence,
        "deciding_rule": answer.verdict.deciding.rule,
        "high_flow_proof": answer.verdict.high_flow_proof,
        "rules": [plain(result) | {"unit": result.unit} for result in answer.verdict.results],
        "figures": plain(answer.figures),
        "reminders": list(answer.reminders),
        "suggestions": [
            {
                "says": suggestion_words(suggestion, system=system),
                "changes": plain(suggestion.changes),
                "cost": suggestion.cost,
                "verdict": suggestion.verdict.outcome,
            }
            for suggestion in answer.suggestions
        ],
        "curve": plain(answer.curve),
    }


def population_lines(answer: PopulationAnswer, *, show: int) -> list[str]:
    """Print the answer for a population: counts first, then why, then what was wrong with the table."""
    total = sum(answer.outcomes.values())
    counts = ", ".join(f"{count:,} {OUTCOME_WORDS[name].lower()}" for name, count in answer.outcomes.items() if count)
    lines = wrapped(f"{total:,} registers: {counts or 'nothing to judge'}.", indent=0)
    rows = [("registers", "verdict", "decided by", "which asks")]
    asks = {rule.id: rule.asks for rule in RULES}
    for outcome, rule, count in answer.deciding[:show]:
        rows.append((f"{count:,}", OUTCOME_WORDS[outcome].lower(), rule, asks[rule][:58]))
    if len(rows) > 1:
        lines += ["", *aligned(rows, right=(0,))]
    if answer.high_flow_proofs:
        lines += [
            "",
            *wrapped(f"{answer.high_flow_proofs:,} need a high-flow draw: a hose cannot prove them.", indent=2),
        ]
    if answer.said:
        lines.append("")
        for said in answer.said[:show]:
            lines += wrapped(said, indent=2)
        if len(answer.said) > show:
            lines.append(f"  and {len(answer.said) - show:,} more")
    return lines


def population_document(answer: PopulationAnswer) -> dict[str, Any]:
    """Return the document that ``dialtrue fit --sites FILE --json`` prints."""
    return {
        "form": FORM_MANY,
        "registers": sum(answer.outcomes.values()),
        "verdicts": answer.outcomes,
        "deciding": [
            {"verdict": outcome, "rule": rule, "registers": count} for outcome, rule, count in answer.deciding
        ],
        "high_flow_proofs": answer.high_flow_proofs,
        "said": list(answer.said),
    }
