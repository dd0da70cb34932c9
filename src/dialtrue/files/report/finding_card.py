"""One finding in full: verdict, the lined-up dial and index, the chart, and the reasons behind a fold."""

from __future__ import annotations

import shlex

from dialtrue.domain.evidence_picture import EvidencePicture, Series
from dialtrue.domain.explanation import NATS_PER_BIT
from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.figure_words import figure_words, number_text
from dialtrue.domain.finding import Figure, Finding
from dialtrue.domain.watch_result import DialPoint, PortTrace
from dialtrue.domain.words import day_text, interval_text, printable, probability_text, volume_text
from dialtrue.files.report.charts import SOURCES, chart_svgs
from dialtrue.files.report.drums import drums_figure
from dialtrue.files.report.evidence_axes import signed_text
from dialtrue.files.report.evidence_figures import evidence_drawing
from dialtrue.files.report.markup import safe, serial, state, table


def finding_card(place: int, finding: Finding, trace: PortTrace | None, *, unit: str, charts: bool) -> str:
    """Return one finding as an article; ``place`` numbers it on the page."""
    parts = [
        f'<article id="finding-{place}" aria-labelledby="finding-{place}-t">',
        finding_head(finding, trace, unit=unit, identity=f"finding-{place}-t", before=f"{place}. "),
    ]
    if trace is not None:
        parts.append(drums_figure(trace))
        if charts:
            parts.append(_chart(place, trace))
        parts.append(dial_table(trace))
    if finding.evidence:
        parts.append(_evidence(place, finding, trace.dial_unit if trace is not None else unit))
    if finding.meter_serial:
        command = f"<code>dialtrue explain FOLDER {safe(shlex.quote(printable(finding.meter_serial)))}</code>"
        parts.append(f'<p class="small">Every block, look and picture behind it: {command}</p>')
    parts.append("</article>")
    return "".join(parts)


def finding_head(finding: Finding, trace: PortTrace | None, *, unit: str, identity: str, before: str = "") -> str:
    """Return where the finding is, its verdict as a heading of that identity, its facts and the check to make."""
    unit = trace.dial_unit if trace is not None else unit
    verdict = finding.verdict or CATALOGUE[finding.fault].title
    parts = [
        _where(finding, trace),
        f'<h3 id="{identity}">{before}{safe(verdict)}</h3>',
        _facts(finding, unit),
    ]
    if finding.next_check:
        parts.append(f'<p class="next"><strong>Check:</strong> {safe(finding.next_check)}</p>')
    return "".join(parts)


def _where(finding: Finding, trace: PortTrace | None) -> str:
    """Say which meter and port, and where."""
    role = "" if finding.register_role in ("", "single") else f" {safe(finding.register_role)} register"
    meter = (
        f"<span>meter {serial(finding.meter_serial)}{role}</span>"
        if finding.meter_serial
        else "<span>no fitting</span>"
    )
    bits = [
        state(finding.action),
        meter,
        f"<span>endpoint {serial(finding.endpoint_serial)} port {finding.port}</span>",
    ]
    if trace is not None:
        place = trace.address or (f"site {trace.site}" if trace.site else "")
        bits += [f"<span>{safe(place)}</span>"] if place else []
        bits += [f"<span>fitted {day_text(trace.fitted_at)}</span>"] if trace.fitted_at is not None else []
    return f'<p class="where">{"".join(bits)}</p>'


def _facts(finding: Finding, unit: str) -> str:
    """Say cause, doubt, time and volume."""
    title = CATALOGUE[finding.fault].title
    rows = [("Cause", f"{safe(title)} (<code>{safe(finding.fault)}</code>)")]
    doubt = probability_text(finding.probability)
    if finding.runner_up_probability >= 0.01:
        doubt += f"; else {CATALOGUE[finding.runner_up].title}, {finding.runner_up_probability:.2f}"
    rows.append(("Probability", safe(doubt)))
    rows.append(("Since", day_text(finding.since)))
    rows.append(("Volume error, index less dial", _error(finding, unit)))
    if finding.remedy:
        rows.append(("Put right", safe(finding.remedy)))
    return (
        '<dl class="facts">' + "".join(f"<div><dt>{name}</dt><dd>{value}</dd></div>" for name, value in rows) + "</dl>"
    )


def _error(finding: Finding, unit: str) -> str:
    """Print the volume error and its interval."""
    error, low, high = finding.volume_error_l, finding.volume_error_low_l, finding.volume_error_high_l
    if error is None:
        return "not known"
    if low is None or high is None or low == high:
        return safe(volume_text(error, unit, signed=True))
    middle = volume_text(error, unit, signed=True, half_width_l=(high - low) / 2.0)
    return f'{safe(middle)}<span class="stack">90 %: {safe(interval_text(low, high, unit))}</span>'


