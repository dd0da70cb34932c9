"""A simulated town on disk: whole or not at all, the truth kept apart."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from dialtrue.domain.errors import TownFolderTaken, TownNotWritten
from dialtrue.engine.simulation.town import TownPlan
from dialtrue.files.programme import open_programme
from dialtrue.services import simulate
from dialtrue.services.simulate import simulate_town

PLAN = TownPlan(seed=4, registers=30, days=21, fault_share=0.3, units="mixed")


def test_a_written_town_is_read_back_without_one_bad_row(tmp_path: Path) -> None:
    written = simulate_town(tmp_path / "town", tmp_path / "labels", PLAN)
    programme = open_programme(tmp_path / "town", at=dt.datetime(2025, 12, 1, tzinfo=dt.UTC), strict=True)
    rows = sum(len(batch.at_us) for batch in programme.reads.batches())
    assert not programme.problem_counts
    assert not programme.missing
    assert programme.tables["fittings"].num_rows == written.fittings
    assert 0 < rows <= written.reads


def test_the_same_plan_writes_the_same_files(tmp_path: Path) -> None:
    for name in ("one", "two"):
        simulate_town(tmp_path / name / "town", tmp_path / name / "labels", PLAN)
    one = sorted(path for path in (tmp_path / "one").rglob("*") if path.is_file())
    assert len(one) == 10
    for path in one:
        assert path.read_bytes() == (tmp_path / "two" / path.relative_to(tmp_path / "one")).read_bytes(), path.name


def test_no_label_stands_in_the_programme(tmp_path: Path) -> None:
    simulate_town(tmp_path / "town", tmp_path / "labels", PLAN)
    for path in (tmp_path / "town").glob("*.csv"):
        header = path.read_text(encoding="utf-8").splitlines()[0]
        assert "fault" not in header
        assert "severity" not in header
    assert {path.name for path in (tmp_path / "labels").iterdir()} == {"labels.csv", "crossings.csv"}


@pytest.mark.parametrize("taken", ["town", "labels"])
def test_a_folder_in_use_is_left_alone(tmp_path: Path, taken: str) -> None:
    (tmp_path / taken).mkdir()
    (tmp_path / taken / "mine.txt").write_text("keep")
    with pytest.raises(TownFolderTaken):
        simulate_town(tmp_path / "town", tmp_path / "labels", PLAN)
    assert [path.name for path in tmp_path.rglob("*")] == [taken, "mine.txt"]


def test_labels_inside_the_programme_are_refused(tmp_path: Path) -> None:
    with pytest.raises(TownFolderTaken):
        simulate_town(tmp_path / "town", tmp_path / "town" / "labels", PLAN)
    assert not (tmp_path / "town").exists()


@pytest.mark.parametrize("name", ["write_table", "write_reads"])
def test_a_refused_write_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(simulate, name, full)
    with pytest.raises(TownNotWritten, match="no space left"):
        simulate_town(tmp_path / "town", tmp_path / "labels", PLAN)
    assert list(tmp_path.iterdir()) == []


def test_a_town_without_faults_or_alarms_can_be_opened(tmp_path: Path) -> None:
    plan = TownPlan(seed=1, registers=12, days=14, fault_share=0.0)
    simulate_town(tmp_path / "town", tmp_path / "labels", plan)
    assert len((tmp_path / "town" / "alarms.csv").read_text().splitlines()) == 1
    programme = open_programme(tmp_path / "town", at=dt.datetime(2025, 12, 1, tzinfo=dt.UTC), strict=True)
    assert programme.tables["alarms"].num_rows == 0
