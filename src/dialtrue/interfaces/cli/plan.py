"""The command ``plan``: from the survey to what goes where, what is keyed, how it is proved, and what must be asked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dialtrue.interfaces.cli.watch import EXIT_FINDINGS, TABLE_ENDINGS, checked_ending

if TYPE_CHECKING:
    import datetime as dt

    from dialtrue.services.plan import PlanAnswer


def plan(
    folder: Annotated[Path, typer.Argument(help="Programme folder with sites, or a sites table alone.")],
    out: Annotated[Path | None, typer.Option(help="Write the plan here (.csv, .csv.gz, .parquet).")] = None,
    kit: Annotated[
        Path | None, typer.Option(help="Write the kit by site, van and day, programme (a table, or .xlsx).")
    ] = None,
    order: Annotated[Path | None, typer.Option(help="Write the order list of the programme (a table, or .xlsx).")] = (
        None
    ),
    routes: Annotated[
        Path | None, typer.Option(metavar="ROUTES", help="Routes, for the kit by van and day: from dialtrue routes.")
    ] = None,
    billing: Annotated[str, typer.Option(metavar="VOLUME", help="Billing unit: '1000 gal', '1 m3'.")] = "",
    endpoint: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Endpoint on hand, the preferred first; may be repeated.")
    ] = None,
    output: Annotated[str, typer.Option(metavar="KEY", help="Pulse output where the survey is blank.")] = "",
    cable: Annotated[str, typer.Option(metavar="KEY", help="Cable where the survey is blank.")] = "",
    length: Annotated[str, typer.Option(metavar="LENGTH", help="Cable run where the survey is blank: '6 m'.")] = "",
    ports: Annotated[
        int | None, typer.Option(metavar="COUNT", min=0, help="Ports that were counted: refused if too few.")
    ] = None,
    check: Annotated[
        Path | None, typer.Option(metavar="PLAN", help="Check this plan's ports against the sites, plan nothing.")
    ] = None,
    sheet: Annotated[
        list[Path] | None, typer.Option(metavar="PATH", help="Your own data sheets, file or folder; may be repeated.")
    ] = None,
    survey: Annotated[
        bool, typer.Option("--survey/--no-survey", help="Ask about rows that the survey has a doubt about.")
    ] = True,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse a sites table that has a bad row.")] = False,
    show: Annotated[int, typer.Option(min=1, max=1000, help="Questions to print.")] = 12,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole answer as JSON.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Plan and print, write no file.")] = False,
) -> None:
    """Plan every register: what goes where, and what is keyed.

    Example: dialtrue plan my-programme --out plan.csv --billing '1000 gal'

    Ends with 0 if every register is planned and with 3 if something must be asked on site first.
    """
    checked_ending(out, TABLE_ENDINGS)
    checked_ending(check, TABLE_ENDINGS)
    for path in (kit, order):
        checked_ending(path, (*TABLE_ENDINGS, ".xlsx"))
    checked_ending(routes, TABLE_ENDINGS)

    import dataclasses

    from dialtrue.domain.pulse_chain.measure import measure
    from dialtrue.files.plan_settings import plan_settings
    from dialtrue.interfaces.cli.plan_text import plan_document, plan_lines
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.plan import plan_folder
    from dialtrue.services.plan_check import check_plan_file, check_ports

    if check is not None:
        registers = check_plan_file(check, folder, at=now_utc())
        typer.echo(f"{registers:,} registers, each with a port of its own; every compound meter has HIGH on port 1.")
        return
    settings = plan_settings(folder)
    asked = {
        "billing_l": measure(billing, what="volume") if billing else None,
        "endpoints": tuple(endpoint or ()),
        "output": output,
        "cable": cable,
        "cable_length_m": float(measure(length, what="length")) if length else None,
    }
    settings = dataclasses.replace(settings, **{name: value for name, value in asked.items() if value})
    at = now_utc()
    with progress_bars(quiet=as_json) as progress:
        answer = plan_folder(
            folder,
            at=at,
            sheets=tuple(sheet or ()),
            settings=settings,
            survey=survey,
            strict=strict,
            progress=progress,
        )
    if ports is not None:
        check_ports(answer.sites, ports)
    if as_json:
        import json

        typer.echo(json.dumps(plan_document(answer), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(plan_lines(answer, show=show)))
    if out is not None:
        if not dry_run:
            from dialtrue.files.tables_out import write_table

            write_table(out, answer.plan)
        typer.echo(f"{'Would write' if dry_run else 'Wrote'} {out}", err=True)
    if kit is not None or order is not None:
        _write_kit(answer, kit=kit, order=order, routes=routes, folder=folder, at=at, dry_run=dry_run)
    if answer.counts["ask"] or answer.counts["left_out"]:
        raise typer.Exit(EXIT_FINDINGS)


def _write_kit(
    answer: PlanAnswer,
    *,
    kit: Path | None,
    order: Path | None,
    routes: Path | None,
    folder: Path,
    at: dt.datetime,
    dry_run: bool,
) -> None:
    """Write the kit and the order list, and say what the routes' file brought up."""
    from dialtrue.files.route_table import read_routes
    from dialtrue.files.settings import programme_zone
    from dialtrue.services.kit_stock import kit_for, write_kit

    driven = None
    if routes is not None:
        zone = programme_zone(folder)[0] if folder.is_dir() else "UTC"
        driven, said = read_routes(routes, zone=zone, at=at)
        for sentence in said:
            typer.echo(sentence, err=True)
    made = kit_for(answer, routes=driven)
    for path, scope in ((kit, ""), (order, "programme")):
        if path is None:
            continue
        left_out = [] if dry_run else write_kit(path, made, scope=scope)
        typer.echo(f"{'Would write' if dry_run else 'Wrote'} {path}", err=True)
        for sentence in left_out:
            typer.echo(sentence, err=True)
