"""A lot is accepted, rejected, or not yet; and what that leaves to do."""

from __future__ import annotations

import pytest

from dialtrue.domain.acceptance.judgement import grade_result, grade_words, judge_lot, lot_words
from dialtrue.domain.acceptance.plan import GradePlan, demand_named, lot_plan
from dialtrue.domain.acceptance.switching import DecidedLot, score_of, switched
from dialtrue.domain.errors import MoreDefectsThanInspected

PLAN = lot_plan(500, {"critical": demand_named("aql 1.0"), "major": demand_named("aql 2.5")})
CRITICAL, MAJOR, GOOD = frozenset({"critical"}), frozenset({"major"}), frozenset[str]()


def sample(bad: int, unseen: int = 0, grade: frozenset[str] = CRITICAL) -> list[frozenset[str] | None]:
    return [*[grade] * bad, *[GOOD] * (50 - bad - unseen), *[None] * unseen]


@pytest.mark.parametrize(
    ("bad", "unseen", "outcome", "more"),
    [
        (0, 0, "accept", 0),
        (1, 0, "accept", 0),
        (2, 0, "reject", 0),
        (0, 1, "accept", 0),
        (0, 2, "not_yet", 1),
        (1, 1, "not_yet", 1),
        (2, 40, "reject", 39),
        (0, 50, "not_yet", 49),
    ],
)
def test_a_grade_is_decided_as_soon_as_it_can_be(bad: int, unseen: int, outcome: str, more: int) -> None:
    result = grade_result(PLAN.grades[0], 500, inspected=50 - unseen, bad=bad)
    assert result.outcome == outcome
    if outcome == "not_yet":
        assert result.more == more


def test_grades_are_judged_apart() -> None:
    judged = judge_lot(PLAN, sample(4, grade=MAJOR))
    assert [(result.plan.grade, result.outcome) for result in judged.grades] == [
        ("critical", "accept"),
        ("major", "reject"),
    ]
    assert judged.outcome == "reject"


def test_a_site_may_be_bad_in_both_grades() -> None:
    judged = judge_lot(PLAN, [*[CRITICAL | MAJOR] * 2, *[GOOD] * 48])
    assert [result.bad for result in judged.grades] == [2, 2]


def test_a_rejected_lot_says_what_to_screen_and_what_to_expect() -> None:
    judged = judge_lot(PLAN, sample(3))
    (screening,) = judged.screening
    assert (screening.sites, screening.expected, screening.low, screening.high) == (450, 27.0, 5, 75)
    assert lot_words(judged) == (
        "The contractor screens all 450 sites that nobody has looked at: expect 27 more critical, 5 to 75. "
        "Then draw a new sample of the lot."
    )


def test_sites_inspected_in_any_case_hold_a_lot_open_and_reject_nothing() -> None:
    open_ = judge_lot(PLAN, sample(0), [None, CRITICAL])
    assert (open_.outcome, open_.whole_open, open_.whole_bad["critical"]) == ("not_yet", 1, 1)
    assert "1 of 2 sites that are inspected in any case is still open." in lot_words(open_)
    seen = judge_lot(PLAN, sample(0), [GOOD, CRITICAL])
    assert seen.outcome == "accept"
    assert "put right all the same" in lot_words(seen)


def test_an_accepted_sample_says_what_it_proves_and_no_more() -> None:
    plan = lot_plan(500, {"critical": demand_named("zero 5")})
    judged = judge_lot(plan, [GOOD] * 56)
    assert grade_words(judged.grades[0], 500).endswith("Shows fewer than 5.0 % bad, with 95 % confidence.")
    allowed = judge_lot(PLAN, sample(1)).grades[0]
    assert allowed.proved == pytest.approx(0.09, abs=0.01)


def test_a_grade_counts_its_own_part_of_the_sample() -> None:
    plan = lot_plan(500, {"critical": demand_named("zero 2"), "major": demand_named("aql 2.5")})
    beyond = [*[GOOD] * 50, *[MAJOR] * 4, *[GOOD] * 75]
    assert judge_lot(plan, beyond).outcome == "accept"
    within = [*[MAJOR] * 4, *[GOOD] * 125]
    assert judge_lot(plan, within).outcome == "reject"


def test_more_bad_than_inspected_cannot_be() -> None:
    with pytest.raises(MoreDefectsThanInspected):
        grade_result(GradePlan("critical", demand_named("aql 1.0"), 50, 1), 500, inspected=50, bad=51)


def lots(pattern: str, severity: str = "normal") -> list[DecidedLot]:
    return [DecidedLot(str(number), mark == "a", severity) for number, mark in enumerate(pattern, 1)]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("pattern", "severity"),
    [
        ("", "normal"),
        ("r", "normal"),
        ("rr", "tightened"),
        ("raaar", "tightened"),
        ("raaaar", "normal"),
        ("aaaaaaaaa", "normal"),
        ("aaaaaaaaaa", "reduced"),
        ("raaaaaaaaaa", "reduced"),
    ],
)
def test_two_rejected_of_five_tighten_and_ten_accepted_relax(pattern: str, severity: str) -> None:
    assert switched(lots(pattern)).severity == severity


def test_five_accepted_return_from_tightened_and_one_rejected_from_reduced() -> None:
    tight = [*lots("rr"), *lots("aaaa", "tightened")]
    assert switched(tight).severity == "tightened"
    assert switched([*tight, *lots("a", "tightened")]).severity == "normal"
    light = [*lots("a" * 10), *lots("aa", "reduced")]
    assert switched(light).severity == "reduced"
    assert switched([*light, *lots("r", "reduced")]).severity == "normal"


def test_five_rejected_on_tightened_stop_until_somebody_resumes() -> None:
    stopped = [*lots("rr"), *lots("rarraarr", "tightened")]
    assert switched(stopped).stopped
    resumed = switched([*stopped, *lots("a", "tightened")])
    assert (resumed.stopped, resumed.severity) == (False, "tightened")


def test_reduced_inspection_can_be_forbidden_and_a_person_may_choose() -> None:
    assert switched(lots("a" * 30), reduced=False).severity == "normal"
    assert switched(lots("a", "tightened")).severity == "tightened"


@pytest.mark.parametrize(
    ("size", "accept", "bad", "points"),
    [(50, 1, 1, 2), (50, 1, 0, 2), (50, 1, 2, 0), (80, 2, 1, 3), (80, 2, 2, 0), (80, 2, 3, 0), (125, 3, 2, 3)],
)
def test_points_of_the_switching_score(size: int, accept: int, bad: int, points: int) -> None:
    plan = GradePlan("critical", demand_named("aql 1.0"), size, accept)
    assert score_of([grade_result(plan, 3000, inspected=size, bad=bad)]) == points


def test_a_lot_scores_as_its_least_grade() -> None:
    large = grade_result(GradePlan("major", demand_named("aql 2.5"), 80, 5), 1000, inspected=80, bad=0)
    small = grade_result(GradePlan("critical", demand_named("zero 5"), 57, 0), 1000, inspected=57, bad=0)
    assert (score_of([large]), score_of([small, large]), score_of([])) == (3, 2, 2)


def test_a_score_of_thirty_relaxes_where_it_is_chosen() -> None:
    def scored(points: list[int]) -> str:
        history = [DecidedLot(str(n), True, "normal", each) for n, each in enumerate(points)]
        return switched(history, by_score=True).severity

    assert scored([3] * 9) == scored([2] * 14) == "normal"
    assert scored([3] * 10) == scored([2] * 15) == "reduced"
    assert scored([3] * 9 + [0] + [3] * 9) == "normal"
