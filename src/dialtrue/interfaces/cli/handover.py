"""The command ``handover``: pass installs and reads on to billing and other systems in open forms."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

EXIT_LEFT_OUT = 3


class HandoverForm(StrEnum):
    """A form of the files."""

    CSV = "csv"
    PARQUET = "parquet"
    ESPI = "espi"
    SENML = "senml"


def handover(
    folder: Annotated[
        Path | None, typer.Argument(help="Programme folder: sites, fittings, reads; checks and more if any.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Folder to make; an older handover is replaced.")
    ] = None,
    check: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Hold a folder that was handed over against its manifest.")
    ] = None,
    findings: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Findings of a watch; else the watch is run.")
    ] = None,
    validated: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Reads and estimates as dialtrue validate wrote them.")
    ] = None,
    form: Annotated[
        list[HandoverForm] | None, typer.Option(help="Only this form; may be repeated. All where not given.")
    ] = None,
    include_doubtful: Annotated[
        bool, typer.Option("--include-doubtful", help="Hand over ports that did not pass, marked as doubtful.")
    ] = False,
    least_probability: Annotated[
        float | None, typer.Option(min=0.5, max=1.0, help="Least probability that a port counts true.")
    ] = None,
    allow_checks: Annotated[
        bool, typer.Option("--allow-checks", help="Hand over sound ports of which only a check from the desk is asked.")
    ] = False,
    without_accounts: Annotated[
        bool, typer.Option("--without-accounts", help="No account, site or meter; endpoints by a keyed hash.")
    ] = False,
    salt: Annotated[str, typer.Option(metavar="TEXT", help="Salt of that hash: the same salt, the same keys.")] = "",
    daily: Annotated[bool, typer.Option("--daily", help="Keep the last read of each local day only.")] = False,
    espi_use: Annotated[
        bool, typer.Option("--espi-use", help="ESPI files carry the use between reads instead of the index.")
    ] = False,
    accept: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Accept an offered repair by its key; may be repeated.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole account as JSON.")] = False,
) -> None:
    """Pass installs and reads on to billing in open forms.

    Example: dialtrue handover my-programme --out to-billing

    Only what a bill may rest on: CSV with a Table Schema, Parquet, ESPI and SenML, a list of what was left out and why,
    and a manifest with checksums. Ends with 3 if a port was left out, else with 0. Your tariff and local law decide
    what may be billed.
    """
    _fitting_options(folder, out, check, salt=salt, without_accounts=without_accounts)

    from dialtrue.interfaces.cli.handover_text import check_lines, handover_document, handover_lines

    if check is not None:
        from dialtrue.files.handover.manifest import check_handover

        document = check_handover(check)
        if as_json:
            import json

            typer.echo(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False))
        else:
            typer.echo("\n".join(check_lines(check, document)))
        return

    import secrets

    from dialtrue.domain.handover.account import FORMS, HandoverOptions
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.handover import hand_over

    assert folder is not None
    assert out is not None
    options = HandoverOptions(
        forms=tuple(dict.fromkeys(each.value for each in form)) if form else FORMS,
        include_doubtful=include_doubtful,
        without_accounts=without_accounts,
        salt=salt or (secrets.token_hex(32) if without_accounts else ""),
        salt_kept=bool(salt),
        daily=daily,
        espi_use=espi_use,
        allow_checks=allow_checks,
        least_probability=least_probability,
    )
    with progress_bars(quiet=as_json) as progress:
        result = hand_over(
            folder, out, at=now_utc(), options=options, findings=findings, validated=validated,
            accept=tuple(accept or ()), progress=progress,
        )  # fmt: skip
    if as_json:
        import json

        typer.echo(json.dumps(handover_document(result), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(handover_lines(result)))
    typer.echo(f"Wrote {out}", err=True)
    if result.left_out:
        raise typer.Exit(EXIT_LEFT_OUT)


def _fitting_options(
    folder: Path | None, out: Path | None, check: Path | None, *, salt: str, without_accounts: bool
) -> None:
    """Refuse options that do not go together before any file is read."""
    if check is not None:
        if folder is not None or out is not None:
            raise typer.BadParameter("it goes alone, with the folder to check", param_hint="--check")
        return
    if folder is None:
        raise typer.BadParameter("name the programme folder", param_hint="FOLDER")
    if out is None:
        raise typer.BadParameter("name the folder to make", param_hint="--out")
    if salt and not without_accounts:
        raise typer.BadParameter("it goes with --without-accounts", param_hint="--salt")
