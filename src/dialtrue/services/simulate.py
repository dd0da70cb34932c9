"""Write an invented town as a programme folder, and its truth apart from it."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from dialtrue.domain.errors import TownFolderTaken, TownNotWritten
from dialtrue.engine.simulation.places import TOWN_NAME
from dialtrue.engine.simulation.town import Town, TownPlan, build_town
from dialtrue.files.tables_out import write_reads, write_table

Progress = Callable[[int, int, str], None]
_TABLES = ("sites", "fittings", "dial_reads", "alarms", "weather", "use_history")


@dataclass(frozen=True, slots=True)
class SimulatedTown:
    """What was written: the programme folder, the folder of the truth, and how much stands in them."""

    folder: Path
    labels_folder: Path
    registers: int
    fittings: int
    reads: int
    faulty: int


def simulate_town(
    folder: Path, labels_folder: Path, plan: TownPlan, *, progress: Progress | None = None
) -> SimulatedTown:
    """Build a town and write it as a programme folder; labels go to a folder of their own.

    Parameters
    ----------
    folder : Path
        Takes programme.toml, sites.csv, fittings.csv, dial_reads.csv, reads.parquet, alarms.csv, weather.csv and
        use_history.csv. New or empty.
    labels_folder : Path
        Takes labels.csv and crossings.csv. New or empty, and not inside ``folder``.
    plan : TownPlan
    progress : callable, optional
        Called as ``progress(done, total, what)``.

    Returns
    -------
    SimulatedTown

    Raises
    ------
    TownFolderTaken
        One of the folders holds something already, or the labels would lie inside the programme.
    TownNotWritten
        The system refused; both folders are as they were before.

    Source
    ------
    The model of ``dialtrue.engine.simulation``. The town, its streets and its people are invented.
    """
    _refuse_taken(folder, labels_folder)
    town = build_town(plan, progress=progress)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        labels_folder.parent.mkdir(parents=True, exist_ok=True)
        with (
            tempfile.TemporaryDirectory(dir=folder.parent, prefix=".town-") as draft,
            tempfile.TemporaryDirectory(dir=labels_folder.parent, prefix=".labels-") as labels_draft,
        ):
            _write_programme(Path(draft) / "town", town, progress)
            _write_truth(Path(labels_draft) / "labels", town)
            _move_both(Path(draft) / "town", folder, Path(labels_draft) / "labels", labels_folder)
    except OSError as error:
        raise TownNotWritten(folder=str(folder), reason=(error.strerror or str(error)).lower()) from error
    codes = town.labels.column("fault").to_pylist()
    return SimulatedTown(
        folder=folder,
        labels_folder=labels_folder,
        registers=plan.registers,
        fittings=town.fittings.num_rows,
        reads=town.reads.num_rows,
        faulty=sum(code != "sound" for code in codes),
    )


def _refuse_taken(folder: Path, labels_folder: Path) -> None:
    """Refuse before an hour of work, not after it."""
    for place in (folder, labels_folder):
        if place.exists() and (not place.is_dir() or any(place.iterdir())):
            raise TownFolderTaken(folder=str(place))
    inside = labels_folder.resolve()
    if inside == folder.resolve() or folder.resolve() in inside.parents:
        raise TownFolderTaken(folder=str(labels_folder))


def _write_programme(folder: Path, town: Town, progress: Progress | None) -> None:
    folder.mkdir()
    steps = len(_TABLES) + 1
    for done, name in enumerate(_TABLES, start=1):
        write_table(folder / f"{name}.csv", getattr(town, name))
        if progress is not None:
            progress(done, steps, "tables")
    write_reads(folder / "reads.parquet", town.reads)
    (folder / "programme.toml").write_text(
        f'name = "{TOWN_NAME}"\n'
        f'timezone = "{town.plan.timezone}"\n'
        'note = "An invented town: streets, meters, people and faults are made up; only the weather was measured."\n',
        encoding="utf-8",
    )
    if progress is not None:
        progress(steps, steps, "tables")


def _write_truth(folder: Path, town: Town) -> None:
    folder.mkdir()
    write_table(folder / "labels.csv", town.labels)
    write_table(folder / "crossings.csv", town.crossings_truth)


def _move_both(draft: Path, folder: Path, labels_draft: Path, labels_folder: Path) -> None:
    """Move both finished drafts into place; if the second move fails, the first is undone."""
    if folder.exists():
        folder.rmdir()
    draft.rename(folder)
    try:
        if labels_folder.exists():
            labels_folder.rmdir()
        labels_draft.rename(labels_folder)
    except OSError:
        shutil.rmtree(folder)
        raise
