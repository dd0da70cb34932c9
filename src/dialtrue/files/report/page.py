"""The whole report page, put together from its sections."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from dialtrue import __version__
from dialtrue.domain.faults import CATALOGUE, INNOCENT
from dialtrue.domain.finding import Crossing, Finding, asking, naming
from dialtrue.domain.watch_result import WatchResult
from dialtrue.domain.words import PROBABILITY_WORDS, counted, day_text, probability_text, summary_sentence, volume_text
from dialtrue.files.report.charts import charts_available
from dialtrue.files.report.finding_card import finding_card
from dialtrue.files.report.markup import safe, section, serial, state, table
from dialtrue.files.report.whole_page import whole_page, write_page

IN_FULL: Final = 10
LISTED: Final = 500


def write_report(path: Path, result: WatchResult, *, title: str, at: dt.datetime) -> None:
    """Write the report, whole or not at all.

    Parameters
    ----------
    path : Path
        Where to; an existing file is replaced.
    result : WatchResult
        What a watch gave.
    title : str
        Name of the programme.
    at : datetime
        When it was judged, UTC.

    Raises
    ------
    OutputNotWritten
        The system refused; what stood there is unchanged.

    Source
    ------
    Definition.
    """
    write_page(path, report_page(result, title=title, at=at))


def report_page(result: WatchResult, *, title: str, at: dt.datetime) -> str:
    """Return the report as one HTML text that needs no network and no script. Never raises."""
    asked = sorted(
        asking(result.findings), key=lambda finding: finding.action != "visit"
    )  # visits first; priority decides within each
    body = [
        ("first", "Worth a visit first", _first(asked, result)),
        ("crossings", "Exchanged endpoints", _crossings(result.crossings)),
        ("counts", "Ports by cause", _counts(result)),
        ("rest", "All that ask for work", _rest(asked, result)),
        ("notes", "Notes, no work on the wiring", _notes(result)),
        ("missing", "Missing, and what that costs", _missing(result)),
        ("rows", "Rows left out", _bad_rows(result)),
        ("repairs", "Repairs, made only if accepted", _repairs(result)),
        ("said", "Said while reading the files", _said(result.said)),
    ]
    shown = [(identity, name, part) for identity, name, part in body if part]
    links = "".join(f'<li><a href="#{identity}">{safe(name)}</a></li>' for identity, name, _ in shown)
    sections = "".join(section(identity, name, part) for identity, name, part in shown)
    header = (
        f'<p class="summary">{safe(summary_sentence(result.summary))}</p>{_balance(result)}'
        f'<nav aria-label="Sections"><ul>{links}</ul></nav>'
    )
    return whole_page(title, header=header, main=sections, footer=_footer(at))


def _balance(result: WatchResult) -> str:
    """Say how the volume at stake splits into over and under registration."""
    summary = result.summary
    if not summary.volume_at_stake_l:
        return ""
    over, under = (
        volume_text(litres, summary.unit) for litres in (summary.over_registered_l, summary.under_registered_l)
    )
    return f'<p class="small">Registered too much: {safe(over)}. Registered too little: {safe(under)}.</p>'


def _first(asked: Sequence[Finding], result: WatchResult) -> str:
    """The first few in full, headed by a short table of them."""
    if not asked:
        return "<p>Nothing asks for a visit or a check.</p>"
    first = asked[:IN_FULL]
    charts = charts_available()
    without = "" if charts else (
        '<p class="small">Charts are left out: the package that draws them is not installed. '
        "<code>pip install 'dialtrue[charts]'</code> brings them.</p>"
    )  # fmt: skip
    cards = "".join(
        finding_card(place, finding, result.traces.get(_key(finding)), unit=result.summary.unit, charts=charts)
        for place, finding in enumerate(first, start=1)
    )
    return _overview(first, result, links=True) + without + cards


def _key(finding: Finding) -> tuple[str, str, int]:
    return finding.meter_serial, finding.endpoint_serial, finding.port


def _overview(findings: Sequence[Finding], result: WatchResult, *, links: bool) -> str:
    """A table of findings: meter, cause, since, error."""
    rows = []
    for place, finding in enumerate(findings, start=1):
        trace = result.traces.get(_key(finding))
        unit = trace.dial_unit if trace is not None else result.summary.unit
        name = serial(finding.meter_serial or "no fitting")
        meter = f'<a href="#finding-{place}">{name}</a>' if links else name
        under = (trace.address or trace.site) if trace is not None else f"endpoint {finding.endpoint_serial}"
        cause = safe(CATALOGUE[finding.fault].title)
        error = (
            "not known" if finding.volume_error_l is None else volume_text(finding.volume_error_l, unit, signed=True)
        )
        rows.append(
            (
                f'{meter}<span class="stack">{safe(under)}</span>',
                f'{cause}<span class="stack">{safe(probability_text(finding.probability))}</span>',
                state(finding.action),
                f'<span class="day">{day_text(finding.since)}</span>',
                safe(error),
            )
        )
    return table(("meter", "cause", "asks for", "since", "volume error"), rows, right=(4,), hide_on_phone=(2, 3))


def _rest(asked: Sequence[Finding], result: WatchResult) -> str:
    """Every finding that asks for work, behind a fold."""
    if len(asked) <= IN_FULL:
        return ""
    grid = _overview(asked[:LISTED], result, links=False)
    more = f"<p>The findings file holds all {len(asked):,}.</p>" if len(asked) > LISTED else ""
    return f"<details><summary>{counted(len(asked), 'finding')}</summary>{grid}{more}</details>"


def _counts(result: WatchResult) -> str:
    """Ports by cause, innocents left to the notes."""
    by_fault = result.summary.by_fault
    codes = sorted(
        (code for code, count in by_fault.items() if count and code not in INNOCENT),
        key=lambda code: (code == "sound", -by_fault[code], code),
    )
    rows = [(safe(CATALOGUE[code].title), f"<code>{safe(code)}</code>", f"{by_fault[code]:,}") for code in codes]
    return table(("cause", "code", "ports"), rows, right=(2,)) if rows else ""


def _crossings(crossings: Sequence[Crossing]) -> str:
    """The rings of exchanged endpoints."""
    if not crossings:
        return ""
    rows = [
        (
            str(row.ring),
            serial(row.meter_serial),
            serial(row.endpoint_serial),
            serial(row.true_endpoint_serial) + (f" port {row.true_port}" if row.true_port != 1 else ""),
            safe(row.kind or "wires or records"),
            safe(probability_text(row.probability)),
        )
        for row in crossings[:LISTED]
    ]
    head = ("ring", "meter", "recorded endpoint", "counted by", "exchanged", "probability")
    return table(head, rows, hide_on_phone=(4,))


def _notes(result: WatchResult) -> str:
    """The innocents: real water, or none; never a fault of the fitting."""
    parts = []
    for code in CATALOGUE:
        notes = naming(result.findings, code) if code in INNOCENT else ()
        if not notes:
            continue
        rows = [
            (serial(finding.meter_serial), safe(finding.verdict), safe(probability_text(finding.probability)))
            for finding in notes[:LISTED]
        ]
        grid = table(("meter", "note", "probability"), rows)
        parts.append(f"<details><summary>{safe(CATALOGUE[code].title)}: {len(notes):,}</summary>{grid}</details>")
    return "".join(parts)


def _missing(result: WatchResult) -> str:
    items = "".join(f"<li><strong>{safe(name)}</strong>: {safe(cost)}.</li>" for name, cost in result.missing)
    return f'<ul class="plain">{items}</ul>' if items else ""


def _bad_rows(result: WatchResult) -> str:
    """Rows that were not loaded: the count by file, the first ones of each file in full."""
    if not result.bad_rows:
        return ""
    counts = "; ".join(f"{name}: {count:,}" for name, count in result.bad_rows.items())
    rows = [
        (
            f"{safe(item.file)}, row {item.row:,}",
            safe(item.column),
            serial(item.value),
            f'{safe(item.expected)}<span class="stack">{safe(item.remedy)} <code>{safe(item.code)}</code></span>',
        )
        for item in result.problems[:LISTED]
    ]
    grid = table(("where", "column", "what stands there", "what is expected, and what to do"), rows)
    return f"<p>{safe(counts)}.</p><details><summary>{counted(len(rows), 'row')} in full</summary>{grid}</details>"


def _repairs(result: WatchResult) -> str:
    """Repairs that are offered or were made."""
    rows = [
        (
            f"<code>{safe(item.key)}</code>",
            safe(item.file) + (f", row {item.row:,}" if item.row else ""),
            f"{safe(item.column)}: {serial(item.original)} to {serial(item.proposed)}"
            f'<span class="stack">{safe(item.why)}</span>',
            "made" if item.accepted else "offered",
        )
        for item in sorted(result.repairs, key=lambda item: not item.accepted)[:LISTED]
    ]
    if not rows:
        return ""
    say = "<p>Nothing is repaired without your word: <code>--accept KEY</code> accepts one, by its key or its kind.</p>"
    return say + table(("key", "where", "from what to what, and why", "state"), rows, hide_on_phone=(1,))


def _said(said: Sequence[str]) -> str:
    items = "".join(f"<li>{safe(sentence)}</li>" for sentence in said)
    return f'<ul class="plain">{items}</ul>' if items else ""


def _footer(at: dt.datetime) -> str:
    """Say when, by what, and how to read the words."""
    words = ", ".join(f"{word} from {least:.2f}" for least, word in PROBABILITY_WORDS[:-1])
    return (
        f"<footer><p>Judged {day_text(at)} by dialtrue {safe(__version__)}. Days are UTC.</p>"
        f"<p>Words for probabilities: {words}; below that, {PROBABILITY_WORDS[-1][1]}.</p>"
        "<p>Volume error: what the index registered less what passed since the fitting; with a minus the customer was "
        "billed too little. A finding is a reason to look, not a bill.</p></footer>"
    )
