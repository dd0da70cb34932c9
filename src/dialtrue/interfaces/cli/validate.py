"""The command ``validate``: check reads and estimate what is missing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dialtrue.interfaces.cli.watch import EXIT_FINDINGS, TABLE_ENDINGS, checked_ending


def validate(
    folder: Annotated[Path, typer.Argument(help="Programme folder with reads; fittings, sites and more if any.")],
    out: Annotated[
        Path | None, typer.Option(help="Write reads and estimates here (.csv, .csv.gz, .parquet); reads stay as sent.")
    ] = None,
    show: Annotated[int, typer.Option(min=0, max=200, help="Ports to print, the worst first.")] = 10,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse a file that has a bad row.")] = False,
    accept: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Accept an offered repair by its key; may be repeated.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole account as JSON.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check, estimate and print, write no file.")] = False,
) -> None:
    """Check every read and estimate what is missing.

    Example: dialtrue validate my-programme --out validated.parquet

    Reads are never changed: an estimate stands in a column of its own, with its rule and its 90 % interval, and no
    estimate is ever evidence for the watch. Ends with 3 if a check failed, else with 0.
    """
    checked_ending(out, TABLE_ENDINGS)

    from dialtrue.files.validate_settings import validate_settings
    from dialtrue.files.validated_out import keep_original, write_validated
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.cli.validate_text import validation_document, validation_lines
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.read_validation import open_validation

    with progress_bars(quiet=as_json) as progress:
        validation = open_validation(
            folder, at=now_utc(), settings=validate_settings(folder), strict=strict, accept=tuple(accept or ()),
            progress=progress,
        )  # fmt: skip
        if out is not None:
            keep_original(out, validation.originals)
        if out is not None and not dry_run:
            write_validated(out, validation.blocks())
        else:
            for _ in validation.blocks():
                pass
    account = validation.account
    if as_json:
        import json

        typer.echo(json.dumps(validation_document(account), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(validation_lines(account, show=show)))
    if out is not None:
        typer.echo(f"{'Would write' if dry_run else 'Wrote'} {out}", err=True)
    if account.failed:
        raise typer.Exit(EXIT_FINDINGS)
