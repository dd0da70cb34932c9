"""The kept state of a watch on disk: arrays as .npy, the fittings as Parquet, a manifest in JSON with checksums.

A state is written whole into a folder of its own; then the manifest is exchanged in one step. Whoever is interrupted
leaves the state of before. Blocks of days that no run touches any more are linked, not copied.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.resources
import json
import os
import re
import shutil
import zlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from dialtrue import __version__
from dialtrue.domain.errors.input_files import OutputNotWritten
from dialtrue.domain.errors.watch_state import StateDamaged, StateFolderTaken, StateOfAnotherVersion
from dialtrue.files.tables_out import write_atomically

FORM: Final = 1
MANIFEST: Final = "manifest.json"
_RUN: Final = re.compile(r"run-\d{6}")
_CHUNK: Final = 1 << 24
_COUNTING: Final = (
    "scan.py", "scan_hours.py", "scan_kernel.py", "scan_measures.py", "scan_order.py", "scan_runs.py", "kept_scan.py",
)  # fmt: skip
Array = NDArray[Any]


@dataclass(slots=True)
class StateFile:
    """What is on disk, or is to be put there.

    ``facts`` is the manifest's own part: plain values. ``arrays`` maps a name to an array; ``fittings`` is a table.
    ``linked`` maps the name of an array that stands on disk already to its file there, with its checksum.
    """

    facts: dict[str, Any]
    fittings: pa.Table
    arrays: dict[str, Array]
    linked: dict[str, tuple[Path, str]] = field(default_factory=dict)


def counting_mark() -> str:
    """Return a digest of the rules of counting: figures counted by other rules cannot be gone on with."""
    digest = hashlib.blake2b(f"{FORM} {__version__}".encode(), digest_size=16)
    for name in _COUNTING:
        digest.update((importlib.resources.files("dialtrue.engine") / name).read_bytes())
    return digest.hexdigest()


def load_state(folder: Path) -> StateFile | None:
    """Return the state kept in a folder, None where there is none yet. The arrays are mapped, not read.

    Raises
    ------
    StateFolderTaken
        The folder holds other things.
    StateOfAnotherVersion
        It was kept by other rules of counting.
    StateDamaged
        A file is missing, cut short or altered.
    """
    try:
        entries = sorted(path.name for path in folder.iterdir()) if folder.exists() else []
        if MANIFEST not in entries:
            if any(not _RUN.fullmatch(name) and not name.startswith(f".{MANIFEST}") for name in entries):
                raise StateFolderTaken(folder=str(folder))
            return None
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        if manifest.get("form") != FORM or manifest.get("counting") != counting_mark():
            raise StateOfAnotherVersion(folder=str(folder))
        run = folder / manifest["run"]
        files: dict[str, str] = manifest["files"]
        _check(folder, run, files)
        arrays = {
            name[:-4]: np.load(run / name, mmap_mode="r", allow_pickle=False) for name in files if name.endswith(".npy")
        }
        linked = {name[:-4]: (run / name, mark) for name, mark in files.items() if name.endswith(".npy")}
        return StateFile(manifest["facts"], pq.read_table(run / "fittings.parquet"), arrays, linked)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, pa.ArrowException) as error:
        raise StateDamaged(folder=str(folder), reason=str(getattr(error, "strerror", None) or error).lower()) from error


def _check(folder: Path, run: Path, files: dict[str, str]) -> None:
    def checked(item: tuple[str, str]) -> str | None:
        name, mark = item
        return None if _digest(run / name) == mark else name

    with ThreadPoolExecutor(2) as pool:
        for wrong in pool.map(checked, files.items()):
            if wrong is not None:
                raise StateDamaged(folder=str(folder), reason=f"{run.name}/{wrong} was altered")


def _digest(path: Path) -> str:
    """Return a checksum against damage (nothing here guards against malice) and the length."""
    checksum, length = 0, 0
    with path.open("rb") as source:
        while chunk := source.read(_CHUNK):
            checksum = zlib.crc32(chunk, checksum)
            length += len(chunk)
    return f"{checksum:08x}-{length}"


def save_state(folder: Path, state: StateFile) -> None:
    """Keep a state in place of the one before, in one step.

    Raises
    ------
    OutputNotWritten
        The system refused; the state of before is unchanged.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        before = [path for path in folder.iterdir() if _RUN.fullmatch(path.name)]
        run = folder / f"run-{max((int(path.name[4:]) for path in before), default=0) + 1:06d}"
        run.mkdir()
        with _removed_on_failure(run):
            marks = _write_all(run, state)
            manifest = {"form": FORM, "counting": counting_mark(), "version": __version__, "run": run.name,
                        "facts": state.facts, "files": marks}  # fmt: skip
            text = json.dumps(manifest, indent=1, ensure_ascii=False).encode()
            write_atomically(folder / MANIFEST, lambda sink: sink.write(text) and None)
        for path in before:
            shutil.rmtree(path, ignore_errors=True)
    except OSError as error:
        raise OutputNotWritten(file=str(folder), reason=(error.strerror or str(error)).lower()) from error


@contextlib.contextmanager
def _removed_on_failure(run: Path) -> Iterator[None]:
    try:
        yield
    except BaseException:
        shutil.rmtree(run, ignore_errors=True)
        raise


def _write_all(run: Path, state: StateFile) -> dict[str, str]:
    marks = {}
    pq.write_table(state.fittings, run / "fittings.parquet", compression="zstd")
    marks["fittings.parquet"] = _digest(run / "fittings.parquet")
    for name, (path, mark) in state.linked.items():
        if name in state.arrays:
            continue
        try:
            os.link(path, run / f"{name}.npy")
        except OSError:  # a file system without hard links
            shutil.copyfile(path, run / f"{name}.npy")
        marks[f"{name}.npy"] = mark

    def write(item: tuple[str, Array]) -> tuple[str, str]:
        name, array = item
        path = run / f"{name}.npy"
        with path.open("wb") as sink:
            np.save(sink, np.ascontiguousarray(array), allow_pickle=False)
            sink.flush()
            os.fsync(sink.fileno())
        return path.name, _digest(path)

    with ThreadPoolExecutor(2) as pool:
        marks.update(pool.map(write, state.arrays.items()))
    return marks
