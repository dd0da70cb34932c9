"""What inspected sites say of crews. Small numbers accuse the innocent: most differences say nothing, and no crew is
ever put above or below another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from dialtrue.domain.acceptance.chance import exact_interval
from dialtrue.domain.acceptance.comparison import stratified_chance, two_sided_chance
from dialtrue.domain.acceptance.judgement import expected_bad, percent
from dialtrue.domain.words import counted

CrewOutcome = Literal["too_few", "says_nothing", "look", "act"]

CREW_WORDS: dict[CrewOutcome, str] = {
    "too_few": "too few",
    "says_nothing": "says nothing",
    "look": "look, do not act",
    "act": "act",
}

LOOK_FIRST = "look first at what the bad sites have in common: the same tool, day, carton or kind of site"


@dataclass(frozen=True, slots=True)
class CrewCount:
    """A crew's sites: ``fitted`` in all, ``inspected`` of them in random samples, ``bad`` of those. [sites]

    ``kinds`` parts the last two by kind of site: its name, inspected, bad.
    """

    crew: str
    inspected: int
    bad: int
    fitted: int = 0
    kinds: tuple[tuple[str, int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class CrewVerdict:
    """What the counts of one crew say beside all others.

    ``chance`` is how often two groups of one common share part so far, ``adjusted`` the same with kinds of site held
    apart; ``expected``, ``low`` and ``high`` how many of
    the crew's sites not inspected are bad, told only where something is to be done.
    """

    count: CrewCount
    others_inspected: int
    others_bad: int
    exact: tuple[float, float]
    chance: float
    adjusted: float
    outcome: CrewOutcome
    says: str
    expected: tuple[float, int, int] | None = None


def compare_crews(
    counts: Sequence[CrewCount], *, enough: int = 50, act_below: float = 0.01, look_below: float = 0.05
) -> list[CrewVerdict]:
    """Hold each crew against all others together, in the order of their names.

    Parameters
    ----------
    counts : sequence of CrewCount
        A row for each crew.
    enough : int
        Inspected sites below which nothing is said of a crew. Our assumption: about fifty. [sites, >= 1]
    act_below : float
        Chance below which there is something to act on, divided by the number of crews that are compared, for with
        twenty crews one is always the worst. Our assumption. [-, 0..1]
    look_below : float
        Chance below which a look is worth while. Our assumption: the usual one in twenty. [-, 0..1]

    Returns
    -------
    list of CrewVerdict
        A crew with fewer bad sites than the others is never held up: its count says nothing either. A crew is acted on
        only if both chances, plain and with kinds of site held apart, are small enough.

    Raises
    ------
    MoreDefectsThanInspected

    Source
    ------
    ``FISHER-EXACT``; the division by the number of comparisons is Bonferroni's.

    Examples
    --------
    >>> crews = [CrewCount("A", 60, 3), CrewCount("B", 60, 0), CrewCount("C", 60, 9, 300), CrewCount("D", 60, 0)]
    >>> [(each.count.crew, each.outcome) for each in compare_crews(crews)]
    [('A', 'says_nothing'), ('B', 'says_nothing'), ('C', 'act'), ('D', 'says_nothing')]
    """
    inspected, bad = sum(each.inspected for each in counts), sum(each.bad for each in counts)
    compared = max(1, sum(each.inspected >= enough for each in counts))
    verdicts = []
    for count in sorted(counts, key=lambda each: each.crew):
        others, others_bad = inspected - count.inspected, bad - count.bad
        interval = exact_interval(count.bad, count.inspected)
        chance = two_sided_chance(count.bad, count.inspected, others_bad, others)
        adjusted = _adjusted(count, counts) if count.kinds else chance
        more = bool(others) and count.bad * others > others_bad * count.inspected
        outcome: CrewOutcome = "says_nothing"
        if count.inspected < enough or others < enough:
            outcome = "too_few"
        elif more and max(chance, adjusted) < act_below / compared:
            outcome = "act"
        elif more and chance < look_below:
            outcome = "look"
        verdict = CrewVerdict(count, others, others_bad, interval, chance, adjusted, outcome, "")
        says, expected = _said(verdict, enough=enough, compared=compared, look_below=look_below)
        verdicts.append(replace(verdict, says=says, expected=expected))
    return verdicts


def _adjusted(count: CrewCount, counts: Sequence[CrewCount]) -> float:
    """Hold a crew against the others kind by kind."""
    own = {kind: (bad, inspected) for kind, inspected, bad in count.kinds}
    others: dict[str, tuple[int, int]] = {}
    for other in counts:
        for kind, inspected, bad in other.kinds if other is not count else ():
            before = others.get(kind, (0, 0))
            others[kind] = (before[0] + bad, before[1] + inspected)
    return stratified_chance([(*own[kind], *others.get(kind, (0, 0))) for kind in sorted(own)])


def _said(
    verdict: CrewVerdict, *, enough: int, compared: int, look_below: float
) -> tuple[str, tuple[float, int, int] | None]:
    """Say a verdict, and what is to be expected of the sites not inspected where there is something to do."""
    count, others = verdict.count, verdict.others_inspected
    if verdict.outcome == "too_few":
        if count.inspected < enough:
            return f"{counted(count.inspected, 'site')} inspected: too few, wait for about {enough}.", None
        return f"{counted(others, 'site')} of others inspected: too few to hold it against.", None
    figures = f"{count.bad} in {count.inspected} against {verdict.others_bad} in {others} of all others"
    chances = f"p {p_text(verdict.chance)}"
    if count.kinds and verdict.outcome != "says_nothing" and p_text(verdict.adjusted) != p_text(verdict.chance):
        chances += f", with kinds of site held apart {p_text(verdict.adjusted)}"
    if verdict.outcome == "says_nothing":
        if verdict.chance < look_below:
            return f"{figures}: fewer than elsewhere is no finding either, and no praise.", None
        return f"{figures}: {chances}, says nothing.", None
    if verdict.outcome == "look":
        if verdict.adjusted >= look_below:
            return f"{figures}: {chances}; the kinds of site it was given explain it. Nothing to act on.", None
        return f"{figures}: {chances}, too weak to act on with {compared} crews compared; {LOOK_FIRST}.", None
    left = max(0, count.fitted - count.inspected)
    if not left:
        return f"{figures}: {chances}, act; {LOOK_FIRST}.", None
    expected = expected_bad(count.bad, count.inspected, left)
    return (
        f"{figures}: {chances}, act: {LOOK_FIRST}; then screen the {counted(left, 'site')} not inspected, "
        f"expect {expected[0]:.0f} bad, {expected[1]} to {expected[2]}.",
        expected,
    )


def compare_two(one: CrewCount, other: CrewCount, *, enough: int = 50, act_below: float = 0.01) -> str:
    """Say in one sentence what the counts of two crews say of each other.

    Parameters
    ----------
    one, other : CrewCount
        The two crews.
    enough : int
        Inspected sites that each must have. [sites]
    act_below : float
        Chance from which there is nothing to act on. [-]

    Returns
    -------
    str
        Names no crew as better or worse unless there is something to act on.

    Raises
    ------
    MoreDefectsThanInspected

    Source
    ------
    ``FISHER-EXACT``.

    Examples
    --------
    >>> compare_two(CrewCount("A", 60, 3), CrewCount("B", 60, 0))
    'A and B: 3 in 60 against 0 in 60: p 0.24, says nothing.'
    """
    chance = two_sided_chance(one.bad, one.inspected, other.bad, other.inspected)
    head = f"{one.crew} and {other.crew}: {one.bad} in {one.inspected} against {other.bad} in {other.inspected}"
    if min(one.inspected, other.inspected) < enough:
        return f"{head}: too few, wait for about {enough} inspected sites of each."
    if chance < act_below:
        return f"{head}: p {p_text(chance)}, more than chance; {LOOK_FIRST}."
    return f"{head}: p {p_text(chance)}, says nothing."


def rate_words(verdict: CrewVerdict) -> str:
    """Say a crew's share of bad sites with its interval. Never raises.

    Source
    ------
    ``CLOPPER-PEARSON``.
    """
    count = verdict.count
    if not count.inspected:
        return "none inspected"
    low, high = verdict.exact
    return f"{percent(count.bad / count.inspected)} ({percent(low)} to {percent(high)})"


def p_text(chance: float) -> str:
    """Print a chance with two digits that say something. Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> p_text(0.24400), p_text(0.000268), p_text(1.0), p_text(0.0000001)
    ('0.24', '0.00027', '1', 'under 0.00001')
    """
    if chance < 0.00001:
        return "under 0.00001"
    if chance >= 0.995:
        return "1"
    return f"{chance:.2f}" if chance >= 0.1 else f"{float(f'{chance:.2g}'):.10f}".rstrip("0")
