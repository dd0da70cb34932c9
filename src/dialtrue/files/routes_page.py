"""The day routes as one page: figures first, a map and a list for each crew and day, what has no place last."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Final

from dialtrue import __version__
from dialtrue.domain.routing.clock_text import clock_text
from dialtrue.domain.routing.day_shape import Stop
from dialtrue.domain.routing.reasons import REASONS, window_text
from dialtrue.domain.routing.route_settings import RouteSettings
from dialtrue.domain.routing.route_words import (
    assumption_sentence,
    date_text,
    day_text,
    minutes_text,
    summary_text,
    yardstick_sentences,
)
from dialtrue.domain.routing.routes_result import RouteDay, RoutesAnswer
from dialtrue.domain.routing.travel import distance_text
from dialtrue.domain.words import counted
from dialtrue.files.report.markup import safe, section, serial, table
from dialtrue.files.report.style import STYLE
from dialtrue.files.report.whole_page import write_page
from dialtrue.files.routes_map import MAP_STYLE, route_map

_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'"
_LOOK: Final = """
main,header,footer{max-width:76rem}
.day-sheet{display:grid;grid-template-columns:minmax(0,5fr) minmax(0,7fr);gap:1rem 2rem;align-items:start;
margin-top:1rem}
.day-sheet table{font-size:14px}.day-sheet td,.day-sheet th{padding:.3rem .7rem .3rem 0}
.day-sheet .note-row td{color:var(--soft);font-size:14px}
.day-sheet .late{white-space:nowrap}
@media screen and (min-width:64rem){.day-sheet>div:first-child{position:sticky;top:1rem}}
.narrow-only{display:none}
.times{margin-top:.6rem}
h3.reason{font-size:16px;margin-top:1.5rem}
@media (max-width:64rem){.day-sheet{grid-template-columns:minmax(0,1fr)}}
@media (max-width:640px){.narrow-only{display:block}.day-sheet table{font-size:16px}}
@media print{.crew-day{break-before:page;margin-top:0}.crew-day h2{font-size:13pt;padding-bottom:.1rem}
.day-sheet{grid-template-columns:34% minmax(0,1fr);gap:0 1rem;margin-top:.3rem}
.day-sheet table{font-size:7.8pt;line-height:1.22}.day-sheet td,.day-sheet th{padding:.07rem .5rem .07rem 0}
.day-sheet .stack{display:inline;margin-left:.5em}.day-sheet .stack,.day-sheet thead th,.day-sheet caption,
.day-sheet .note-row td{font-size:7.5pt}.day-sheet caption{display:none}tr{break-inside:avoid}
.times,.crew-day h2+p,.small{font-size:9pt;margin-top:.2rem}.narrow-only{display:none!important}
.wideonly{display:table-cell!important}thead{display:table-header-group}footer{margin-top:1rem}}
"""
_PAGE: Final = {"letter": "@page{size:letter landscape;margin:12mm}", "a4": "@page{size:a4 landscape;margin:12mm}"}


def write_routes_page(
    path: Path, answer: RoutesAnswer, settings: RouteSettings, *, title: str, at: dt.datetime, paper: str
) -> None:
    """Write the page, whole or not at all; raises ``OutputNotWritten``."""
    write_page(path, routes_page(answer, settings, title=title, at=at, paper=paper))


def routes_page(answer: RoutesAnswer, settings: RouteSettings, *, title: str, at: dt.datetime, paper: str) -> str:
    """Return the routes as one HTML text that needs no network and no script.

    Parameters
    ----------
    answer : RoutesAnswer
    settings : RouteSettings
        What the driving times assume.
    title : str
        Name of the programme.
    at : datetime
        When it was made, aware.
    paper : str
        ``letter`` or ``a4``; printed across, one crew and day a page.

    Returns
    -------
    str

    Raises
    ------
    Never raises.
    """
    assumed = assumption_sentence(answer, detour_factor=settings.detour_factor, mean_speed_kmh=settings.mean_speed_kmh)
    sentences = [*yardstick_sentences(answer), assumed]
    if answer.summary.stopped:
        sentences.insert(0, "The search was stopped by hand: these are the best routes it had.")
    notes = "".join(f"<p>{safe(sentence)}</p>" for sentence in sentences)
    parts = [section("summary", "The days", notes + _overview(answer))]
    parts += [_day(answer, day, f"d{k + 1}") for k, day in enumerate(answer.days)]
    parts += _no_place(answer)
    parts += _said(answer)
    links = [("#summary", "The days")]
    links += [("#no-place", f"Without a place: {len(answer.no_place):,}")] if answer.no_place else []
    nav = "".join(f'<li><a href="{target}">{safe(words)}</a></li>' for target, words in links)
    rounds = f"{answer.summary.rounds:,} rounds of the search, seed {answer.summary.seed}"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f'<meta name="color-scheme" content="light dark"><title>{safe(title)}: routes</title>'
        f"<style>{STYLE}{MAP_STYLE}{_LOOK}{_PAGE[paper]}</style></head><body>"
        '<a class="skip" href="#main">To the days</a>'
        f'<header><h1>{safe(title)}: routes</h1><p class="summary">{safe(summary_text(answer))}</p>'
        f'<nav aria-label="On this page"><ul>{nav}</ul></nav></header><main id="main">{"".join(parts)}</main>'
        f"<footer><p>Made {at:%Y-%m-%d %H:%M} UTC by dialtrue {safe(__version__)}; {rounds}. Times are local, "
        f"{safe(answer.timezone)}.</p></footer></body></html>\n"
    )


def _overview(answer: RoutesAnswer) -> str:
    """Tabulate the crew-days with links to their sheets."""
    if not answer.days:
        return ""
    head = ["day", "crew", "visits", "leaves", "back", "on site", "driving", "road"]
    rows = []
    for k, day in enumerate(answer.days):
        times = day.times
        rows.append(
            [
                f'<a class="day" href="#d{k + 1}">{times.day:%a} {times.day.day} {times.day:%b}</a>',
                safe(times.crew.name), str(len(times.stops)),
                clock_text(times.depart_s), clock_text(times.return_s),
                minutes_text(sum(stop.leave_s - stop.start_s for stop in times.stops)), minutes_text(times.travel_s),
                distance_text(day.travel_km, system=answer.system),
            ]
        )  # fmt: skip
    return table(head, rows, caption="Crew-days with visits", right=range(2, len(head)), hide_on_phone=(3, 4, 5, 7))


def _day(answer: RoutesAnswer, day: RouteDay, identity: str) -> str:
    """Set map and list of one crew's day side by side."""
    times = day.times
    head = f"{date_text(times.day)}: {times.crew.name}"
    line = (
        f"Leaves {clock_text(times.depart_s)}, back {clock_text(times.return_s)}. {day_text(answer, day)}, "
        f"{minutes_text(sum(stop.leave_s - stop.start_s for stop in times.stops))} on site."
    )
    drawn = route_map(answer, day, identity=identity)
    body = f'<p class="times">{safe(line)}</p><div class="day-sheet"><div>{drawn}</div>{_list(answer, day, head)}</div>'
    return section(identity, head, body).replace("<section", '<section class="crew-day"', 1)


