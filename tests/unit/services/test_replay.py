"""The steps of a replay, and taking up one that was interrupted."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from dialtrue.domain.errors import BadStep, NothingKnownYet, OutputNotWritten, StepsBackwards
from dialtrue.domain.replay_result import ReplayStep
from dialtrue.files.replay_steps import HalfDone
from dialtrue.services import replay
from dialtrue.services.replay import replay_folder, step_named, steps_between
from tests.support.replays import asked
from tests.support.watch_results import watch_result

DAY = dt.timedelta(days=1)
START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
MOMENTS = [START + k * DAY for k in range(4)]


@pytest.mark.parametrize("text", ["", "0d", "7", "d", "1.5d", "-7d", "7w", "999999d"])
def test_what_is_no_step_is_refused(text: str) -> None:
    with pytest.raises(BadStep):
        step_named(text)


def test_the_last_run_is_made_even_where_no_step_ends_there() -> None:
    assert steps_between(START, START + 5 * DAY, 2 * DAY) == [START, START + 2 * DAY, START + 4 * DAY, START + 5 * DAY]
    assert steps_between(START, START + 4 * DAY, 2 * DAY) == [START, START + 2 * DAY, START + 4 * DAY]
    assert steps_between(START, START, 2 * DAY) == [START]


def test_a_replay_cannot_run_backwards() -> None:
    with pytest.raises(StepsBackwards):
        steps_between(START + DAY, START, DAY)


@pytest.fixture
def runs(monkeypatch: pytest.MonkeyPatch) -> list[dt.datetime]:
    """Stand in for the watch; returns the list of moments it was run for."""
    made: list[dt.datetime] = []

    def watch_folder(folder: Path, *, as_of: dt.datetime, **options: object):
        made.append(as_of)
        if len(made) == 3:
            raise KeyboardInterrupt
        if as_of == START:
            raise NothingKnownYet(folder="town", moment="then")
        return watch_result()

    monkeypatch.setattr(replay, "watch_folder", watch_folder)
    return made


def run(keep: HalfDone):
    return replay_folder(Path("town"), at=START + 9 * DAY, moments=MOMENTS, keep=keep)


def test_an_interrupted_replay_goes_on_from_its_last_step(tmp_path: Path, runs: list[dt.datetime]) -> None:
    with pytest.raises(KeyboardInterrupt):
        run(HalfDone(tmp_path / "steps", {"moments": 4}))
    result = run(HalfDone(tmp_path / "steps", {"moments": 4}))
    assert runs == [MOMENTS[0], MOMENTS[1], MOMENTS[2], MOMENTS[2], MOMENTS[3]]
    assert [step.as_of for step in result.steps] == MOMENTS
    assert [step.ports for step in result.steps] == [0, 6, 6, 6]
    assert result.steps[1].asked == result.steps[2].asked != ()
    assert "2 of 4 steps" in result.said[0]


def test_another_plan_begins_anew(tmp_path: Path, runs: list[dt.datetime]) -> None:
    with pytest.raises(KeyboardInterrupt):
        run(HalfDone(tmp_path / "steps", {"moments": 4}))
    assert not HalfDone(tmp_path / "steps", {"moments": 5}).resumed
    assert [path.name for path in (tmp_path / "steps").iterdir()] == ["plan.json"]


def test_a_spoilt_step_is_run_again(tmp_path: Path) -> None:
    keep = HalfDone(tmp_path / "steps", {})
    step = ReplayStep(START, 3, 9, (asked("A", since=START),))
    keep.keep(step)
    assert keep.step(START) == step
    file = next((tmp_path / "steps").glob("step-*"))
    file.write_text(file.read_text(encoding="utf-8")[:-9], encoding="utf-8")
    assert keep.step(START) is None


def test_somebody_elses_folder_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "steps").mkdir()
    (tmp_path / "steps" / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputNotWritten, match="stands in the way"):
        HalfDone(tmp_path / "steps", {})
    assert (tmp_path / "steps" / "mine.txt").exists()
