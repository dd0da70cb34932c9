"""The command ``figures``: how far a programme is, how well it reads, what is at stake and what came back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dialtrue.interfaces.cli.watch import REPORT_ENDINGS, TABLE_ENDINGS, checked_ending


def figures(
    folder: Annotated[Path, typer.Argument(help="Programme folder: sites, fittings, reads, checks and more.")],
    report: Annotated[Path | None, typer.Option(help="Write the page for a council, one sheet first (.html).")] = None,
    out: Annotated[Path | None, typer.Option(help="Write every figure here (.csv, .csv.gz, .parquet).")] = None,
    findings: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Take findings from here instead of judging the folder.")
    ] = None,
    adjustments: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Adjustments of dialtrue settle: what was recovered.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print all figures as JSON.")] = False,
    accept: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Accept an offered repair by its key; may be repeated.")
    ] = None,
    as_of: Annotated[
        str | None, typer.Option(metavar="DATE", help="Use only what was known then: a day (its end) or a time.")
    ] = None,
    show: Annotated[int, typer.Option(min=0, max=100_000, help="Silent ports to print.")] = 20,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Do and print all, write no file.")] = False,
) -> None:
    """Tell how far a programme is and what is at stake.

    Example: dialtrue figures my-programme --report figures.html

    Every share comes with its count and interval; small groups say too few, and no crew is ranked. Ends with 0.
    """
    for path, endings in ((out, TABLE_ENDINGS), (report, REPORT_ENDINGS)):
        checked_ending(path, endings)

    from dialtrue.interfaces.cli.figures_text import figures_document, figures_lines
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.programme_figures import programme_figures

    now = now_utc()
    then = None
    if as_of is not None:
        from dialtrue.files.settings import programme_zone
        from dialtrue.services.as_of import moment_named

        then = moment_named(as_of, zone=programme_zone(folder)[0], now=now)
    with progress_bars(quiet=as_json) as progress:
        told = programme_figures(
            folder, at=now, as_of=then, findings=findings, adjustments=adjustments, accept=tuple(accept or ()),
            progress=progress,
        )  # fmt: skip
    if as_json:
        import json

        typer.echo(json.dumps(figures_document(told), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(figures_lines(told, show=show)))
    if not dry_run:
        if out is not None:
            from dialtrue.files.figures_table import write_figures

            write_figures(out, told)
        if report is not None:
            from dialtrue.files.figures_page import write_figures_page
            from dialtrue.files.figures_settings import programme_name

            write_figures_page(report, told, title=programme_name(folder), at=then or now)
    for path in (out, report):
        if path is not None:
            typer.echo(f"{'Would write' if dry_run else 'Wrote'} {path}", err=True)
