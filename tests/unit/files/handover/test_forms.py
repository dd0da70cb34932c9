"""The parts that every form is made of: sorted reads, exact texts, time rules, whole folders."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from dialtrue.domain.errors import HandoverFolderTaken, OutputNotWritten
from dialtrue.files.handover.local_time import local_time
from dialtrue.files.handover.manifest import write_manifest
from dialtrue.files.handover.part import volume_texts
from dialtrue.files.handover.senml import senml_name
from dialtrue.files.handover.sorted_reads import SortedReads, Thinned, last_of_day, without_twins
from dialtrue.files.handover.whole_folder import check_place, whole_folder


@pytest.mark.parametrize("step", [Fraction(1), Fraction(1, 100), Fraction(1000), Fraction(3785411784, 10**12)])
@pytest.mark.parametrize("top", [0, 7, 10**6, 10**17])
def test_volumes_are_written_exactly(step: Fraction, top: int) -> None:
    index = np.array([0, 1, top], np.int64)
    texts = volume_texts(index, step).to_pylist()
    assert [Fraction(text) for text in texts] == [count * step for count in index.tolist()]
    assert not any("e" in text.lower() for text in texts)


def test_volumes_without_an_end_are_refused() -> None:
    with pytest.raises(ArithmeticError):
        volume_texts(np.array([1]), Fraction(1, 3))


def test_reads_come_back_by_port_and_time_whatever_the_order(tmp_path: Path) -> None:
    random = np.random.default_rng(3)
    port = random.integers(0, 23, 5000).astype(np.int64)
    at = random.permutation(5000).astype(np.int64)
    held = SortedReads(tmp_path / "spill", 5)
    for part in np.array_split(np.arange(5000), 7):
        held.add(port[part], at[part], at[part] * 3, np.zeros(len(part), np.int8))
    groups = list(held.groups())
    rows = np.concatenate(groups)
    assert len(groups) == 5
    assert sorted(zip(port.tolist(), at.tolist(), strict=True)) == list(
        zip(rows["port"].tolist(), rows["at_us"].tolist(), strict=True)
    )
    assert (rows["index"] == rows["at_us"] * 3).all()
    assert list((tmp_path / "spill").iterdir()) == []


def _rows(*rows: tuple[int, int, int]) -> np.ndarray:
    kind = np.dtype([("port", "<i4"), ("at_us", "<i8"), ("index", "<i8"), ("quality", "i1")])
    return np.array([(*row, 0) for row in rows], kind)


def test_equal_reads_are_kept_once_and_contradicting_ones_not_at_all() -> None:
    told = Thinned()
    rows = without_twins(_rows((1, 10, 5), (1, 10, 5), (1, 20, 6), (1, 20, 7), (2, 20, 9)), told)
    assert rows["index"].tolist() == [5, 9]
    assert (told.twice, told.contradicting) == (1, 2)


def test_the_last_read_of_each_day_and_port_is_kept() -> None:
    told = Thinned()
    rows = last_of_day(_rows((1, 1, 1), (1, 2, 2), (1, 3, 3), (2, 3, 4)), np.array([7, 7, 8, 8]), told)
    assert rows["index"].tolist() == [2, 3, 4]
    assert told.thinned == 1


@pytest.mark.parametrize(
    ("zone", "start", "end", "shift", "offset"),
    [
        # The widely printed pair: second Sunday of March, first of November, both at two o'clock.
        ("America/New_York", "360E2000", "B40E2000", 3600, -18_000),
        ("Europe/Rome", "3E0E2000", "AE0E3000", 3600, 3600),
        ("Asia/Tokyo", "00000000", "00000000", 0, 32_400),
        ("UTC", "00000000", "00000000", 0, 0),
    ],
)
def test_local_time_is_written_in_bits(zone: str, start: str, end: str, shift: int, offset: int) -> None:
    found = local_time(zone, 2026)
    assert (found.dst_start_rule, found.dst_end_rule) == (start, end)
    assert (found.dst_offset_s, found.tz_offset_s, found.note) == (shift, offset, "")


def test_a_zone_whose_changes_follow_no_weekday_is_said() -> None:
    assert "winter offset only" in local_time("Africa/Casablanca", 2026).note


def test_senml_names_hold_allowed_letters_only_and_stay_apart() -> None:
    names = {senml_name("p", serial, 1) for serial in ("a b", "a_b", "a/b", "a_20b", "ä")}
    assert len(names) == 5
    allowed = set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-:./_")
    assert all(set(name) <= allowed for name in names)


def test_an_interrupted_folder_leaves_the_old_one_and_nothing_beside_it(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with whole_folder(out) as made:
        write_manifest(made, {"files": []})
        (made / "old").write_text("old")
    with pytest.raises(KeyboardInterrupt):
        _break_off(out)
    assert (out / "old").read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    with whole_folder(out) as made:
        write_manifest(made, {"files": []})
    assert sorted(path.name for path in out.iterdir()) == ["manifest.json"]


def _break_off(out: Path) -> None:
    with whole_folder(out) as made:
        (made / "new").write_text("half")
        raise KeyboardInterrupt


def test_a_place_that_is_no_handovers_is_refused(tmp_path: Path) -> None:
    programme = tmp_path / "p"
    programme.mkdir()
    mine = tmp_path / "mine"
    mine.mkdir()
    check_place(mine, programme=programme)  # an empty folder is nobody's
    (mine / "letter.txt").write_text("dear")
    (tmp_path / "file").write_text("x")
    for place in (mine, tmp_path / "file", programme, tmp_path):
        with pytest.raises(HandoverFolderTaken):
            check_place(place, programme=programme)


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputNotWritten), whole_folder(tmp_path / "file" / "out"):
        pass
