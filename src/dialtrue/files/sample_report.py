"""The pages of acceptance: the account with its charts, then two pages to print for each lot drawn."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Final

from dialtrue import __version__
from dialtrue.domain.acceptance.account import Drawn, LotAccount, SampleAccount, Visit, account_sentence
from dialtrue.domain.acceptance.crews import CREW_WORDS, rate_words
from dialtrue.domain.acceptance.judgement import OUTCOME_WORDS, grade_words, lot_words, plan_risk_words
from dialtrue.domain.acceptance.plan import plan_words
from dialtrue.domain.words import counted
from dialtrue.files.report.markup import safe, section, serial, table
from dialtrue.files.report.whole_page import whole_page, write_page
from dialtrue.files.sample_charts import STYLE as CHART_STYLE
from dialtrue.files.sample_charts import Group, characteristic_picture, funnel_picture, lots_picture

_WIDE: Final = 620
_NARROW: Final = 300
_LISTED: Final = 300
_OUTCOME_LOOKS: Final = {
    "accept": ("sound", '<circle cx="6" cy="6" r="5"/>'),
    "reject": ("visit", '<path d="M6 0 12 11H0z"/>'),
    "not_yet": ("remote_check", '<path d="M6 0 12 6 6 12 0 6z"/>'),
    "to_draw": ("none", '<path d="M1 5h10v2H1z"/>'),
}
_STYLE: Final = """
.panels{display:flex;flex-wrap:wrap;gap:1rem;margin-top:1rem}.panels svg{flex:0 1 285px;min-width:250px;height:auto}
.lot p{margin-top:.5rem}.lot h3{margin-top:1.4rem;font-size:16px}
ol.sites{margin:.6rem 0 0;padding:0;list-style:none;columns:2;column-gap:2rem;font-size:14px}
ol.sites li{break-inside:avoid;display:grid;grid-template-columns:2rem 1.1rem 1fr;gap:.4rem;padding:.28rem 0;
border-bottom:1px solid var(--rule)}
ol.sites .place{text-align:right;color:var(--soft)}ol.sites .box{border:1px solid var(--ink);width:.85rem;height:.85rem;
margin-top:.2rem;text-align:center;line-height:.8rem;font-size:.8rem}
.hash{font-family:var(--mono);font-size:12px;overflow-wrap:anywhere}
@media (max-width:640px){ol.sites{columns:1}}
@media print{h2,h3{break-after:avoid}tr{break-inside:avoid}
.lot{break-before:page;margin-top:0}.lot .list{break-before:page}.panels svg{flex-basis:210px;
min-width:190px}ol.sites{font-size:9pt}ol.sites li{padding:.14rem 0}section{margin-top:1.2rem}
.chart svg.narrow{display:none!important}.chart svg.wide{display:block!important}}
"""


def write_sample_report(path: Path, account: SampleAccount, *, title: str, at: dt.datetime) -> None:
    """Write the pages, whole or not at all.

    Parameters
    ----------
    path : Path
        Where to; an existing file is replaced.
    account : SampleAccount
        Plans, draws and judgements.
    title : str
        Name of the programme.
    at : datetime
        When it was judged, UTC.

    Raises
    ------
    OutputNotWritten
        The system refused; what stood there is unchanged.
    """
    write_page(path, sample_page(account, title=title, at=at))


def sample_page(account: SampleAccount, *, title: str, at: dt.datetime) -> str:
    """Return the pages as one HTML text that needs no network and no script. Never raises."""
    drawn = [lot for lot in account.lots if lot.drawn is not None]
    parts = [
        ("lots", "Lots", _overview(account)),
        ("course", "Lot after lot", _course(account)),
        ("crews", "Crews", _crews(account)),
        ("aside", "Inspections not counted", _aside(account)),
        ("said", "Said while reading the files", _said(account)),
    ]
    shown = [(identity, name, body) for identity, name, body in parts if body]
    links = "".join(f'<li><a href="#{identity}">{safe(name)}</a></li>' for identity, name, _ in shown)
    body = "".join(section(identity, name, part) for identity, name, part in shown)
    body += "".join(_lot(lot, number) for number, lot in enumerate(drawn, start=1))
    header = (
        f'<p class="summary">{safe(account_sentence(account))}</p><nav aria-label="Sections"><ul>{links}</ul></nav>'
    )
    footer = (
        "<footer><p>An accepted lot is shown to be no worse than its plan tells, not to be free of defects. The "
        "contract decides which limits hold.</p>"
        f"<p>Made {at:%Y-%m-%d %H:%M} UTC by dialtrue {safe(__version__)}.</p></footer>"
    )
    page = whole_page(title, header=header, main=body, footer=footer, skip="To the lots")
    return page.replace("</style>", f"{CHART_STYLE}{_STYLE}</style>", 1).replace(
        ": dial and index</title>", ": acceptance by lot</title>", 1
    )


def _state(name: str) -> str:
    """Draw the state of a lot as shape and word."""
    look, shape = _OUTCOME_LOOKS[name]
    word = "to draw" if name == "to_draw" else OUTCOME_WORDS[name].lower()  # type: ignore[index]
    return f'<span class="state {look}"><svg viewBox="0 0 12 12" aria-hidden="true">{shape}</svg>{word}</span>'


def _overview(account: SampleAccount) -> str:
    rows = []
    number = 0
    for lot in account.lots:
        number += lot.drawn is not None
        name = safe(lot.name) if lot.drawn is None else f'<a href="#lot-{number}">{safe(lot.name)}</a>'
        found = "" if lot.judgement is None else ", ".join(
            f"{each.plan.grade} {each.bad} in {each.inspected}" for each in lot.judgement.grades if each.inspected
        )  # fmt: skip
        draw = "all" if lot.plan.inspects_all else f"{lot.plan.size:,}"
        rows.append((name, f"{lot.sites:,}", draw, _state(lot.state), safe(found)))
    told = "".join(
        f"<p>{safe(_series_words(name, state.stopped, state.severity, state.why))}</p>"
        for name, state in account.series.items()
    )
    head = ("lot", "sites", "drawn", "decision", "found bad")
    return table(head, rows, right=(1, 2), hide_on_phone=(2,)) + told


def _series_words(name: str, stopped: bool, severity: str, why: str) -> str:
    whose = "Next lots" if name == "all" else f"Next lots of {name}"
    return f"{whose}: {'inspection is stopped' if stopped else f'{severity} inspection'}; {why}."


def _course(account: SampleAccount) -> str:
    """The p-chart of lots, first samples only."""
    groups = []
    for lot in account.lots:
        if lot.judgement is None or lot.drawn is None or lot.drawn.number > 1:
            continue
        for result in lot.judgement.grades:
            if result.plan.grade == account.grade and result.inspected:
                groups.append(Group(lot.name, result.inspected, result.bad))
    if len(groups) < 2:
        return ""
    return _both(lambda width: lots_picture(groups, what=account.grade, width=width), _LIMITS)


def _crews(account: SampleAccount) -> str:
    """The funnel of crews and the table beside it, in the order of names."""
    verdicts = [verdict for verdict in account.crews if verdict.count.inspected]
    if not verdicts:
        return ""
    groups = [
        Group(each.count.crew, each.count.inspected, each.count.bad, each.outcome == "too_few") for each in verdicts
    ]
    rows = [
        (
            safe(each.count.crew), f"{each.count.fitted:,}", f"{each.count.inspected:,}", str(each.count.bad),
            safe(rate_words(each)), safe(CREW_WORDS[each.outcome]),
        )
        for each in verdicts
    ]  # fmt: skip
    told = "".join(
        f"<p>{safe(each.count.crew)}: {safe(each.says)} {safe(' '.join(account.shared.get(each.count.crew, ())))}</p>"
        for each in verdicts
        if each.outcome in ("act", "look")
    )
    pairs = "".join(f"<p>{safe(sentence)}</p>" for sentence in account.pairs)
    head = ("crew", "fitted", "seen", "bad", "share (95 %)", "verdict")
    caption = f"Crews by name; {account.grade} defects at sites of first samples. Open points: too few seen."
    return (
        _both(lambda width: funnel_picture(groups, what=account.grade, width=width), _LIMITS)
        + table(head, rows, caption=caption, right=(1, 2, 3), hide_on_phone=(1,))
        + told + pairs
        + '<p class="small">Small numbers accuse nobody: a difference that chance explains says nothing, and no crew '
        "is put above or below another.</p>"
    )  # fmt: skip


_LIMITS: Final = "Within the limits chance alone explains the share. Above the outer one: look for a cause."


def _both(draw: Callable[[int], str], caption: str) -> str:
    """Show a chart twice, for a wide and for a narrow page; style shows one."""
    wide = draw(_WIDE).replace('class="lots"', 'class="lots wide"', 1)
    narrow = draw(_NARROW).replace('class="lots"', 'class="lots narrow"', 1)
    return f'<figure class="chart">{wide}{narrow}<figcaption>{safe(caption)}</figcaption></figure>'


def _aside(account: SampleAccount) -> str:
    rows = [(str(each.row), safe(each.lot), safe(each.site), safe(each.why)) for each in account.set_aside[:_LISTED]]
    return table(("row", "lot", "site", "why"), rows) if rows else ""


def _said(account: SampleAccount) -> str:
    return "".join(f"<p>{safe(sentence)}</p>" for sentence in account.said[:_LISTED])


def _lot(lot: LotAccount, number: int) -> str:
    """Two pages of a lot: decision, curves and defects; then the list of its sites."""
    drawn, judged = lot.drawn, lot.judgement
    if drawn is None or judged is None:
        return ""
    grades = "".join(f"<li>{safe(grade_words(each, lot.plan.lot_size))}</li>" for each in judged.grades)
    curves = risk = ""
    if lot.plan.lot_size and not lot.plan.inspects_all:
        drawings = "".join(characteristic_picture(each, lot.plan.lot_size) for each in lot.plan.grades if each.size)
        curves = f'<h3>What the plan lets pass</h3><div class="panels">{drawings}</div>'
        risk = " ".join(plan_risk_words(each, lot.plan.lot_size, 0.04) for each in lot.plan.grades[:1])
    notes = "".join(f"<p>{safe(sentence)}</p>" for sentence in (*lot.common, *lot.notes))
    return (
        f'<section class="lot" id="lot-{number}" aria-labelledby="lot-{number}-t">'
        f'<h2 id="lot-{number}-t">Lot {safe(lot.name)}</h2>'
        f"<p>{_state(lot.state)} {safe(lot_words(judged))}</p>"
        f'<ul class="plain">{grades}</ul>'
        f'<p class="small">Plan: {safe(plan_words(lot.plan))}. {safe(risk)}</p>{notes}'
        f"{_defects(lot)}{curves}"
        f'<div class="list"><h3>Sites to look at, lot {safe(lot.name)}</h3>{_origin(drawn)}{_sites(lot, drawn)}</div>'
        "</section>"
    )


def _defects(lot: LotAccount) -> str:
    """What was found bad, site by site."""
    bad = [visit for visit in lot.visits.values() if visit.grades]
    rows = [
        (
            serial(visit.site), safe("; ".join(visit.found)), f'<span class="day">{visit.at:%Y-%m-%d}</span>',
            safe(visit.inspector),
        )
        for visit in sorted(bad, key=lambda each: each.site)
    ]  # fmt: skip
    return f"<h3>Found bad</h3>{table(('site', 'what', 'seen', 'by'), rows)}" if rows else ""


def _origin(drawn: Drawn) -> str:
    """How the list came about, so that anybody can make it again."""
    return (
        f'<p class="small">Drawn {drawn.drawn_at:%Y-%m-%d %H:%M} UTC with the seed {serial(drawn.seed)} from '
        f"{counted(drawn.population, 'site')}. Of each crew and kind the sites with the least SHA-256 of "
        f"{serial(f'{drawn.seed}|{drawn.name}|SITE')} are drawn.</p>"
        f'<p class="hash">lot {safe(drawn.population_hash)}</p>'
    )


def _sites(lot: LotAccount, drawn: Drawn) -> str:
    """The list to tick: those looked at in any case, the sample in its order, stand-ins beneath their site."""
    items = [_site(lot, site, "all") for site in drawn.whole()]
    for place, chain in enumerate(drawn.slots(), start=1):
        items += [_site(lot, site, str(place) if step == 0 else "for") for step, site in enumerate(chain)]
    return f'<ol class="sites">{"".join(items)}</ol>'


def _site(lot: LotAccount, site: str, mark: str) -> str:
    place, visit = lot.places.get(site), lot.visits.get(site)
    about = (
        " ".join(filter(None, (", ".join(place.meters), place.address, place.kind.replace("_", " ")))) if place else ""
    )
    tick = "" if visit is None or visit.grades is None else "×" if visit.grades else "✓"
    return (
        f'<li><span class="place">{mark}</span><span class="box">{tick}</span>'
        f'<span>{serial(site)} {safe(about)}<span class="stack">{safe(_result(visit))}</span></span></li>'
    )


def _result(visit: Visit | None) -> str:
    if visit is None:
        return ""
    if visit.grades is None:
        return "no access"
    return "; ".join(visit.found)
