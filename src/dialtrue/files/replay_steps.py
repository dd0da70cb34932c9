"""A half-done replay beside its output, one file a step, so that it can be taken up again; and the table it ends in."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from collections.abc import Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any, Final

import pyarrow as pa

from dialtrue.domain.contracts import FINDINGS
from dialtrue.domain.errors.input_files import OutputNotWritten
from dialtrue.domain.replay_result import Asked, ReplayStep
from dialtrue.files.findings import ARROW_TYPE
from dialtrue.files.tables_out import write_atomically, write_table

_FORM: Final = 1
_STAMP: Final = "%Y%m%dT%H%M%S%fZ"
_TIME: Final = pa.timestamp("us", tz="UTC")


class HalfDone:
    """The folder of steps already run. A step's file is whole or absent; files of another plan are cleared away."""

    def __init__(self, folder: Path, plan: dict[str, Any]) -> None:
        self.folder = folder
        self.resumed = self._holds(plan)
        if not self.resumed:
            self.clear()
            text = json.dumps({"form": _FORM} | plan, indent=1, sort_keys=True)
            write_atomically(folder / "plan.json", lambda sink: sink.write(text.encode()) and None)

    @property
    def figures(self) -> Path:
        """Where the figures of the watch are kept from step to step."""
        return self.folder / "figures"

    def _holds(self, plan: dict[str, Any]) -> bool:
        try:
            held = json.loads((self.folder / "plan.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return False
        return bool(held == json.loads(json.dumps({"form": _FORM} | plan)))

    def step(self, as_of: dt.datetime) -> ReplayStep | None:
        """Return a step already run, None if it was not or its file is spoilt."""
        try:
            held = json.loads(self._file(as_of).read_text(encoding="utf-8"))
            asked = tuple(Asked(**(item | {"since": _moment(item["since"])})) for item in held["asked"])
            return ReplayStep(as_of, held["ports"], held["reads"], asked)
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def keep(self, step: ReplayStep) -> None:
        """Keep a step; raises ``OutputNotWritten``."""
        asked = [asdict(item) | {"since": item.since and item.since.isoformat()} for item in step.asked]
        text = json.dumps({"ports": step.ports, "reads": step.reads, "asked": asked}, ensure_ascii=False)
        write_atomically(self._file(step.as_of), lambda sink: sink.write(text.encode()) and None)

    def clear(self) -> None:
        """Take the folder away, if it is one of ours; raises ``OutputNotWritten`` where something else stands there."""
        if not self.folder.exists():
            return
        if not (self.folder / "plan.json").is_file() and any(self.folder.iterdir()):
            raise OutputNotWritten(file=str(self.folder), reason="a folder that is not of a replay stands in the way")
        shutil.rmtree(self.folder, ignore_errors=True)

    def _file(self, as_of: dt.datetime) -> Path:
        return self.folder / f"step-{as_of.strftime(_STAMP)}.json"


def _moment(text: str | None) -> dt.datetime | None:
    return None if text is None else dt.datetime.fromisoformat(text)


def write_replay(path: Path, steps: Sequence[ReplayStep]) -> None:
    """Write one row for each step and port that asked for an action, ``as_of`` first, as CSV or Parquet.

    Raises
    ------
    UnknownSuffix, OutputNotWritten
    """
    names = [item.name for item in fields(Asked)]
    kinds = {column.name: ARROW_TYPE[column.form] for column in FINDINGS.columns}
    columns: dict[str, pa.Array] = {"as_of": pa.array([step.as_of for step in steps for _ in step.asked], _TIME)}
    for name in names:
        columns[name] = pa.array([getattr(item, name) for step in steps for item in step.asked], kinds[name])
    write_table(path, pa.table(columns))
