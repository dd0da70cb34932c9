"""The kept state on disk: whole or as it was, open forms, and refused where it is not what was written."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from dialtrue.domain.errors import OutputNotWritten, StateDamaged, StateFolderTaken, StateOfAnotherVersion
from dialtrue.files import watch_state_file
from dialtrue.files.watch_state_file import MANIFEST, StateFile, load_state, save_state


def state(number: int = 1) -> StateFile:
    kinds = np.dtype([("n", "i8"), ("pace", "f8")])
    return StateFile(
        {"night": number}, pa.table({"meter_serial": ["007"]}),
        {"rows-figures": np.array([(number, 0.5)], kinds), "block-00000-day": np.full((1, 28), np.nan)},
    )  # fmt: skip


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_what_was_kept_comes_back(tmp_path: Path) -> None:
    save_state(tmp_path / "state", state())
    back = load_state(tmp_path / "state")
    assert back is not None
    assert back.facts == {"night": 1}
    assert back.fittings["meter_serial"].to_pylist() == ["007"]
    assert back.arrays["rows-figures"]["n"].tolist() == [1]
    assert np.isnan(back.arrays["block-00000-day"]).all()


def test_nothing_kept_yet(tmp_path: Path) -> None:
    assert load_state(tmp_path / "state") is None
    (tmp_path / "state").mkdir()
    assert load_state(tmp_path / "state") is None


def test_only_one_state_is_left_and_nothing_in_it_is_pickled(tmp_path: Path) -> None:
    for number in range(3):
        save_state(tmp_path, state(number))
    assert sorted(path.name for path in tmp_path.iterdir()) == [MANIFEST, "run-000003"]
    assert {path.suffix for path in (tmp_path / "run-000003").iterdir()} == {".npy", ".parquet"}
    for path in (tmp_path / "run-000003").glob("*.npy"):
        np.load(path, allow_pickle=False)


def test_a_closed_block_is_linked_not_copied(tmp_path: Path) -> None:
    save_state(tmp_path, state())
    before = load_state(tmp_path)
    assert before is not None
    inode = (tmp_path / "run-000001" / "block-00000-day.npy").stat().st_ino
    new = state(2)
    del new.arrays["block-00000-day"]
    new.linked = {"block-00000-day": before.linked["block-00000-day"]}
    save_state(tmp_path, new)
    assert (tmp_path / "run-000002" / "block-00000-day.npy").stat().st_ino == inode
    assert load_state(tmp_path) is not None


@pytest.mark.parametrize("stop_at", range(1, 7))
def test_an_interrupted_run_leaves_the_state_of_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop_at: int
) -> None:
    save_state(tmp_path, state(1))
    before, calls = files(tmp_path), 0

    def stopping(*arguments: object, **options: object) -> None:
        nonlocal calls
        calls += 1
        if calls == stop_at:
            raise KeyboardInterrupt

    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda handle: (stopping(), real(handle))[1])
    for name in ("write_table",):
        old = getattr(watch_state_file.pq, name)
        monkeypatch.setattr(watch_state_file.pq, name, lambda *a, _old=old, **k: (stopping(), _old(*a, **k))[1])
    try:
        save_state(tmp_path, state(2))
    except KeyboardInterrupt:
        assert files(tmp_path) == before
    else:
        back = load_state(tmp_path)
        assert back is not None
        assert back.facts == {"night": 2}
        assert stop_at > 4


def test_a_refusal_of_the_system_leaves_the_state_of_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    save_state(tmp_path, state(1))
    before = files(tmp_path)

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputNotWritten, match="no space left"):
        save_state(tmp_path, state(2))
    assert files(tmp_path) == before


@pytest.mark.parametrize("name", ["fittings.parquet", "rows-figures.npy", "block-00000-day.npy"])
@pytest.mark.parametrize("harm", ["flip", "cut", "lose"])
def test_a_damaged_file_is_named(tmp_path: Path, name: str, harm: str) -> None:
    save_state(tmp_path, state())
    path = tmp_path / "run-000001" / name
    content = bytearray(path.read_bytes())
    if harm == "flip":
        content[-3] ^= 4
        path.write_bytes(content)
    elif harm == "cut":
        path.write_bytes(content[:-3])
    else:
        path.unlink()
    with pytest.raises(StateDamaged):
        load_state(tmp_path)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"form": 1, "counting": 3}', "\x00"])
def test_a_spoilt_manifest_is_refused(tmp_path: Path, text: str) -> None:
    save_state(tmp_path, state())
    (tmp_path / MANIFEST).write_text(text, encoding="utf-8")
    with pytest.raises((StateDamaged, StateOfAnotherVersion)):
        load_state(tmp_path)


@pytest.mark.parametrize(("name", "value"), [("form", 0), ("counting", "0" * 32)])
def test_other_rules_of_counting_are_refused(tmp_path: Path, name: str, value: object) -> None:
    save_state(tmp_path, state())
    manifest = json.loads((tmp_path / MANIFEST).read_text(encoding="utf-8"))
    (tmp_path / MANIFEST).write_text(json.dumps(manifest | {name: value}), encoding="utf-8")
    with pytest.raises(StateOfAnotherVersion):
        load_state(tmp_path)


def test_somebody_elses_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "sites.csv").write_text("site\n", encoding="utf-8")
    with pytest.raises(StateFolderTaken):
        load_state(tmp_path)
