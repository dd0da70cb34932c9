"""What must hold for every survey: nothing changes unaccepted, replay gives the same table, order does not matter."""

from __future__ import annotations

import contextlib
import tempfile
from pathlib import Path

import hypothesis.strategies as st
from hypothesis import given, settings

from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.survey.check_digits import SCHEMES, passes
from dialtrue.domain.survey.flag import GRADES, RULES
from dialtrue.files.repairs_file import guarded, unguarded
from dialtrue.files.sites_in import read_sites
from tests.support.spoiled_sheets import AT, Row, keep, listed, serial, sound_rows, spoiled, survey, write_rows

COUNT = 12
SLIPS: dict[str, tuple[str, ...]] = {
    "meter_serial": ("500000", "5.02746E+05", "502746.0", "5.0E+09", serial(4), " 00501373", "x", "", "00501337"),
    "dial_unit": ("ft3", "L", "GAL", "CF", "gallons", "?"),
    "pulse_unit": ("ft3", "m3", "Gallons"),
    "pulse_weight": ("7.48", "100", "10 gal", "1,0", "0", "-1", "see Bob", "1e3"),
    "dial_digits": ("4", "12", "six", "6.0"),
    "fixed_zeros": ("0", "2", "none"),
    "meter_size": ('5/8"', "DN15", "big", ""),
    "latitude": ("0", "-39.5", "139.5", "north", "-41.2"),
    "longitude": ("0", "41.2", "39.5", "200"),
    "mount": ("Pit", "manhole", ""),
    "register_role": ("high", "low", "both"),
    "meter_type": ("compound", "Turbine", ""),
    "surveyed_at": ("17/04/2026", "03/04/2026", "04/17/2026", "yesterday"),
    "use_l_per_day": ("see Bob", "1e9", "-4", "12"),
    "site": ("S002", "", "a:b", 'a "b", c'),
}
slips = st.dictionaries(
    st.integers(0, COUNT - 1),
    st.dictionaries(st.sampled_from(sorted(SLIPS)), st.integers(0, 8), max_size=3),
    max_size=6,
)


def changes(drawn: dict[int, dict[str, int]]) -> dict[int, Row]:
    return {
        number: {name: SLIPS[name][choice % len(SLIPS[name])] for name, choice in cells.items()}
        for number, cells in drawn.items()
    }


@contextlib.contextmanager
def folder_of(drawn: dict[int, dict[str, int]], *, with_list: bool = True):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        spoiled(folder, changes(drawn), count=COUNT)
        if with_list:
            listed(folder, COUNT)
        yield folder


@given(slips, st.booleans())
@settings(max_examples=40, deadline=None)
def test_every_flag_is_whole_and_nothing_is_repaired_unaccepted(
    drawn: dict[int, dict[str, int]], with_list: bool
) -> None:
    with folder_of(drawn, with_list=with_list) as folder:
        before = read_sites(folder, at=AT)[0]
        answer = survey(folder)
        assert answer.sites.equals(before)
        assert answer.counts.clean + answer.counts.flagged == answer.counts.rows
        assert answer.counts.blocked <= answer.counts.flagged
        keys = [line.key for line in answer.lines]
        assert len(keys) == len(set(keys))
        for flag in answer.flags:
            assert flag.rule in RULES
            assert flag.grade in GRADES
            assert flag.ask
            assert "None" not in flag.says
            assert all(line.decision == "" and line.becomes != line.was for line in flag.lines)
        keep(folder, answer)
        assert survey(folder).sites.equals(before), "an undecided file changes nothing"


@given(slips)
@settings(max_examples=30, deadline=None)
def test_refusing_everything_changes_nothing_and_silences_every_offer(drawn: dict[int, dict[str, int]]) -> None:
    with folder_of(drawn) as folder:
        first = survey(folder)
        if not any(flag.lines for flag in first.flags):
            return
        keep(folder, survey(folder, refuse=["all"], by="Ines"))
        second = survey(folder)
        assert second.sites.equals(first.sites)
        assert not any(flag.lines for flag in second.flags)


@given(slips)
@settings(max_examples=30, deadline=None)
def test_accepted_repairs_replay_to_the_same_table_however_often(drawn: dict[int, dict[str, int]]) -> None:
    with folder_of(drawn) as folder:
        sheet = (folder / "sites.csv").read_bytes()
        if not any(line.becomes and line.rule != "dates" for line in survey(folder).lines):
            return
        accepted = survey(folder, accept=["all"], by="Ines")
        keep(folder, accepted)
        again = survey(folder)
        assert again.sites.equals(accepted.sites)
        assert again.counts == accepted.counts
        keep(folder, again)
        assert survey(folder).sites.equals(accepted.sites)
        assert read_sites(folder, at=AT)[0].equals(accepted.sites)
        assert (folder / "sites.csv").read_bytes() == sheet


@given(slips, st.permutations(range(COUNT)), st.permutations(sorted(sound_rows(1)[0])))
@settings(max_examples=30, deadline=None)
def test_the_order_of_rows_and_columns_does_not_matter(
    drawn: dict[int, dict[str, int]], order: list[int], columns: list[str]
) -> None:
    with folder_of(drawn) as folder, tempfile.TemporaryDirectory() as name:
        straight = survey(folder)
        rows = sound_rows(COUNT)
        for number, cells in changes(drawn).items():
            rows[number] |= cells
        turned = Path(name)
        write_rows(turned / "sites.csv", [rows[place] for place in order], columns=columns)
        listed(turned, COUNT)
        other = survey(turned)
        assert other.counts == straight.counts
        named = lambda answer: {  # noqa: E731
            (line.key, line.column, line.becomes) for line in answer.lines
            if line.rule != "dates" and not line.key.startswith("spaces") and "row " not in line.key
        }  # fmt: skip
        assert named(other) == named(straight)


@given(st.text(max_size=30))
def test_any_text_survives_the_guard(text: str) -> None:
    assert unguarded(guarded(text)) == text


@given(st.text(max_size=20), st.sampled_from(SCHEMES))
def test_a_check_digit_never_raises(text: str, scheme: str) -> None:
    assert passes(text, scheme) in (True, False)


@given(st.lists(st.lists(st.text(st.characters(codec="utf-8"), max_size=12), min_size=1, max_size=16), max_size=8))
@settings(max_examples=40, deadline=None)
def test_garbage_in_the_repairs_file_is_an_error_of_ours_or_is_said(rows: list[list[str]]) -> None:
    with folder_of({}) as folder:
        text = "key,site,column,was,becomes,decision,by\n" + "\n".join(",".join(row) for row in rows)
        (folder / "repairs.csv").write_bytes(text.encode("utf-8", "replace"))
        with contextlib.suppress(DialtrueError):
            survey(folder)


@given(st.binary(max_size=200))
@settings(max_examples=40, deadline=None)
def test_garbage_bytes_in_any_file_of_the_survey_are_an_error_of_ours(data: bytes) -> None:
    for name in ("repairs.csv", "known.csv", "sites.csv", "programme.toml"):
        with folder_of({}) as folder:
            (folder / name).write_bytes(data)
            with contextlib.suppress(DialtrueError):
                survey(folder)
