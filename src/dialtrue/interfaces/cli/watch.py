"""The command ``watch``: judge every fitted port of a programme folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dialtrue.domain.errors.input_files import UnknownSuffix

TABLE_ENDINGS = (".csv", ".csv.gz", ".parquet")
REPORT_ENDINGS = (".html", ".htm")
EXIT_FINDINGS = 3


def checked_ending(path: Path | None, endings: tuple[str, ...]) -> None:
    """Refuse a result's name before the long work starts rather than after it."""
    if path is not None and not path.name.lower().endswith(endings):
        allowed = f"{', '.join(endings[:-1])} or {endings[-1]}" if len(endings) > 1 else endings[0]
        raise UnknownSuffix(file=path, allowed=allowed)


def watch(
    folder: Annotated[Path, typer.Argument(help="Programme folder: sites, fittings, dial_reads, reads and more.")],
    out: Annotated[Path | None, typer.Option(help="Write all findings here (.csv, .csv.gz, .parquet).")] = None,
    crossings: Annotated[Path | None, typer.Option(help="Write exchanged endpoints here (same forms).")] = None,
    report: Annotated[Path | None, typer.Option(help="Write a report that opens in any browser (.html).")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole result as JSON.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse a file that has a bad row.")] = False,
    accept: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Accept an offered repair by its key; may be repeated.")
    ] = None,
    as_of: Annotated[
        str | None, typer.Option(metavar="DATE", help="Judge with only what was known then: a day (its end) or a time.")
    ] = None,
    state: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Keep figures here from run to run; only new reads are counted.")
    ] = None,
    show: Annotated[int, typer.Option(min=0, max=1000, help="Findings to print in full.")] = 10,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Judge and print, write no file.")] = False,
) -> None:
    """Say which endpoints no longer count true, and why.

    Example: dialtrue watch my-programme --out findings.csv --report report.html

    Ends with 0 if nothing asks for an action and with 3 if something does.
    """
    wanted = ((out, TABLE_ENDINGS), (crossings, TABLE_ENDINGS), (report, REPORT_ENDINGS))
    for path, endings in wanted:
        checked_ending(path, endings)

    from dialtrue.interfaces.cli.as_json import watch_document
    from dialtrue.interfaces.cli.output import watch_lines
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.watch import watch_folder

    now = now_utc()
    then = None
    if as_of is not None:
        from dialtrue.files.settings import programme_zone
        from dialtrue.services.as_of import moment_named

        then = moment_named(as_of, zone=programme_zone(folder)[0], now=now)
    with progress_bars(quiet=as_json) as progress:
        result = watch_folder(
            folder, at=now, as_of=then, state=state, keep=not dry_run, strict=strict, accept=tuple(accept or ()),
            traces=max(show, 10), progress=progress,
        )  # fmt: skip
    if as_json:
        import json

        typer.echo(json.dumps(watch_document(result), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(watch_lines(result, show=show)))

    verb = "Would write" if dry_run else "Wrote"
    if not dry_run:
        from dialtrue.files.findings import write_crossings, write_findings
        from dialtrue.files.report import write_report

        if out is not None:
            write_findings(out, result.findings)
        if crossings is not None:
            write_crossings(crossings, result.crossings)
        if report is not None:
            write_report(report, result, title=folder.resolve().name, at=then or now)
    for path, _ in wanted:
        if path is not None:
            typer.echo(f"{verb} {path}", err=True)
    if result.summary.visits or result.summary.remote_checks:
        raise typer.Exit(EXIT_FINDINGS)
