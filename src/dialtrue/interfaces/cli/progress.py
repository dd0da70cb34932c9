"""Progress on stderr: what is being done, how much of it, how long still."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Progress = Callable[[str, int, int], None]


@contextmanager
def progress_bars(*, quiet: bool = False) -> Iterator[Progress | None]:
    """Give a callback ``(what, done, total)`` that draws one bar for each ``what``.

    Where stderr is no terminal, one plain line a step is printed instead, so that a log stays readable.
    """
    if quiet:
        yield None
        return
    if not sys.stderr.isatty():
        yield _lines()
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    bars = Bars(
        TextColumn("{task.description:<34}", markup=False),
        BarColumn(bar_width=28),
        MofNCompleteColumn(),
        TimeRemainingColumn(elapsed_when_finished=True),
        console=Console(stderr=True, width=None),
    )
    tasks: dict[str, int] = {}

    def show(what: str, done: int, total: int) -> None:
        if what not in tasks:
            tasks[what] = bars.add_task(what, total=total)
        bars.update(tasks[what], completed=done, total=total)  # type: ignore[arg-type]

    with bars:
        yield show


def _lines() -> Progress:
    """Print each step once as it begins and once as it ends."""
    begun: set[str] = set()
    ended: set[str] = set()

    def show(what: str, done: int, total: int) -> None:
        if what not in begun:
            begun.add(what)
            print(f"{what} ...", file=sys.stderr, flush=True)
        if done >= total and what not in ended:
            ended.add(what)
            print(f"{what}: {total:,} done", file=sys.stderr, flush=True)

    return show
