"""The command ``routes``: which crew goes where on which day, in which order."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from dialtrue.domain.errors.routes import BadRouteDay
from dialtrue.interfaces.cli.watch import EXIT_FINDINGS, REPORT_ENDINGS, TABLE_ENDINGS, checked_ending


def routes(
    folder: Annotated[Path, typer.Argument(help="Programme folder: sites, and plan, crews, distances if there.")],
    out: Annotated[Path | None, typer.Option(help="Write the routes here (.csv, .csv.gz, .parquet).")] = None,
    report: Annotated[Path | None, typer.Option(help="Write maps and lists for print and phone (.html).")] = None,
    day: Annotated[str | None, typer.Option(metavar="DATE", help="First day; tomorrow if left out.")] = None,
    days: Annotated[int, typer.Option(min=1, max=400, help="Days to plan; after the first only working days.")] = 1,
    seconds: Annotated[float, typer.Option(min=0, max=86_400, help="Longest search [s].")] = 10.0,
    iterations: Annotated[
        int | None, typer.Option(min=0, help="Rounds in place of seconds: the same routes on every machine.")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, max=2**31 - 1, help="Seed of the search.")] = 1,
    crew: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Only this crew goes out; may be repeated.")
    ] = None,
    plan: Annotated[Path | None, typer.Option(metavar="FILE", help="The plan, if not plan.csv in the folder.")] = None,
    fitted_too: Annotated[bool, typer.Option("--all", help="Visit sites too that have their endpoints already.")] = (
        False
    ),
    left_out: Annotated[Path | None, typer.Option(help="Write visits without a place, and why (.csv, ...).")] = None,
    geojson: Annotated[Path | None, typer.Option(help="Write lines and stops for a map program (.geojson).")] = None,
    paper: Annotated[str, typer.Option(metavar="SIZE", help="Paper of the report: letter or a4.")] = "",
    units: Annotated[str, typer.Option(metavar="SYSTEM", help="us or metric; default: as most dials.")] = "",
    show: Annotated[int, typer.Option(min=0, max=10_000, help="Visits without a place to print.")] = 10,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole result as JSON.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse a file that has a bad row.")] = False,
    accept: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Accept an offered repair by its key; may be repeated.")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Plan and print, write no file.")] = False,
) -> None:
    """Lay the days of the crews: who, where, when.

    Example: dialtrue routes my-programme --day 2026-05-04 --days 5 --out routes.csv --report routes.html

    Ctrl-C ends the search with the best so far; pressed twice, it ends the command. Ends with 0 if every visit has a
    place and with 3 if one has none.
    """
    wanted = (
        (out, TABLE_ENDINGS),
        (report, REPORT_ENDINGS),
        (left_out, TABLE_ENDINGS),
        (geojson, (".geojson", ".json")),
    )
    for path, endings in wanted:
        checked_ending(path, endings)
    if units not in ("", "us", "metric"):
        raise typer.BadParameter("use us or metric", param_hint="--units")
    if paper not in ("", "letter", "a4"):
        raise typer.BadParameter("use letter or a4", param_hint="--paper")

    import datetime as dt
    from zoneinfo import ZoneInfo

    from dialtrue.files.routes_settings import route_settings
    from dialtrue.files.settings import programme_zone
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.cli.routes_text import routes_document, routes_lines
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.routes import route_folder

    now = now_utc()
    try:
        today = now.astimezone(ZoneInfo(programme_zone(folder)[0])).date()
        first = today + dt.timedelta(days=1) if day is None else dt.date.fromisoformat(day)
    except ValueError as error:
        raise BadRouteDay(text=(day or "")[:40]) from error
    with progress_bars(quiet=as_json) as progress, _one_more_chance() as stop_asked:
        answer = route_folder(
            folder, at=now, first_day=first, days=days, seconds=seconds, iterations=iterations, seed=seed,
            crews=tuple(crew or ()), plan=plan, fitted_too=fitted_too, system=units, strict=strict,
            accept=tuple(accept or ()), stop_asked=stop_asked, progress=progress,
        )  # fmt: skip
    settings = route_settings(folder)
    if as_json:
        import json

        typer.echo(json.dumps(routes_document(answer), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(routes_lines(answer, settings, show=show)))
    if not dry_run:
        from dialtrue.files.routes_out import write_geojson, write_left_out, write_routes
        from dialtrue.files.routes_page import write_routes_page

        if out is not None:
            write_routes(out, answer)
        if left_out is not None:
            write_left_out(left_out, answer)
        if geojson is not None:
            write_geojson(geojson, answer)
        if report is not None:
            size = paper or ("letter" if answer.system == "us" else "a4")
            write_routes_page(report, answer, settings, title=folder.resolve().name, at=now, paper=size)
    for path, _ in wanted:
        if path is not None:
            typer.echo(f"{'Would write' if dry_run else 'Wrote'} {path}", err=True)
    if answer.no_place:
        raise typer.Exit(EXIT_FINDINGS)


@contextmanager
def _one_more_chance() -> Iterator[Callable[[], bool]]:
    """Turn the first Ctrl-C into a request to stop with the best so far; the second one ends the command."""
    asked: list[bool] = []

    def note(number: int, frame: Any) -> None:
        if asked:
            raise KeyboardInterrupt
        asked.append(True)
        typer.echo("Stopping with the best routes so far. Once more to leave.", err=True)

    try:
        before = signal.signal(signal.SIGINT, note)
    except ValueError:  # not the main thread, as in a test or a server: nothing to catch
        yield lambda: False
        return
    try:
        yield lambda: bool(asked)
    finally:
        signal.signal(signal.SIGINT, before)
