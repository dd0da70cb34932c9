"""Whatever the unit and the index, what is handed over is exactly what was sent."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.handover.exact import MOST_PLACES, volume_unit
from dialtrue.domain.quantity import UNITS, convert
from dialtrue.files.handover.part import volume_texts
from dialtrue.files.handover.sorted_reads import SortedReads, Thinned, without_twins

RESOLUTIONS = st.sampled_from(["0.001", "0.01", "0.1", "1", "10", "100", "2.5"])


@settings(deadline=None)
@given(
    st.lists(st.integers(0, 10**12 - 1), min_size=1, max_size=30), RESOLUTIONS, st.sampled_from(UNITS),
    st.sampled_from(UNITS),
)  # fmt: skip
def test_a_volume_is_its_index_in_any_unit(counts: list[int], resolution: str, index_unit: str, dial_unit: str) -> None:
    unit = volume_unit(index_unit, dial_unit)
    for name in (unit, "m3"):
        step = convert(Fraction(resolution), index_unit, name)
        texts = volume_texts(np.array(counts, np.int64), step).to_pylist()
        back = [convert(Fraction(text), name, index_unit) / Fraction(resolution) for text in texts]
        assert back == counts
        assert all(len(text.partition(".")[2]) <= MOST_PLACES for text in texts)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 12), st.integers(0, 20), st.integers(0, 3)), max_size=80),
    st.integers(1, 5), st.integers(1, 4),
)  # fmt: skip
def test_sorting_on_disk_equals_sorting_in_memory(rows: list[tuple[int, int, int]], size: int, parts: int) -> None:
    table = np.array(rows, np.int64).reshape(-1, 3)
    with TemporaryDirectory() as scratch:
        held = SortedReads(Path(scratch), size)
        for part in np.array_split(table, parts):
            held.add(part[:, 0], part[:, 1], part[:, 2], np.zeros(len(part), np.int8))
        told = Thinned()
        found = [
            (int(r["port"]), int(r["at_us"]), int(r["index"])) for g in held.groups() for r in without_twins(g, told)
        ]
    values: dict[tuple[int, int], set[int]] = {}
    for port, at, index in rows:
        values.setdefault((port, at), set()).add(index)
    assert found == [(*key, index) for key, (index, *more) in sorted(values.items()) if not more]
    assert len(found) + told.twice + told.contradicting == len(rows)
