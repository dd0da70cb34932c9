"""The command ``survey``: put a sites sheet right before anything is planned from it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dialtrue.domain.errors.input_files import UnknownSuffix
from dialtrue.interfaces.cli.watch import EXIT_FINDINGS, TABLE_ENDINGS, checked_ending


def survey(
    folder: Annotated[Path, typer.Argument(help="Programme folder with sites (.csv, .csv.gz, .xlsx, .parquet).")],
    known: Annotated[
        Path | None, typer.Option(metavar="FILE", help="List of meters to hold it against; else known.csv there.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Write repairs to review and decide here (repairs.csv).")] = None,
    clean: Annotated[
        Path | None, typer.Option(help="Write the sites with accepted repairs made (.csv, .csv.gz, .parquet).")
    ] = None,
    accept: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Accept a repair, or all under a leading part; repeatable.")
    ] = None,
    refuse: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Say that a cell stands as it is; repeatable.")
    ] = None,
    by: Annotated[str, typer.Option(metavar="NAME", help="Who decides; kept beside each decision.")] = "",
    show: Annotated[int, typer.Option(min=0, max=100_000, help="Flags to print of each kind.")] = 10,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole answer as JSON.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Judge and print, write no file.")] = False,
) -> None:
    """Find slips in a survey sheet, offer repairs, ask.

    Example: dialtrue survey my-programme --known billing-export.csv --out my-programme/repairs.csv

    Nothing is repaired unless it is accepted: by --accept KEY --by NAME, or in the column decision of repairs.csv in
    the folder, which every command honours. Ends with 0 if nothing is flagged and with 3 if something is.
    """
    if out is not None and not out.name.lower().endswith(".csv"):
        raise UnknownSuffix(file=out, allowed=".csv")
    checked_ending(clean, TABLE_ENDINGS)
    if (accept or refuse) and not by.strip():
        raise typer.BadParameter("say who decides", param_hint="--by")

    from dialtrue.files.repairs_file import REPAIRS_FILE, write_lines
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.survey import survey_folder

    with progress_bars(quiet=as_json) as progress:
        answer = survey_folder(
            folder, at=now_utc(), known=known, accept=tuple(accept or ()), refuse=tuple(refuse or ()), by=by.strip(),
            progress=progress,
        )  # fmt: skip
    if as_json:
        import json

        from dialtrue.interfaces.cli.survey_text import survey_document

        typer.echo(json.dumps(survey_document(answer), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        from dialtrue.interfaces.cli.survey_text import survey_lines

        typer.echo("\n".join(survey_lines(answer, show=show)))

    kept = folder / REPAIRS_FILE
    targets = [kept] if accept or refuse else []
    if out is not None and (not targets or out.resolve() != kept.resolve()):
        targets.append(out)
    verb = "Would write" if dry_run else "Wrote"
    for path in targets:
        if not dry_run:
            write_lines(path, answer.lines)
        open_count = sum(not line.decision for line in answer.lines)
        typer.echo(f"{verb} {path}: {open_count:,} to decide, {len(answer.lines) - open_count:,} decided", err=True)
    if clean is not None:
        if not dry_run:
            from dialtrue.files.tables_out import write_table

            write_table(clean, answer.sites)
        typer.echo(f"{verb} {clean}", err=True)
    if answer.flags:
        raise typer.Exit(EXIT_FINDINGS)
