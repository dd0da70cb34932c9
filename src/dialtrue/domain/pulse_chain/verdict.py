"""The verdict on a chain: which rule decides, with every rule's margin."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import NOT_KNOWN, deciding_words, worst
from dialtrue.domain.pulse_chain.margins import Pairs, asked, rule_pairs
from dialtrue.domain.pulse_chain.rules import RULES, Rule, doubtful_figures
from dialtrue.domain.pulse_chain.timing import (
    closed_least_ms,
    figure,
    need_closed_ms,
    need_open_ms,
    open_least_ms,
    period_ms,
)

Outcome = Literal["fits", "fits_with_care", "does_not_fit", "unknown"]
Status = Literal["pass", "care", "fail", "not_known", "not_asked"]

OUTCOMES: Final[tuple[Outcome, ...]] = ("fits", "fits_with_care", "does_not_fit", "unknown")
STATUSES: Final[tuple[Status, ...]] = ("pass", "care", "fail", "not_known", "not_asked")
ROUNDING_SHARE: Final = 1e-9
LEVEL_RULES: Final = ("closed-level", "open-level")


@dataclass(frozen=True, slots=True)
class RuleResult:
    """One rule at its worst corner. None = not known; ``share`` is the margin over the limit."""

    rule: str
    status: Status
    value: float | None
    limit: float | None
    margin: float | None
    share: float | None
    corner_index: int
    corner: str
    doubtful: tuple[str, ...]

    @property
    def unit(self) -> str:
        """Return the unit of value, limit and margin."""
        return next(rule.unit for rule in RULES if rule.id == self.rule)


@dataclass(frozen=True, slots=True)
class FitVerdict:
    """The verdict on a chain. ``deciding`` is the result of the rule that decided."""

    outcome: Outcome
    deciding: RuleResult
    results: tuple[RuleResult, ...]
    high_flow_proof: bool | None

    def result(self, rule_id: str) -> RuleResult:
        """Return the result of one rule; KeyError if there is none of that id."""
        for result in self.results:
            if result.rule == rule_id:
                return result
        raise KeyError(rule_id)


def rounding_slack(limit: float) -> float:
    """Return how far under nought a margin may lie by rounding alone: 1e-9 of the limit.

    A figure given in feet or gallons must not fail a limit that the same figure meets in metres or litres.
    """
    return ROUNDING_SHARE * abs(limit) if abs(limit) != math.inf else 0.0


def margin_share(margin: float, limit: float) -> float:
    """Return a margin as a share of its limit; infinite where the limit is none or nought. NaN if not known."""
    if margin != margin or limit != limit:
        return NOT_KNOWN
    if limit > 0.0 and limit != math.inf:
        return margin / limit
    return math.inf if margin >= 0.0 else -math.inf


def judge(chain: Chain) -> FitVerdict:
    """Judge a chain at every corner.

    Parameters
    ----------
    chain : Chain
        The chain to be judged.

    Returns
    -------
    FitVerdict
        *does_not_fit* where a rule that refuses fails on figures that are known and not doubtful; else *unknown* where
        a figure that counting rests on is missing; else *fits_with_care* where a margin is thin, a wish fails or a
        refusal rests on memory alone; else *fits*. Of several rules of the deciding kind, the one with the least share
        decides.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: this order, because a known failure stays a failure whatever is missing, and silence is no pass.
    """
    pairs = rule_pairs(chain)
    results = tuple(_result(chain, rule, pairs[rule.id]) for rule in RULES)
    outcome, deciding = _decide(results)
    return FitVerdict(outcome, deciding, results, high_flow_proof(chain))


def _result(chain: Chain, rule: Rule, pairs: Pairs) -> RuleResult:
    """Return one rule at its worst corner."""
    doubts = tuple(
        doubtful_figures(rule, output=chain.output.doubtful, entry=chain.input.doubtful, cable=chain.cable.doubtful)
    )
    if not asked(chain, rule.id):
        return RuleResult(rule.id, "not_asked", None, None, None, None, -1, "", doubts)
    at_most = rule.sense == "at_most"
    margins = [limit - value if at_most else value - limit for value, limit in pairs]
    margin, place = worst(margins)
    if place < 0:
        return RuleResult(rule.id, "not_known", None, None, None, None, -1, "", doubts)
    value, limit = pairs[place]
    share = margin_share(margin, limit)
    status: Status = "pass"
    if not margin >= -rounding_slack(limit):
        status = "fail" if rule.refuses and not doubts else "care"
    elif rule.thin and share < chain.settings.care_share:
        status = "care"
    corner = deciding_words(margins, place) if len(margins) > 1 else ""
    return RuleResult(rule.id, status, value, limit, margin, share, place, corner, doubts)


def _decide(results: tuple[RuleResult, ...]) -> tuple[Outcome, RuleResult]:
    """Return the outcome and the result that decides it."""
    failed = [result for result in results if result.status == "fail"]
    if failed:
        return "does_not_fit", failed[0] if failed[0].rule == "kinds" else _least(failed)
    needed = {rule.id for rule in RULES if rule.needed}
    missing = [result for result in results if result.status == "not_known" and result.rule in needed]
    if missing:
        return "unknown", _unsettled(results, missing[0])
    careful = [result for result in results if result.status == "care"]
    if careful:
        return "fits_with_care", _least(careful)
    passed = [result for result in results if result.status == "pass"]
    thin = {rule.id for rule in RULES if rule.thin}
    return "fits", _least([result for result in passed if result.rule in thin] or passed)


def _unsettled(results: tuple[RuleResult, ...], missing: RuleResult) -> RuleResult:
    """Return what leaves the verdict open: a level that fails on doubtful figures goes before the edges it spoils."""
    for result in results:
        if result.rule in LEVEL_RULES and result.status == "care" and not figure(result.margin) >= 0.0:
            return result
    return missing


def _least(results: list[RuleResult]) -> RuleResult:
    """Return the result with the least share, the first of equals."""
    chosen = results[0]
    for result in results[1:]:
        if figure(result.share) < figure(chosen.share):
            chosen = result
    return chosen


def high_flow_proof(chain: Chain) -> bool | None:
    """Return whether a hose cannot prove this chain.

    Parameters
    ----------
    chain : Chain
        The chain.

    Returns
    -------
    bool or None
        True where the state that shrinks with flow is, at the greatest flow, under ``proof_factor`` times what the
        input needs: the closed time, or the pause of an output whose pulses have a fixed width;
        then the proof wants a high-flow draw, or leans on this check. None if a figure is missing.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: three times; ``FitSettings.proof_factor`` overrides.
    """
    period = period_ms(figure(chain.weight_l), figure(chain.max_flow_lpm))
    if chain.output.fixed_width:
        steady = open_least_ms(chain.output, period) - chain.output.open_bounce_ms
        need = need_open_ms(chain.input)
    else:
        steady = closed_least_ms(chain.output, period) - figure(chain.output.bounce_ms)
        need = need_closed_ms(chain.input)
    if steady != steady or need != need:
        return None
    return steady < chain.settings.proof_factor * need
