"""Whatever the programme, its figures add up: states to what is fitted, that to the plan, groups to the whole."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.services.programme_figures import programme_figures
from tests.support.programme_towns import NOW, Place, findings_file, town

_DAYS = st.one_of(st.none(), st.floats(1.0, 200.0).map(lambda day: round(day, 2)))
_PLACE = st.tuples(
    _DAYS, _DAYS, st.sampled_from(["", "turned_back", "open"]), st.sampled_from(["A", "B", ""]),
    st.sampled_from(["visit", "none"]),
)  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(drawn=st.lists(_PLACE, min_size=1, max_size=12))
def test_figures_add_up(drawn: list[tuple[float | None, float | None, str, str, str]]) -> None:
    places = [
        Place(n, fitted=fitted, heard=heard if fitted and heard and heard < fitted else None, status=status, crew=crew)
        for n, (fitted, heard, status, crew, _) in enumerate(drawn)
    ]
    with tempfile.TemporaryDirectory() as name:
        folder = town(Path(name) / "p", places)
        found = findings_file(
            Path(name) / "f.csv", places, lambda p: {"fault": "dead_input", "action": drawn[p.number][4]}
        )  # fmt: skip
        figures = programme_figures(folder, at=NOW, findings=found)
    assert figures.planned == len(places)
    assert figures.turned_back is not None
    assert figures.fitted + figures.turned_back + figures.open == figures.planned
    assert sum(figures.states.values()) == figures.fitted
    assert sum(figures.pairs.values()) == figures.fitted
    assert figures.reading.of + figures.too_new == figures.fitted
    assert figures.reading.count + len(figures.silent) == figures.reading.of
    for groups in figures.groups.values():
        assert sum(group.fitted for group in groups) == figures.fitted
        assert sum(group.reading.count for group in groups) == figures.reading.count
        assert [group.name for group in groups[:-1]] == sorted(group.name for group in groups[:-1])
