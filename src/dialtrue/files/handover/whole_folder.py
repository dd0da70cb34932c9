"""A folder that stands whole or not at all: made beside its place, then moved there."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from dialtrue.domain.errors.handover import HandoverFolderTaken, NoManifest
from dialtrue.domain.errors.input_files import OutputNotWritten
from dialtrue.files.handover.manifest import read_manifest


def check_place(folder: Path, *, programme: Path) -> None:
    """Refuse a place that holds somebody's own files, or the programme itself.

    Raises
    ------
    HandoverFolderTaken
        It is no folder of a handover, is the programme's folder, or lies around it.
    """
    here, source = folder.absolute(), programme.resolve()
    if source.is_relative_to(here.resolve()):
        raise HandoverFolderTaken(folder=folder, what="the programme itself stands there")
    if here.is_dir() and any(here.iterdir()):
        try:
            read_manifest(here)
        except NoManifest:
            raise HandoverFolderTaken(folder=folder, what="the folder exists and was not made by a handover") from None
    elif here.exists() and not here.is_dir():
        raise HandoverFolderTaken(folder=folder, what="a file stands there")


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """Give a scratch folder that takes ``folder``'s place at the end; if anything stops us, the old one still stands.

    Raises
    ------
    OutputNotWritten
        The system refused: full, not permitted.
    """
    folder = folder.absolute()
    scratch: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", suffix=".part", dir=folder.parent))
        scratch.chmod(0o755)
        made = scratch / "made"
        made.mkdir()
        yield made
        _exchange(folder, made, scratch / "before")
    except OSError as error:
        raise OutputNotWritten(file=str(folder), reason=(error.strerror or str(error)).lower()) from error
    finally:
        if scratch is not None:
            shutil.rmtree(scratch, ignore_errors=True)


def _exchange(folder: Path, made: Path, before: Path) -> None:
    """Put ``made`` into ``folder``'s place; what stood there goes to ``before``, and back if we are stopped between."""
    try:
        if folder.exists():
            os.replace(folder, before)
        os.replace(made, folder)
    except BaseException:
        if before.exists() and not folder.exists():
            os.replace(before, folder)
        raise