def _list(answer: RoutesAnswer, day: RouteDay, caption: str) -> str:
    """Tabulate the stops; the break stands as a line of its own where it is taken."""
    head = (
        ("stop", "num"), ("arrive", "num"), ("site", ""), ("mount", "wideonly"), ("reg.", "num wideonly"),
        ("min", "num wideonly"), ("window", "wideonly"), ("parts", "num wideonly"), ("drive", "num wideonly"),
    )  # fmt: skip
    heads = "".join(f'<th scope="col"{_class(look)}>{safe(word)}</th>' for word, look in head)
    rows = [_note(f"{clock_text(day.times.depart_s)} leave the depot", len(head))]
    for k, (stop, km) in enumerate(zip(day.times.stops, day.km, strict=True)):
        if stop.break_at_s is not None:
            where = "before the drive" if stop.break_at_s < stop.arrive_s else "on arrival at the next stop"
            rows.append(_note(f"{clock_text(stop.break_at_s)} break, {minutes_text(stop.break_s)}, {where}", len(head)))
        rows.append(_stop(answer, k + 1, stop, km))
    home = f"{minutes_text(day.times.home_travel_s)}, {distance_text(day.home_km, system=answer.system)}"
    rows.append(_note(f"{clock_text(day.times.return_s)} back at the depot ({home})", len(head)))
    return (
        f'<div class="scroll"><table><caption>Stops of {safe(caption)}</caption><thead><tr>{heads}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _class(look: str) -> str:
    return f' class="{look}"' if look else ""


def _note(words: str, columns: int) -> str:
    return f'<tr class="note-row"><td colspan="{columns}">{safe(words)}</td></tr>'


def _stop(answer: RoutesAnswer, place: int, stop: Stop, km: float) -> str:
    """Set one stop; on a narrow page what has no column of its own stands under the address."""
    visit = answer.visits[stop.visit]
    minutes = f"{visit.job_s / 60:.0f}"
    window = window_text(visit)
    waits = stop.start_s - stop.arrive_s - (stop.break_s if stop.break_at_s == stop.arrive_s else 0)
    arrive = clock_text(stop.arrive_s)
    if waits >= 60 or (stop.break_at_s is not None and stop.break_at_s >= stop.arrive_s):
        arrive += f'<span class="stack">start {clock_text(stop.start_s)}</span>'
    narrow = [visit.mount, counted(visit.registers, "register"), f"{minutes} min", window]
    narrow += [counted(visit.parts, "part")] if visit.parts else []
    drive = f'{minutes_text(stop.travel_s)}<span class="stack">{distance_text(km, system=answer.system)}</span>'
    where = f'<span class="stack">{safe(visit.address)}</span>' if visit.address else ""
    small = f'<span class="stack narrow-only">{safe(", ".join(word for word in narrow if word))}</span>'
    return (
        f'<tr><th scope="row" class="num">{place}</th><td class="num">{arrive}</td>'
        f"<td>{serial(visit.site)}{where}{small}</td>"
        f'<td class="wideonly">{safe(visit.mount)}</td><td class="num wideonly">{visit.registers}</td>'
        f'<td class="num wideonly">{minutes}</td><td class="wideonly late">{safe(window)}</td>'
        f'<td class="num wideonly">{visit.parts or ""}</td><td class="num wideonly">{drive}</td></tr>'
    )


def _no_place(answer: RoutesAnswer) -> list[str]:
    """List what has no place, a heading for each reason; what is not on the map last."""
    if not answer.no_place:
        return []
    parts = []
    for reason in dict.fromkeys(item.reason for item in answer.no_place):
        items = [item for item in answer.no_place if item.reason == reason]
        rows = [[serial(item.site), safe(item.address), safe(item.says)] for item in items]
        words = REASONS[reason]
        parts.append(f'<h3 class="reason">{safe(words[0].upper() + words[1:])}: {len(items):,}</h3>')
        parts.append(table(["site", "address", "why"], rows))
    body = "<p>These visits are in no route.</p>" + "".join(parts)
    return [section("no-place", "Without a place", body).replace("<section", '<section class="crew-day"', 1)]


def _said(answer: RoutesAnswer) -> list[str]:
    """Repeat what was said while reading the files, bad rows among it."""
    said = [*answer.said]
    said += [f"{name}: {counted(count, 'bad row')} left out." for name, count in answer.bad_rows.items()]
    if not said:
        return []
    items = "".join(f"<li>{safe(sentence)}</li>" for sentence in said)
    return [section("said", "Said while reading the files", f'<ul class="plain">{items}</ul>')]
