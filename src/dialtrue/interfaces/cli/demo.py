"""The command ``demo``: an invented town, simulated, watched and compared with what was planted in it."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sys
import tempfile
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from dialtrue.domain.errors import OutputFolderTaken

MARK = "INVENTED.txt"
MARK_TEXT = """\
Alderwick is an invented town. Every meter, street, crew and read in this folder came from a random
number generator, by `dialtrue demo`. No real place, person or utility is meant.

town/          the programme folder, as a utility would hold it
labels/        what was planted, kept apart: dialtrue never reads it while it judges
findings.csv   one row per fitted port
crossings.csv  endpoints found exchanged
report.html    opens in any browser, needs no network

This folder is replaced when the demo is run again with the same --out.
"""


@contextmanager
def _whole_or_nothing(folder: Path) -> Iterator[Path]:
    """Give a scratch folder that takes ``folder``'s place at the end, and vanishes if anything stops us before."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    scratch = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    scratch.chmod(0o755)
    try:
        yield scratch
        (scratch / MARK).write_text(MARK_TEXT, encoding="utf-8")
        if folder.exists():
            before = Path(tempfile.mkdtemp(prefix=f".{folder.name}-before-", dir=folder.parent))
            os.replace(folder, before / folder.name)
            os.replace(scratch, folder)
            shutil.rmtree(before)
        else:
            os.replace(scratch, folder)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _checked(folder: Path) -> Path:
    """Refuse a folder that holds somebody's own files."""
    folder = folder.absolute()
    if folder.exists() and not (folder / MARK).is_file() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputFolderTaken(folder=folder)
    return folder


def demo(
    out: Annotated[Path, typer.Option(help="Folder to make; only a folder of the demo's own is replaced.")] = Path(
        "demo-town"
    ),
    registers: Annotated[int, typer.Option(min=20, max=50_000, help="Registers in the town.")] = 1200,
    days: Annotated[int, typer.Option(min=14, max=730, help="Days of hourly reads.")] = 90,
    seed: Annotated[int, typer.Option(help="Same seed, same town.")] = 7,
    no_open: Annotated[bool, typer.Option("--no-open", help="Do not open the report in a browser.")] = False,
) -> None:
    """Invent a town, watch it, and say how well it went.

    Example: dialtrue demo --registers 300 --days 60

    The town, its people and its faults are invented; what was planted is compared with what was named.
    """
    folder = _checked(out)

    from dialtrue.engine.simulation.places import TOWN_NAME
    from dialtrue.engine.simulation.town import TownPlan
    from dialtrue.files.findings import write_crossings, write_findings
    from dialtrue.files.report import write_report
    from dialtrue.interfaces.cli.output import score_lines, watch_lines
    from dialtrue.interfaces.cli.progress import progress_bars
    from dialtrue.services.compare_planted import read_planted, score_planted
    from dialtrue.services.simulate import simulate_town
    from dialtrue.services.watch import watch_folder

    typer.echo(f"{TOWN_NAME}: {registers:,} registers, {days} days of hourly reads, seed {seed}.")
    plan = TownPlan(registers=registers, days=days, seed=seed)
    at = plan.start + dt.timedelta(days=days)  # the town's own present, so that the same seed gives the same page
    with _whole_or_nothing(folder) as scratch:
        with progress_bars() as progress:

            def simulating(done: int, total: int, what: str) -> None:
                if progress is not None:
                    progress(f"simulating: {what}", done, total)

            simulate_town(scratch / "town", scratch / "labels", plan, progress=simulating)
            result = watch_folder(scratch / "town", at=at, traces=12, progress=progress)
        write_findings(scratch / "findings.csv", result.findings)
        write_crossings(scratch / "crossings.csv", result.crossings)
        write_report(scratch / "report.html", result, title=TOWN_NAME, at=at)
        score = score_planted(read_planted(scratch / "labels"), result.findings)
    typer.echo("")
    typer.echo("\n".join(watch_lines(result, show=10)))
    typer.echo("")
    typer.echo("\n".join(score_lines(score)))
    typer.echo("")
    shown = folder.relative_to(Path.cwd()) if folder.is_relative_to(Path.cwd()) else folder
    typer.echo("The report (open it in a browser), the tables, the town and what was planted are in")
    for name in ("report.html", "findings.csv", "crossings.csv", "town", "labels"):
        typer.echo(f"  {shown / name}")
    report = folder / "report.html"
    if not no_open and sys.stdout.isatty() and _has_screen():
        webbrowser.open(report.as_uri())


def _has_screen() -> bool:
    """Say whether a browser could show anything; a server over a plain line has no screen."""
    return sys.platform in ("darwin", "win32") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
