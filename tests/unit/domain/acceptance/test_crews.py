"""What is said of crews: small numbers accuse nobody, and no crew is ranked."""

from __future__ import annotations

import pytest

from dialtrue.domain.acceptance.crews import CrewCount, compare_crews, compare_two, p_text, rate_words

CREWS = [
    CrewCount("C", 60, 9, 300),
    CrewCount("A", 60, 3, 240),
    CrewCount("D", 60, 0, 240),
    CrewCount("B", 60, 0, 240),
]


def test_crews_stand_in_the_order_of_their_names() -> None:
    assert [each.count.crew for each in compare_crews(CREWS)] == ["A", "B", "C", "D"]


def test_the_crew_that_stands_out_is_acted_on_by_looking_for_a_cause_first() -> None:
    verdict = compare_crews(CREWS)[2]
    assert verdict.chance == pytest.approx(0.00027, abs=5e-6)
    assert verdict.outcome == "act"
    assert verdict.expected == (36.0, 17, 64)
    assert verdict.says == (
        "9 in 60 against 3 in 180 of all others: p 0.00027, act: look first at what the bad sites have in common: the "
        "same tool, day, carton or kind of site; then screen the 240 sites not inspected, expect 36 bad, 17 to 64."
    )
    assert rate_words(verdict) == "15.0 % (7.1 % to 26.6 %)"


def test_three_in_sixty_against_none_says_nothing() -> None:
    said = compare_two(CREWS[1], CREWS[3])
    assert said == "A and B: 3 in 60 against 0 in 60: p 0.24, says nothing."


@pytest.mark.parametrize("crew", ["A", "B", "D"])
def test_no_words_put_a_crew_above_or_below(crew: str) -> None:
    said = next(each.says for each in compare_crews(CREWS) if each.count.crew == crew)
    assert not any(word in said for word in ("better", "worse", "best", "worst", "rank", "below", "above"))


def test_few_inspected_sites_say_nothing_however_bad() -> None:
    verdicts = compare_crews([CrewCount("E", 12, 6), CrewCount("F", 300, 0)])
    assert verdicts[0].says == "12 sites inspected: too few, wait for about 50."
    lonely = compare_crews([CrewCount("E", 100, 6), CrewCount("F", 10, 0)])
    assert lonely[0].outcome == "too_few"


def test_more_crews_ask_for_stronger_evidence() -> None:
    odd = CrewCount("Z", 60, 8)
    few = compare_crews([odd, CrewCount("Y", 180, 5)])
    many = compare_crews([odd, CrewCount("V", 60, 2), CrewCount("W", 60, 2), CrewCount("X", 60, 1)])
    assert few[-1].chance == pytest.approx(many[-1].chance) == pytest.approx(0.0045, abs=1e-4)
    assert [few[-1].outcome, many[-1].outcome] == ["act", "look"]


def test_a_crew_alone_is_held_against_nobody() -> None:
    (verdict,) = compare_crews([CrewCount("E", 100, 6)])
    assert verdict.outcome == "too_few"


def test_a_crew_with_no_inspected_site_has_no_rate() -> None:
    verdict = compare_crews([CrewCount("E", 0, 0), CrewCount("F", 100, 1)])[0]
    assert (rate_words(verdict), verdict.outcome) == ("none inspected", "too_few")


def test_chances_are_printed_without_powers() -> None:
    assert [p_text(chance) for chance in (0.000012, 0.05, 0.1, 0.994)] == ["0.000012", "0.05", "0.10", "0.99"]


def test_kinds_of_site_that_explain_a_count_acquit_the_crew() -> None:
    """Nine of thirty pits bad, as with others (three of ten): the crew was given the pits."""
    pits = CrewCount("C", 60, 9, 300, (("pit", 30, 9), ("wall", 30, 0)))
    rest = CrewCount("A", 180, 3, 500, (("pit", 10, 3), ("wall", 170, 0)))
    verdict = compare_crews([pits, rest])[1]
    assert verdict.outcome == "look"
    assert verdict.expected is None
    assert verdict.says == (
        "9 in 60 against 3 in 180 of all others: p 0.00027, with kinds of site held apart 1; the kinds of site it was "
        "given explain it. Nothing to act on."
    )


def test_kinds_of_site_that_explain_nothing_leave_the_verdict() -> None:
    even = CrewCount("C", 60, 9, 300, (("pit", 30, 5), ("wall", 30, 4)))
    rest = CrewCount("A", 180, 3, 500, (("pit", 90, 2), ("wall", 90, 1)))
    verdict = compare_crews([even, rest])[1]
    assert verdict.outcome == "act"
    assert verdict.adjusted == pytest.approx(verdict.chance, rel=0.5)


def test_a_crew_with_fewer_bad_sites_is_neither_acted_on_nor_praised() -> None:
    few, many = compare_crews([CrewCount("A", 200, 0), CrewCount("B", 200, 20)])
    assert few.chance == many.chance < 1e-5
    assert (few.outcome, many.outcome) == ("says_nothing", "act")
    assert few.says.endswith("fewer than elsewhere is no finding either, and no praise.")
