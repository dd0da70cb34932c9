"""The page behind one verdict: the causes, what each block says in bits, and every picture with its figures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from dialtrue import __version__
from dialtrue.domain.explanation import Explanation, bits_picture, bits_rows
from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.words import day_text, printable, probability_text
from dialtrue.files.report.drums import drums_figure
from dialtrue.files.report.evidence_axes import signed_text
from dialtrue.files.report.evidence_figures import evidence_drawing, evidence_figure
from dialtrue.files.report.finding_card import dial_table, figure_list, finding_head
from dialtrue.files.report.markup import safe, section, serial, table
from dialtrue.files.report.whole_page import whole_page, write_page


def write_explanation(path: Path, explained: Sequence[Explanation], *, title: str, at: dt.datetime) -> None:
    """Write the page, whole or not at all.

    Parameters
    ----------
    path : Path
        Where to; an existing file is replaced.
    explained : sequence of Explanation
        One a port; at least one.
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
    write_page(path, explanation_page(explained, title=title, at=at))


def explanation_page(explained: Sequence[Explanation], *, title: str, at: dt.datetime) -> str:
    """Return the page as one HTML text that needs no network and no script. Never raises."""
    meter = explained[0].finding.meter_serial
    sections = []
    for place, item in enumerate(explained, start=1):
        name = f"Endpoint {item.finding.endpoint_serial} port {item.finding.port}"
        if item.finding.register_role not in ("", "single"):
            name += f", {item.finding.register_role} register"
        sections.append(section(f"port-{place}", printable(name), _port(place, item)))
    header = f'<p class="summary">Why meter {serial(meter)} is judged as it is</p>' + _contents(explained)
    return whole_page(
        printable(f"{title}: meter {meter}"), header=header, main="".join(sections), footer=_footer(at),
        skip="To the verdict",
    )  # fmt: skip


def _contents(explained: Sequence[Explanation]) -> str:
    """Link to each part of the first port, and to each further port."""
    parts = [
        ("p1-verdict", "Verdict"),
        ("p1-causes", "Leading causes"),
        ("p1-bits", "Bits for and against"),
        *((f"p1-picture-{number}", picture.title) for number, picture in enumerate(explained[0].pictures, start=1)),
    ]
    parts += [(f"port-{place}", f"Port {place}") for place in range(2, len(explained) + 1)]
    links = "".join(f'<li><a href="#{identity}">{safe(name)}</a></li>' for identity, name in parts)
    return f'<nav aria-label="Sections"><ul>{links}</ul></nav>'


def _port(place: int, item: Explanation) -> str:
    """Everything about one port."""
    trace, key = item.trace, f"p{place}"
    parts = [
        f'<article aria-labelledby="{key}-verdict">',
        finding_head(item.finding, trace, unit=trace.dial_unit, identity=f"{key}-verdict"),
        drums_figure(trace),
        "</article>",
        _causes(item, f"{key}-causes"),
        _bits(item, f"{key}-bits"),
    ]
    for number, picture in enumerate(item.pictures, start=1):
        identity = f"{key}-picture-{number}"
        parts.append(f'<h3 class="part" id="{identity}">{safe(picture.title)}</h3>')
        parts.append(evidence_figure(picture, f"{identity}-f", legend=number == 1))
        if number == 1:
            parts.append(dial_table(trace))
    if item.neighbour is None:
        parts.append('<p class="small">No neighbour\u2019s dial explains this index.</p>')
    return "".join(parts)


def _causes(item: Explanation, identity: str) -> str:
    """The leading causes with their probabilities, as bars that are figures too."""
    rows = [
        (
            f'{safe(CATALOGUE[chance.fault].title)}<span class="stack"><code>{safe(chance.fault)}</code></span>',
            _meter(chance.probability),
            safe(probability_text(chance.probability) if chance.probability >= 0.01 else "under 0.01"),
        )
        for chance in item.chances
    ]
    grid = table(("cause", "", "probability"), rows, hide_on_phone=(1,))
    return f'<h3 class="part" id="{identity}">Leading causes</h3>{grid}'


def _meter(share: float) -> str:
    """Draw a probability as a bar on a rule; its figure stands in the next cell."""
    return (
        '<svg class="share" viewBox="0 0 200 12" width="200" height="12" aria-hidden="true">'
        f'<path class="grid" d="M0 11.5H200"/><rect class="bar" x="0" y="1" width="{max(200 * share, 0.8):.1f}" '
        'height="9"/></svg>'
    )


def _bits(item: Explanation, identity: str) -> str:
    """What each block says, drawn and told."""
    picture = bits_picture(item)
    two = len(picture.series) > 1
    figures = {say.block: figure_list(say.figures, item.trace.dial_unit) for say in item.says}
    rows = [
        (
            f'<b>{safe(name)}</b> {safe(words)}<span class="stack">{figures.get(name, "")}</span>',
            signed_text(to_other),
            signed_text(to_runner_up),
        )
        for name, words, to_other, to_runner_up in bits_rows(item)
    ]
    head = ["block, and what it says", f"bits against {item.other}"]
    if two:
        head.append(f"bits against {item.finding.runner_up}")
    grid = table(head, [row[: len(head)] for row in rows], right=(1, 2), hide_on_phone=(2,), caption=picture.title)
    return (
        f'<h3 class="part" id="{identity}">{safe(picture.title)}</h3><figure>'
        f"{evidence_drawing(picture, f'{identity}-f')}"
        f"<figcaption>{safe(picture.caption)} Filled bars speak for it, outlined bars against it.</figcaption></figure>"
        f"<details open><summary>What each block says</summary>{grid}</details>"
    )


def _footer(at: dt.datetime) -> str:
    """Say when, by what, and what a bit is."""
    return (
        f"<footer><p>Judged {day_text(at)} by dialtrue {safe(__version__)}. Days are UTC; hours of the day are the "
        "programme's own.</p><p>One bit doubles the odds of the named cause, ten bits make them a thousand times as "
        "high; the sum of all rows is the logarithm of the odds. A finding is a reason to look, not a bill.</p>"
        "</footer>"
    )