def _chart(place: int, trace: PortTrace) -> str:
    """Draw the trace for desk and phone with a title and a description that can be heard."""
    drawn = chart_svgs(trace)
    if drawn is None:
        return ""
    title = f"Dial and index of meter {trace.meter_serial}, volume since the fitting in {trace.dial_unit}"
    said = f"Volume since the fitting in {trace.dial_unit}: dial as points, index as a line."
    if trace.wet_spans:
        said += " Shaded bands are wet hours."
    if trace.since is not None:
        said += f" The upright line marks {day_text(trace.since)}, when the count went wrong"
        if trace.since_low is not None and trace.since_high is not None:
            said += f" (between {day_text(trace.since_low)} and {day_text(trace.since_high)})"
        said += "."
    pictures = ""
    for svg, kind in zip(drawn, ("wide", "narrow"), strict=True):
        names = f'id="chart-{place}-{kind}-t"', f'id="chart-{place}-{kind}-d"'
        head = f"<title {names[0]}>{safe(title)}</title><desc {names[1]}>{safe(_described(trace))}</desc>"
        labels = f'class="{kind}" role="img" aria-labelledby="chart-{place}-{kind}-t chart-{place}-{kind}-d"'
        pictures += svg.replace("<svg ", f"<svg {labels} ", 1).replace(">", f">{head}", 1)
    return f'<figure class="chart">{pictures}<figcaption>{safe(said)}</figcaption></figure>'


def _described(trace: PortTrace) -> str:
    """Say in words what the chart shows."""
    words = []
    if trace.index_volume:
        risen = number_text(trace.index_volume[-1] - trace.index_volume[0], digits=6)
        words.append(f"The index rises by {risen} {trace.dial_unit}")
    seen = [point.dial_volume for point in trace.dial_points if point.dial_volume is not None]
    if len(seen) > 1:
        words.append(f"the dial by {number_text(seen[-1] - seen[0], digits=6)} {trace.dial_unit}")
    return ", ".join(words) + ". The figures stand in the table below."


def dial_table(trace: PortTrace) -> str:
    """The dial reads with the index beside each: the chart in figures."""
    if not trace.dial_points:
        return '<p class="small">No dial has been read since the fitting.</p>'
    unit = trace.dial_unit
    rows = [_dial_row(point) for point in trace.dial_points]
    head = ("seen", "by", "dial", "index", f"dial since fitting, {unit}", f"index since fitting, {unit}")
    grid = table(head, rows, right=(2, 3, 4, 5), caption="Dial reads with the index at the same moment, UTC")
    return f"<details><summary>Dial reads ({len(rows)})</summary>{grid}</details>"


def _dial_row(point: DialPoint) -> tuple[str, ...]:
    index = "no read" if point.index_count is None else serial(point.index_count)
    volumes = (
        "" if volume is None else number_text(volume, digits=6) for volume in (point.dial_volume, point.index_volume)
    )
    return (
        f'<span class="day">{day_text(point.at)}</span>',
        safe(SOURCES.get(point.source, point.source)),
        serial(point.dial_text),
        index,
        *volumes,
    )


def figure_list(figures: dict[str, Figure], unit: str) -> str:
    """Print the figures that a rule used, volumes in the dial's unit."""
    return "; ".join(safe(figure_words(name, value, unit)) for name, value in figures.items())


def _evidence(place: int, finding: Finding, unit: str) -> str:
    """The rules that spoke, the weightiest for the named cause first, with a bar for and against."""
    spoke = sorted(finding.evidence, key=lambda item: -item.weight)
    bits = [item.weight / NATS_PER_BIT for item in spoke]
    rows = [
        (
            f"<code>{safe(item.rule)}</code>",
            f'{safe(item.says)}<span class="stack">{figure_list(item.figures, unit)}</span>',
            signed_text(weight),
        )
        for item, weight in zip(spoke, bits, strict=True)
    ]
    other = finding.runner_up if finding.fault == "sound" else "sound"
    caption = (
        f"Bits for the named cause against \u201c{CATALOGUE[other].title}\u201d: one bit doubles the odds, "
        "a minus halves them"
    )
    picture = EvidencePicture(
        title="What each rule says, in bits", kind="bars", zero=True, x_name="rule", caption=f"{caption}.",
        series=(Series(name="for the named cause", unit="bits", x=tuple(item.rule for item in spoke),
                       y=tuple(bits)),),
    )  # fmt: skip
    drawn = evidence_drawing(picture, f"bits-{place}")
    grid = table(("rule", "what it says", "bits"), rows, right=(2,), caption=caption)
    return f"<details><summary>Reasons ({len(rows)})</summary>{drawn}{grid}</details>"
