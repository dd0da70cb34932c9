"""Drawings of evidence: signs and series told by shape and word, axes round, nothing from a file becomes markup."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from dialtrue.domain.evidence_picture import EvidencePicture, Mark, Series
from dialtrue.files.palette import DARK, LIGHT
from dialtrue.files.report.evidence_axes import figure_text, round_ticks, signed_text, spread_labels, time_ticks
from dialtrue.files.report.evidence_figures import evidence_figure
from dialtrue.files.report.style import STYLE
from tests.support.html_pages import Page

START = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
DAYS = tuple(START + dt.timedelta(days=day) for day in range(30))


def course(**changes: object) -> EvidencePicture:
    """Index as a line, dial as points, a wet spell, an onset with its interval."""
    return EvidencePicture(
        title="Dial and index", kind="line", zero=True, caption="They part.",
        series=(
            Series(name="index", unit="gal", x=DAYS, y=tuple(160.0 * day for day in range(30))),
            Series(name="dial", unit="gal", x=DAYS[::10], y=(0.0, 800.0, 1600.0), kind="points"),
        ),
        marks=(
            Mark("wet hours", "band", "wet", DAYS[3], DAYS[5]),
            Mark("since, 90 %", "band", "onset", DAYS[8], DAYS[12]),
            Mark("since", "moment", "onset", DAYS[10]),
        ),
    )  # fmt: skip


def bits(*values: float) -> EvidencePicture:
    """Bars to both sides of zero."""
    names = tuple(f"block {place}" for place in range(len(values)))
    series = Series(name="against: counts true", unit="bits", x=names, y=values)
    return EvidencePicture(title="Bits", kind="bars", series=(series,), caption="They differ.", zero=True)


def test_figure_is_whole_and_every_reference_has_its_target() -> None:
    read = Page(evidence_figure(course(), "one"))
    assert read.problems == []
    assert len(read.identities) == len(set(read.identities))
    assert set(read.references) <= set(read.identities)
    assert "4,640" in read.words  # the last index, in the table


def test_bars_against_are_outlined_and_carry_a_minus() -> None:
    drawn = evidence_figure(bits(12.5, -6.25), "one").split("</svg>")[0]
    assert drawn.count('class="bar"') == 1
    assert drawn.count('class="bar open"') == 1
    assert ">+12.5<" in drawn
    assert ">\N{MINUS SIGN}6.3<" in drawn or ">\N{MINUS SIGN}6.2<" in drawn


def test_bars_for_and_against_grow_from_the_same_zero_in_proportion() -> None:
    drawn = evidence_figure(bits(10.0, -5.0), "one").split("</svg>")[0]
    (left, width), (left_open, width_open) = (
        (float(a), float(b))
        for a, b in re.findall(r'<rect class="bar[^"]*" x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', drawn)
    )
    assert width == pytest.approx(2 * width_open, abs=0.3)
    assert left == pytest.approx(left_open + width_open, abs=0.2)


def test_lines_differ_by_dash_and_points_by_shape() -> None:
    lines = tuple(Series(name=name, unit="", x=(0.0, 1.0), y=(1.0, 2.0)) for name in ("a", "b", "c"))
    points = tuple(Series(name=name, unit="", x=(0.0, 1.0), y=(1.0, 2.0), kind="points") for name in ("d", "e", "f"))
    drawn = evidence_figure(EvidencePicture("Six", "line", lines + points, "Six."), "one")
    assert {"line first", "line second", "line third"} <= set(re.findall(r'class="(line \w+)"', drawn))
    assert all(f"<{tag} class=" in drawn for tag in ("circle", "rect", "path"))
    assert "stroke-dasharray:6 4" in STYLE
    assert "stroke-dasharray:2 3" in STYLE


def test_wet_band_and_onset_band_differ_in_form_and_are_told_in_words() -> None:
    text = evidence_figure(course(), "one")
    assert '<rect class="wet"' in text
    assert '<path class="onset hatch"' in text
    words = Page(text).words
    assert "Shaded bands are wet hours." in words
    assert "11 Mar 2026, the onset; the hatched band, 9 Mar 2026 to 13 Mar 2026" in words


def test_bars_over_time_stand_and_spans_are_framed_and_named() -> None:
    still = Series(name="still hours", unit="h", x=DAYS, y=tuple(float(day % 24) for day in range(30)))
    marks = (Mark("9.0 days still", "band", "limit", DAYS[5], DAYS[14]),)
    text = evidence_figure(EvidencePicture("Still", "bars", (still,), "Still.", marks=marks, zero=True), "one")
    stems = re.search(r'<path class="stems" stroke-width="[\d.]+" d="([^"]*)"', text)
    assert stems is not None
    assert stems.group(1).count("V") == 30
    assert '<rect class="span"' in text
    assert "Framed bands: 9.0 days still." in Page(text).words


def test_a_value_not_known_breaks_the_line() -> None:
    gap = Series(name="a", unit="", x=(0.0, 1.0, 2.0, 3.0), y=(1.0, None, 2.0, 3.0))
    drawn = evidence_figure(EvidencePicture("Gap", "line", (gap,), "A gap."), "one")
    path = re.search(r'<path class="line first" d="([^"]*)"', drawn)
    assert path is not None
    assert path.group(1).count("M") == 2


def test_names_from_files_cannot_become_markup() -> None:
    evil = '"><script>alert(1)</script>'
    series = Series(name=evil, unit=evil, x=(evil,), y=(1.0,))
    for kind in ("bars", "table"):
        text = evidence_figure(EvidencePicture(evil, kind, (series,), evil, x_name=evil), "one")
        assert "script" not in Page(text).tags
        assert Page(text).problems == []


@pytest.mark.parametrize("values", [(0.0,), (5.0, 5.0), (-3.0, -3.0), (1e-9, 2e-9), (1e12, 2e12)])
def test_flat_tiny_and_huge_series_are_drawn(values: tuple[float, ...]) -> None:
    series = Series(name="a", unit="L", x=tuple(float(place) for place in range(len(values))), y=values)
    for kind in ("line", "points", "bars"):
        text = evidence_figure(EvidencePicture("Odd", kind, (series,), "Odd."), "one")
        assert "nan" not in text
        assert Page(text).problems == []


def test_ticks_are_round_and_days_are_midnights() -> None:
    assert round_ticks(0.0, 26_746.0, about=4) == [0.0, 10_000.0, 20_000.0]
    assert round_ticks(-0.3, 0.4, about=4) == pytest.approx([-0.2, 0.0, 0.2, 0.4])
    ticks = time_ticks(START.timestamp() + 3600, START.timestamp() + 59 * 86_400, about=6)
    assert [words for _, words in ticks] == ["15 Mar", "29 Mar", "12 Apr", "26 Apr"]
    assert all(at % 86_400 == 0 for at, _ in ticks)


def test_labels_are_moved_apart_as_little_as_that_takes() -> None:
    assert spread_labels([50.0, 52.0, 100.0], apart=10.0, top=0.0, bottom=105.0) == [50.0, 60.0, 100.0]
    assert spread_labels([100.0, 104.0], apart=10.0, top=0.0, bottom=105.0) == [95.0, 105.0]


def test_figures_keep_three_digits_and_a_true_minus() -> None:
    assert [figure_text(value) for value in (0.0, -0.25, 12_345.6, 2.0)] == ["0", "\N{MINUS SIGN}0.25", "12,346", "2"]
    assert [signed_text(value) for value in (0.04, -1.26, 12.5)] == ["0.0", "\N{MINUS SIGN}1.3", "+12.5"]


def _luminance(colour: str) -> float:
    """Relative luminance of sRGB, by the definition that WCAG 2 gives."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _page_colours(text: str) -> dict[str, str]:
    return dict(re.findall(r"--(\w+):(#[0-9a-f]{6})", text))


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_every_colour_of_words_and_lines_stands_out_from_its_paper(dark: bool) -> None:
    light, _, rest = STYLE.partition("@media (prefers-color-scheme:dark)")
    colours = _page_colours(rest.partition("}}")[0] if dark else light)
    for role, least in (("ink", 7.0), ("soft", 4.5), ("water", 4.5), ("visit", 4.5), ("look", 4.5)):
        pair = sorted((_luminance(colours[role]), _luminance(colours["paper"])))
        assert (pair[1] + 0.05) / (pair[0] + 0.05) >= least, role
    assert (DARK if dark else LIGHT).keys() <= colours.keys()
