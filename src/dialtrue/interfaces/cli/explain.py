"""The command ``explain``: lay open why one meter is judged as it is."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from dialtrue.interfaces.cli.watch import REPORT_ENDINGS, checked_ending


def explain(
    folder: Annotated[Path, typer.Argument(help="Programme folder, as for watch.")],
    meter: Annotated[str, typer.Argument(help="Serial of the meter, exactly as in the records.")],
    endpoint: Annotated[str, typer.Option(help="Only the fitting of this endpoint.")] = "",
    port: Annotated[int | None, typer.Option(min=1, max=99, help="Only the fitting of this port.")] = None,
    role: Annotated[
        Literal["single", "high", "low"] | None, typer.Option(help="Only this register of a compound meter.")
    ] = None,
    report: Annotated[Path | None, typer.Option(help="Write a page with every picture (.html).")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
    accept: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Accept an offered repair by its key; may be repeated.")
    ] = None,
    as_of: Annotated[
        str | None, typer.Option(metavar="DATE", help="Judge with only what was known then: a day (its end) or a time.")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Judge and print, write no file.")] = False,
) -> None:
    """Say why one meter is judged as it is.

    Example: dialtrue explain my-programme W-1042 --report why.html

    Prints what each block of evidence says for and against, in bits: one bit doubles the odds.
    """
    checked_ending(report, REPORT_ENDINGS)

    from dialtrue.interfaces.cli.as_json import explain_document
    from dialtrue.interfaces.cli.explain_text import explain_lines
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.explain import explain_meter

    at = now_utc()
    then = None
    if as_of is not None:
        from dialtrue.files.settings import programme_zone
        from dialtrue.services.as_of import moment_named

        then = moment_named(as_of, zone=programme_zone(folder)[0], now=at)
    with progress_bars(quiet=as_json) as progress:
        explained = explain_meter(
            folder, meter, at=at, as_of=then, endpoint=endpoint, port=port, role=role or "", accept=tuple(accept or ()),
            progress=progress,
        )  # fmt: skip
    if as_json:
        import json

        typer.echo(json.dumps(explain_document(explained), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(explain_lines(explained)))
    if report is not None:
        if not dry_run:
            from dialtrue.files.report import write_explanation

            write_explanation(report, explained, title=folder.resolve().name, at=then or at)
        typer.echo(f"{'Would write' if dry_run else 'Wrote'} {report}", err=True)
