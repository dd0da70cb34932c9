"""The command ``settle``: put wrong bills right, by account and period."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dialtrue.interfaces.cli.watch import EXIT_FINDINGS, TABLE_ENDINGS, checked_ending


def settle(
    folder: Annotated[Path, typer.Argument(help="Programme folder: sites, fittings, reads, and checks and bills.")],
    out: Annotated[Path | None, typer.Option(help="Write the adjustments here (.csv, .csv.gz, .parquet).")] = None,
    statements: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Write a statement for each account here, as a page and a PDF.")
    ] = None,
    findings: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Findings of an earlier watch; without it the watch is run.")
    ] = None,
    crossings: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Exchanged endpoints of that watch, with --findings.")
    ] = None,
    rates: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Rate tables; default: rates.toml in the folder.")
    ] = None,
    rules: Annotated[str, typer.Option(metavar="NAME", help="Claim rules to start from; see the how-to page.")] = "",
    assume: Annotated[bool, typer.Option("--assume", help="Settle findings too that nobody has confirmed.")] = False,
    show: Annotated[int, typer.Option(min=1, max=10_000, help="Accounts to print.")] = 12,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole answer as JSON.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Settle and print, write no file.")] = False,
) -> None:
    """Put wrong bills right, period by period, and say how.

    Example: dialtrue settle my-programme --out adjustments.csv --statements letters

    Only findings that the table checks confirms are settled, unless --assume is given. Ends with 3 if something is
    to be put right or could not be.
    """
    checked_ending(out, TABLE_ENDINGS)

    import dataclasses

    from dialtrue.domain.claims.claim_rule import EXAMPLES
    from dialtrue.files.settings import programme_zone
    from dialtrue.files.settle_settings import settle_settings
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.cli.settle_text import settle_document, settle_lines
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.settle import settle_folder

    if rules and rules not in EXAMPLES:
        raise typer.BadParameter(f"use one of {', '.join(EXAMPLES)}", param_hint="--rules")
    now = now_utc()
    settings = settle_settings(folder, rates=rates)
    if assume:
        settings = dataclasses.replace(settings, assume=True)
    if rules:
        settings = dataclasses.replace(settings, under=EXAMPLES[rules][0], over=EXAMPLES[rules][1])
    told = None
    if findings is not None:
        from dialtrue.services.findings_file import read_crossings, read_findings

        zone = programme_zone(folder)[0]
        found, said = read_findings(findings, zone=zone, at=now)
        exchanged, more = ((), []) if crossings is None else read_crossings(crossings, zone=zone, at=now)
        for sentence in (*said, *more):
            typer.echo(sentence, err=True)
        told = (found, exchanged)
    with progress_bars(quiet=as_json) as progress:
        settlement = settle_folder(folder, at=now, settings=settings, findings=told, progress=progress)
    if as_json:
        import json

        typer.echo(json.dumps(settle_document(settlement), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(settle_lines(settlement, show=show)))
    verb = "Would write" if dry_run else "Wrote"
    if out is not None:
        if not dry_run:
            from dialtrue.files.adjustments_out import write_adjustments

            write_adjustments(out, settlement.adjustments)
        typer.echo(f"{verb} {out}", err=True)
    if statements is not None:
        from dialtrue.services.statements import write_statements

        count = write_statements(statements, settlement, at=now, dry_run=dry_run)
        typer.echo(f"{verb} {count} statements in {statements}", err=True)
    if settlement.adjustments or settlement.left_out:
        raise typer.Exit(EXIT_FINDINGS)
