"""A small watch result, made by hand, for whatever prints one."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from dialtrue.domain.finding import Crossing, Evidence, Finding
from dialtrue.domain.watch_result import DialPoint, PortTrace, WatchResult, WatchSummary

START = dt.datetime(2025, 3, 1, 6, tzinfo=dt.UTC)
GAL_L = 3.785411784


def finding(**changes: object) -> Finding:
    """One weight_decade finding; any field can be changed."""
    base = Finding(
        meter_serial="W-0042",
        endpoint_serial="81000042",
        port=1,
        register_role="single",
        fault="weight_decade",
        probability=0.83,
        runner_up="lost_counts",
        runner_up_probability=0.11,
        action="visit",
        since=START,
        volume_error_l=-4_000.0 * GAL_L,
        volume_error_low_l=-4_200.0 * GAL_L,
        volume_error_high_l=-3_800.0 * GAL_L,
        parameter=0.1,
        next_check="Draw ten pulses and compare dial and index.",
        remedy="Set the pulse weight to the meter's own, then set the index to the dial.",
        verdict="Counts one gallon in ten: weight set to 1 gal, the meter sends 10 gal.",
        evidence=(
            Evidence("pairs.ratio", "index over dial is 0.1000", {"ratio": 0.1, "pairs": 3}, 12.5),
            Evidence("fingerprint.gcd", "steps share no divisor of ten", {"gcd_counts": 1}, -1.25),
        ),
        priority=410.0,
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def trace(**changes: object) -> PortTrace:
    """The picture behind ``finding()``: 60 days, index at a tenth of the dial, two wet spans."""
    days = [START + dt.timedelta(hours=6 * step) for step in range(4 * 60)]
    points = tuple(
        DialPoint(
            at=START + dt.timedelta(days=day),
            dial_text=f"{42137 + day * 15:06d}0",
            source=source,
            dial_volume=150.0 * day,
            index_count=421370 + day * 15,
            index_volume=15.0 * day,
        )
        for day, source in ((0, "fitter"), (31, "reader"), (59, "photo"))
    )
    base = PortTrace(
        meter_serial="W-0042",
        endpoint_serial="81000042",
        port=1,
        register_role="single",
        site="S-17",
        address="12 Alder Lane",
        dial_unit="gal",
        moving_digits=6,
        fixed_zeros=1,
        dial_resolution="10",
        index_digits=8,
        index_unit="gal",
        index_resolution="1",
        fitted_at=START,
        start_index="00421370",
        dial_at_fit="0421370",
        dial_points=points,
        index_at=tuple(days),
        index_volume=tuple(15.0 * step / 4 for step in range(4 * 60)),
        wet_spans=(
            (START + dt.timedelta(days=9), START + dt.timedelta(days=10)),
            (START + dt.timedelta(days=40), START + dt.timedelta(days=42)),
        ),
        since=START + dt.timedelta(days=5),
        since_low=START + dt.timedelta(days=3),
        since_high=START + dt.timedelta(days=8),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def watch_result(**changes: object) -> WatchResult:
    """Three findings that ask for work, a crossed pair, two notes, one missing table."""
    first = finding()
    second = finding(
        meter_serial="W-0107", endpoint_serial="81000107", fault="dead_input", probability=0.97, runner_up="vacant",
        runner_up_probability=0.02, verdict="Water passes, nothing is counted.", volume_error_l=-9_000.0,
        volume_error_low_l=-9_500.0, volume_error_high_l=-8_500.0, parameter=None, priority=300.0,
    )  # fmt: skip
    third = finding(
        meter_serial="W-0108", endpoint_serial="81000108", fault="crossed", probability=0.6, action="remote_check",
        verdict="Counts its neighbour's water.", priority=20.0,
    )  # fmt: skip
    leak = finding(
        meter_serial="W-0300", endpoint_serial="81000300", fault="customer_leak", action="none", since=None,
        volume_error_l=0.0, volume_error_low_l=-5.0, volume_error_high_l=5.0, priority=0.0,
        verdict="Water really runs without pause: 40 gal a day.",
    )  # fmt: skip
    empty = finding(
        meter_serial="W-0301", endpoint_serial="81000301", fault="vacant", action="none", since=None, priority=0.0,
        volume_error_l=None, volume_error_low_l=None, volume_error_high_l=None, verdict="No use registered.",
    )  # fmt: skip
    sound = finding(
        meter_serial="W-0001", endpoint_serial="81000001", fault="sound", probability=0.999, action="none", since=None,
        runner_up="start_slip", runner_up_probability=0.0005, volume_error_l=0.0, volume_error_low_l=-1.0,
        volume_error_high_l=1.0, priority=0.0, verdict="Counts true.",
    )  # fmt: skip
    result = WatchResult(
        findings=(first, second, third, leak, empty, sound),
        crossings=(
            Crossing(1, "W-0108", "81000108", "81000109", 1, "wires", 0.6),
            Crossing(1, "W-0109", "81000109", "81000108", 1, "wires", 0.6),
        ),
        summary=WatchSummary(
            ports=6, reads=8640, first_read=START, last_read=START + dt.timedelta(days=60),
            by_fault={"sound": 1, "weight_decade": 1, "dead_input": 1, "crossed": 1, "customer_leak": 1, "vacant": 1},
            visits=2, remote_checks=1, over_registered_l=0.0, under_registered_l=24_141.6, volume_at_stake_l=24_141.6,
            unit="gal",
        ),
        traces={("W-0042", "81000042", 1): trace()},
        missing=(("alarms", "without alarms a cut line shows only by the counts it costs"),),
        said=("reads.csv: times without an offset were read as America/Chicago.",),
    )  # fmt: skip
    return replace(result, **changes)  # type: ignore[arg-type]
