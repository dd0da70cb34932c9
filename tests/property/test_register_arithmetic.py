"""Invariants of register arithmetic. A reference simulation turns the wheels one pulse at a time where it is cheap."""

from __future__ import annotations

from fractions import Fraction
from math import floor

from hypothesis import assume, given
from hypothesis import strategies as st

from dialtrue.domain.dial import Dial
from dialtrue.domain.difference import KINDS, common_modulus, register_difference, register_error
from dialtrue.domain.figures import power_of_ten
from dialtrue.domain.index import Index
from dialtrue.domain.lined_up import line_up
from dialtrue.domain.multipliers import NAMED_RATIOS, multiplier_chain, name_ratio
from dialtrue.domain.quantity import UNITS, convert, litres_per
from dialtrue.domain.start_index import start_index_for

volumes = st.fractions(min_value=0, max_value=10**9, max_denominator=10**6)
weights = st.sampled_from([Fraction(text) for text in ("0.041619", "0.1", "1", "2.5", "10", "100")])
units = st.sampled_from(UNITS)
decades = st.sampled_from([Fraction(10) ** k for k in range(-3, 4)])
dials = st.builds(
    lambda moving, zeros, unit, resolution: Dial.of(
        moving_digits=moving, fixed_zeros=zeros, unit=unit, resolution=resolution
    ),
    st.integers(1, 8),
    st.integers(0, 3),
    units,
    st.one_of(st.none(), decades),
)
indexes = st.builds(
    lambda digits, unit, resolution: Index.of(digits=digits, unit=unit, resolution=resolution),
    st.integers(1, 10),
    units,
    decades,
)


@given(dials, volumes)
def test_reading_what_a_dial_shows_gives_the_volume_rounded_down_and_taken_round(dial: Dial, volume: Fraction) -> None:
    shown = dial.show(volume)
    assert len(shown) == dial.positions
    read = dial.read(shown)
    rest = volume - read
    turns = floor(volume / dial.capacity)
    assert 0 <= rest - turns * dial.capacity < dial.resolution


@given(dials, volumes, st.integers(-5, 5))
def test_whole_turns_do_not_change_what_a_dial_shows(dial: Dial, volume: Fraction, turns: int) -> None:
    assert dial.show(volume) == dial.show(volume + turns * dial.capacity)


@given(volumes, units, units)
def test_a_conversion_there_and_back_is_exact(volume: Fraction, one: str, other: str) -> None:
    assert convert(convert(volume, one, other), other, one) == volume


@given(st.integers(0, 10**7), st.integers(0, 10**5), weights, indexes)
def test_a_weight_times_k_with_pulses_over_k_leaves_the_index_unchanged(
    start: int, groups: int, weight: Fraction, index: Index
) -> None:
    for k in (2, 7, 10):
        few = index.after(start, groups, weight * k, "gal")
        assert few == index.after(start, groups * k, weight, "gal")


@given(st.integers(0, 999), st.lists(st.integers(0, 30), max_size=8), weights)
def test_pulses_in_several_parts_move_the_index_by_no_more_than_their_carried_rest(
    start: int, parts: list[int], weight: Fraction
) -> None:
    index = Index.of(digits=9, unit="gal")
    whole = index.after(start, sum(parts), weight, "gal")
    exact = start + sum(parts) * weight  # in counts of 1 gal
    assert whole == floor(exact) % index.modulus
    assert whole <= exact < whole + 1


@given(volumes, weights, st.fractions(min_value=0, max_value=Fraction(999, 1000), max_denominator=1000))
def test_pulses_counted_step_by_step_equal_the_floor_of_volume_plus_phase(
    volume: Fraction, weight: Fraction, share: Fraction
) -> None:
    volume %= weight * 40
    phase = share * weight
    # The train closes the contact each time it passes a multiple of the weight; count those passed, one by one.
    passed, edge = 0, weight - phase
    while edge <= volume:
        passed, edge = passed + 1, edge + weight
    assert passed == floor((volume + phase) / weight)


@given(dials, volumes, weights, st.fractions(0, Fraction(99, 100), max_denominator=100), st.integers(0, 3))
def test_a_sound_index_stays_within_one_pulse_and_one_digit_of_the_dial(
    dial: Dial, volume: Fraction, weight: Fraction, share: Fraction, coarser: int
) -> None:
    index = Index(9, dial.unit, dial.resolution / 10**3 * 10**coarser)
    pulse = weight * dial.resolution
    assume(3 * (pulse + dial.resolution + index.resolution) < min(dial.capacity, index.capacity))
    start = start_index_for(dial, dial.show(0), index).count
    pulses = floor((volume + share * pulse) / pulse)
    count = index.after(start, pulses, pulse, dial.unit)
    modulus = common_modulus(dial.capacity, index.capacity)
    assume(modulus == min(dial.capacity, index.capacity))
    error = register_error(index.volume(count), dial.read(dial.show(volume)), modulus=modulus)
    assert -pulse - index.resolution < error < pulse + dial.resolution


