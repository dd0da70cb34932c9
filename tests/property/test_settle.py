"""Laws that every settlement keeps, on registers whose true course is known because the test made it."""

from __future__ import annotations

import datetime as dt
import tempfile
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.finding import Crossing
from dialtrue.domain.settlement.periods import rounded_parts
from tests.support.settled import finding, settled, write_folder

DAYS = [dt.date(2026, 1, 1) + dt.timedelta(days=30 * place) for place in range(7)]
USES = st.lists(st.integers(0, 3000), min_size=6, max_size=6)


def folder_of(root: Path, counted: list[int], true: list[int], *, dial_from: int = 4_000, weight: int = 1) -> Path:
    """Write a register read on every edge: index in gallons as counted, dial as it truly went."""
    index, dial = [dial_from], [dial_from]
    for some, real in zip(counted, true, strict=True):
        index.append(index[-1] + some)
        dial.append(dial[-1] + real)
    return write_folder(
        root,
        sites=["S,A,M,nutating_disc,5/8in,single,7,0,gal,1,1,gal"],
        fittings=[f"S,M,single,E,1,{DAYS[0]}T00:00:00Z,{dial_from:07d},{dial_from:07d},7,gal,1,{weight},gal"],
        reads=[f"E,1,{day}T00:00:00Z,{value}" for day, value in zip(DAYS, index, strict=True)],
        dial_reads=[
            f"M,single,{day}T00:00:00Z,{value:07d},reader" for day, value in zip(DAYS[1:], dial[1:], strict=True)
        ],
        bills=[
            f"A,M,single,{start},{end},{some},gal," for (start, end), some in zip(pairwise(DAYS), counted, strict=True)
        ],
    )  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(USES)
def test_a_double_count_is_halved_exactly_and_a_second_settlement_says_the_same(uses):
    with tempfile.TemporaryDirectory() as root:
        folder = folder_of(Path(root), [2 * use for use in uses], uses)
        first = settled(folder, [finding("M", "E", "double_count")]).adjustments
        assert [row.corrected for row in first] == uses
        assert settled(folder, [finding("M", "E", "double_count")]).adjustments == first


@settings(max_examples=25, deadline=None)
@given(USES, st.integers(0, 100), st.sampled_from(["lost_counts", "wet_counts", "steady_counts", "meter_exchanged"]))
def test_between_dial_reads_the_periods_add_up_to_the_dial_whatever_was_counted(uses, share, code):
    with tempfile.TemporaryDirectory() as root:
        counted = [use * share // 100 for use in uses]
        folder = folder_of(Path(root), counted, uses)
        error = float(sum(counted) - sum(uses)) * 3.785
        found = settled(
            folder,
            [
                finding(
                    "M", "E", code, volume_error_l=error, volume_error_low_l=error - 10, volume_error_high_l=error + 10
                )
            ],
        )
        assert sum((row.corrected for row in found.adjustments), Fraction(0)) == sum(uses)
        assert {row.method for row in found.adjustments} == {"differenced"}
        assert all(row.low <= row.corrected <= row.high for row in found.adjustments)


@settings(max_examples=20, deadline=None)
@given(USES, st.sampled_from(["sound", "customer_leak", "vacant", "use_change"]))
def test_a_sound_register_has_no_adjustment(uses, code):
    with tempfile.TemporaryDirectory() as root:
        folder = folder_of(Path(root), uses, uses)
        found = settled(folder, [finding("M", "E", code)])
        assert (found.adjustments, found.left_out) == ((), ())


@settings(max_examples=20, deadline=None)
@given(USES)
def test_a_register_named_wrong_that_is_right_by_its_dial_is_corrected_by_exactly_nothing(uses):
    """The dial bounds every period, so a fault that is none finds nothing to correct."""
    with tempfile.TemporaryDirectory() as root:
        folder = folder_of(Path(root), uses, uses)
        found = settled(folder, [finding("M", "E", "meter_exchanged")])
        assert all(row.difference == 0 for row in found.adjustments)
        assert all(not row.claimed for row in found.adjustments)


@given(
    st.lists(st.fractions(0, 1000), min_size=1, max_size=12).map(sorted),
    st.fractions(Fraction(1, 100), 50),
)
def test_rounded_parts_add_up_to_the_rounded_whole(edges, step):
    parts = rounded_parts(edges, step)
    whole = edges[-1] - edges[0]
    assert abs(sum(parts, Fraction(0)) - whole) <= step / 2
    assert all((part / step).denominator == 1 and part >= 0 for part in parts)


RING_USES = st.lists(st.lists(st.integers(0, 400), min_size=6, max_size=6), min_size=3, max_size=3)


@settings(max_examples=20, deadline=None)
@given(RING_USES)
def test_a_ring_of_three_with_different_weights_gives_each_meter_its_own_water(uses):
    """Endpoint E2 counts meter M1, E3 counts M2, E1 counts M3; the meters give a pulse for 1, 10 and 100 gallons."""
    weights = (1, 10, 100)
    with tempfile.TemporaryDirectory() as root:
        sites, fittings, reads, crossings = [], [], [], []
        for place, weight in enumerate(weights):
            me, holder = place + 1, (place + 1) % 3 + 1
            sites.append(f"S{me},A{me},M{me},nutating_disc,5/8in,single,7,0,gal,1,{weight},gal")
            fittings.append(f"S{me},M{me},single,E{me},1,{DAYS[0]}T00:00:00Z,0000000,0000000,7,gal,1,{weight},gal")
            shown = 0
            for day, pulses in zip(DAYS, [0, *uses[place]], strict=True):
                shown += pulses * weights[holder - 1]  # the endpoint that counts this meter gives its own weight
                reads.append(f"E{holder},1,{day}T00:00:00Z,{shown}")
            crossings.append(Crossing(1, f"M{me}", f"E{me}", f"E{holder}", 1, "wires", 0.97))
        folder = write_folder(Path(root), sites=sites, fittings=fittings, reads=reads)
        found = settled(folder, [finding(f"M{me}", f"E{me}", "crossed") for me in (1, 2, 3)], crossings)
        implied = {
            f"M{place + 1}": sum(pulses) * weight
            for place, (pulses, weight) in enumerate(zip(uses, weights, strict=True))
        }
        bad = {left.meter_serial for left in found.left_out}
        for meter, whole in implied.items():
            rows = [row for row in found.adjustments if row.meter_serial == meter]
            assert meter in bad or sum((row.corrected for row in rows), Fraction(0)) == whole
        if not bad:
            assert sum((row.corrected for row in found.adjustments), Fraction(0)) == sum(implied.values())
