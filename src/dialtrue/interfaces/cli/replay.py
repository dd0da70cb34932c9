"""The command ``replay``: the watch run over a past season, step by step, each with what was known then."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dialtrue.interfaces.cli.watch import REPORT_ENDINGS, TABLE_ENDINGS, checked_ending


def replay(
    folder: Annotated[Path, typer.Argument(help="Programme folder, as for watch.")],
    out: Annotated[Path, typer.Option(help="Write what each step asked for here (.csv, .csv.gz, .parquet).")],
    every: Annotated[str, typer.Option(metavar="STEP", help="Time between runs: days or hours, as 7d or 12h.")] = "7d",
    first: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="First run; else one step after the first read.")
    ] = None,
    last: Annotated[
        str | None, typer.Option("--to", metavar="DATE", help="Last run; else when the last read had come.")
    ] = None,
    truth: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Labels of a simulated town: adds the delay of detection.")
    ] = None,
    report: Annotated[Path | None, typer.Option(help="Write a report with the curves (.html).")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print steps and curves as JSON.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse a file that has a bad row.")] = False,
    accept: Annotated[
        list[str] | None, typer.Option(metavar="KEY", help="Accept an offered repair by its key; may be repeated.")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say which runs would be made, and make none.")] = False,
) -> None:
    """Run the watch over a past season, step by step.

    Example: dialtrue replay my-programme --every 7d --out replay.csv --report replay.html

    Each run uses only what was known then. Stopped half-way, it goes on from there when called again.
    """
    checked_ending(out, TABLE_ENDINGS)
    checked_ending(report, REPORT_ENDINGS)

    from dialtrue.files.replay_steps import HalfDone, write_replay
    from dialtrue.files.settings import programme_zone
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.cli.replay_text import replay_document, replay_lines
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.as_of import moment_named
    from dialtrue.services.detection_delay import read_truth
    from dialtrue.services.replay import replay_folder, season_of, step_named, steps_between

    now, step = now_utc(), step_named(every)
    zone = programme_zone(folder)[0]
    begin = None if first is None else moment_named(first, zone=zone, now=now, option="--from")
    end = None if last is None else moment_named(last, zone=zone, now=now, option="--to")
    planted = read_truth(truth) if truth is not None else None
    with progress_bars(quiet=as_json) as progress:
        if begin is None or end is None:
            season = season_of(folder, at=now, progress=progress)
            end = end or min(season[1], now)
            begin = begin or min(season[0] + step, end)
        moments = steps_between(begin, end, step)
        if dry_run:
            typer.echo(f"{len(moments):,} runs, from {begin:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M} UTC.")
            return
        plan = {"folder": str(folder.resolve()), "moments": [f"{moment.isoformat()}" for moment in moments],
                "strict": strict, "accept": sorted(accept or ())}  # fmt: skip
        keep = HalfDone(out.with_name(f"{out.name}.steps"), plan)
        result = replay_folder(
            folder, at=now, moments=moments, keep=keep, truth=planted, strict=strict, accept=tuple(accept or ()),
            progress=progress,
        )  # fmt: skip
    write_replay(out, result.steps)
    if report is not None:
        from dialtrue.files.report.replay_page import write_replay_report

        write_replay_report(report, result, title=folder.resolve().name, at=now)
    keep.clear()
    if as_json:
        import json

        typer.echo(json.dumps(replay_document(result), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(replay_lines(result)))
    for path in (out, report):
        if path is not None:
            typer.echo(f"Wrote {path}", err=True)
