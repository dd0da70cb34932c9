"""The command ``sample``: accept contractors' work by lot."""

from __future__ import annotations

import dataclasses
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from dialtrue.interfaces.cli.watch import EXIT_FINDINGS, REPORT_ENDINGS, checked_ending


class Step(StrEnum):
    """What is to be done."""

    PLAN = "plan"
    DRAW = "draw"
    JUDGE = "judge"


class Severity(StrEnum):
    """How strictly lots are inspected."""

    NORMAL = "normal"
    TIGHTENED = "tightened"
    REDUCED = "reduced"


class Grade(StrEnum):
    """A grade of defects."""

    CRITICAL = "critical"
    MAJOR = "major"
    MINOR = "minor"


def sample(
    folder: Annotated[Path, typer.Argument(help="Programme folder with fittings; sites, inspections and draw if any.")],
    step: Annotated[Step, typer.Argument(help="plan what to look at, draw the sites, or judge what was found.")],
    lot: Annotated[list[str] | None, typer.Option(metavar="LOT", help="Only this lot; may be repeated.")] = None,
    lot_by: Annotated[
        str, typer.Option(metavar="WHAT", help="crew_week, cable_lot, or a column of fittings or sites.")
    ] = "",
    seed: Annotated[str, typer.Option(metavar="TEXT", help="Draw with this seed, fixed and told to both before.")] = "",
    again: Annotated[bool, typer.Option("--again", help="Draw a new sample of a lot rejected and screened.")] = False,
    replace: Annotated[
        str, typer.Option(metavar="SITE", help="Draw a stand-in for a site with no access; with --reason, --by.")
    ] = "",
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why a site is replaced; kept in draw.csv.")] = "",
    by: Annotated[str, typer.Option(metavar="NAME", help="Who allows a replacement; kept in draw.csv.")] = "",
    level: Annotated[str, typer.Option(metavar="LEVEL", help="Inspection level: I, II, III, or S-1 to S-4.")] = "",
    severity: Annotated[
        Severity | None, typer.Option(help="Inspect like this, whatever the switching rules say.")
    ] = None,
    critical: Annotated[
        str, typer.Option(metavar="DEMAND", help="For critical defects: 'aql 1.0' [%], 'zero 5' [%], none.")
    ] = "",
    major: Annotated[str, typer.Option(metavar="DEMAND", help="The same for major defects.")] = "",
    minor: Annotated[str, typer.Option(metavar="DEMAND", help="The same for minor defects.")] = "",
    grade: Annotated[Grade, typer.Option(help="Compare crews by defects of this grade.")] = Grade.CRITICAL,
    compare: Annotated[
        list[str] | None, typer.Option(metavar="A,B", help="Hold two crews against each other; may be repeated.")
    ] = None,
    report: Annotated[Path | None, typer.Option(help="Write pages to print, two a lot, and charts (.html).")] = None,
    show: Annotated[int, typer.Option(min=0, max=100_000, help="Sites and lots to print.")] = 60,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole account as JSON.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Do and print all, write no file.")] = False,
) -> None:
    """Accept contractors' work by lot, from a fair draw.

    Example: dialtrue sample my-programme judge --report sample.html

    plan says how many sites of each lot are looked at and what that proves; draw picks them and adds them to draw.csv
    in the folder; judge reads inspections and decides. Ends with 3 if a lot is rejected, else with 0.
    """
    checked_ending(report, REPORT_ENDINGS)
    names = tuple(lot or ())
    _fitting_options(step, names, seed=seed, again=again, replace=replace, reason=reason, by=by)
    pairs = [_pair(each) for each in compare or ()]

    from dialtrue.domain.acceptance.plan import demand_named
    from dialtrue.files.sample_settings import sample_settings
    from dialtrue.interfaces.cli.sample_text import sample_document, sample_lines
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.sample import draw_lots, replace_site, sample_account

    now = now_utc()
    demands = {"critical": critical, "major": major, "minor": minor}
    asked = {"lot_by": lot_by, "level": level, **{k: str(demand_named(v)) if v else "" for k, v in demands.items()}}
    settings = dataclasses.replace(sample_settings(folder), **{name: value for name, value in asked.items() if value})
    table = None
    if replace:
        account, table = replace_site(
            folder, at=now, lot=names[0], site=replace, reason=reason.strip(), by=by.strip(), settings=settings
        )
    elif step is Step.DRAW:
        account, table = draw_lots(
            folder, at=now, lots=names, seed=seed, again=again, severity=_word(severity), settings=settings
        )
    else:
        account = sample_account(
            folder, at=now, lots=names, severity=_word(severity), grade=grade.value, pairs=pairs, settings=settings,
            planning=step is Step.PLAN,
        )  # fmt: skip
    if as_json:
        import json

        typer.echo(json.dumps(sample_document(account, step.value), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(sample_lines(account, step.value, show=show)))
    verb = "Would write" if dry_run else "Wrote"
    if table is not None:
        path = _draw_file(folder)
        if not dry_run:
            from dialtrue.files.tables_out import write_table

            write_table(path, table)
        typer.echo(f"{verb} {path}", err=True)
    if report is not None:
        if not dry_run:
            from dialtrue.files.sample_report import write_sample_report

            write_sample_report(report, account, title=folder.resolve().name, at=now)
        typer.echo(f"{verb} {report}", err=True)
    if account.counted("reject"):
        raise typer.Exit(EXIT_FINDINGS)


def _word(severity: Severity | None) -> str | None:
    return None if severity is None else severity.value


def _fitting_options(
    step: Step, lots: tuple[str, ...], *, seed: str, again: bool, replace: str, reason: str, by: str
) -> None:
    """Refuse options that do not go together before any file is read."""
    if step is not Step.DRAW:
        for name, given in (("--seed", seed), ("--again", again), ("--replace", replace)):
            if given:
                raise typer.BadParameter("it goes with draw", param_hint=name)
        return
    if not lots:
        raise typer.BadParameter("name the lot to draw; plan lists them", param_hint="--lot")
    if replace and (len(lots) != 1 or not reason.strip() or not by.strip()):
        raise typer.BadParameter("name one --lot, the --reason, and --by whom it is allowed", param_hint="--replace")
    if (reason or by) and not replace:
        raise typer.BadParameter("it goes with --replace", param_hint="--reason" if reason else "--by")


def _pair(text: str) -> tuple[str, str]:
    one, comma, other = (part.strip() for part in text.partition(","))
    if not (one and comma and other) or one == other:
        raise typer.BadParameter("name two crews with a comma between: A,B", param_hint="--compare")
    return one, other


def _draw_file(folder: Path) -> Path:
    """Return where the draws of a folder stand, in whichever form."""
    standing = [path for path in folder.iterdir() if path.name.lower() in ("draw.csv.gz", "draw.parquet", "draw.csv")]
    return standing[0] if standing else folder / "draw.csv"
