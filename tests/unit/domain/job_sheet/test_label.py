"""Labels: three for a port, their words, and grids that no sheet can have."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from dialtrue.domain.errors import LabelGridUnfit
from dialtrue.domain.job_sheet.code_text import code_text
from dialtrue.domain.job_sheet.label import SHIPPED_GRIDS, labels_for
from tests.support.job_sheets import ask, compound, register


def test_each_port_gets_one_label_and_each_cable_one_at_either_end() -> None:
    labels = labels_for(compound())
    assert [(label.kind, label.end, label.tag, label.place) for label in labels] == [
        ("endpoint", "", "HIGH", "port 1"),
        ("cable", "meter end", "HIGH", "port 1"),
        ("cable", "endpoint end", "HIGH", "port 1"),
        ("endpoint", "", "LOW", "port 2"),
        ("cable", "meter end", "LOW", "port 2"),
        ("cable", "endpoint end", "LOW", "port 2"),
    ]


def test_no_two_labels_carry_the_same_code() -> None:
    labels = labels_for([*compound(), register()])
    assert len({label.qr_text for label in labels}) == len(labels)


def test_a_register_without_a_port_has_no_label() -> None:
    assert labels_for([ask()]) == ()


def test_a_second_endpoint_is_named() -> None:
    assert labels_for([register(endpoint_number=2)])[0].place == "endpoint 2, port 1"


def test_marks_with_a_meaning_are_written_as_percent_codes() -> None:
    assert code_text(site="a;b=c%", meters=("1",)) == "site=a%3Bb%3Dc%25;meter=1"


@pytest.mark.parametrize("name", sorted(SHIPPED_GRIDS))
def test_shipped_grids_lie_on_their_paper(name: str) -> None:
    grid = SHIPPED_GRIDS[name]
    across, down = grid.page_mm
    assert grid.left_mm + (grid.columns - 1) * grid.step_x_mm + grid.width_mm <= across
    assert grid.top_mm + (grid.rows - 1) * grid.step_y_mm + grid.height_mm <= down


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"columns": 4}, "4 labels across reach 280.9 mm on a paper of 215.9 mm"),
        ({"rows": 11}, "11 labels down reach"),
        ({"step_x_mm": 60.0}, "overlap across"),
        ({"height_mm": 12.0}, "at least 45 by 20 mm are needed"),
    ],
)
def test_a_grid_that_no_sheet_can_have_is_refused(change: dict[str, Any], said: str) -> None:
    with pytest.raises(LabelGridUnfit, match=said):
        dataclasses.replace(SHIPPED_GRIDS["letter"], **change)
