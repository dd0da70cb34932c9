"""Sheets as a page: the same words, for every reader, reaching nowhere."""

from __future__ import annotations

import re

import pytest

from dialtrue.domain.job_sheet.sheet import SECTIONS
from dialtrue.files.job_sheets.html import sheets_html
from tests.support.html_pages import Page
from tests.support.job_sheets import ask, compound, every_kind, register, sheets_of

HOSTILE = '<script>alert(1)</script> "quoted" &amp; \u202eevil\x1b[2J'


def squeezed(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_tags_balance_references_lead_somewhere_and_nothing_runs(paper: str) -> None:
    page = Page(sheets_html(sheets_of(every_kind()), paper=paper))
    assert page.problems == []
    assert len(set(page.identities)) == len(page.identities)
    assert set(page.references) <= set(page.identities)
    assert "script" not in page.tags
    assert not any(value.startswith(("http:", "https:", "//")) for _, name, value in page.attributes if name != "xmlns")


def test_one_article_a_site_with_every_part_as_a_heading() -> None:
    sheets = sheets_of(every_kind())
    page = Page(sheets_html(sheets))
    assert page.tags.count("article") == len(sheets)
    assert page.tags.count("h2") == len(sheets)
    assert page.tags.count("h3") == len(sheets) * len(SECTIONS)


def test_every_table_has_heads_with_scope() -> None:
    page = Page(sheets_html(sheets_of(every_kind())))
    scopes = [value for tag, name, value in page.attributes if tag == "th" and name == "scope"]
    assert page.tags.count("th") == len(scopes)
    assert set(scopes) == {"col", "row"}


def test_the_words_are_those_of_the_sheet() -> None:
    (sheet,) = sheets_of(compound())
    words = squeezed(Page(sheets_html([sheet])).words)
    said = [fact.text for part in sheet.registers for fact in (*part.facts, *part.keyed)]
    said += [caution.says for caution in sheet.cautions] + [
        check.text for check in (*sheet.terminations, *sheet.as_left)
    ]
    said += [line.title for line in sheet.parts] + [sheet.precedence, sheet.together, sheet.follow_up, *sheet.readings]
    said += [part.start.rule for part in sheet.registers if part.start]
    for text in said:
        assert squeezed(text) in words, text


def test_high_and_low_differ_in_more_than_colour() -> None:
    html = sheets_html(sheets_of(compound()))
    assert '<strong class="tag high">HIGH</strong>' in html
    assert '<strong class="tag low">LOW</strong>' in html


def test_questions_come_before_the_work_and_are_counted_at_the_top() -> None:
    html = sheets_html(sheets_of([register(), ask()]))
    assert "2 sheets, 1 with questions to ask first." in html
    asked = html.index("How many painted zeros")
    assert html.index("Ask and write down before any work") < asked < html.index("Find", asked)


def test_texts_from_files_are_escaped() -> None:
    html = sheets_html(sheets_of([register(site=HOSTILE, address=HOSTILE, meter_serial=HOSTILE, proof_note=HOSTILE)]))
    assert "<script>" not in html
    assert "\x1b" not in html
    assert "\u202e" not in html
    assert Page(html).problems == []


def test_paper_sets_the_size_of_the_print() -> None:
    assert "@page{size:A4;" in sheets_html(sheets_of([register()]), paper="a4")
    assert "@page{size:letter;" in sheets_html(sheets_of([register()]))


def test_a_drawing_of_many_sheets_is_held_once_and_shown_on_each() -> None:
    html = sheets_html(sheets_of([register(site=f"S-{n}") for n in range(5)]))
    assert html.count("<symbol") == 1
    assert html.count('<use href="#w0"/>') == 5
    assert html.count("Lead 1 goes to pulse +.") == 5
