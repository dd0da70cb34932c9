"""Job sheets as one HTML page: an article a site, for ears, phones and dark rooms, printed a page a site."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from dialtrue.domain.job_sheet.sheet import SECTIONS, Check, Fact, JobSheet, RegisterPart, WiringPart
from dialtrue.domain.words import counted
from dialtrue.files.job_sheets.codes import CodePicture, bar_code, qr_code
from dialtrue.files.job_sheets.html_drawings import Drawings
from dialtrue.files.job_sheets.html_style import SHEET_STYLE, page_rule, print_size
from dialtrue.files.job_sheets.start_picture import boxes_svg, start_svg
from dialtrue.files.report.markup import safe, serial
from dialtrue.files.report.whole_page import whole_page

BAR_MM: Final = 84.0
SITE_CODE_MM: Final = 24.0
_BOX_MM: Final = 4.4
_TAGS: Final = re.compile(r"<(details|desc|title)\b.*?</\1>|<[^>]+>", re.DOTALL)
"""Tags, and words that are not printed."""


def sheets_html(sheets: Sequence[JobSheet], *, paper: str = "letter", title: str = "Job sheets") -> str:
    """Lay job sheets out as one page.

    Parameters
    ----------
    sheets : sequence of JobSheet
        One or more.
    paper : str
        ``letter`` or ``a4``, for printing.
    title : str
        The page's title; any text.

    Returns
    -------
    str
        A whole HTML page that reaches nowhere and runs nothing.

    Raises
    ------
    ExtraMissing
        segno is not installed.

    Source
    ------
    Our own look.
    """
    ask = sum(sheet.status == "ask" for sheet in sheets)
    told = (
        f"{counted(len(sheets), 'sheet')}, {ask} with questions to ask first." if ask else counted(len(sheets), "sheet")
    )
    links = "".join(f'<li><a href="#s{place}">{safe(sheet.title)}</a></li>' for place, sheet in enumerate(sheets))
    header = f'<p class="summary">{safe(told)}</p><nav aria-label="Sheets"><ul>{links}</ul></nav>'
    drawings = Drawings()
    articles = "".join(_article(sheet, place, drawings) for place, sheet in enumerate(sheets))
    main = drawings.held() + articles
    return whole_page(
        title, header=header, main=main, footer="", skip="To the sheets", style=SHEET_STYLE + page_rule(paper)
    )


def _article(sheet: JobSheet, place: int, drawings: Drawings) -> str:
    """Lay out one sheet."""
    bodies = (
        _find(sheet), _heed(sheet), _take(sheet), _wire(sheet, drawings), _key(sheet), _prove(sheet), _leave(sheet),
    )  # fmt: skip
    parts = "".join(
        f'<section class="step" aria-labelledby="s{place}-{number}"><h3 id="s{place}-{number}">'
        f"<b>{number}</b> {safe(name)}</h3><div>{body}</div></section>"
        for number, (name, body) in enumerate(zip(SECTIONS, bodies, strict=True), start=1)
    )
    size = print_size(len(_TAGS.sub("", parts)), len(sheet.registers))
    return (
        f'<article class="sheet{" two" if len(sheet.registers) > 1 else ""}" id="s{place}" style="--print:{size}" '
        f'aria-labelledby="s{place}-t">{_head(sheet, place)}{_questions(sheet)}{parts}</article>'
    )


def _head(sheet: JobSheet, place: int) -> str:
    """Say which site it is, where it is, when it is visited."""
    ask = ' <strong class="ask">ask first</strong>' if sheet.status == "ask" else ""
    stop = f'<p class="stop">{safe(sheet.stop.text)}</p>' if sheet.stop else ""
    code = _code(qr_code(sheet.site_code, most_mm=SITE_CODE_MM))
    return (
        f'<div class="head"><div><h2 id="s{place}-t">{safe(sheet.title)}{ask}</h2>{_facts(sheet.where)}{stop}</div>'
        f"{code}</div>"
    )


def _questions(sheet: JobSheet) -> str:
    """Put the questions on top, each with a line for its answer."""
    if not sheet.questions:
        return ""
    items = "".join(f"<li>{safe(text)}{_fill(wide=True)}</li>" for text in sheet.questions)
    return f'<div class="questions"><p><strong>Ask and write down before any work</strong></p><ol>{items}</ol></div>'


def _find(sheet: JobSheet) -> str:
    """Show every register: serial, code, facts."""
    drawn: set[str] = set()
    columns = []
    for part in sheet.registers:
        code = ""
        if part.meter_serial not in drawn:
            drawn.add(part.meter_serial)
            code = _code(bar_code(part.meter_serial, most_mm=BAR_MM))
        columns.append(
            f'<div><p class="meter">{_tag(part)}Meter {serial(part.meter_serial)}</p>{code}{_facts(part.facts)}</div>'
        )
    together = f"<p><strong>{safe(sheet.together)}</strong></p>" if sheet.together else ""
    return f'<div class="columns of{len(columns)}">{"".join(columns)}</div>{together}'


def _heed(sheet: JobSheet) -> str:
    """List the cautions below what goes before them."""
    items = "".join(f"<li><strong>{safe(item.topic)}.</strong> {safe(item.says)}</li>" for item in sheet.cautions)
    return f'<p><em>{safe(sheet.precedence)}</em></p><ul class="cautions">{items}</ul>'


def _take(sheet: JobSheet) -> str:
    """List the parts as a table to tick."""
    if not sheet.parts:
        return "<p>No parts are planned: settle the questions first.</p>"
    rows = "".join(
        f'<tr><th scope="row"><span class="box" aria-hidden="true"></span>{safe(part.title)}</th>'
        f'<td class="num">{safe(part.quantity)} {safe(part.unit)}</td></tr>'
        for part in sheet.parts
    )
    return (
        '<table class="parts"><thead><tr><th scope="col">Part</th><th scope="col" class="num">How many</th></tr>'
        "</thead>"
        f"<tbody>{rows}</tbody></table>"
    )


def _wire(sheet: JobSheet, drawings: Drawings) -> str:
    """Show the drawing, its words, and the terminations."""
    drawn = "".join(_drawing(item, drawings) for item in sheet.wiring)
    practice = f'<div><p class="small">Terminations, common practice</p>{_checks(sheet.terminations)}</div>'
    return f'<div class="drawn"><div>{drawn}</div>{practice}</div>' if drawn else practice


def _drawing(item: WiringPart, drawings: Drawings) -> str:
    """Show one drawing with its text, or say why there is none."""
    if not item.drawing:
        return f"<p><strong>{safe(item.note)}</strong></p>"
    words = f"<details><summary>The drawing in words</summary><p>{safe(item.description)}</p></details>"
    caption = f"<figcaption>{safe(item.title)}</figcaption>"
    return f'<figure class="wiring"><div class="lined">{drawings.shown(item)}</div>{caption}</figure>{words}'


def _key(sheet: JobSheet) -> str:
    """Show what is keyed and the start index under the dial."""
    columns = []
    for part in sheet.registers:
        head = _which(sheet, part)
        columns.append(f'<div class="keyed"><div>{head}{_facts(part.keyed)}</div><div>{_start(part)}</div></div>')
    return f'<div class="columns of{len(columns)}">{"".join(columns)}</div>'


def _start(part: RegisterPart) -> str:
    """Show dial above index, with rule and example."""
    if part.start is None:
        return "<p>The start index cannot be prepared: dial or index is not known.</p>"
    svg, _ = start_svg(part.start)
    note = f"<p>{safe(part.key_note)}</p>" if part.key_note else ""
    return (
        f'<div class="lined start">{svg}</div><p><strong>{safe(part.start.rule)}</strong></p>'
        f'<p class="small">{safe(part.start.example)}</p>{note}'
    )


def _prove(sheet: JobSheet) -> str:
    """Show the proof of every register and one table for all readings."""
    columns = []
    for part in sheet.registers:
        body = "<p>No proof is planned: settle the questions first.</p>"
        if part.proof is not None:
            body = _facts(part.proof.facts) + "".join(f"<p>{safe(note)}</p>" for note in part.proof.notes)
        columns.append(f"<div>{_which(sheet, part)}{body}</div>")
    return f'<div class="columns of{len(columns)}">{"".join(columns)}</div>{_readings(sheet)}'


def _readings(sheet: JobSheet) -> str:
    """Lay out the table of readings."""
    heads = []
    cells = []
    for part in sheet.registers:
        name = f"{part.tag or part.meter_serial} " if len(sheet.registers) > 1 else ""
        heads += [f'<th scope="col">{safe(name + kind)}</th>' for kind in ("dial", "index")]
        cells += [_boxes(part.dial_positions, part.painted), _boxes(part.index_digits, 0)]
    rows = "".join(
        f'<tr><th scope="row">{safe(label)}</th><td class="time"></td>{"".join(cells)}</tr>' for label in sheet.readings
    )
    return (
        '<div class="scroll"><table class="readings"><caption>Write every position of the dial, painted zeros too'
        f'</caption><thead><tr><th scope="col">When</th><th scope="col">Time</th>{"".join(heads)}</tr></thead>'
        f"<tbody>{rows}</tbody></table></div>"
    )


def _boxes(positions: int, painted: int) -> str:
    """Return a cell with boxes for digits, empty to a screen reader."""
    if not positions:
        return '<td class="time"></td>'
    width = positions * _BOX_MM
    drawn = boxes_svg(positions, painted)
    return f'<td><span class="digits" style="width:{width:.1f}mm" aria-hidden="true">{drawn}</span></td>'


def _leave(sheet: JobSheet) -> str:
    """Show the tamper loop, the ticks, the lines to sign."""
    follow = f"<p><strong>{safe(sheet.follow_up)}</strong></p>" if sheet.follow_up else ""
    loops = ""
    for choice in sheet.tamper:
        options = "".join(
            '<li><span class="box" aria-hidden="true"></span>'
            + (f"<strong>{safe(option)} (planned)</strong>" if option == choice.planned else safe(option))
            + "</li>"
            for option in choice.options
        )
        note = f'<p class="small">{safe(choice.note)}</p>' if choice.note else ""
        loops += f'<div class="choice"><p class="small">{safe(choice.label)}</p><ul>{options}</ul>{note}</div>'
    blanks = "".join(f"<div><dt>{safe(blank.label)}</dt><dd>{_fill()}</dd></div>" for blank in sheet.blanks)
    return f'{follow}{loops}{_checks(sheet.as_left)}<dl class="facts blanks">{blanks}</dl>'


def _which(sheet: JobSheet, part: RegisterPart) -> str:
    """Name the register where the page has two."""
    if len(sheet.registers) == 1:
        return ""
    return f'<p class="meter">{_tag(part) or f"Meter {serial(part.meter_serial)}"}</p>'


def _tag(part: RegisterPart) -> str:
    """Set HIGH on ink and LOW in a frame: told apart without colour."""
    return f'<strong class="tag {safe(part.role)}">{safe(part.tag)}</strong> ' if part.tag else ""


def _facts(facts: Sequence[Fact]) -> str:
    """Lay facts out as a list of terms; what is not known gets a line to fill in."""
    rows = "".join(
        f"<div><dt>{safe(fact.label)}</dt><dd>"
        + (_fill() if not fact.text else serial(fact.text) if fact.digits else safe(fact.text))
        + "</dd></div>"
        for fact in facts
    )
    return f'<dl class="facts">{rows}</dl>'


def _checks(checks: Sequence[Check]) -> str:
    """List things to tick."""
    items = "".join(f'<li><span class="box" aria-hidden="true"></span>{safe(check.text)}</li>' for check in checks)
    return f'<ul class="ticks">{items}</ul>'


def _fill(*, wide: bool = False) -> str:
    """Return a line to write on."""
    return f'<span class="fill{" wide" if wide else ""}" role="img" aria-label="to be filled in"></span>'


def _code(picture: CodePicture) -> str:
    """Show a code at its size with its text for those who do not see it, or say what to do instead."""
    note = f'<span class="small">{safe(picture.note)}</span>' if picture.note else ""
    if not picture.svg:
        return f'<p class="code">{note}</p>'
    size = f"width:{picture.width_mm:.1f}mm;height:{picture.height_mm:.1f}mm"
    drawn = f'<span role="img" aria-label="{safe(picture.alt)}" style="{size}">{picture.svg}</span>'
    return f'<p class="code">{drawn}{note}</p>'
