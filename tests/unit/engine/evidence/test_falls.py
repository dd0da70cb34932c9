"""Falls of the index and first reads: turned, reset, two courses, turned meter, or one absurd read."""

from __future__ import annotations

import pytest
from scipy.integrate import quad

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.engine.evidence import possibility
from dialtrue.engine.evidence.step_density import near_density, step_density
from tests.support.cases import case_of
from tests.support.fleets import fleet_of

DAYS = 40
USE = 240
"""Ten litres an hour."""


def best(index: list[int], **changes: list[float]) -> tuple[str, float]:
    """Return the likeliest of sound, digits, reset, two courses, reversed and not listed, and its lead over sound."""
    fleet = fleet_of(use_l_day=[float(USE)], flow_limit_l_s=[1.26], **changes)
    reads = [(0, float(24 * (k + 1)), count, "") for k, count in enumerate(index)]
    case, _ = case_of(fleet, reads, days=DAYS + 2)
    row = possibility.weigh(case).loglik[0]
    codes = ("sound", "digit_slip", "index_reset", "duplicate_serial", "meter_reversed", "not_listed", "start_slip")
    code = max(codes, key=lambda name: row[COLUMN[name]])
    return code, float(row[COLUMN[code]] - row[COLUMN["sound"]])


def course(start: int, days: int = DAYS) -> list[int]:
    return [start + USE * (k + 1) for k in range(days)]


@pytest.mark.parametrize("density", [step_density, near_density])
def test_densities_of_a_step_add_up_to_one(density) -> None:
    total = sum(
        quad(density, a, b, args=(240.0,), limit=200)[0] for a, b in ((0, 50), (50, 500), (500, 5e3), (5e3, 1e8))
    )
    assert total == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("modulus", [10_000, 65_536, 100_000])
def test_a_turn_below_the_recorded_digits_is_wrong_digits(modulus: int) -> None:
    start = modulus - 3_000
    index = [count % modulus for count in course(start)]
    assert best(index, start_count=[start], dial_fit_l=[float(start)])[0] == "digit_slip"


def test_a_start_that_lost_its_top_digit_shows_at_the_first_read() -> None:
    code, lead = best(course(21_370), start_count=[421_370], dial_fit_l=[421_370.0])
    assert code == "digit_slip"
    assert lead > 5


@pytest.mark.parametrize("to", [0, 40_000, 43_000])
def test_a_fall_to_nothing_to_the_start_or_to_a_stored_value_is_a_reset(to: int) -> None:
    before, after = course(40_000, 14), course(to, DAYS - 14)
    assert best([*before, *after], start_count=[40_000], dial_fit_l=[40_000.0])[0] == "index_reset"


@pytest.mark.parametrize("absurd", [-3_000, 30_000])
def test_one_absurd_read_between_two_that_agree_is_no_fault(absurd: int) -> None:
    index = course(40_000)
    index[20] += absurd
    code, lead = best(index, start_count=[40_000], dial_fit_l=[40_000.0])
    assert code == "sound" or lead < 5.0, (code, lead)


def test_two_courses_under_one_serial_are_not_resets() -> None:
    index = [count if k % 2 else count + 300_000 for k, count in enumerate(course(40_000))]
    assert best(index, start_count=[40_000], dial_fit_l=[40_000.0])[0] == "duplicate_serial"


def test_an_index_that_falls_as_the_water_runs_is_a_turned_meter() -> None:
    index = [40_000 - USE * (k + 1) for k in range(DAYS)]
    assert best(index, start_count=[40_000], dial_fit_l=[40_000.0])[0] == "meter_reversed"


def test_a_legal_turn_is_sound() -> None:
    index = [count % 1_000_000 for count in course(996_000)]
    assert best(index, start_count=[996_000], dial_fit_l=[996_000.0])[0] == "sound"


def test_every_code_has_a_place() -> None:
    assert set(possibility.CAUSE_OF) <= set(FAULTS)


def test_an_index_that_only_falls_runs_backwards_even_by_single_counts() -> None:
    """A big pulse weight makes every fall one count: their number tells."""
    onward = [50_000 + k // 3 for k in range(20)]
    backward = [onward[-1] - k // 2 for k in range(1, 60)]
    fleet = fleet_of(use_l_day=[12.0], flow_limit_l_s=[1.26], start_count=[50_000], dial_fit_l=[50_000.0])
    reads = [(0, float(24 * (k + 1)), count, "") for k, count in enumerate([*onward, *backward])]
    case, _ = case_of(fleet, reads, days=82)
    row = possibility.weigh(case).loglik[0]
    best_other = max(row[COLUMN[code]] for code in FAULTS if code != "meter_reversed")
    assert row[COLUMN["meter_reversed"]] > best_other + 8.0


def test_one_bit_that_flips_is_noise_and_no_second_course() -> None:
    index = course(43_000)
    for k in range(12, DAYS):
        index[k] += 4_096 * (k // 5 % 2)
    code, _ = best(index, start_count=[43_000], dial_fit_l=[43_000.0])
    assert code in ("not_listed", "duplicate_serial")


def test_resets_that_come_again_are_no_second_course() -> None:
    """Between two falls the index goes on from where it fell to: no second course has leapt up."""
    index, stands = [], 60_000
    for k in range(DAYS):
        stands += USE
        if k in (10, 17, 23, 31):
            stands -= 9 * USE
        index.append(stands)
    assert best(index, start_count=[60_000], dial_fit_l=[60_000.0])[0] == "index_reset"
