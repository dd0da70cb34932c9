"""The programme of an invented story, 2,400 registers: what is fitted, turned back, open, reading and silent."""

from __future__ import annotations

import pytest

from dialtrue.domain.progress.account import ProgrammeFigures, figures_sentence
from dialtrue.domain.progress.rate import rate_words
from dialtrue.services.programme_figures import programme_figures
from tests.support.programme_towns import NOW, Place, findings_file, town


@pytest.fixture(scope="module")
def figures(tmp_path_factory: pytest.TempPathFactory) -> ProgrammeFigures:
    folder = tmp_path_factory.mktemp("programme")
    silent = range(0, 1850, 31)  # 60 numbers, the first of them heard after all
    places = [
        Place(
            n, fitted=90.0 if n < 1850 else None, heard=20.0 if n in silent and n else 0.5, crew="ABC"[n % 3],
            status="turned_back" if 1850 <= n < 2062 else "",
        )
        for n in range(2400)
    ]  # fmt: skip
    town(folder / "p", places)
    found = findings_file(folder / "findings.csv", places)
    return programme_figures(folder / "p", at=NOW, findings=found)


def test_fitted_turned_back_and_open_add_up_to_the_plan(figures: ProgrammeFigures) -> None:
    assert (figures.planned, figures.fitted, figures.turned_back, figures.open) == (2400, 1850, 212, 338)
    assert round(100 * 212 / 2400, 1) == 8.8
    assert sum(figures.states.values()) == 1850
    assert figures_sentence(figures).startswith("1,850 of 2,400 fitted, 1,791 of 1,850 reading")


def test_turned_back_is_told_of_what_was_attempted(figures: ProgrammeFigures) -> None:
    back = figures.indicators[0]
    assert back.value.startswith("212 of 2,062, 10.3 %")
    assert back.stands == "within the range"


def test_reading_is_told_with_its_interval_and_the_silent_are_listed(figures: ProgrammeFigures) -> None:
    assert (figures.reading.count, figures.reading.of, len(figures.silent)) == (1791, 1850, 59)
    # Wilson's interval of 1,791 in 1,850, worked outside with the formula of the paper.
    assert rate_words(figures.reading, enough=50) == "1,791 of 1,850, 96.8 % (95.9 to 97.5 %)"
    assert {port.step for port in figures.silent} == {"visit"}
    assert all(port.says.startswith("Last heard 12 May 2026, alone: visit") for port in figures.silent)


def test_crews_stand_in_the_order_of_their_names_with_counts(figures: ProgrammeFigures) -> None:
    crews = figures.groups["crew"]
    assert [crew.name for crew in crews] == ["A", "B", "C"]
    assert sum(crew.fitted for crew in crews) == 1850
    assert sum(crew.reading.count for crew in crews) == 1791
