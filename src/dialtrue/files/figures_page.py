"""The page of the programme figures: one sheet that answers a council's questions, then what stands behind it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from dialtrue import __version__
from dialtrue.domain.progress.account import (
    GROUPED_BY,
    KIND_WORDS,
    PAIR_WORDS,
    STATE_MEANINGS,
    STATE_WORDS,
    Group,
    ProgrammeFigures,
    about_text,
    days_words,
    figures_sentence,
    how_much,
    is_it_over,
    whose_work,
)
from dialtrue.domain.progress.indicators import ASSUMED
from dialtrue.domain.progress.rate import Rate, interval_words, rate_words, share_words
from dialtrue.domain.progress.silent import STEP_TITLES
from dialtrue.domain.words import counted, day_text
from dialtrue.files.figures_charts import STYLE as CHART_STYLE
from dialtrue.files.figures_charts import Bar, bars_picture, month_name, months_picture, shares_picture
from dialtrue.files.report.markup import safe, section, serial, table
from dialtrue.files.report.whole_page import whole_page, write_page

_WIDE: Final = 620
_NARROW: Final = 300
_PANEL: Final = 430
_LISTED: Final = 500
_AREAS_DRAWN: Final = 24
_LOOKS: Final = {"proved": "good", "put_right": "water", "to_prove": "pale", "doubtful": "visit"}
_STYLE: Final = """
dl.asked{margin:.8rem 0 0;display:grid;grid-template-columns:8.5rem 1fr;gap:.55rem 1.25rem}
dl.asked dt{font-weight:600}dl.asked dd{margin:0;max-width:44rem}
.panels{display:grid;grid-template-columns:1fr 1fr;gap:0 2rem}.panels figure{margin-top:.8rem}
.chart{max-width:620px}.chart svg{height:auto}
section>p+p,.scroll+p{margin-top:.5rem}
dl.lag{margin:0}dl.lag dt{font-size:14px;color:var(--soft)}dl.lag dd{margin:0 0 .4rem}
.panels h3.part{margin-top:1rem}
@media (max-width:640px){.front .day{white-space:normal}dl.asked{grid-template-columns:1fr;gap:.1rem}
dl.asked dd{margin-bottom:.7rem}.panels{grid-template-columns:1fr}}
@media print{@page{margin:10mm}
header{padding-top:0}h1{font-size:10pt}.summary{font-size:14pt;max-width:none;margin:.1rem 0 .2rem}
body{font-size:9pt;line-height:1.3}table{font-size:9pt}.front th,.front td{padding:.06rem .6rem .06rem 0}
thead th,.small,caption,figcaption,.stack,dl.lag dt,dl.lag dd{font-size:8.5pt}
section{margin-top:.5rem}h2{font-size:11pt;padding-bottom:.1rem;break-after:avoid}h3.part{font-size:9.5pt}
dl.asked{gap:.15rem 1rem;grid-template-columns:6.2rem 1fr;margin-top:.3rem}dl.asked dd{max-width:none}
figure,.panels figure{margin-top:.2rem}figcaption{margin-top:.1rem}.panels h3.part{margin-top:.3rem}
dl.lag dd{margin-bottom:.15rem}.front .scroll+p,.front p+p{margin-top:.15rem}
.behind{break-before:page}.behind th,.behind td{padding:.12rem .6rem .12rem 0}tr{break-inside:avoid}
.chart{max-width:400px}
.chart svg.narrow{display:none!important}.chart svg.wide{display:block!important}
.panels{grid-template-columns:1fr 1fr;gap:0 1.2rem}.panels .wideonly{display:table-cell}}
"""


def write_figures_page(path: Path, figures: ProgrammeFigures, *, title: str, at: dt.datetime) -> None:
    """Write the page, whole or not at all.

    Parameters
    ----------
    path : Path
        Where to; an existing file is replaced.
    figures : ProgrammeFigures
    title : str
        Name of the programme.
    at : datetime
        When the figures were worked out, UTC.

    Raises
    ------
    OutputNotWritten
        The system refused; what stood there is unchanged.
    """
    write_page(path, figures_page(figures, title=title, at=at))


def figures_page(figures: ProgrammeFigures, *, title: str, at: dt.datetime) -> str:
    """Return the page as one HTML text that needs no network and no script. Never raises."""
    front = [("far", "How far it is", _far(figures)), ("faults", "Faults", _faults(figures)),
             ("indicators", "Indicators", _indicators(figures))]  # fmt: skip
    behind = [
        ("second", "Second look at dial and index", _second(figures)),
        *((f"by-{by}", f"By {GROUPED_BY[by]}", _groups(figures, by)) for by in figures.groups),
        ("silent", "Silent ports, and what is done first", _silent(figures)),
        ("said", "Said while reading the files", "".join(f"<p>{safe(each)}</p>" for each in figures.said[:_LISTED])),
    ]
    shown = [part for part in (*front, *behind) if part[2]]
    links = "".join(f'<li><a href="#{identity}">{safe(name)}</a></li>' for identity, name, _ in shown)
    sheet = _asked(figures) + "".join(section(*part) for part in front if part[2])
    main = f'<div class="front">{sheet}</div>'
    main += f'<div class="behind">{"".join(section(*part) for part in behind if part[2])}</div>'
    header = (
        f'<p class="summary">{safe(figures_sentence(figures))}</p>'
        f'<p class="small">Registers, as known on {safe(day_text(figures.moment))}.</p>'
        f'<nav aria-label="Sections"><ul>{links}</ul></nav>'
    )
    footer = (
        "<footer><p>Volumes at stake are estimates from dial and index; what may be claimed or must be refunded your "
        "tariff and local law decide. Intervals are 95 %. Fewer than "
        f"{figures.settings.enough} ports are too few to tell a share of.</p>"
        f"<p>Made {at:%Y-%m-%d %H:%M} UTC by dialtrue {safe(__version__)}.</p></footer>"
    )
    page = whole_page(title, header=header, main=main, footer=footer, skip="To the figures")
    return page.replace("</style>", f"{CHART_STYLE}{_STYLE}</style>", 1).replace(
        ": dial and index</title>", ": programme figures</title>", 1
    )


def _asked(figures: ProgrammeFigures) -> str:
    """Answer the three questions, money first."""
    answers = (
        ("How much?", how_much(figures)),
        ("Whose fault?", whose_work(figures)),
        ("Is it over?", is_it_over(figures)),
    )
    body = "".join(f"<dt>{safe(question)}</dt><dd>{safe(answer)}</dd>" for question, answer in answers)
    return f'<section aria-label="How much, whose fault, is it over"><dl class="asked">{body}</dl></section>'


def _far(figures: ProgrammeFigures) -> str:
    planned, rows, bars = figures.planned, [], []
    for state, count in figures.states.items():
        rows.append((STATE_WORDS[state], count, STATE_MEANINGS[state]))
        bars.append(Bar(STATE_WORDS[state], ((count, _LOOKS[state]),), f"{count:,}"))
    if figures.turned_back is not None:
        rows.append(("turned back", figures.turned_back, "handed back without a fitting"))
        bars.append(Bar("turned back", ((figures.turned_back, "look"),), f"{figures.turned_back:,}"))
    if planned is not None:
        rows.append(("open", figures.open, "on the list, nothing fitted"))
        bars.append(Bar("open", ((figures.open, "open"),), f"{figures.open:,}"))
    whole = (planned or 0) + figures.outside if planned is not None else figures.fitted
    cells = [
        (safe(name), f"{count:,}", f"{100 * count / whole:.1f} %" if whole else "", safe(words))
        for name, count, words in rows
    ]
    of = "of all" if planned is None or figures.outside else "of planned"
    behind = table(("state", "registers", of, "what it means"), cells, right=(1, 2), hide_on_phone=(3,))
    told = "; ".join(f"{name} {count:,}" for name, count, _ in rows)
    note = ""
    if figures.look_asked:
        note = (
            f'<p class="small">For {counted(figures.look_asked, "port")} a look is asked without a sign of a fault: no '
            "use registered, water that runs without pause, or nobody has looked since the fitting.</p>"
        )
    drawn = _chart(lambda width: bars_picture(bars, told=told, width=width), "", behind, wide=_PANEL)
    return f'<div class="panels">{drawn}{_months(figures)}</div>{note}'


def _indicators(figures: ProgrammeFigures) -> str:
    rows = []
    for each in figures.indicators:
        if each.stands == "not recorded":
            continue
        value = safe(each.value)
        if each.rate is not None:
            ends = interval_words(each.rate, enough=figures.settings.enough)
            below = f"{each.rate.count:,} of {each.rate.of:,}{f'; {ends}' if ends else ''}"
            share = share_words(each.rate, enough=figures.settings.enough)
            value = f'{safe(share)}<span class="stack day">{below}</span>'
        assumed = each.source == ASSUMED
        source = "*" if assumed else f' <span class="small">{safe(each.source)}</span>'
        name = f'{safe(each.name)}<span class="stack day">{safe(each.definition)}</span>'
        stands = f'<span class="day">{safe(each.stands)}</span>'
        rows.append((name, value, safe(each.expected) + source, stands))
    missing = [each.name.lower() for each in figures.indicators if each.stands == "not recorded"]
    told = f"<p>Not recorded: {safe(', '.join(missing))}.</p>" if missing else ""
    note = "* Our assumption, from practice: no public figure was found. Your contract may ask otherwise."
    head = ("indicator", "share, count, 95 % interval", "range to expect", "stands")
    return table(head, rows, hide_on_phone=(2,)) + f'<p class="small">{note}</p>{told}'


def _faults(figures: ProgrammeFigures) -> str:
    known = [cause for cause in figures.causes if cause.open + cause.put_right]
    if not known:
        return ""
    bars = [
        Bar(
            KIND_WORDS[cause.kind], ((cause.open, "visit"), (cause.put_right, "water")),
            f"{cause.open:,} open" + (f", {cause.put_right:,} right" if cause.put_right else ""),
            f"{cause.open:,}, {cause.put_right:,}",
        )
        for cause in known
    ]  # fmt: skip
    rows = [
        (KIND_WORDS[c.kind], f"{c.open:,}", f"{c.put_right:,}", about_text(c.open_volume_l, figures.unit))
        for c in known
    ]
    behind = table(("where it lies", "open", "put right", "at stake, open ones"), rows, right=(1, 2, 3))
    told = "; ".join(f"{row[0]} {row[1]} open, {row[2]} put right" for row in rows)
    drawn = _chart(
        lambda width: bars_picture(bars, told=told, width=width), "Open red, put right blue.",
        behind, wide=_PANEL,
    )  # fmt: skip
    lag = "".join(
        f"<dt>{safe(name)}</dt><dd>{safe(days_words(days))}</dd>"
        for name, days in (
            ("that a check confirmed", figures.confirmed_days), ("that still wait", figures.waiting_days),
            ("together", figures.all_days),
        )
    )  # fmt: skip
    beside = f'<h3 class="part">From fault to finding</h3><dl class="lag">{lag}</dl>'
    return f'<div class="panels">{drawn}<div>{beside}</div></div>'


def _months(figures: ProgrammeFigures) -> str:
    months = figures.months
    if not months:
        return ""
    cells = [(month_name(m.month), f"{m.open:,}", f"{m.put_right:,}") for m in months]
    behind = table(("began in", "open", "put right"), cells, right=(1, 2))
    told = "; ".join(f"{name} {opened} open, {right} put right" for name, opened, right in cells[-24:])
    caption = "Faults by the month in which they began; the latest are not all known yet."
    return _chart(lambda width: months_picture(months, told=told, width=width), caption, behind, wide=_PANEL)


def _silent(figures: ProgrammeFigures) -> str:
    head = (
        f"<p>A fresh read within {counted(figures.settings.fresh_days, 'day')}: "
        f"{safe(rate_words(figures.reading, enough=figures.settings.enough))}; {len(figures.silent):,} silent."
    )
    if figures.too_new:
        head += f" {counted(figures.too_new, 'port')} not heard yet were fitted within these days and are left out."
    head += "</p>"
    if not figures.silent:
        return head
    steps = Counter(each.step for each in figures.silent)
    cells = [(safe(words), f"{steps[step]:,}") for step, words in STEP_TITLES.items() if steps[step]]
    counts = table(("first step", "ports"), cells, right=(1,))
    rows = [
        (
            serial(each.meter_serial), f"{serial(each.endpoint_serial)} {each.port}", safe(each.area), safe(each.says),
        )
        for each in figures.silent[:_LISTED]
    ]  # fmt: skip
    more = len(figures.silent) - _LISTED
    tail = f'<p class="small">And {more:,} more; --out and --json list all.</p>' if more > 0 else ""
    listed = table(("meter", "endpoint, port", "area", "next step"), rows, hide_on_phone=(2,))
    return head + counts + f"<h3 class='part'>Port by port</h3>{listed}{tail}"


def _second(figures: ProgrammeFigures) -> str:
    settings = figures.settings
    rows = [(safe(PAIR_WORDS[state]), f"{count:,}") for state, count in figures.pairs.items() if count]
    if not rows:
        return ""
    words = (
        f"<p>A dial read {settings.pair_from_days} to {settings.pair_to_days} days after the fitting, beside the "
        "index. It agrees where the 95 % interval of index over dial contains 1 and is within "
        f"{100 * settings.proof_width:g} % either way. Proofs on site are not yet kept in a table: what is counted as "
        "proved rests on such pairs, whenever they were taken, and on checks that found a port sound.</p>"
    )
    return words + table(("second look", "ports"), rows, right=(1,))


def _groups(figures: ProgrammeFigures, by: str) -> str:
    """Tell one way of grouping, in the order of names; small groups without shares."""
    groups, enough = figures.groups[by], figures.settings.enough
    shown = groups[:_LISTED]
    picture = ""
    drawn = [(group.name, group.reading) for group in groups if group.reading.of >= enough]
    if by == "area" and 1 < len(drawn) <= _AREAS_DRAWN:
        picture = _chart(
            lambda width: shares_picture(
                drawn, told="Read success by area", width=width, enough=enough, level=0.96
            ),
            "Read success, in the order of names: share and 95 % interval; dashed 96 %. Areas with fewer than "
            f"{enough} ports are in the table.",
            "",
        )  # fmt: skip
    rows = [_group_row(group, enough) for group in shown]
    few = sum(group.fitted < enough for group in groups)
    note = '<p class="small">In the order of names, not of merit: kinds of site differ, and chance alone parts groups.'
    note += (
        f" {counted(few, 'group')} have fewer than {enough} ports: too few to tell a share of.</p>" if few else "</p>"
    )
    head = (
        GROUPED_BY[by],
        "fitted",
        "proved",
        "put right",
        "not yet",
        "doubtful",
        "reading",
        "rework",
        "first time right",
    )
    return picture + table(head, rows, right=(1, 2, 3, 4, 5), hide_on_phone=(2, 3, 4, 7)) + note


def _group_row(group: Group, enough: int) -> Sequence[str]:
    states = [f"{group.states[state]:,}" for state in ("proved", "put_right", "to_prove", "doubtful")]
    return (
        safe(group.name), f"{group.fitted:,}", *states, _cell(group.reading, enough), _cell(group.rework, enough),
        _cell(group.first_time_right, enough),
    )  # fmt: skip


def _cell(rate: Rate | None, enough: int) -> str:
    if rate is None:
        return "not recorded"
    if not rate.of:
        return "not known"
    ends = interval_words(rate, enough=enough)
    head = f"{rate.count:,} of {rate.of:,}"
    below = f"{share_words(rate, enough=enough)} ({ends.removesuffix(' %')})" if ends else "too few"
    return f'<span class="day">{safe(head)}</span><span class="stack day">{safe(below)}</span>'


def _chart(draw: Callable[[int], str], caption: str, behind: str, *, wide: int = _WIDE) -> str:
    """Show a chart for a wide and for a narrow page, and the table behind it."""
    large = draw(wide).replace('class="figs"', 'class="figs wide"', 1)
    narrow = draw(_NARROW).replace('class="figs"', 'class="figs narrow"', 1)
    words = f"<figcaption>{safe(caption)}</figcaption>" if caption else ""
    details = f"<details><summary>The figures as a table</summary>{behind}</details>" if behind else ""
    return f'<figure class="chart">{large}{narrow}{words}{details}</figure>'
