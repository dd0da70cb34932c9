"""The command ``sheets``: a page for every site, and labels for its endpoints and cables."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dialtrue.interfaces.cli.watch import EXIT_FINDINGS, REPORT_ENDINGS, checked_ending

if TYPE_CHECKING:
    from dialtrue.interfaces.cli.progress import Progress
    from dialtrue.services.job_sheets import SheetsAnswer

PDF_ENDINGS = (".pdf",)


def sheets(
    folder: Annotated[Path, typer.Argument(help="Programme folder with sites, or a sites table alone.")],
    out: Annotated[Path | None, typer.Option(help="Write the sheets here, a page a site (.pdf).")] = None,
    html: Annotated[Path | None, typer.Option(help="Write the same as a page for any browser (.html).")] = None,
    labels: Annotated[Path | None, typer.Option(help="Write labels for endpoints and cables (.pdf).")] = None,
    paper: Annotated[
        str, typer.Option(metavar="SIZE", help="letter or a4; default: as the programme says, or by its units.")
    ] = "",
    site: Annotated[list[str] | None, typer.Option(metavar="SITE", help="Only this site; may be repeated.")] = None,
    day: Annotated[str, typer.Option(metavar="DATE", help="Only the visits of this day, such as 2026-12-01.")] = "",
    crew: Annotated[str, typer.Option(metavar="CREW", help="Only the visits of this crew.")] = "",
    plan: Annotated[
        Path | None,
        typer.Option(metavar="PLAN", help="Print this plan; default: plan.csv of the folder, or a fresh one."),
    ] = None,
    routes: Annotated[
        Path | None, typer.Option(metavar="ROUTES", help="Order by this table; default: routes of the folder.")
    ] = None,
    sheet: Annotated[
        list[Path] | None, typer.Option(metavar="PATH", help="Your own data sheets, file or folder; may be repeated.")
    ] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse a table that has a bad row.")] = False,
    show: Annotated[int, typer.Option(min=1, max=1000, help="Sites with questions to print.")] = 10,
    as_json: Annotated[bool, typer.Option("--json", help="Print the sheets as JSON.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Prepare and print, write no file.")] = False,
) -> None:
    """Print a job sheet for every site, and labels.

    Example: dialtrue sheets my-programme --out sheets.pdf --labels labels.pdf --day 2026-12-01

    Ends with 0 if nothing is to be asked and with 3 if a sheet has questions on top.
    """
    if paper not in ("", "letter", "a4"):
        raise typer.BadParameter("use letter or a4", param_hint="--paper")
    if day:
        import datetime as dt

        try:
            dt.date.fromisoformat(day)
        except ValueError:
            raise typer.BadParameter("write a day as 2026-12-01", param_hint="--day") from None
    for path, endings in ((out, PDF_ENDINGS), (html, REPORT_ENDINGS), (labels, PDF_ENDINGS)):
        checked_ending(path, endings)

    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.interfaces.cli.sheets_text import sheets_document, sheets_lines
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.job_sheets import sheets_folder

    with progress_bars(quiet=as_json) as progress:
        answer = sheets_folder(
            folder, at=now_utc(), sites=tuple(site or ()), day=day, crew=crew, plan=plan, routes=routes, paper=paper,
            hardware=tuple(sheet or ()), strict=strict, progress=progress,
        )  # fmt: skip
        notes = [] if dry_run else _written(answer, out, html, labels, title=folder.resolve().name, progress=progress)
    if as_json:
        import json

        typer.echo(json.dumps(sheets_document(answer, notes), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(sheets_lines(answer, notes, show=show)))
    for path in (*(volume_paths(out, len(answer.sheets)) if out else ()), html, labels):
        if path is not None:
            typer.echo(f"{'Would write' if dry_run else 'Wrote'} {path}", err=True)
    if answer.asking:
        raise typer.Exit(EXIT_FINDINGS)


def volume_paths(out: Path, sheets: int) -> list[Path]:
    """Name the volumes: the file itself, or ``sheets-1.pdf``, ``sheets-2.pdf`` where one would hold too many."""
    from dialtrue.files.job_sheets.pdf import MOST_IN_A_VOLUME

    count = -(-sheets // MOST_IN_A_VOLUME)
    return [out] if count == 1 else [out.with_stem(f"{out.stem}-{nth}") for nth in range(1, count + 1)]


def _written(
    answer: SheetsAnswer,
    out: Path | None,
    html: Path | None,
    labels: Path | None,
    *,
    title: str,
    progress: Progress | None,
) -> list[str]:
    """Write the files asked for and return what must be said of them."""
    from dialtrue.domain.words import counted
    from dialtrue.files.tables_out import write_atomically

    def write(path: Path, data: bytes) -> None:
        write_atomically(path, lambda sink: sink.write(data))

    notes: list[str] = []
    missing: dict[str, None] = {}
    if out is not None:
        from dialtrue.files.job_sheets import sheets_volumes

        volumes = sheets_volumes(answer.sheets, paper=answer.paper, title=f"Job sheets, {title}", progress=progress)
        for path, printed in zip(volume_paths(out, len(answer.sheets)), volumes, strict=True):
            write(path, printed.pdf)
            missing.update(dict.fromkeys(printed.not_shown))
            notes += [
                f"Site {site}: its words do not go on one page; the foot is cut off." for site in printed.too_long
            ]
            notes += [f"Site {site}: drawn smaller, so that all of it is on one page." for site in printed.shrunk]
    if html is not None:
        from dialtrue.files.job_sheets import sheets_html

        write(html, sheets_html(answer.sheets, paper=answer.paper, title=f"Job sheets, {title}").encode())
    if labels is not None and answer.labels:
        from dialtrue.files.job_sheets import labels_pdf

        if progress is not None:
            progress("Setting labels", 0, len(answer.labels))
        stuck = labels_pdf(answer.labels, answer.settings.grid_for(answer.paper), title=f"Labels, {title}")
        write(labels, stuck.pdf)
        missing.update(dict.fromkeys(stuck.not_shown))
        if progress is not None:
            progress("Setting labels", len(answer.labels), len(answer.labels))
        if stuck.without_bars:
            named = ", ".join(stuck.without_bars[:5]) + (" …" if len(stuck.without_bars) > 5 else "")
            many = "serial does" if len(stuck.without_bars) == 1 else "serials do"
            notes.append(f"{len(stuck.without_bars)} {many} not go on a label as bars, QR code only: {named}.")
    elif labels is not None:
        notes.append("No register has a planned port, so there is no label to print.")
    if missing:
        notes.append(
            f"The PDF's typefaces lack {counted(len(missing), 'character')}, printed as squares, such as "
            f"{' '.join(list(missing)[:5])}; --html shows them."
        )
    return notes
