"""Worked stories of invented sites as programme folders: what the watch makes of them, each figure asserted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from dialtrue.domain.finding import Finding
from dialtrue.domain.quantity import litres_per
from dialtrue.services.watch import watch_folder
from tests.support.programmes import DAY, HOUR, Port, dial_text, write_programme

GAL_L = float(litres_per("gal"))
FITTED = dt.datetime(2025, 3, 3, 10, tzinfo=dt.UTC)
AT = dt.datetime(2025, 12, 1, tzinfo=dt.UTC)
# Shares of the day's water in 24ths, hour by hour; nights are still and the sum is 72.
DAY_SHAPE = (0, 0, 0, 0, 0, 2, 7, 9, 6, 3, 2, 2, 3, 2, 2, 2, 4, 7, 8, 6, 4, 2, 1, 0)


def hours(days: int) -> list[dt.datetime]:
    """Return the whole hours from the fitting on, the fitting's own first."""
    return [FITTED + k * HOUR for k in range(24 * days + 1)]


def water(days: int, total_gal: int) -> list[int]:
    """Return whole gallons passed since the fitting at each hour, ``total_gal`` at the end."""
    passed = [0]
    for at in hours(days)[1:]:
        passed.append(passed[-1] + DAY_SHAPE[(at - HOUR).hour])
    return [total_gal * share // passed[-1] for share in passed]


def history(gal_per_day: int) -> list[tuple[dt.date, dt.date, str]]:
    """Return ten billed periods before the fitting."""
    first = FITTED.date() - dt.timedelta(days=300)
    used = [30 * gal_per_day * (100 + (-4, 3, 5, -2, 1)[k % 5]) // 100 for k in range(10)]
    return [(first + 30 * k * DAY, first + 30 * (k + 1) * DAY, str(volume)) for k, volume in enumerate(used)]


def neighbours(count: int, days: int) -> list[Port]:
    """Return sound houses beside the one of the story."""
    ports = []
    for number in range(count):
        passed = water(days, (140 + 9 * number) * days)
        base = 30_117 + 4_211 * number
        ports.append(
            Port(
                name=f"9{number:02d}",
                fitted_at=FITTED,
                dial_at_fit=dial_text(base, digits=6),
                start_index=str(base),
                read_at=hours(days)[1:],
                index=[base + volume // 10 * 10 for volume in passed[1:]],
                pulse_weight="10",
                dial_reads=[
                    (FITTED + day * DAY, dial_text(base + passed[24 * day], digits=6)) for day in (days // 2, days)
                ],
                history=history(140 + 9 * number),
            )
        )
    return ports


@pytest.fixture
def judge(tmp_path: Path) -> Callable[[Port, int], Finding]:
    """Return a function that watches the story's port among sound neighbours, which must stay sound."""

    def judged(port: Port, days: int) -> Finding:
        write_programme(tmp_path, [port, *neighbours(8, days)])
        found = {finding.meter_serial: finding for finding in watch_folder(tmp_path, at=AT).findings}
        assert {f.fault for serial, f in found.items() if serial != port.meter} == {"sound"}
        return found[port.meter]

    return judged


def figures(finding: Finding) -> dict[str, object]:
    """Return every figure of the evidence in one dictionary."""
    return {name: value for item in finding.evidence for name, value in item.figures.items()}


# --- Story 4: the painted zero, keyed one place short -----------------------------------------------------------------


@pytest.mark.parametrize("looks", [(14,), (14, 30)])
def test_the_painted_zero_is_a_start_slip_and_no_early_turn(judge, looks: tuple[int, ...]) -> None:
    passed = water(31, 31 * 150)
    port = Port(
        name="04", fitted_at=FITTED, dial_at_fit="0421370", start_index="42137", read_at=hours(31)[1:],
        index=[42_137 + v // 10 * 10 for v in passed[1:]], pulse_weight="10", dial_digits=6, fixed_zeros=1,
        index_digits=7, history=history(150),
        dial_reads=[(FITTED + day * DAY, dial_text(42_137 + passed[24 * day] // 10, digits=6, fixed_zeros=1))
                    for day in looks],
    )  # fmt: skip
    finding = judge(port, 31)
    assert finding.fault == "start_slip"
    assert "digit_slip" not in (finding.fault, finding.runner_up)
    assert finding.volume_error_l == pytest.approx(-379_233 * GAL_L, abs=12 * GAL_L)
    assert finding.action != "none"


# --- Story 9: eleven dead days before the exchange, and a true rollover after it --------------------------------------


def test_a_constant_offset_across_a_true_rollover_is_the_start_and_no_rollover_fault(judge) -> None:
    passed = water(42, 15_250)
    port = Port(
        name="09", fitted_at=FITTED, dial_at_fit="989060", start_index="986900", read_at=hours(42)[1:],
        index=[986_900 + v // 10 * 10 for v in passed[1:]], pulse_weight="10", dial_digits=5, fixed_zeros=1,
        index_digits=7, history=history(363),
        dial_reads=[(FITTED + day * DAY, dial_text(98_906 + passed[24 * day] // 10, digits=5, fixed_zeros=1))
                    for day in (20, 42)],
    )  # fmt: skip
    assert port.index[-1] == 1_002_150
    assert port.dial_reads[-1][1] == "004310"
    finding = judge(port, 42)
    assert finding.fault == "start_slip"
    assert "digit_slip" not in (finding.fault, finding.runner_up)
    assert finding.volume_error_l == pytest.approx(-2_160 * GAL_L, abs=12 * GAL_L)
    assert finding.parameter == pytest.approx(-2_160 * GAL_L, abs=12 * GAL_L)


# --- Story 11: nine days of the same index, then all at once ----------------------------------------------------------


def test_a_repeated_index_that_caught_up_is_stale_and_loses_nothing(judge) -> None:
    days, frozen, caught = 40, 24 * 28, 24 * 38
    passed = water(days, 40 * 211)
    base = 451_200 - passed[frozen]
    shown = [base + v for v in passed]
    held = [shown[frozen] if frozen <= k < caught else shown[k] for k in range(len(shown))]
    assert held[frozen] == 451_200
    assert held[caught] - held[caught - 1] == pytest.approx(2_110, abs=2)
    port = Port(
        name="11", fitted_at=FITTED, dial_at_fit=dial_text(base, digits=6), start_index=str(base),
        read_at=hours(days)[1:], index=held[1:], pulse_weight="1", history=history(211),
        dial_reads=[(FITTED + day * DAY, dial_text(shown[24 * day], digits=6)) for day in (15, 40)],
    )  # fmt: skip
    finding = judge(port, days)
    assert finding.fault == "stale_index"
    assert finding.volume_error_l == pytest.approx(0.0, abs=6 * GAL_L)
    assert finding.since is not None
    assert abs(finding.since - (FITTED + 28 * DAY)) < DAY
    assert finding.action != "visit"


# --- Story 12: both edges ---------------------------------------------------------------------------------------------


def test_both_edges_double_the_count_and_half_is_refunded(judge) -> None:
    passed = water(90, 31_250)
    port = Port(
        name="12", fitted_at=FITTED, dial_at_fit="112340", start_index="112340", read_at=hours(90)[1:],
        index=[112_340 + v // 5 * 10 for v in passed[1:]], pulse_weight="10", history=history(347),
        dial_reads=[(FITTED + day * DAY, dial_text(112_340 + passed[24 * day], digits=6)) for day in (40, 90)],
    )  # fmt: skip
    assert port.index[-1] - 112_340 == 62_500
    # Edges fall between the hours, so odd steps of one weight do occur.
    assert {(b - a) // 10 % 2 for a, b in zip(port.index, port.index[1:], strict=False)} == {0, 1}
    finding = judge(port, 90)
    assert finding.fault == "double_count"
    assert finding.parameter == 2.0
    assert figures(finding)["index_over_dial"] == pytest.approx(2.0, abs=0.0005)
    assert finding.volume_error_l == pytest.approx(31_250 * GAL_L, abs=25 * GAL_L)


# --- Story 12, the other site: chatter --------------------------------------------------------------------------------


def chatter(passed: list[int]) -> list[int]:
    """Return gallons counted where 7 in 20 ticks chatter at low flow and 1 in 20 at high flow."""
    counted, exact = [0], 0.0
    for at, before, after in zip(hours(len(passed))[1:], passed, passed[1:], strict=False):
        exact += (after - before) * (1.35 if DAY_SHAPE[(at - HOUR).hour] <= 3 else 1.05)
        counted.append(int(exact) // 10 * 10)
    return counted


def test_chatter_is_extra_counts_and_no_second_edge(judge) -> None:
    passed = water(90, 31_250)
    counted = chatter(passed)
    port = Port(
        name="12", fitted_at=FITTED, dial_at_fit="112340", start_index="112340", read_at=hours(90)[1:],
        index=[112_340 + v for v in counted[1:]], pulse_weight="10", history=history(347),
        dial_reads=[(FITTED + day * DAY, dial_text(112_340 + passed[24 * day], digits=6)) for day in (40, 65, 90)],
    )  # fmt: skip
    finding = judge(port, 90)
    assert finding.fault == "extra_counts"
    assert finding.runner_up != "double_count"
    ratio = counted[-1] / passed[-1]
    assert 1.1 < ratio < 1.3
    assert finding.parameter == pytest.approx(ratio, rel=0.01)
    assert finding.volume_error_l == pytest.approx((counted[-1] - passed[-1]) * GAL_L, abs=25 * GAL_L)


# --- Story 14: hum ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("hertz", [60, 50])
def test_hum_is_named_as_steady_counts_far_above_what_the_meter_can_pass(judge, hertz: int) -> None:
    days = 20
    passed = water(days, days * 150)
    port = Port(
        name="14", fitted_at=FITTED, dial_at_fit="020000", start_index="20000", read_at=hours(days)[1:],
        index=[(20_000 + v + hertz * 3600 * k) % 10**9 for k, v in enumerate(passed)][1:], pulse_weight="1",
        index_digits=9, history=history(150),
        dial_reads=[(FITTED + day * DAY, dial_text(20_000 + passed[24 * day], digits=6)) for day in (9, 20)],
    )  # fmt: skip
    finding = judge(port, days)
    assert finding.fault == "steady_counts"
    assert finding.volume_error_l == pytest.approx(hertz * 3600 * 24 * days * GAL_L, rel=0.02)
    assert any("meter can pass" in item.says for item in finding.evidence)
