"""What must hold for every plan and every draw."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise, product
from math import prod

from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from dialtrue.domain.acceptance.chance import (
    acceptance_chance,
    at_most,
    exact_interval,
    score_interval,
    zero_plan_size,
)
from dialtrue.domain.acceptance.comparison import limits, stratified_chance, two_sided_chance
from dialtrue.domain.acceptance.draw import LotSite, draw, shared_out
from dialtrue.domain.acceptance.plan import characteristic, demand_named, lot_plan
from dialtrue.domain.acceptance.single_plans import AQLS, LEVELS, SEVERITIES, single_plan

SIZES = st.integers(2, 3000)


@given(SIZES, st.sampled_from(AQLS), st.sampled_from(LEVELS), st.sampled_from(SEVERITIES))
def test_the_operating_characteristic_never_rises(lot: int, aql: Decimal, level: str, severity: str) -> None:
    plan = lot_plan(lot, {"major": demand_named(f"aql {aql}")}, level=level, severity=severity)  # type: ignore[arg-type]
    chances = [chance for _, chance in characteristic(plan.grades[0], lot)]
    assert all(later <= earlier for earlier, later in pairwise(chances))
    assert chances[0] == 1.0


@given(st.integers(2, 200_000), st.sampled_from(AQLS), st.sampled_from(LEVELS))
def test_tightened_passes_no_more_than_normal(lot: int, aql: Decimal, level: str) -> None:
    normal, tight = (single_plan(lot, aql, level=level, severity=each) for each in ("normal", "tightened"))
    for share in (float(aql) / 100, 0.03, 0.2):
        assert at_most(tight.accept, tight.size, share) <= at_most(normal.accept, normal.size, share) + 1e-12


@given(st.integers(1, 2000), st.integers(1, 30))
def test_the_zero_plan_is_the_least_that_proves(lot: int, percent: int) -> None:
    share = Fraction(percent, 100)
    size = zero_plan_size(lot, share)
    bad = -(-percent * lot // 100)
    assert acceptance_chance(lot, bad, size=size, accept=0) <= 0.05
    if size > 1:
        assert acceptance_chance(lot, bad, size=size - 1, accept=0) > 0.05
    assert size <= min(lot, zero_plan_size(None, share))


@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 60), st.integers(0, 60))
def test_two_sided_chance_agrees_with_the_library(a: int, b: int, c: int, d: int) -> None:
    reference = float(stats.fisher_exact([[a, b], [c, d]]).pvalue)
    assert abs(two_sided_chance(a, a + b, c, c + d) - reference) < 1e-9


@given(st.integers(1, 400), st.data())
def test_intervals_hold_the_share_and_mirror(inspected: int, data: st.DataObject) -> None:
    bad = data.draw(st.integers(0, inspected))
    for interval in (exact_interval, score_interval):
        low, high = interval(bad, inspected)
        assert 0.0 <= low <= bad / inspected <= high <= 1.0
        other = interval(inspected - bad, inspected)
        assert abs(low - (1.0 - other[1])) < 1e-9


@given(st.integers(1, 400), st.floats(0.001, 0.5))
def test_limits_lie_around_the_common_share(inspected: int, share: float) -> None:
    low, high = limits(inspected, share, outside=0.05)
    wide_low, wide_high = limits(inspected, share, outside=0.002)
    assert 0.0 <= wide_low <= low <= share <= high <= wide_high <= 1.0 or inspected * share < 1


@given(st.lists(st.integers(0, 50), min_size=1, max_size=8), st.data(), st.fractions(0, Fraction(999, 1000)))
def test_strata_share_a_sample_to_the_last_site(strata: list[int], data: st.DataObject, start: Fraction) -> None:
    size = data.draw(st.integers(0, sum(strata)))
    quota = shared_out(size, strata, start)
    assert sum(quota) == size
    for each, count in zip(quota, strata, strict=True):
        exact = Fraction(size * count, sum(strata)) if sum(strata) else Fraction(0)
        assert abs(each - exact) < 1
        assert 0 <= each <= count


@settings(max_examples=25)
@given(st.text(max_size=20), st.integers(0, 40))
def test_a_draw_is_repeatable_and_names_each_site_once(seed: str, size: int) -> None:
    lot = [LotSite(f"S{number}", "AB"[number % 3 == 0], whole=number == 7) for number in range(30)]
    drawn = draw(lot, seed=seed, lot="L", size=size)
    assert drawn == draw(sorted(lot, key=lambda each: each.site), seed=seed, lot="L", size=size)
    assert sorted(each.site for each in drawn) == sorted(each.site for each in lot)
    assert sum(each.part == "sample" for each in drawn) == min(size, 29)


def test_over_many_seeds_every_site_has_the_same_chance() -> None:
    """Chi-square over 4,000 seeds, of uneven strata: 17, 6 and 1 sites, 5 of 24 drawn."""
    lot = [LotSite(f"S{number}", "A" if number < 17 else "B" if number < 23 else "C") for number in range(24)]
    seeds = 4000
    times = dict.fromkeys((site.site for site in lot), 0)
    for seed in range(seeds):
        for each in draw(lot, seed=f"seed {seed}", lot="L", size=5):
            times[each.site] += each.part == "sample"
    share = 5 / 24
    chi = sum((count - seeds * share) ** 2 / (seeds * share * (1 - share)) for count in times.values())
    assert sum(times.values()) == 5 * seeds
    assert stats.chi2.sf(chi, 23) > 1e-4


@settings(max_examples=30)
@given(
    st.lists(
        st.tuples(st.integers(0, 4), st.integers(0, 4), st.integers(0, 4), st.integers(0, 4)), min_size=1, max_size=3
    )
)
def test_kinds_held_apart_agree_with_every_split_counted_one_by_one(cells: list[tuple[int, int, int, int]]) -> None:
    strata = [(a, a + b, c, c + d) for a, b, c, d in cells if a + b + c + d]
    weights = [
        {k: float(stats.hypergeom.pmf(k, n + m, bad + other, n)) for k in range(n + 1)} for bad, n, other, m in strata
    ]
    observed = sum(bad for bad, _, _, _ in strata)
    sums: dict[int, float] = {}
    for combination in product(*(each.items() for each in weights)):
        total = sum(k for k, _ in combination)
        sums[total] = sums.get(total, 0.0) + prod(weight for _, weight in combination)
    expected = sum(weight for weight in sums.values() if weight <= sums[observed] * (1 + 1e-9))
    assert abs(stratified_chance(strata) - expected) < 1e-9
