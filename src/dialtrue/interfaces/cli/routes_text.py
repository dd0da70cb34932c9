"""Routes in plain text and as JSON: the summary, what has no place, then the days."""

from __future__ import annotations

from collections import Counter
from typing import Any

from dialtrue.domain.routing.clock_text import clock_text
from dialtrue.domain.routing.day_shape import Stop
from dialtrue.domain.routing.reasons import REASONS
from dialtrue.domain.routing.route_settings import RouteSettings
from dialtrue.domain.routing.route_words import assumption_sentence, minutes_text, summary_text, yardstick_sentences
from dialtrue.domain.routing.routes_result import RouteDay, RoutesAnswer
from dialtrue.domain.routing.travel import distance_text
from dialtrue.domain.words import counted, printable
from dialtrue.interfaces.cli.as_json import plain
from dialtrue.interfaces.cli.output import PROBLEMS_SHOWN, aligned, wrapped

DAYS_SHOWN = 40


def routes_lines(answer: RoutesAnswer, settings: RouteSettings, *, show: int) -> list[str]:
    """Return the routes as lines of at most 100 columns. Never raises."""
    lines = wrapped(summary_text(answer), indent=0)
    if answer.summary.stopped:
        lines += ["The search was stopped by hand: these are the best routes it had."]
    for sentence in yardstick_sentences(answer):
        lines += wrapped(sentence, indent=0)
    assumed = assumption_sentence(answer, detour_factor=settings.detour_factor, mean_speed_kmh=settings.mean_speed_kmh)
    lines += wrapped(assumed, indent=0)
    if answer.no_place:
        lines += ["", *_no_place_lines(answer, show)]
    if answer.days:
        lines += ["", *_day_lines(answer)]
    for name, count in answer.bad_rows.items():
        lines += ["", *wrapped(f"{name}: {counted(count, 'bad row')} left out. The first ones:", indent=0)]
        for problem in [item for item in answer.problems if item.file == name][:PROBLEMS_SHOWN]:
            lines += wrapped(problem.says(), indent=2)
    if answer.said:
        lines += ["", "Said while reading the files"]
        for sentence in answer.said:
            lines += wrapped(sentence, indent=2)
    return lines


def _no_place_lines(answer: RoutesAnswer, show: int) -> list[str]:
    """List what has no place: counts by reason, then the first ones."""
    counts = Counter(item.reason for item in answer.no_place)
    words = "; ".join(f"{REASONS[code]} {counts[code]:,}" for code in REASONS if counts[code])
    lines = wrapped(f"Without a place: {words}.", indent=0)
    for item in answer.no_place[:show]:
        where = f" ({printable(item.address)})" if item.address else ""
        lines += wrapped(f"{printable(item.site)}{where}: {item.says}.", indent=2)
    if len(answer.no_place) > show:
        more = len(answer.no_place) - show
        lines += [f"  and {more:,} more: add --show {len(answer.no_place)}, or --left-out left-out.csv for all."]
    return lines


def _day_lines(answer: RoutesAnswer) -> list[str]:
    """Tabulate the days."""
    rows = [("day", "crew", "visits", "registers", "leaves", "back", "on site", "driving", "road", "waiting")]
    for day in answer.days[:DAYS_SHOWN]:
        times = day.times
        rows.append(
            (
                f"{times.day:%a %d %b}", printable(times.crew.name)[:24], str(len(times.stops)),
                str(sum(answer.visits[stop.visit].registers for stop in times.stops)), clock_text(times.depart_s),
                clock_text(times.return_s), minutes_text(sum(stop.leave_s - stop.start_s for stop in times.stops)),
                minutes_text(times.travel_s), distance_text(day.travel_km, system=answer.system),
                minutes_text(waiting_s(day)),
            )
        )  # fmt: skip
    lines = aligned(rows, right=range(2, 10), indent=0)
    if len(answer.days) > DAYS_SHOWN:
        lines.append(f"and {len(answer.days) - DAYS_SHOWN:,} more crew-days: see --out or --report.")
    return lines


def waiting_s(day: RouteDay) -> int:
    """Return the time of a day that is neither driving, work nor break, between leaving and coming back. [s]"""
    times = day.times
    busy = times.travel_s + sum(stop.leave_s - stop.start_s + stop.break_s for stop in times.stops)
    begun = times.depart_s
    first = times.stops[0] if times.stops else None
    if first is not None and first.break_at_s is not None and first.break_at_s < times.depart_s:
        busy -= first.break_s
    return times.return_s - begun - busy


def routes_document(answer: RoutesAnswer) -> dict[str, Any]:
    """Return the document that ``dialtrue routes --json`` prints; times of day are local. Never raises."""
    figures = answer.summary
    summary = plain(figures) | {
        "above_bound": plain(figures.above_bound),
        "nearest_above": plain(figures.nearest_above),
    }
    return {
        "form": "dialtrue.routes/1",
        "summary": summary,
        "timezone": answer.timezone,
        "days": [_day_document(answer, day) for day in answer.days],
        "no_place": plain(answer.no_place),
        "said": list(answer.said),
        "bad_rows": {"counts": dict(answer.bad_rows), "first": plain(answer.problems)},
    }


def _day_document(answer: RoutesAnswer, day: RouteDay) -> dict[str, Any]:
    times = day.times
    return {
        "day": times.day.isoformat(), "crew": times.crew.name, "leaves": clock_text(times.depart_s),
        "back": clock_text(times.return_s), "travel_minutes": times.travel_s / 60, "travel_km": day.travel_km,
        "stops": [
            _stop_document(answer, k + 1, stop, km)
            for k, (stop, km) in enumerate(zip(times.stops, day.km, strict=True))
        ],
    }  # fmt: skip


def _stop_document(answer: RoutesAnswer, place: int, stop: Stop, km: float) -> dict[str, Any]:
    visit = answer.visits[stop.visit]
    return {
        "stop": place, "site": visit.site, "address": visit.address, "mount": visit.mount,
        "registers": visit.registers, "arrive": clock_text(stop.arrive_s), "start": clock_text(stop.start_s),
        "leave": clock_text(stop.leave_s), "job_minutes": visit.job_s / 60, "travel_minutes": stop.travel_s / 60,
        "travel_km": km, "break_at": None if stop.break_at_s is None else clock_text(stop.break_at_s),
        "break_minutes": stop.break_s / 60,
    }  # fmt: skip
