"""The option --state from end to end: the same findings, less work, and plain words where it cannot be used."""

from __future__ import annotations

import json
import shutil
from itertools import pairwise
from pathlib import Path

import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from dialtrue.domain.survey.repair_line import RepairLine
from dialtrue.engine.simulation.town import TownPlan
from dialtrue.files.repairs_file import write_lines
from dialtrue.files.watch_state_file import MANIFEST
from dialtrue.interfaces.cli import run
from dialtrue.services.simulate import simulate_town


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A town whose reads come in three files, by the time at which they came."""
    folder = tmp_path_factory.mktemp("nightly")
    simulate_town(folder / "town", folder / "labels", TownPlan(registers=40, days=40, seed=8))
    reads = pq.read_table(folder / "town" / "reads.parquet")
    (folder / "town" / "reads.parquet").unlink()
    (folder / "town" / "reads").mkdir()
    when = pc.coalesce(reads["received_at"], reads["at"]).cast("int64").to_numpy()
    edges = [0, *(int(when.min() + (when.max() - when.min()) * share) for share in (0.5, 0.9)), int(when.max())]
    for number, (low, high) in enumerate(pairwise(edges)):
        pq.write_table(reads.filter((when > low) & (when <= high)), folder / f"part-{number}.parquet")
    return folder


def watched(town: Path, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    assert run(["watch", str(town), "--json", *words]) in (0, 3)
    return json.loads(capsys.readouterr().out)


@pytest.fixture
def town(grown: Path, tmp_path: Path) -> Path:
    shutil.copytree(grown / "town", tmp_path / "town")
    shutil.copy(grown / "part-0.parquet", tmp_path / "town" / "reads" / "part-0.parquet")
    return tmp_path / "town"


def test_three_nights_give_the_findings_of_one_run(
    grown: Path, town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    state = str(tmp_path / "state")
    for number in range(3):
        shutil.copy(grown / f"part-{number}.parquet", town / "reads")
        kept = watched(town, capsys, "--state", state)
        whole = watched(town, capsys)
        for name in ("findings", "crossings", "summary"):
            assert kept[name] == whole[name], (number, name)
    assert (tmp_path / "state" / MANIFEST).is_file()


def test_a_dry_run_leaves_no_state(town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    watched(town, capsys, "--state", str(tmp_path / "state"), "--dry-run")
    assert not (tmp_path / "state").exists()


@pytest.mark.parametrize("harm", ["version", "damage"])
def test_a_state_that_cannot_be_used_is_said_and_made_anew(
    town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], harm: str
) -> None:
    state = tmp_path / "state"
    whole = watched(town, capsys, "--state", str(state))
    if harm == "version":
        manifest = json.loads((state / MANIFEST).read_text(encoding="utf-8"))
        (state / MANIFEST).write_text(json.dumps(manifest | {"counting": "another"}), encoding="utf-8")
    else:
        (state / "run-000001" / "rows-figures.npy").write_bytes(b"")
    again = watched(town, capsys, "--state", str(state))
    assert again["findings"] == whole["findings"]
    code = "STATE-OF-ANOTHER-VERSION" if harm == "version" else "STATE-DAMAGED"
    assert any(code in sentence for sentence in again["said"])
    assert not any("STATE-" in sentence for sentence in watched(town, capsys, "--state", str(state))["said"])


def test_a_folder_of_other_things_is_refused(town: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["watch", str(town), "--state", str(town)]) == 61
    assert "STATE-FOLDER-TAKEN" in capsys.readouterr().err


def test_looking_back_does_not_touch_a_later_state(
    town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    state = tmp_path / "state"
    watched(town, capsys, "--state", str(state))
    manifest = (state / MANIFEST).read_bytes()
    back = watched(town, capsys, "--state", str(state), "--as-of", "2025-05-20")
    assert any("stay as they are" in sentence for sentence in back["said"])
    assert back["findings"] == watched(town, capsys, "--as-of", "2025-05-20")["findings"]
    assert (state / MANIFEST).read_bytes() == manifest


def test_a_decision_about_the_reads_has_them_counted_again(
    town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    state = str(tmp_path / "state")
    watched(town, capsys, "--state", state)
    lines = [RepairLine("zeros:reads:7", was="7", becomes="0007", decision="accept", by="Ines")]
    write_lines(town / "repairs.csv", lines)
    again = watched(town, capsys, "--state", state)
    assert any("STATE-OF-ANOTHER-PROGRAMME" in words for words in again["said"])
    assert not any("counted again" in words for words in watched(town, capsys, "--state", state)["said"])