@given(dials, volumes, indexes)
def test_the_start_index_lines_up_with_the_dial_before_any_pulse(dial: Dial, volume: Fraction, index: Index) -> None:
    text = dial.show(volume)
    start = start_index_for(dial, text, index)
    assert index.keyed(start.digits) == start.count
    exact = convert(dial.read(text), dial.unit, index.unit)
    assert start.dropped_top + start.count * index.resolution + start.left_over == exact
    assert 0 <= start.left_over < index.resolution
    picture = line_up(dial, text, index, start.count)
    if not start.dropped_top:
        assert picture.level
    assert len(picture.columns) == len(picture.dial_cells) == len(picture.index_cells) == len(picture.agree)


@given(dials, volumes, indexes)
def test_copied_digits_are_the_dials_own_digits(dial: Dial, volume: Fraction, index: Index) -> None:
    text = dial.show(volume)
    start = start_index_for(dial, text, index)
    if start.from_position is None:
        assert power_of_ten(dial.resolution_l / index.resolution_l) is None
        return
    copied = "".join("0" if place is None else text[place] for place in start.from_position)
    assert copied == start.digits
    assert f"Press {start.digits}" in start.sentence


readings = st.integers(0, 10**6)
capacities = st.sampled_from([100, 10**4, 10**6])


@given(readings, readings, capacities, st.integers(0, 3 * 10**6), st.sampled_from([0, 1, 10]))
def test_the_kinds_of_difference_partition_all_pairs(
    before: int, after: int, capacity: int, at_most: int, digit: int
) -> None:
    verdict = register_difference(before, after, capacity=capacity, at_most=at_most, digit=digit)
    assert verdict.kind in KINDS
    # An independent list of every volume that shows these two figures and that the bound allows.
    bound = at_most + digit
    forward = range((after - before) % capacity, bound + 1, capacity)
    back = [v for v in [(after - before) % capacity - capacity] if -v <= bound and v > -capacity]
    expected = (
        "ambiguous" if len(forward) > 1 else "one way" if len(forward) == 1 else "backward" if back else "impossible"
    )
    kind = "one way" if verdict.kind in ("forward", "rolled_over") else verdict.kind
    assert kind == expected
    if verdict.volume is not None:
        assert (before + verdict.volume - after) % capacity == 0
        assert abs(verdict.volume) <= bound
    assert (verdict.volume is None) == (kind in ("ambiguous", "impossible"))
    assert verdict.backward == (back[0] if back else None)


@given(readings, st.lists(st.integers(0, 900), min_size=1, max_size=20))
def test_interval_volumes_sum_to_the_register_difference_across_rollover(start: int, steps: list[int]) -> None:
    capacity = 10**4
    total, before = Fraction(0), start
    for step in steps:
        verdict = register_difference(before, before + step, capacity=capacity, at_most=900, digit=1)
        assert verdict.kind in ("forward", "rolled_over")
        assert verdict.volume is not None
        total, before = total + verdict.volume, (before + step) % capacity
    assert total == sum(steps)


@given(volumes, volumes, st.sampled_from([10**4, 10**6, Fraction(77, 3)]))
def test_the_register_error_is_antisymmetric_round_the_modulus(
    index_volume: Fraction, dial_volume: Fraction, modulus: Fraction
) -> None:
    one = register_error(index_volume, dial_volume, modulus=modulus)
    other = register_error(dial_volume, index_volume, modulus=modulus)
    assert (one + other) % modulus == 0
    assert -Fraction(modulus) / 2 <= one < Fraction(modulus) / 2
    assert (index_volume - dial_volume - one) % modulus == 0


@given(volumes, volumes)
def test_the_common_modulus_goes_into_both_capacities(one: Fraction, other: Fraction) -> None:
    assume(one and other)
    modulus = common_modulus(one, other)
    assert (one / modulus).denominator == 1
    assert (other / modulus).denominator == 1
    assert common_modulus(one / modulus, other / modulus) == 1


@given(st.sampled_from(NAMED_RATIOS))
def test_every_named_ratio_finds_itself_exactly(named: object) -> None:
    ratio = named.ratio  # type: ignore[attr-defined]
    assert name_ratio(ratio, tolerance=0) == [named]
    assert name_ratio(float(ratio), tolerance=1e-12)[0] == named


@given(weights, units, weights, units, indexes, dials, units)
def test_the_steps_of_a_chain_multiply_to_what_is_billed(
    weight: Fraction, unit: str, told: Fraction, told_unit: str, index: Index, dial: Dial, billing_unit: str
) -> None:
    chain = multiplier_chain(
        pulse_weight=weight,
        pulse_unit=unit,
        weight_set=told,
        weight_unit=told_unit,
        index=index,
        dial=dial,
        billing_unit=billing_unit,
    )
    product = Fraction(1)
    for step in chain.steps:
        product *= step.factor
    assert product == chain.billed_per_pulse
    assert chain.ratio == told * litres_per(told_unit) / (weight * litres_per(unit))
