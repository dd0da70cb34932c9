"""Job sheets from survey, plan and route: registers gathered by site, two to a page, high beside low."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import groupby

from dialtrue.domain.cautions import PRECEDENCE, cautions_for
from dialtrue.domain.job_sheet.asked import questions_for
from dialtrue.domain.job_sheet.code_text import code_text
from dialtrue.domain.job_sheet.neighbours import beside
from dialtrue.domain.job_sheet.register_plan import RegisterPlan
from dialtrue.domain.job_sheet.register_words import METRES_PER_FOOT, cut, number, register_part, words_of
from dialtrue.domain.job_sheet.sheet import Fact, JobSheet, PartLine, Stop, WiringPart
from dialtrue.domain.job_sheet.site_words import (
    as_left_for,
    blanks_for,
    follow_up_for,
    readings_for,
    tamper_choices,
    terminations_for,
)
from dialtrue.domain.words import printable

REGISTERS_ON_A_PAGE = 2


def _not_drawn(_registers: Sequence[RegisterPlan]) -> tuple[WiringPart, ...]:
    """Draw nothing."""
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWords:
    """What the composer must be told beside the registers.

    ``titles`` of parts, endpoints, cables and outputs by key; ``units`` of parts by key (``each`` or ``m``);
    ``stops`` by site; ``show_account`` prints the account; ``draw`` gives the wiring drawings of a page's registers.
    """

    titles: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    stops: Mapping[str, Stop] = field(default_factory=dict)
    show_account: bool = False
    draw: Callable[[Sequence[RegisterPlan]], tuple[WiringPart, ...]] = _not_drawn


def compose_sheets(
    registers: Sequence[RegisterPlan], *, words: SheetWords | None = None, around: Sequence[RegisterPlan] = ()
) -> tuple[JobSheet, ...]:
    """Compose the sheets of many sites.

    Parameters
    ----------
    registers : sequence of RegisterPlan
        In the order of the sheets wanted; registers of one site need not be neighbours.
    words : SheetWords, optional
        Titles, stops and drawings.
    around : sequence of RegisterPlan
        Every register that is known, to find those side by side; empty: those of the sheets only.

    Returns
    -------
    tuple of JobSheet
        One a site, in the order in which sites first appear; more where a site has more than two registers. The two
        registers of a compound meter always share a page, high first.

    Raises
    ------
    Never raises.

    Source
    ------
    Our own layout of the work.
    """
    told = words or SheetWords()
    near = beside(around or registers)
    by_site: dict[str, list[RegisterPlan]] = {}
    for plan in registers:
        by_site.setdefault(plan.site, []).append(plan)
    sheets: list[JobSheet] = []
    for plans in by_site.values():
        pages = _pages(plans)
        for page, some in enumerate(pages, start=1):
            sheets.append(_sheet(some, page, len(pages), told, near))
    return tuple(sheets)


def _pages(plans: Sequence[RegisterPlan]) -> list[list[RegisterPlan]]:
    """Deal registers out to pages without parting high from low."""
    order = {"high": 0, "single": 1, "low": 2}
    first = {plan.meter_serial: place for place, plan in reversed(list(enumerate(plans)))}
    ordered = sorted(plans, key=lambda plan: (first[plan.meter_serial], order[plan.register_role]))
    pages: list[list[RegisterPlan]] = []
    for _, meter in groupby(ordered, key=lambda plan: plan.meter_serial):
        group = list(meter)
        for start in range(0, len(group), REGISTERS_ON_A_PAGE):
            some = group[start : start + REGISTERS_ON_A_PAGE]
            if pages and len(pages[-1]) + len(some) <= REGISTERS_ON_A_PAGE:
                pages[-1] += some
            else:
                pages.append(some)
    return pages


def _sheet(
    plans: list[RegisterPlan], page: int, pages: int, words: SheetWords, near: Mapping[str, tuple[str, ...]]
) -> JobSheet:
    """Compose one page."""
    first = plans[0]
    stop = words.stops.get(first.site)
    day = _day(stop.day if stop else first.visit_day)
    serials = tuple(dict.fromkeys(printable(plan.meter_serial) for plan in plans))
    return JobSheet(
        site=printable(first.site),
        status="ask" if any(plan.status == "ask" for plan in plans) else "planned",
        page=page,
        pages=pages,
        stop=stop,
        where=_where(first, words),
        registers=tuple(register_part(plan, titles=words.titles) for plan in plans),
        together=_together(plans, near),
        readings=readings_for(plans),
        questions=questions_for(plans),
        precedence=PRECEDENCE,
        cautions=cautions_for(first.mount or None),
        parts=_parts(plans, words),
        wiring=words.draw(plans),
        terminations=terminations_for(plans),
        tamper=tamper_choices(plans),
        as_left=as_left_for(plans),
        blanks=blanks_for(plans),
        follow_up=follow_up_for(plans, day),
        site_code=code_text(site=first.site, meters=serials),
        serial_codes=serials,
    )


def _day(text: str) -> dt.date | None:
    """Return a day as written in a table, or None."""
    try:
        return dt.date.fromisoformat(text[:10])
    except ValueError:
        return None


def _where(plan: RegisterPlan, words: SheetWords) -> tuple[Fact, ...]:
    """Say where the site is and where the endpoint will sit."""
    facts = [Fact("Address", cut(plan.address))]
    if words.show_account:
        facts.append(Fact("Account", cut(plan.account), True))
    facts.append(Fact("Endpoint sits", words_of(plan.mount)))
    if plan.area:
        facts.append(Fact("Area", cut(plan.area, 40)))
    window = " to ".join(text for text in (plan.window_from, plan.window_to) if text)
    if window:
        facts.append(Fact("Customer expects you", cut(window, 40)))
    return tuple(facts)


def _together(plans: Sequence[RegisterPlan], near: Mapping[str, tuple[str, ...]]) -> str:
    """Say which registers must be watched together."""
    if any(plan.register_role != "single" for plan in plans):
        ports = {plan.register_role: plan for plan in plans}
        told = [
            f"{role.upper()} goes to endpoint {ports[role].endpoint_number or 1}, port {ports[role].port}"
            for role in ("high", "low")
            if role in ports and ports[role].port is not None
        ]
        return "; ".join(["One meter, two registers", *told]) + ". Each index follows its own dial only."
    here = {plan.meter_serial for plan in plans}
    others = sorted({serial for plan in plans for serial in near.get(plan.meter_serial, ())} - here)
    if len(here) > 1:
        others = sorted(here | set(others))
    if not others:
        return ""
    named = ", ".join(cut(serial, 30) for serial in others[:4]) + (
        f" and {len(others) - 4} more" if len(others) > 4 else ""
    )
    side = "Meters side by side" if len(here) > 1 else "Another meter stands here"
    return f"{side} ({named}): watch every index while one is drawn. Only that one may move."


def _parts(plans: Sequence[RegisterPlan], words: SheetWords) -> tuple[PartLine, ...]:
    """Add up the parts of a page; endpoints and cables first, as the plan lists them."""
    total: dict[str, Decimal] = {}
    kinds: dict[str, str] = {}
    for plan in plans:
        for part in plan.parts:
            total[part.part] = total.get(part.part, Decimal(0)) + part.quantity
            kinds.setdefault(part.part, part.kind)
    rank = {"endpoint": 0, "cable": 1, "part": 2, "tool": 3}
    lines = []
    for key in sorted(total, key=lambda key: rank.get(kinds[key], 2)):
        unit = "m" if kinds[key] == "cable" else words.units.get(key, "each")
        title = cut(words.titles.get(key, words_of(key.replace("-", " "))))
        if unit == "m":
            metres = float(total[key])
            lines.append(PartLine(f"{metres:.1f}", "m", f"{title} ({metres / METRES_PER_FOOT:.0f} ft)"))
        else:
            lines.append(PartLine(number(total[key]), "" if unit == "each" else unit, title))
    return tuple(lines)
